"""What a layout of joined sessions can estimate: which variances of the season model it tells apart."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from panelstats.models.estimable import NO_DF
from panelstats.models.seasonsources import (
    LOT_TASTER,
    LOT_TASTER_SESSION,
    POT,
    SESSION,
    SOURCES,
    TASTER,
    TASTER_SESSION,
)

if TYPE_CHECKING:
    from panelstats.models.seasonrows import SeasonRows


# Degrees of freedom below which lots that recur do not tell lot:taster from the rest (ours): it then counts as part of
# the cell, which makes lots of different sessions look no more alike than they are.
LEAST_RECURRING = 3


@dataclass(frozen=True, eq=False)
class SeasonLayout:
    """What can be fitted, descriptor by descriptor.

    Attributes
    ----------
    state : ndarray of str, shape (D,)
        "" where the model can be fitted, else NO_DF.
    held : ndarray of bool, shape (D, 7)
        Variances that the layout cannot tell from others, not in the model.
    """

    state: np.ndarray
    held: np.ndarray


def season_layout(rows: SeasonRows) -> SeasonLayout:
    """Decide what can be estimated.

    Notes
    -----
    One look a cell: lot:taster:session and error are one. Lots that recur tell lot:taster from the rest of a cell, and
    sessions from their lots. One taster: only sessions and error are told apart. Pots shared by the tasters are told
    from the error by second pots of a lot in a session or, where each lot has one, by how several lots that recur move
    together from session to session.
    """
    d, t = rows.sizes[0], rows.tasters
    of = rows.block
    seen = (rows.counts.sum(axis=2) > 0)[of]  # (R, T)
    tasters = seen.sum(axis=1)
    looks = rows.counts.sum(axis=(1, 2))[of]

    def total(values: np.ndarray) -> np.ndarray:
        return np.bincount(rows.descriptor, values, d).astype(int)

    within = total(looks - tasters)
    served = (rows.counts.sum(axis=1) > 0).sum(axis=1)[of] if rows.pots else np.ones(len(of), int)
    pot_df = total(np.where(tasters > 0, np.minimum(served - 1, np.maximum(looks - tasters, 0)), 0))
    recurs = _recurring_df(rows)
    met = rows.place >= 0
    days = _distinct(rows.descriptor[met], rows.session[met], d)
    lots_met = _distinct(rows.descriptor[met], rows.lot[met], d)
    moves = total(met.astype(float)) - lots_met - days + 1  # of recurring lots against one another, day by day
    several = total((tasters > 1).astype(float)) > 0
    by_day = np.bincount(rows.descriptor * rows.sizes[1] + rows.session, tasters > 1, d * rows.sizes[1])
    held = np.zeros((d, len(SOURCES)), bool)
    held[:, TASTER] = ~several
    held[:, SESSION] = days < 2
    held[:, TASTER_SESSION] = ~several | ~(by_day.reshape(d, -1) > 1).any(axis=1)
    held[:, LOT_TASTER] = ~several | (recurs < LEAST_RECURRING)
    held[:, LOT_TASTER_SESSION] = (within - pot_df <= 0) | (~several & (moves < 1))
    held[:, POT] = (not rows.pots) | ~several | ((pot_df == 0) & (moves < 1))
    cells, effects = total(tasters), rows.lots + np.maximum(days - 1, 0) + (t - 1)
    nothing = (within <= 0) & (cells - effects <= 0)
    return SeasonLayout(np.where(nothing, NO_DF, "").astype("U32"), held)


def _distinct(descriptor: np.ndarray, value: np.ndarray, d: int) -> np.ndarray:
    """Number of distinct values of each descriptor."""
    pairs = np.unique(np.stack([descriptor, value], axis=1), axis=0)
    return np.bincount(pairs[:, 0].astype(int), minlength=d)


def _recurring_df(rows: SeasonRows) -> np.ndarray:
    """Cells of lots that recur beyond what lot:taster and taster:session take, by descriptor."""
    d, s, lots = rows.sizes
    met = rows.place >= 0
    seen = (rows.counts.sum(axis=2) > 0)[rows.block[met]]
    by_lot, by_day = (np.zeros((d * size, rows.tasters), int) for size in (lots, s))
    np.add.at(by_lot, rows.descriptor[met] * lots + rows.lot[met], seen)
    np.add.at(by_day, rows.descriptor[met] * s + rows.session[met], seen)
    of_lots, of_days = (np.count_nonzero(x.reshape(d, -1), axis=1) for x in (by_lot, by_day))
    cells = by_lot.reshape(d, -1).sum(axis=1)
    tasters = (by_day.reshape(d, s, -1).sum(axis=1) > 0).sum(axis=1)
    return cells - of_lots - of_days + tasters
