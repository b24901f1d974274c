"""What sessions show of the error of one look: mean squares of repeats, controls, several tasters, cups met twice."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from panelstats.lots.plaintables import by_name
from panelstats.models.borrowing import borrowed_variances
from panelstats.models.celltable import CellTable
from panelstats.models.estimable import Evidence
from panelstats.models.fewpots import PotRecord
from panelstats.models.lookerror import LookError, join_sources
from panelstats.scores.cells import CLASS, DESCRIPTOR, LOT, OWN, POSITION, POT, SESSION, SHARED

if TYPE_CHECKING:
    from collections.abc import Sequence

    from panelstats.scores.cells import Cells, Grid
    from panelstats.scores.table import Scores

PARTS = ["pot", "taster_lot", "look"]
ONE_POT, SEVERAL_POTS, POTS_OF_A_LOT, ONE_CUP = (
    "lots by several tasters",
    "repeats by several tasters",
    "repeats",
    "cups",
)
SOURCES = (ONE_POT, SEVERAL_POTS, POTS_OF_A_LOT, ONE_CUP)
COLUMNS = [SESSION, CLASS, DESCRIPTOR, "source", "df", "mean_square", *PARTS]
# What a tick of the scale hides: the variance of a rounded score about the true one, in squared steps.
ROUNDED = 1 / 12


def look_squares(cells: Cells, scores: Scores | None = None) -> pd.DataFrame:
    """Every mean square that shows the error of a look.

    Parameters
    ----------
    cells : Cells
        Trainees do not count.
    scores : Scores, optional
        What the cells were made of: where places in the row are recorded, pots of a lot lose the day's line first.

    Returns
    -------
    DataFrame
        session, class, descriptor, source, df, mean_square, and what it expects of each variance: pot, taster_lot,
        look.
    """
    step = by_name(cells.descriptors, DESCRIPTOR).get("step", pd.Series(dtype=float))
    places = None if scores is None else _places(scores)
    rows: list[pd.DataFrame] = []
    for grid in cells.select(role="senior").grids():
        least = ROUNDED * step.reindex(grid.descriptors).to_numpy(float) ** 2
        place = None if places is None else _of_grid(places, grid)
        rows += [_rows(grid, index, word, least, place) for word in set(grid.pots) for index in _where(grid, word)]
    found = pd.concat(rows, ignore_index=True) if rows else pd.DataFrame(columns=COLUMNS)
    return found[found["df"] > 0].reset_index(drop=True)


def _where(grid: Grid, word: str) -> list[np.ndarray]:
    index = np.flatnonzero(grid.pots == word)
    return [index] if len(index) else []


def _rows(grid: Grid, index: np.ndarray, word: str, least: np.ndarray, place: np.ndarray | None) -> pd.DataFrame:
    """The mean squares of descriptors with one word for their pots, lots of one number of pots together."""
    shared, whole = word == SHARED, grid.take_descriptors(index)
    brews = (whole.looks > 0).any(axis=(1, 3)).sum(axis=1) if shared else np.ones(len(whole.lots), int)
    out = []
    for r in np.unique(brews[brews > 0]):
        lots = brews == r
        scored = np.flatnonzero((whole.looks[lots] > 0).any(axis=(0, 1, 2)))
        part, least_here = whole.take_descriptors(scored), least[index[scored]]
        table = CellTable(part.looks[lots, :, :r], part.centred[lots, :, :r], part.within_ss[lots, :, :r])
        seen = Evidence.of(table.blocks(pots=shared and r > 1), table.spread)
        pot_ss, pot_df = seen.pot_ss, seen.pot_df.astype(float)
        if place is not None and r > 1:
            line = _line(table, place[lots, :r])
            pot_ss, pot_df = np.where(pot_df > 1, np.maximum(pot_ss - line, 0), pot_ss), pot_df - (pot_df > 1)
        own = float(word == OWN)
        cups = seen.within_ss - seen.pot_ss, seen.error_df
        lines = [
            (ONE_POT if r == 1 else SEVERAL_POTS, seen.cross_ss, seen.cross_df, own, seen.cross_k, np.nan),
            (POTS_OF_A_LOT, pot_ss, pot_df, seen.pot_k, 0.0, least_here),
            (POTS_OF_A_LOT if own else ONE_CUP, *cups, own, 0.0, least_here),
        ]
        out += [_line_of(part, source, *each) for source, *each in lines]
    return pd.concat(out, ignore_index=True)


def _line_of(
    grid: Grid, source: str, ss: np.ndarray, df: np.ndarray, pot: np.ndarray | float, taster_lot: np.ndarray | float,
    least: np.ndarray | float,
) -> pd.DataFrame:  # fmt: skip
    """One mean square of each descriptor; repeats all alike differ by less than a step, not by nothing."""
    ms = np.maximum(ss, 0) / np.maximum(df, 1)
    ms = np.where((ms <= 0) & np.isfinite(least), least, ms)
    columns = {"source": source, "df": df, "mean_square": ms, "pot": pot, "taster_lot": taster_lot, "look": 1.0}
    return pd.DataFrame({SESSION: grid.session, CLASS: grid.lot_class, DESCRIPTOR: grid.descriptors} | columns)


# --- the day's line ---------------------------------------------------------------------------------------------------


def _places(scores: Scores) -> pd.DataFrame | None:
    """Mean place in the row of each pot of a session, None where no place was recorded."""
    frame = scores.frame[scores.frame[POSITION].notna()]
    if not len(frame):
        return None
    return frame.groupby([SESSION, LOT, POT], observed=True, sort=False)[POSITION].mean().reset_index()


def _of_grid(places: pd.DataFrame, grid: Grid) -> np.ndarray | None:
    """Place of each (lot, brew) of a grid, NaN where not recorded."""
    mine = places[(places[SESSION].astype(str) == grid.session) & places[LOT].astype(str).isin(grid.lots)]
    if not len(mine):
        return None
    mine = mine.sort_values(POT, kind="stable")
    lot = pd.Index(grid.lots).get_indexer(mine[LOT].astype(str))
    brew = mine.groupby(LOT, observed=True).cumcount().to_numpy()
    out = np.full((len(grid.lots), max(int(brew.max()) + 1, grid.looks.shape[2])), np.nan)
    out[lot, brew] = mine[POSITION].to_numpy()
    return out


def _line(table: CellTable, place: np.ndarray) -> np.ndarray:
    """Sum of squares that a straight line along the row takes from the pots of a lot, shape (descriptor,)."""
    n = table.looks.sum(axis=1) * np.isfinite(place)[:, :, None]  # (lot, pot, descriptor)
    mean = (table.looks * table.mean).sum(axis=1) / np.maximum(table.looks.sum(axis=1), 1)
    x = np.broadcast_to(np.nan_to_num(place)[:, :, None], n.shape)
    centre = np.maximum(n.sum(axis=1, keepdims=True), 1)
    x = x - (n * x).sum(axis=1, keepdims=True) / centre
    y = mean - (n * mean).sum(axis=1, keepdims=True) / centre
    along, square = (n * x * y).sum(axis=(0, 1)), (n * x**2).sum(axis=(0, 1))
    return np.divide(along**2, square, out=np.zeros_like(square), where=square > 0)


# --- the record of the pots ---


def pot_record(squares: pd.DataFrame) -> dict[str, Any]:
    """What past sessions showed of their pots, class by class, and which descriptors they had.

    Parameters
    ----------
    squares : DataFrame
        As `look_squares` gives them.
    """
    names = list(dict.fromkeys(squares[DESCRIPTOR].astype(str)))
    key = squares[SESSION].astype(str) + "\n" + squares[CLASS].astype(str)
    sessions, rows = np.unique(key.to_numpy(str), return_inverse=True)
    columns = pd.Index(names).get_indexer(pd.Index(squares[DESCRIPTOR].astype(str)))
    shape = (max(len(sessions), 1), len(names))

    def total(source: str, values: pd.Series) -> np.ndarray:
        mine = (squares["source"] == source).to_numpy()
        at = rows[mine] * len(names) + columns[mine]
        return np.bincount(at, values.to_numpy(float)[mine], shape[0] * shape[1]).reshape(shape)

    df, ss = squares["df"], squares["df"] * squares["mean_square"]
    record = PotRecord(
        ss_pot=total(POTS_OF_A_LOT, ss),
        df_pot=total(POTS_OF_A_LOT, df),
        ss_error=total(ONE_CUP, ss),
        df_error=total(ONE_CUP, df),
        k_df=total(POTS_OF_A_LOT, df * squares["pot"]),
    )
    return {"record": record, "recorded": names}


# --- joined -----------------------------------------------------------------------------------------------------------


def joined_error(
    squares: pd.DataFrame, classes: Sequence[str], descriptors: Sequence[str], *, alone: Sequence[str] = ()
) -> tuple[LookError, np.ndarray]:
    """The error of one look of every class and descriptor, and which of them had repeats of their own.

    Parameters
    ----------
    squares : DataFrame
        As `look_squares` gives them; sessions are added.
    classes, descriptors, alone : sequence of str
        `alone`: descriptors of another scale, which lend nothing to the others and borrow only over classes.

    Returns
    -------
    LookError
        A table per class and descriptor, classes first.
    ndarray of bool, shape (class x descriptor,)
        Whether the class itself showed what pots do, by repeats or by a pot for each taster.
    """
    ms, df, design = _added(squares, list(classes), list(descriptors))
    own = ((df > 0) & (design[..., 0] > 0)).any(axis=2)
    apart = np.isin(np.asarray(descriptors, dtype=object), list(alone))
    for mine in (np.flatnonzero(~apart), *np.flatnonzero(apart)[:, None]):
        for s in range(len(SOURCES)) if len(mine) else ():
            lent = borrowed_variances(ms[:, mine, s], df[:, mine, s])
            weight = df[:, mine, s, None]
            usual = (weight * design[:, mine, s]).sum(axis=(0, 1)) / max(weight.sum(), 1)
            design[:, mine, s] = np.where(weight > 0, design[:, mine, s], usual)
            ms[:, mine, s], df[:, mine, s] = lent.mean_square, lent.df
    flat = (-1, len(SOURCES))
    return join_sources(ms.reshape(flat), df.reshape(flat), design.reshape(*flat, 3)), own.reshape(-1)


def _added(
    squares: pd.DataFrame, classes: list[str], descriptors: list[str]
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Mean squares, degrees of freedom and designs by (class, descriptor, source), sessions added."""
    shape = (len(classes), len(descriptors), len(SOURCES))
    at = [
        pd.Index(names).get_indexer(pd.Index(squares[key].astype(str)))
        for key, names in ((CLASS, classes), (DESCRIPTOR, descriptors), ("source", list(SOURCES)))
    ]
    inside = np.all([each >= 0 for each in at], axis=0)
    place, table = np.ravel_multi_index(tuple(each[inside] for each in at), shape), squares[inside]
    weight = table["df"].to_numpy(float)
    df = np.bincount(place, weight, np.prod(shape)).reshape(shape)

    def mean(column: str) -> np.ndarray:
        total = np.bincount(place, weight * table[column].to_numpy(float), np.prod(shape)).reshape(shape)
        return total / np.where(df > 0, df, 1.0)

    return mean("mean_square"), df, np.stack([mean(part) for part in PARTS], axis=-1)
