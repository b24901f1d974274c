"""One session and class as merit needs it: scores freed of the day's line, and how far one look may be off."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from panelstats.lots.looksquares import joined_error
from panelstats.lots.worth import OVERALL
from panelstats.models.dayline import LEAST_CONTROLS, DayLine, day_line
from panelstats.models.lookerror import LOOK, POT, TASTER_LOT, LookError
from panelstats.models.merit import Looked
from panelstats.scores.cells import DESCRIPTOR, LOT, OWN, POSITION, ROLE, SAME, SCORE, SESSION, TASTER
from panelstats.scores.cells import POT as POT_NUMBER
from panelstats.speech import Phrase

if TYPE_CHECKING:
    from panelstats.scores.cells import Cells, Grid
    from panelstats.scores.table import Scores

ASIDE = ("control", "standard")
RANDOMISED = "randomised"
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
    looks : ndarray of int, shape (L, T, D)
    mean : ndarray, shape (L, T, D)
        Of each taster, the line taken off.
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
        extra = 0.0 if self.line is None else _mean(self.line.left(self.place[:, None]), here)
        value, df = self.error.of(share)
        return value + extra, df

    def looked(self) -> Looked:
        """The ranked lots, their error split into what all tasters of a lot share and what each adds."""
        lots = self.ranked
        components, share, tasters = self.error.components, self.share[lots], np.maximum(self.tasters[lots], 1)
        extra = 0.0 if self.line is None else self.line.left(self.place[lots][:, None])
        shared = np.where(self.grid.pots == OWN, 0.0, share[..., POT]) * components[:, POT]
        rest = np.einsum("ldi,di->ld", share, components) - shared
        looks, mean = self.looks[lots], self.mean[lots]
        return Looked(mean, looks, shared + extra, np.maximum(rest, 1e-12) * tasters)

    def drawn_variance(self, d: int, lots: np.ndarray, rng: np.random.Generator, draws: int) -> np.ndarray:
        """Draws of the variance of the scores of some lots, by index, on a descriptor, shape (draws, lots)."""
        parts = self.error.take(np.array([d])).drawn(rng, draws)[:, 0]
        found = parts @ self.share[lots, d].T
        return found if self.line is None else found + self.line.left(self.place[lots, None])[:, d]


def class_days(cells: Cells, scores: Scores, squares: pd.DataFrame, *, level: float) -> list[ClassDay]:
    """Every session and class; `squares` may hold earlier sessions too."""
    seniors = cells.select(role="senior")
    grids = list(seniors.grids())
    roles = dict(zip(cells.lots[LOT].astype(str), cells.lots[ROLE], strict=True))
    classes = list(dict.fromkeys([grid.lot_class for grid in grids]))
    names = list(dict.fromkeys(np.concatenate([grid.descriptors for grid in grids]))) if grids else []
    every, own = joined_error(squares, classes, names, alone=(OVERALL,))
    return [
        _day(
            grid,
            np.array([roles[lot] not in ASIDE for lot in grid.lots]),
            every.take(at := _at(classes, names, grid)),
            own[at],
            scores,
            level,
        )
        for grid in grids
    ]


def _at(classes: list[str], names: list[str], grid: Grid) -> np.ndarray:
    return classes.index(grid.lot_class) * len(names) + pd.Index(names).get_indexer(pd.Index(grid.descriptors))


def _day(grid: Grid, ranked: np.ndarray, error: LookError, own: np.ndarray, scores: Scores, level: float) -> ClassDay:
    looks, mean, _ = grid.over_brews()
    share, pots = _share(grid, looks)
    first = np.where((looks > 0).any(axis=1), 1.0, 0.0).argmax(axis=0)
    speaks = _speaks(error, share[first, np.arange(len(first))])
    share[:, speaks == THIS_TASTER, TASTER_LOT] = 0.0
    share[:, speaks == THESE_POTS, POT] = 0.0
    day = ClassDay(
        grid=grid, ranked=ranked, error=error, own_repeats=own, share=share, speaks=speaks, pots=pots,
        line=None, basis="", place=np.zeros(len(grid.lots)), looks=looks, mean=mean,
    )  # fmt: skip
    return _freed_of_the_day(day, scores, level)


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


# --- the day's line ---------------------------------------------------------------------------------------------------


def _freed_of_the_day(day: ClassDay, scores: Scores, level: float) -> ClassDay:
    """The class with the day's line taken off as far as it is shown; as it is where no place was recorded."""
    grid = day.grid
    frame = scores.frame
    mine = frame[(frame[SESSION].astype(str) == grid.session) & frame[LOT].astype(str).isin(grid.lots)]
    mine = mine[mine[POSITION].notna() & mine[TASTER].astype(str).isin(grid.tasters)]
    if not len(mine) or mine[POSITION].nunique() < 2:
        return day
    placed = frame.loc[frame[SESSION].astype(str) == grid.session, POSITION]
    start, length = placed.min(), max(placed.max() - placed.min(), 1)
    servings = _servings(mine, grid, start, length)
    many = np.bincount(servings.lot, minlength=len(grid.lots))
    again = many[servings.lot] > 1
    randomised = _randomised(scores, grid.session)
    controls = int(again.sum())
    used = again | randomised
    place = np.bincount(servings.lot, servings.place, len(grid.lots)) / np.maximum(many, 1)
    away = np.where(many > 0, place - place[(many > 0) & day.ranked].mean(), 0.0)
    if used.sum() < 3 or controls < 2:
        return replace(day, place=away)
    variance, df = _of_servings(day, servings, again)
    line = day_line(
        servings.value[used], servings.place[used], np.where(again, servings.lot, -1)[used], variance[used],
        df=np.where(np.isfinite(df), df, 1.0), correct=randomised or controls >= LEAST_CONTROLS, level=level,
    )  # fmt: skip
    moved = line.taken[None, None] * _away(mine, grid, start, length, away)[:, :, None]
    basis = Phrase("controls and the random row") if randomised else "what was served again"
    return replace(day, line=line, basis=basis, place=away, mean=day.mean - np.where(day.looks > 0, moved, 0.0))


def _randomised(scores: Scores, session: str) -> bool:
    """Whether the register says so; it is never inferred."""
    table = scores.sessions[scores.sessions[SESSION].astype(str) == session]
    return "order" in table and bool((table["order"].astype(str) == RANDOMISED).any())


@dataclass(frozen=True, eq=False)
class _Servings:
    """Each pot of a lot: the lot's index, its place, the panel's mean on each descriptor, tasters behind it."""

    lot: np.ndarray
    place: np.ndarray
    value: np.ndarray
    tasters: np.ndarray


def _servings(mine: pd.DataFrame, grid: Grid, start: float, length: float) -> _Servings:
    table = mine.pivot_table(index=[LOT, POT_NUMBER], columns=DESCRIPTOR, values=SCORE, aggfunc="mean", observed=True)
    where = mine.groupby([LOT, POT_NUMBER], observed=True)
    place = where[POSITION].mean().reindex(table.index).to_numpy()
    tasters = where[TASTER].nunique().reindex(table.index).to_numpy()
    lot = pd.Index(grid.lots).get_indexer(table.index.get_level_values(0).astype(str))
    value = table.reindex(columns=grid.descriptors).to_numpy(float)
    return _Servings(lot, (place - start) / length, value, tasters)


def _of_servings(day: ClassDay, servings: _Servings, again: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Variance of each serving about its level: pots and looks where a tea came again, all lots where it did not."""
    tasters = np.maximum(servings.tasters, 1)
    pot = np.where(day.grid.pots == SAME, 0.0, 1.0)
    share = np.zeros((len(day.grid.descriptors), len(tasters), 3))
    share[:, :, POT], share[:, :, LOOK] = pot[:, None], 1 / tasters
    variance, df = day.error.of(share)
    single = servings.value[~again]
    spread = np.nanvar(single, axis=0, ddof=1) if (~again).sum() > 1 else np.ones(share.shape[0])
    return np.where(again[:, None], np.nan_to_num(variance.T, nan=1.0), spread), np.nanmin(df, axis=1)


def _away(mine: pd.DataFrame, grid: Grid, start: float, length: float, usual: np.ndarray) -> np.ndarray:
    """Place of each (lot, taster) less the mean place of the lots; the lot's own where a taster's is not recorded."""
    table = mine.pivot_table(index=LOT, columns=TASTER, values=POSITION, aggfunc="mean", observed=True)
    place = (table.reindex(index=grid.lots, columns=grid.tasters).to_numpy() - start) / length
    return np.where(np.isfinite(place), place - np.nanmean(place), usual[:, None])
