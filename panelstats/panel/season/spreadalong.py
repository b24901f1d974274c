"""Repeats along the row: do a taster's two marks of one lot lie farther apart the later they are given?"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import pandas as pd

from panelstats.models.gammaline import gamma_line
from panelstats.models.meansquares import ratio
from panelstats.scores.cells import (
    DESCRIPTOR,
    LOT,
    OWN,
    POSITION,
    POTS,
    SAME,
    SESSION,
    STAGE,
    TASTER,
)

if TYPE_CHECKING:
    from panelstats.scores.cells import Cells

# Lots met twice that a taster's trend needs (ours).
LEAST_REPEATED = 8


class Trend(NamedTuple):
    """Growth of the logarithm of a standard deviation with each cup; NaN where it cannot be told."""

    taster: str
    estimate: float
    se: float
    df: int
    sessions: int


def own_pots(index: pd.DataFrame, words: np.ndarray, cells: Cells) -> np.ndarray:
    """Whether repeats are of the taster alone, his own pots or one pot twice, by serving and descriptor."""
    pots = cells.pots[cells.pots[POTS].isin([OWN, SAME])]
    alone = set(zip(pots[SESSION].astype(str), pots[STAGE].astype(str), strict=True))
    stages = dict(zip(cells.descriptors[DESCRIPTOR].astype(str), cells.descriptors[STAGE].astype(str), strict=True))
    met = {name: [(name, stages[word]) in alone for word in words] for name in index[SESSION].unique()}
    return np.array([met[name] for name in index[SESSION]], bool).reshape(len(index), len(words))


def spread_along(index: pd.DataFrame, y: np.ndarray) -> list[Trend]:
    """The trend of each taster, descriptors together.

    Parameters
    ----------
    index : DataFrame
        session, taster, lot and place of each serving.
    y : ndarray, shape (serving, descriptor)
        NaN where repeats do not count.

    Notes
    -----
    A gamma model with the log link of a lot's squares within, each descriptor's as a share of the panel's, on the mean
    place of its servings less that of the sitting: half its slope is that of the standard deviation.
    """
    cell, _ = pd.factorize(pd.MultiIndex.from_frame(index[[SESSION, TASTER, LOT]]))
    looks = _sums(np.isfinite(y), cell)
    mean = _sums(np.nan_to_num(y), cell) / np.maximum(looks, 1)
    ss = _sums(np.nan_to_num(y - mean[cell]) ** 2, cell)
    df = np.maximum(looks - 1, 0)
    usual = ratio(ss.sum(axis=0), df.sum(axis=0))
    told = (df > 0) & (usual > 0)
    count = told.sum(axis=1)
    df = np.where(told, df, 0.0)
    served = index.groupby(cell)
    whole = served[[SESSION, TASTER]].first().assign(
        square=np.where(told, np.nan_to_num(ratio(ss, usual)), 0.0).sum(axis=1), freedom=df.sum(axis=1),
        weight=ratio(df.sum(axis=1), count), place=served[POSITION].mean(),
    )  # fmt: skip
    whole = whole[count > 0]
    whole["place"] -= whole.groupby([SESSION, TASTER])["place"].transform("mean")
    return [_of_taster(str(name), rows) for name, rows in whole.groupby(TASTER, sort=False)]


def _of_taster(name: str, rows: pd.DataFrame) -> Trend:
    sessions = int(rows[SESSION].nunique())
    if len(rows) < LEAST_REPEATED:
        return Trend(name, np.nan, np.nan, 0, sessions)
    x = np.column_stack([np.ones(len(rows)), rows["place"]])
    fit = gamma_line((rows["square"] / rows["freedom"]).to_numpy(), x, rows["weight"].to_numpy())
    return Trend(name, float(fit.coefficients[1]) / 2, float(fit.se[1]) / 2, fit.df, sessions)


def _sums(x: np.ndarray, group: np.ndarray) -> np.ndarray:
    """Sum over the rows of each group: (row, descriptor) -> (group, descriptor)."""
    out = np.zeros((int(group.max(initial=-1)) + 1, x.shape[1]))
    np.add.at(out, group, x)
    return out
