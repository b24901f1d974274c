"""Chains of habits: one true table through a layout, extras, spellings and a kind of file, each chosen freely."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TypeVar

import numpy as np
import pandas as pd

from tests.habits.cells import Cell, Grid, above, below, beside, line, under
from tests.habits.extras import DERIVED, average, column, facts, foot, per_block, ranks, remarks
from tests.habits.layouts import Look, by_tab, cross, long, parts
from tests.habits.room import Made
from tests.habits.rooms_labels import WIDE, respelt
from tests.habits.truth import DESCRIPTOR, LIQUOR, LOT, POT, SESSION, TASTER, Truth, true_table

T = TypeVar("T")
Choose = Callable[[Sequence[T]], T]
Build = Callable[[pd.DataFrame], Grid]

AXES = (LOT, TASTER, DESCRIPTOR)
KINDS: Sequence[tuple[str, dict[str, str]]] = (
    ("xlsx", {}), ("ods", {}), ("xls", {}), ("csv", {}), ("csv", {"delimiter": ";", "decimal": ","}),
    ("csv", {"delimiter": "\t", "encoding": "utf-16"}), ("csv", {"encoding": "cp1252", "delimiter": ";"}),
)  # fmt: skip
TOP = {POT: "Pot {}".format, DESCRIPTOR: str.capitalize}
WRITTEN = ("each", "once", "merged")
TITLES = {TASTER: "{}", LOT: "Lot {}", POT: "Pot {}", DESCRIPTOR: "{}"}


def chained(choose: Choose, rng: np.random.Generator) -> Made:
    """One room; every choice is asked of `choose`, so that a property test can shrink it."""
    pots = choose((1, 1, 2))
    words = LIQUOR[: choose((2, 3, 4))]
    table = true_table(rng, lots=choose((4, 6)), tasters=choose((2, 3)), pots=pots, descriptors=words)
    axes = (*AXES, POT) if pots > 1 else AXES
    split = choose(("one", "one", "tabs", "under", "beside"))
    tabs = whole(table, axes, choose, rng) if split == "one" else divided(table, axes, split, choose)
    kind, dialect = choose([k for k in KINDS if len(tabs) == 1 or k[0] in ("xlsx", "ods")])
    loose = (SESSION,) if pots > 1 else (SESSION, POT)
    return Made({f"week 14.{kind}": tabs}, Truth(table, must="may ask", loose=loose), dialect=dialect)


def layout(axes: Sequence[str], choose: Choose) -> tuple[list[str], Build]:
    """Any axes across, the others down: those down, and how a sheet is made."""
    across = [axis for axis in axes if choose((False, True))]
    across = list(choose((across, across[::-1])))[: len(axes) - 1]
    down = [axis for axis in axes if axis not in across]
    if not across:
        return down, lambda table: long(table, down)
    labels = {axis: write for axis, write in TOP.items() if axis in across or axis == DESCRIPTOR}
    join = " ".join(f"{{{axis}}}" for axis in across) if len(across) == 2 and choose((False, False, True)) else ""
    look = Look(
        side=choose(("each", "once", "merged")), top=choose(("each", "once", "merged")), join=join, labels=labels
    )
    return down, lambda table: cross(table.sort_values(down, kind="stable", key=_in_order), down, across, look)


def _in_order(labels: pd.Series) -> pd.Series:
    """Labels in the order of the table."""
    return labels.map({label: n for n, label in enumerate(labels.unique())})


def whole(table: pd.DataFrame, axes: Sequence[str], choose: Choose, rng: np.random.Generator) -> dict[str, Grid]:
    """One sheet, with derived figures, facts, remarks, titles, other spellings: some of them."""
    down, build = layout(axes, choose)
    grid = build(table)
    for needs, add in EXTRAS:
        if down[: len(needs)] == list(needs) and choose((False, False, True)):
            grid = add(grid, choose, rng)
    return {"Sheet1": grid}


def divided(table: pd.DataFrame, axes: Sequence[str], split: str, choose: Choose) -> dict[str, Grid]:
    """A tab, or a table on one sheet, for each label of one axis."""
    axis = choose(axes)
    _, build = layout([a for a in axes if a != axis], choose)
    title = TITLES[axis].format
    if split == "tabs":
        return by_tab(table, axis, build, title)
    grids = []
    for name, part in parts(table, axis):
        cell = Cell(title(name))
        grids.append(above(build(part).keyed(**{axis: cell}), [cell]))
    return {"Sheet1": beside(grids) if split == "beside" else under(grids)}


def _mean_foot(grid: Grid, choose: Choose, rng: np.random.Generator) -> Grid:
    return foot(grid, choose(("Average", "Mean", "Total", "Moyenne")))


def _mean_blocks(grid: Grid, choose: Choose, rng: np.random.Generator) -> Grid:
    return per_block(grid, LOT, choose(("Average", "Mean", "Panel")), 1)


def _mean_column(grid: Grid, choose: Choose, rng: np.random.Generator) -> Grid:
    return column(grid, choose(("Average", "Total", "Overall")), average, means=DERIVED)


def _rank_column(grid: Grid, choose: Choose, rng: np.random.Generator) -> Grid:
    return ranks(grid) if all(average(row) is not None for row in grid.rows[grid.head :]) else grid


def _remark_column(grid: Grid, choose: Choose, rng: np.random.Generator) -> Grid:
    return remarks(grid, rng)


def _fact_column(grid: Grid, choose: Choose, rng: np.random.Generator) -> Grid:
    lots = {str(cell.keys[LOT].value) for cell in grid.scores() if isinstance(cell.keys[LOT], Cell)}
    return facts(grid, "Kg", {lot: 50 * (n + 4) for n, lot in enumerate(sorted(lots))})


def _respelt(grid: Grid, choose: Choose, rng: np.random.Generator) -> Grid:
    return respelt(grid, choose((LOT, TASTER)), (str.upper, lambda s: f"{s} ", lambda s: s.translate(WIDE)), 2)


def _titled(grid: Grid, choose: Choose, rng: np.random.Generator) -> Grid:
    return above(grid, line(choose(("Weekly tasting", "Tasting 14, 6 minutes", "Scores 0-10"))), gap=choose((0, 1)))


def _footnoted(grid: Grid, choose: Choose, rng: np.random.Generator) -> Grid:
    return below(grid, line(choose(("10 = best", "* second brew", "Signed: head of the room"))), gap=choose((0, 1)))


# (keys that must stand first down the side, what is added)
EXTRAS = (
    ((LOT, TASTER), _mean_blocks), ((), _mean_column), ((), _rank_column), ((), _mean_foot), ((LOT,), _fact_column),
    ((LOT, TASTER), _remark_column), ((), _respelt), ((), _titled), ((), _footnoted),
)  # fmt: skip
