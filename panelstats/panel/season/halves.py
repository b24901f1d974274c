"""Repeats in the second half of a season against the first: is anybody's spread another than it was?"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from scipy.special import fdtr, fdtrc, fdtri

from panelstats.models.meansquares import ratio
from panelstats.models.multiplicity import holm
from panelstats.panel.season.moved import LEVEL
from panelstats.panel.season.series import LEAST_DF
from panelstats.panel.tasters.repeats import repeats
from panelstats.scores.cells import DESCRIPTOR, TASTER

if TYPE_CHECKING:
    from panelstats.panel.tasters.reference import Pool

# Sessions that a season of two halves has at least (ours).
LEAST_SESSIONS = 6
RATIO = "ratio"
COLUMNS = [TASTER, DESCRIPTOR, "first", "second", RATIO, "low", "high", "df_first", "df_second", "p", "p_adjusted",
           "since"]  # fmt: skip


def half_by_half(pool: Pool) -> pd.DataFrame:
    """A row for each taster with repeats, all descriptors together and one by one.

    Returns
    -------
    DataFrame
        taster, descriptor ("" over all), first, second (standard deviation of repeats in points; over all, as a
        multiple of the panel's), ratio of the two with its interval low, high, df_first, df_second, p, p_adjusted
        (Holm, over all lines of one kind), since (the first session of the second half). NaN where a half has too few
        repeats, or none that differ; no row of a season of five sessions or fewer.

    Notes
    -----
    F of the pooled mean squares. A cup's squares are held against what normal, independent errors make of them; where
    they spread more, by heavy tails or by descriptors that err together, degrees of freedom are divided by how much
    more (Layard 1973, JASA 68: 195-198).
    """
    if len(pool.sessions) < LEAST_SESSIONS:
        return pd.DataFrame(columns=COLUMNS)
    found = repeats(pool, np.ones(pool.mean.shape[1:], bool))
    usual = ratio(found.ss.sum(axis=(0, 1)), found.df.sum(axis=(0, 1)))
    met = usual > 0
    part = np.where(met, 1 / np.where(met, usual, 1.0), 0.0)
    late = pool.session >= len(pool.sessions) // 2
    lines = [
        _lines(str(name), found.ss[..., d] * part[d], found.df[..., d] * met[d], late).assign(unit=np.sqrt(usual[d]))
        for d, name in enumerate(pool.descriptors)
    ]  # one descriptor after the other: a season may fill the memory
    if len(lines) > 1:
        lines.insert(0, _lines("", found.ss @ part, found.df @ met, late).assign(unit=1.0))
    table = pd.concat(lines).set_index("taster_at")
    table[TASTER] = pool.tasters.astype(object)[table.index]
    table[["first", "second"]] = table[["first", "second"]].mul(table["unit"], axis=0)
    table["p_adjusted"] = table.groupby(table[DESCRIPTOR] == "")["p"].transform(lambda p: holm(p.to_numpy()))
    table["since"] = str(pool.sessions[len(pool.sessions) // 2])
    return table[COLUMNS].reset_index(drop=True)


def _lines(name: str, share: np.ndarray, df: np.ndarray, late: np.ndarray) -> pd.DataFrame:
    """A line for each taster with repeats, from squares and degrees of freedom of (row, taster)."""
    square, freedom = _of_halves(share, df, late)
    told = _compared(square, freedom) | {"first": np.sqrt(square[0]), "second": np.sqrt(square[1])}
    there = np.flatnonzero(df.sum(axis=0) > 0)
    table = pd.DataFrame({key: values[there] for key, values in told.items()})
    table[DESCRIPTOR], table["taster_at"] = name, there
    return table


def _of_halves(share: np.ndarray, df: np.ndarray, late: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Mean squares and degrees of freedom of both halves, (half, taster).

    The excess of a cup's squares over those of normal errors is that of all tasters and both halves.
    """
    halves = [(share[here], df[here]) for here in (~late, late)]
    total = np.stack([freedom.sum(axis=0) for _, freedom in halves])
    square = ratio(np.stack([squares.sum(axis=0) for squares, _ in halves]), total)
    seen = normal = 0.0
    for (squares, freedom), mean, whole in zip(halves, square, total, strict=True):
        off = np.where((freedom > 0) & (mean > 0), ratio(squares, mean) - freedom, 0.0)
        seen += float((off**2).sum())
        normal += float(np.where(mean > 0, 2 * freedom * (1 - freedom / np.maximum(whole, 1)), 0.0).sum())
    excess = max(seen / normal, 1.0) if normal > 0 else 1.0
    return np.where((square > 0) & (total >= LEAST_DF), square, np.nan), total / excess


def _compared(square: np.ndarray, df: np.ndarray) -> dict[str, np.ndarray]:
    first, second = df
    f = square[1] / square[0]
    tail = (1 - LEVEL) / 2
    return {
        RATIO: np.sqrt(f),
        "low": np.sqrt(f / fdtri(second, first, 1 - tail)),
        "high": np.sqrt(f / fdtri(second, first, tail)),
        "df_first": first,
        "df_second": second,
        "p": np.minimum(2 * np.minimum(fdtr(second, first, f), fdtrc(second, first, f)), 1.0),
    }
