"""The row over a season: does a taster's mark depend on the place of the cup, or on the lot before it?"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from scipy.special import stdtr, stdtrit

from panelstats.models.additive import fit_additive
from panelstats.models.multiplicity import benjamini_hochberg
from panelstats.panel.season.spreadalong import own_pots, spread_along
from panelstats.scores.cells import DESCRIPTOR, LOT, POSITION, SCORE, SESSION, TASTER
from panelstats.scores.places import places

if TYPE_CHECKING:
    from panelstats.panel.season.spreadalong import Trend
    from panelstats.scores.cells import Cells
    from panelstats.scores.table import Scores

# Effects, in points over ten cups, in points for each point of the lot before, and in times over ten cups.
ALONG, AFTER, SPREAD = "place in the row", "the lot before", "spread along the row"
CUPS = 10
# All walked in one order where no more than this share of the spread of places is left beside lot and taster (ours).
ONE_ORDER = 0.10
COLUMNS = (TASTER, DESCRIPTOR, "effect", "estimate", "low", "high", "df", "p", "p_adjusted", "sessions")
LEVEL = 0.95


@dataclass(frozen=True, eq=False)
class RowEffects:
    """What the row does.

    Attributes
    ----------
    table : DataFrame
        taster ("" for the whole panel), descriptor, effect (place in the row: points in ten cups; the lot before:
        points after a lot that is one point higher; spread along the row: times the spread of repeats ten cups on),
        estimate, low, high (95 %), df, p, p_adjusted, sessions.
    one_order : list of str
        Sessions in which all tasters tasted the lots in one order.
    """

    table: pd.DataFrame
    one_order: list[str]


NOTHING_KNOWN = RowEffects(pd.DataFrame({name: pd.Series(dtype=float) for name in COLUMNS}), [])


def row_effects(scores: Scores, tasters: list[str], cells: Cells) -> RowEffects:
    """Trend along the row and carry-over, of each of some tasters and of all together.

    Parameters
    ----------
    scores : Scores
    tasters : list of str
        Whose marks count; places as recorded, or as listed where the register of sessions says so.
    cells : Cells
        They know whose a pot was: of shared ones no spread is told.

    Returns
    -------
    RowEffects
        Empty where no place is known.

    Notes
    -----
    Least squares under orders that differ from taster to taster: a taster's trend is all his own then, with what the
    whole panel does along the row.
    """
    where = places(scores)
    known = np.isfinite(where) & scores.frame[TASTER].astype(str).isin(tasters).to_numpy()
    if not known.any():
        return NOTHING_KNOWN
    frame = scores.frame[known].assign(**{POSITION: where[known]})
    keys = [SESSION, TASTER, POSITION, LOT]
    cups = frame.pivot_table(index=keys, columns=DESCRIPTOR, values=SCORE, aggfunc="mean", observed=True).sort_index()
    index = cups.index.to_frame(index=False).astype({SESSION: str, TASTER: str, LOT: str})
    one_order, left = [], []
    for session, rows in index.groupby(SESSION, sort=False).indices.items():
        found = _beside_lot_and_taster(index.iloc[rows], cups.to_numpy()[rows])
        if found is None:
            one_order.append(str(session))
        else:
            left.append((rows, found))
    if not left:
        return RowEffects(NOTHING_KNOWN.table, _with_lots(index, one_order))
    rows = np.concatenate([mine for mine, _ in left])
    words = cups.columns.astype(str).to_numpy()
    met, marks = index.iloc[rows].reset_index(drop=True), cups.to_numpy()[rows]
    alone = np.where(own_pots(met, words, cells), marks, np.nan)
    lines = [*_of_tasters(met, marks, words), _of_panel([sums for _, sums in left], words),
             *map(_of_spread, spread_along(met, alone))]  # fmt: skip
    table = pd.concat(lines, ignore_index=True)
    table = table[np.isfinite(table["p"])].reset_index(drop=True)
    table["p_adjusted"] = benjamini_hochberg(table["p"].to_numpy())
    return RowEffects(table[list(COLUMNS)], _with_lots(index, one_order))


def _with_lots(index: pd.DataFrame, sessions: list[str]) -> list[str]:
    """Those sessions in which two tasters met two lots: of others no order can be told."""
    size = index.groupby(SESSION)[[TASTER, LOT]].nunique()
    return [name for name in sessions if (size.loc[name] > 1).all()]


def _beside_lot_and_taster(index: pd.DataFrame, y: np.ndarray) -> tuple[np.ndarray, ...] | None:
    """Of one session: sums of squares and products of what lot and taster leave of places and marks, and their df.

    None where places are told by lot and taster.
    """
    taster, lot = (pd.factorize(index[name])[0] for name in (TASTER, LOT))
    shape = (int(lot.max()) + 1, int(taster.max()) + 1)
    if min(shape) < 2:
        return None
    at = lot * shape[1] + taster
    place = np.repeat(index[POSITION].to_numpy(float)[:, None], y.shape[1], axis=1)
    place = np.where(np.isnan(y), np.nan, place)
    both = np.concatenate([y, place], axis=1)
    count = np.stack([np.bincount(at, np.isfinite(x), np.prod(shape)) for x in both.T], axis=1)
    total = np.stack([np.bincount(at, np.nan_to_num(x), np.prod(shape)) for x in both.T], axis=1)
    seen = (count > 0).reshape(*shape, -1)
    mean = (total / np.maximum(count, 1)).reshape(*shape, -1)
    fit = fit_additive(mean, seen)
    d = y.shape[1]
    marks, moved = fit.residual[..., :d], fit.residual[..., d:]
    own = mean[..., d:] - mean[..., d:].sum(axis=0) / np.maximum(seen[..., d:].sum(axis=0), 1)
    spread = np.where(seen[..., d:], own**2, 0.0).sum(axis=(0, 1))
    left = (moved**2).sum(axis=(0, 1))
    if (left <= ONE_ORDER * spread).all():
        return None
    return left, (marks * moved).sum(axis=(0, 1)), (marks**2).sum(axis=(0, 1)), fit.df[:d]


def _of_spread(trend: Trend) -> pd.DataFrame:
    """How many times as far a taster's repeats lie apart ten cups on."""
    log, se = CUPS * np.array([trend.estimate]), CUPS * np.array([trend.se])
    line = _lines(trend.taster, np.array([""]), SPREAD, log, se, np.array([float(trend.df)]), trend.sessions)
    numbers = ["estimate", "low", "high"]
    return line.assign(**{name: np.exp(line[name]) for name in numbers})


def _of_panel(sums: list[tuple[np.ndarray, ...]], words: np.ndarray) -> pd.DataFrame:
    """One slope of all tasters, by descriptor."""
    xx, xy, yy, df = (np.sum(parts, axis=0) for parts in zip(*sums, strict=True))
    with np.errstate(divide="ignore", invalid="ignore"):
        slope, df = xy / xx, df - 1.0
        se = np.sqrt(np.maximum(yy - slope * xy, 0.0) / np.where(df > 0, df, np.nan) / xx)
    return _lines("", words, ALONG, CUPS * slope, CUPS * se, df, np.full(len(words), len(sums)))


def _of_tasters(index: pd.DataFrame, y: np.ndarray, words: np.ndarray) -> list[pd.DataFrame]:
    """Place and lot before, of each taster against the others, by descriptor."""
    taster, names = pd.factorize(index[TASTER])
    others = _others(index, y)
    sitting = index.groupby([SESSION, TASTER], sort=False).ngroup().to_numpy()
    first = np.r_[True, sitting[1:] != sitting[:-1]]
    before = np.where(first[:, None], np.nan, np.r_[others[:1], others[:-1]])
    place = np.repeat(index[POSITION].to_numpy(float)[:, None], y.shape[1], axis=1)
    gap = y - others
    whole = np.isfinite(gap) & np.isfinite(before)
    gap, place, before = (_about_sitting(np.where(whole, x, 0.0), whole, sitting) for x in (gap, place, before))
    n = _sums(whole.astype(float), taster, len(names))
    sat = _sums(whole.astype(float), sitting, int(sitting.max()) + 1) > 0
    sittings = _sums((sat[sitting] & first[:, None]).astype(float), taster, len(names))
    pp, bb, pb, pg, bg, gg = (
        _sums(one * two, taster, len(names))
        for one, two in ((place, place), (before, before), (place, before), (place, gap), (before, gap), (gap, gap))
    )
    df = n - sittings - 2.0
    with np.errstate(divide="ignore", invalid="ignore"):
        det = pp * bb - pb**2
        det = np.where(det > 1e-9 * pp * bb, det, np.nan)
        f, g = (bb * pg - pb * bg) / det, (pp * bg - pb * pg) / det
        variance = np.maximum(gg - f * pg - g * bg, 0.0) / np.where(df > 0, df, np.nan)
        f_se, g_se = np.sqrt(variance * bb / det), np.sqrt(variance * pp / det)
    out = []
    for t, name in enumerate(names):
        out.append(_lines(str(name), words, ALONG, CUPS * f[t], CUPS * f_se[t], df[t], sittings[t]))
        out.append(_lines(str(name), words, AFTER, g[t], g_se[t], df[t], sittings[t]))
    return out


def _others(index: pd.DataFrame, y: np.ndarray) -> np.ndarray:
    """Mean of the other tasters' means of the cup's lot in its session; NaN where there is no other."""
    cell, _ = pd.factorize(pd.MultiIndex.from_frame(index[[SESSION, LOT, TASTER]]))
    lot, _ = pd.factorize(pd.MultiIndex.from_frame(index[[SESSION, LOT]]))
    cells = int(cell.max()) + 1
    seen = _sums(np.isfinite(y).astype(float), cell, cells)
    mean = _sums(np.nan_to_num(y), cell, cells) / np.maximum(seen, 1)
    lot_of = np.zeros(cells, int)
    lot_of[cell] = lot
    there = (seen > 0).astype(float)
    total, count = (_sums(x, lot_of, int(lot.max()) + 1) for x in (mean * there, there))
    others = count[lot] - there[cell]
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where(others > 0, (total[lot] - (mean * there)[cell]) / others, np.nan)


def _about_sitting(x: np.ndarray, whole: np.ndarray, sitting: np.ndarray) -> np.ndarray:
    size = int(sitting.max()) + 1
    mean = _sums(x, sitting, size) / np.maximum(_sums(whole.astype(float), sitting, size), 1)
    return np.where(whole, x - mean[sitting], 0.0)


def _sums(x: np.ndarray, group: np.ndarray, size: int) -> np.ndarray:
    """Sum over the rows of each group: (row, descriptor) -> (group, descriptor)."""
    out = np.zeros((size, x.shape[1]))
    np.add.at(out, group, x)
    return out


def _lines(
    taster: str,
    words: np.ndarray,
    effect: str,
    estimate: np.ndarray,
    se: np.ndarray,
    df: np.ndarray,
    sessions: np.ndarray | int,
) -> pd.DataFrame:
    with np.errstate(divide="ignore", invalid="ignore"):
        p = np.where(se > 0, 2 * stdtr(df, -np.abs(estimate / se)), np.nan)
    reach = -stdtrit(df, (1 - LEVEL) / 2) * se
    numbers = {"estimate": estimate, "low": estimate - reach, "high": estimate + reach, "df": df, "p": p}
    return pd.DataFrame({TASTER: taster, DESCRIPTOR: words, "effect": effect, **numbers, "sessions": sessions})
