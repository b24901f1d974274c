"""One session and class as merit needs it: scores freed of the day's line, and how far one look may be off."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from panelstats.lots.looksquares import joined_error
from panelstats.lots.plaintables import ASIDE
from panelstats.lots.shortlist.dayslevel import freed_of_the_day, jumps_of, row_of, without_walks
from panelstats.lots.worth import OVERALL
from panelstats.models.lookerror import POT, TASTER_LOT, LookError
from panelstats.models.merit import Looked
from panelstats.scores.cells import LOT, OWN, ROLE, SESSION

if TYPE_CHECKING:
    from collections.abc import Callable

    from panelstats.lots.shortlist.dayslevel import Jumps, Row
    from panelstats.models.dayline import DayLine
    from panelstats.scores.cells import Cells, Grid
    from panelstats.scores.table import Scores

# What an error speaks of, and the variances that must be known for it.
THE_LOTS, THIS_TASTER, THESE_POTS, NOTHING = "the lots", "this taster only", "these pots only", "nothing"


@dataclass(frozen=True, eq=False)
class ClassDay:
    """A class of one session; arrays over its lots (L) and descriptors (D).

    Attributes
    ----------
    grid : Grid
    ranked : ndarray of bool, shape (L,)
        Neither control nor standard.
    error : LookError
        A table per descriptor.
    own_repeats : ndarray of bool, shape (D,)
        Whether the class itself had repeats; else they were borrowed from other classes.
    share : ndarray, shape (L, D, 3)
        What pot, lot:taster and look variance count in each lot's score.
    speaks : ndarray of str, shape (D,)
        What the error of a look speaks of: the lots, or less where the room does not know enough.
    pots : ndarray of int, shape (L, D)
    line : DayLine or None
    basis : str
        What the line was fitted to; "" where there is none.
    place : ndarray, shape (L,)
        Mean place in the row, 0 to 1, less the mean of all lots; 0 where not recorded.
    jumps : Jumps or None
        Levels that left their line, where that could be asked.
    taken : ndarray, shape (L, T, D)
        What the day's level took off each score; 0 where nothing was.
    left : ndarray, shape (L, D)
        Variance that the day's level leaves in a lot's score.
    looks : ndarray of int, shape (L, T, D)
    mean : ndarray, shape (L, T, D)
        Of each taster, the day's level taken off.
    """

    grid: Grid
    ranked: np.ndarray
    error: LookError
    own_repeats: np.ndarray
    share: np.ndarray
    speaks: np.ndarray
    pots: np.ndarray
    line: DayLine | None
    basis: str
    place: np.ndarray
    jumps: Jumps | None
    taken: np.ndarray
    left: np.ndarray
    looks: np.ndarray
    mean: np.ndarray

    @property
    def tasters(self) -> np.ndarray:
        """Tasters of each lot, shape (L, D)."""
        return (self.looks > 0).sum(axis=1)

    def usual_error(self) -> tuple[np.ndarray, np.ndarray]:
        """Mean variance of a ranked lot's score and its degrees of freedom, shape (D,); NaN where not known."""
        here = (self.tasters > 0) & self.ranked[:, None]
        share = _mean(self.share, here[..., None])
        value, df = self.error.of(share)
        return value + _mean(self.left, here), df

    def looked(self) -> Looked:
        """The ranked lots, their error split into what all tasters of a lot share and what each adds."""
        lots = self.ranked
        components, share, tasters = self.error.components, self.share[lots], np.maximum(self.tasters[lots], 1)
        shared = np.where(self.grid.pots == OWN, 0.0, share[..., POT]) * components[:, POT]
        rest = np.einsum("ldi,di->ld", share, components) - shared
        looks, mean = self.looks[lots], self.mean[lots]
        return Looked(mean, looks, shared + self.left[lots], np.maximum(rest, 1e-12) * tasters)

    def drawn_variance(self, d: int, lots: np.ndarray, rng: np.random.Generator, draws: int) -> np.ndarray:
        """Draws of the variance of the scores of some lots, by index, on a descriptor, shape (draws, lots)."""
        parts = self.error.take(np.array([d])).drawn(rng, draws)[:, 0]
        return parts @ self.share[lots, d].T + self.left[lots, d]


def class_days(cells: Cells, scores: Scores, squares: pd.DataFrame, *, level: float) -> list[ClassDay]:
    """Every session and class; `squares` may hold earlier sessions too."""
    seniors = cells.select(role="senior")
    grids = list(seniors.grids())
    roles = dict(zip(cells.lots[LOT].astype(str), cells.lots[ROLE], strict=True))
    classes = list(dict.fromkeys([grid.lot_class for grid in grids]))
    names = list(dict.fromkeys(np.concatenate([grid.descriptors for grid in grids]))) if grids else []
    joined = partial(joined_error, classes=classes, descriptors=names, alone=(OVERALL,))
    ranked = [np.array([roles[lot] not in ASIDE for lot in grid.lots]) for grid in grids]

    def looked(squares: pd.DataFrame) -> list[ClassDay]:
        every, own = joined(squares)
        return [
            _day(grid, mine, every.take(at := _at(classes, names, grid)), own[at])
            for grid, mine in zip(grids, ranked, strict=True)
        ]

    days = looked(squares)
    rows = [row_of(day, scores) for day in days]
    jumps = [jumps_of(day, row, _elsewhere(squares, day, row, joined, _at(classes, names, day.grid)))
             for day, row in zip(days, rows, strict=True)]  # fmt: skip
    if any(found is not None and found.walked.any() for found in jumps):
        days = looked(without_walks(squares, days, jumps))
    return [freed_of_the_day(day, row, found, level) for day, row, found in zip(days, rows, jumps, strict=True)]


def _elsewhere(
    squares: pd.DataFrame, day: ClassDay, row: Row | None, joined: Callable[..., tuple[LookError, np.ndarray]],
    at: np.ndarray,
) -> LookError | None:  # fmt: skip
    """The error of a look by the other sessions alone; None where there are none, or nothing asks for it."""
    other = squares[squares[SESSION] != day.grid.session]
    return joined(other)[0].take(at) if row is not None and row.again.any() and len(other) else None


def _at(classes: list[str], names: list[str], grid: Grid) -> np.ndarray:
    return classes.index(grid.lot_class) * len(names) + pd.Index(names).get_indexer(pd.Index(grid.descriptors))


def _day(grid: Grid, ranked: np.ndarray, error: LookError, own: np.ndarray) -> ClassDay:
    looks, mean, _ = grid.over_brews()
    share, pots = _share(grid, looks)
    first = np.where((looks > 0).any(axis=1), 1.0, 0.0).argmax(axis=0)
    speaks = _speaks(error, share[first, np.arange(len(first))])
    share[:, speaks == THIS_TASTER, TASTER_LOT] = 0.0
    share[:, speaks == THESE_POTS, POT] = 0.0
    return ClassDay(
        grid=grid, ranked=ranked, error=error, own_repeats=own, share=share, speaks=speaks, pots=pots, line=None,
        basis="", place=np.zeros(len(grid.lots)), jumps=None, taken=np.zeros(mean.shape), left=np.zeros(pots.shape),
        looks=looks, mean=mean,
    )  # fmt: skip


def _mean(values: np.ndarray, where: np.ndarray) -> np.ndarray:
    """Mean over lots; 0 where there are none."""
    return np.where(where, values, 0.0).sum(axis=0) / np.maximum(where.sum(axis=0), 1)


def _speaks(error: LookError, share: np.ndarray) -> np.ndarray:
    """What can be said of a look, given what its variances count, shape (descriptor,)."""
    less = {THE_LOTS: [], THIS_TASTER: [TASTER_LOT], THESE_POTS: [POT]}
    known = [error.knows(np.where(np.isin(np.arange(3), parts), 0.0, share)) for parts in less.values()]
    return np.select(known, list(less), NOTHING)


def _share(grid: Grid, looks: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """What each variance counts in a lot's mean over its tasters, and the pots behind it."""
    tasters = np.maximum((looks > 0).sum(axis=1), 1)
    every = np.maximum(looks.sum(axis=1), 1)
    pots = np.maximum((grid.looks > 0).any(axis=1).sum(axis=1), 1)
    pots = np.where(grid.pots == OWN, every, pots)
    per_look = (np.where(looks > 0, 1 / np.maximum(looks, 1), 0.0)).sum(axis=1) / tasters**2
    pot = np.where(grid.pots == OWN, per_look, 1 / pots)
    return np.stack(np.broadcast_arrays(pot, 1 / tasters, per_look), axis=-1).copy(), pots
