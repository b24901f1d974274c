"""The level of a day along the row, taken off the scores of a class: a line, or a walk where the level jumped."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from panelstats.lots.looksquares import POTS_OF_A_LOT
from panelstats.models.dayline import LEAST_CONTROLS, day_line
from panelstats.models.daywalk import JUMPED, DayWalk, day_walk, jump_p
from panelstats.models.lookerror import LOOK, POT
from panelstats.models.multiplicity import adjusted
from panelstats.scores.cells import CLASS, DESCRIPTOR, LOT, POSITION, SAME, SCORE, SESSION, TASTER
from panelstats.scores.cells import POT as POT_NUMBER
from panelstats.speech import Phrase

if TYPE_CHECKING:
    from collections.abc import Sequence

    from panelstats.lots.shortlist.classday import ClassDay
    from panelstats.models.lookerror import LookError
    from panelstats.scores.cells import Grid
    from panelstats.scores.table import Scores

RANDOMISED = "randomised"
# A walk wants servings inside the row, not only at its ends: so many beyond its first and last tenth (ours).
INSIDE, END = 3, 0.1


@dataclass(frozen=True, eq=False)
class Row:
    """Where a class stood in the row of its session; places from 0 to 1.

    Attributes
    ----------
    lot, value, place, tasters : ndarray
        Of each pot: the lot's index, the panel's mean by descriptor, its place, tasters behind it.
    again : ndarray of bool
        Pots of a tea that came more than once.
    randomised : bool
        Whether the register says so; it is never inferred.
    cup_lot, cup_taster, cup_place : ndarray
        Of each cup.
    lots : ndarray, shape (lot,)
        Mean place, less the mean of the ranked lots; 0 where not recorded.
    """

    lot: np.ndarray
    value: np.ndarray
    place: np.ndarray
    tasters: np.ndarray
    again: np.ndarray
    randomised: bool
    cup_lot: np.ndarray
    cup_taster: np.ndarray
    cup_place: np.ndarray
    lots: np.ndarray

    @property
    def correctable(self) -> bool:
        """Whether enough was served again for anything to be taken off."""
        return self.randomised or int(self.again.sum()) >= LEAST_CONTROLS

    @property
    def walkable(self) -> bool:
        """Whether enough was served again, and inside the row, for a walk."""
        inside = (self.place > END) & (self.place < 1 - END) & self.again
        return int(self.again.sum()) >= LEAST_CONTROLS and int(inside.sum()) >= INSIDE


@dataclass(frozen=True, eq=False)
class Jumps:
    """Levels that left their line; a walk, and what follows, for each descriptor.

    Attributes
    ----------
    p : ndarray, shape (descriptor,)
        NaN where too little was served again to tell.
    jumped : ndarray of bool, shape (descriptor,)
        After Holm over the descriptors of the class.
    walks : tuple of DayWalk or None
        What is taken off in place of the line; None where no level jumped, or too little was served inside the row.
    """

    p: np.ndarray
    jumped: np.ndarray
    walks: tuple[DayWalk | None, ...]

    @property
    def walked(self) -> np.ndarray:
        """Whether a walk is taken off, shape (descriptor,)."""
        return np.array([walk is not None for walk in self.walks], bool)


def row_of(day: ClassDay, scores: Scores) -> Row | None:
    """Where the class stood in the row; None where no place was recorded."""
    grid, frame = day.grid, scores.frame
    today = frame[frame[SESSION].astype(str) == grid.session]
    mine = today[today[LOT].astype(str).isin(grid.lots)]
    mine = mine[mine[POSITION].notna() & mine[TASTER].astype(str).isin(grid.tasters)]
    if not len(mine) or mine[POSITION].nunique() < 2:
        return None
    start = today[POSITION].min()
    length = max(today[POSITION].max() - start, 1)
    table = mine.pivot_table(index=[LOT, POT_NUMBER], columns=DESCRIPTOR, values=SCORE, aggfunc="mean", observed=True)
    pots = mine.groupby([LOT, POT_NUMBER], observed=True)
    lot = pd.Index(grid.lots).get_indexer(table.index.get_level_values(0).astype(str))
    place = (pots[POSITION].mean().reindex(table.index).to_numpy() - start) / length
    many = np.bincount(lot, minlength=len(grid.lots))
    mean = np.bincount(lot, place, len(grid.lots)) / np.maximum(many, 1)
    cups, placed = mine[[LOT, TASTER, POT_NUMBER, POSITION]].drop_duplicates(), (many > 0) & day.ranked
    return Row(
        lot=lot,
        value=table.reindex(columns=grid.descriptors).to_numpy(float),
        place=place,
        tasters=np.maximum(pots[TASTER].nunique().reindex(table.index).to_numpy(), 1),
        again=many[lot] > 1,
        randomised=_randomised(scores, grid.session),
        cup_lot=pd.Index(grid.lots).get_indexer(cups[LOT].astype(str)),
        cup_taster=pd.Index(grid.tasters).get_indexer(cups[TASTER].astype(str)),
        cup_place=(cups[POSITION].to_numpy(float) - start) / length,
        lots=np.where(many > 0, mean - (mean[placed].mean() if placed.any() else 0.0), 0.0),
    )


def _randomised(scores: Scores, session: str) -> bool:
    table = scores.sessions[scores.sessions[SESSION].astype(str) == session]
    return "order" in table and bool((table["order"].astype(str) == RANDOMISED).any())


def _share_of_pots(day: ClassDay, row: Row) -> np.ndarray:
    """What pot, lot:taster and look variance count in a pot's mean about its lot, shape (descriptor, pot, 3)."""
    share = np.zeros((len(day.grid.descriptors), len(row.tasters), 3))
    share[:, :, POT] = np.where(day.grid.pots == SAME, 0.0, 1.0)[:, None]
    share[:, :, LOOK] = 1 / row.tasters
    return share


# --- jumps ------------------------------------------------------------------------------------------------------------


def jumps_of(day: ClassDay, row: Row | None, before: LookError | None) -> Jumps | None:
    """Which levels jumped, and their walks; `before`: the error of a look by other sessions alone, where there are."""
    if row is None or not row.again.any():
        return None
    share = _share_of_pots(day, row)
    today, _ = day.error.of(share)
    earlier, earlier_df = (np.full(today.shape, np.nan),) * 2 if before is None else before.of(share)
    df = np.where(row.again & np.isfinite(earlier_df), earlier_df, np.inf).min(axis=1)
    df = np.where(np.isfinite(df), df, 0.0)
    variance = np.where((df > 0)[:, None], earlier, np.nan_to_num(today, nan=1.0))
    asked = [
        (row.value[seen, d], row.place[seen], row.lot[seen], np.maximum(variance[d, seen], 1e-12), float(df[d]))
        for d in range(len(variance))
        for seen in [row.again & np.isfinite(row.value[:, d])]
    ]
    p = np.array([jump_p(*each, known_df=known) if len(each[0]) > 2 else np.nan for *each, known in asked])
    jumped = adjusted(p, "holm") < JUMPED
    walks = tuple(
        day_walk(*each, known_df=known) if shown and row.walkable else None
        for (*each, known), shown in zip(asked, jumped, strict=True)
    )
    return Jumps(p, jumped, walks)


def without_walks(squares: pd.DataFrame, days: Sequence[ClassDay], jumps: Sequence[Jumps | None]) -> pd.DataFrame:
    """The mean squares of pots freed of the walks that were found in them."""
    out = squares.copy()
    for day, found in zip(days, jumps, strict=True):
        for name, walk in zip(day.grid.descriptors, found.walks if found else (), strict=bool(found)):
            if walk is not None:
                mine = (out["source"] == POTS_OF_A_LOT) & (out[SESSION] == day.grid.session)
                mine &= (out[CLASS] == day.grid.lot_class) & (out[DESCRIPTOR] == name)
                out.loc[mine, "mean_square"] *= min(walk.share, 1.0)
                whole = out.loc[mine, "df"].sum()
                out.loc[mine, "df"] *= min(walk.df / whole, 1.0) if whole else 1.0
    return out


# --- taken off --------------------------------------------------------------------------------------------------------


def freed_of_the_day(day: ClassDay, row: Row | None, jumps: Jumps | None, level: float) -> ClassDay:
    """The class with the day's level taken off as far as it is shown; as it is where no place was recorded."""
    if row is None:
        return day
    day = replace(day, place=row.lots, jumps=jumps)
    used = row.again | row.randomised
    if used.sum() < 3 or row.again.sum() < 2:
        return day
    variance, df = _of_servings(day, row)
    line = day_line(
        row.value[used], row.place[used], np.where(row.again, row.lot, -1)[used], variance[used],
        df=np.where(np.isfinite(df), df, 1.0), correct=row.correctable, level=level,
    )  # fmt: skip
    walked = jumps.walked if jumps is not None else np.zeros(len(line.change), bool)
    line = replace(line, factor=np.where(walked, 0.0, line.factor))
    taken = line.taken * _away(day.grid, row)[:, :, None]
    left = line.left(row.lots[:, None])
    for d, walk in enumerate(jumps.walks if jumps is not None else ()):
        if walk is not None:
            taken[:, :, d], left[:, d] = _walked(day, row, walk)
    basis = Phrase("controls and the random row") if row.randomised else "what was served again"
    mean = day.mean - np.where(day.looks > 0, taken, 0.0)
    return replace(day, line=line, basis=basis, mean=mean, taken=taken, left=left)


def _of_servings(day: ClassDay, row: Row) -> tuple[np.ndarray, np.ndarray]:
    """Variance of each serving about its level: pots and looks where a tea came again, all lots where it did not."""
    variance, df = day.error.of(_share_of_pots(day, row))
    single = row.value[~row.again]
    spread = np.nanvar(single, axis=0, ddof=1) if len(single) > 1 else np.ones(len(variance))
    return np.where(row.again[:, None], np.nan_to_num(variance.T, nan=1.0), spread), np.fmin.reduce(df, axis=1)


def _by_cup(grid: Grid, row: Row, value: np.ndarray) -> np.ndarray:
    """Means of what cups have, by lot and taster; NaN where there was no cup."""
    shape = (len(grid.lots), len(grid.tasters))
    at = np.ravel_multi_index((row.cup_lot, row.cup_taster), shape)
    count = np.bincount(at, minlength=shape[0] * shape[1])
    total = np.bincount(at, value, shape[0] * shape[1])
    return np.divide(total, count, out=np.full(count.shape, np.nan), where=count > 0).reshape(shape)


def _away(grid: Grid, row: Row) -> np.ndarray:
    """Place of each (lot, taster) less the mean place of the lots; the lot's own where a taster's is not recorded."""
    place = _by_cup(grid, row, row.cup_place)
    return np.where(np.isfinite(place), place - np.nanmean(place), row.lots[:, None])


def _walked(day: ClassDay, row: Row, walk: DayWalk) -> tuple[np.ndarray, np.ndarray]:
    """What a walk takes off each (lot, taster), about the mean of the ranked lots, and the variance it leaves a lot."""
    places, cup = np.unique(row.cup_place, return_inverse=True)
    member = np.zeros((len(day.grid.lots), len(places)))
    np.add.at(member, (row.cup_lot, cup), 1.0)
    told = np.asarray(member.any(axis=1))
    parts = member / np.maximum(member.sum(axis=1, keepdims=True), 1)
    middle = parts[told & day.ranked].mean(axis=0)
    parts = np.where(told[:, None], parts - middle, 0.0)
    level = walk.level(places) - middle @ walk.level(places)
    mine, of_lot = _by_cup(day.grid, row, level[cup]), parts @ level
    error = walk.error(parts, places)
    taken = np.where(np.isfinite(mine), mine, of_lot[:, None])
    return taken, np.where(told, error, np.var(of_lot[told]) + error[told].mean())
