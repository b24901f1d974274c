"""Rooms that say something by how a cell looks: struck out, hidden, coloured, commented, merged, in error."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pandas as pd

from tests.habits.cells import Cell, Grid
from tests.habits.extras import column
from tests.habits.layouts import Look, cross
from tests.habits.room import Made, room
from tests.habits.truth import DESCRIPTOR, LOT, TASTER, Truth, true_table

Build = Callable[[np.random.Generator], Made]
KINDS = ("xlsx", "ods")


def one(grid: Grid, table: pd.DataFrame, kind: str = "xlsx", **truth: object) -> Made:
    return Made({f"week 14.{kind}": {"Sheet1": grid}}, Truth(table, **truth))


def wide(table: pd.DataFrame) -> Grid:
    return cross(table, (LOT, TASTER), (DESCRIPTOR,))


def without(table: pd.DataFrame, lines: list[int]) -> pd.DataFrame:
    return table.drop(index=lines).reset_index(drop=True)


def _struck(kind: str) -> Build:
    def build(rng: np.random.Generator) -> Made:
        table = true_table(rng)
        grid = wide(table)
        lines = [5, 40, 77]
        for n in lines:
            cell = grid.scores()[n]
            cell.struck = True
        for cell in [grid.scores()[n] for n in lines]:
            cell.keys = None
        return one(grid, without(table, lines), kind, must="may ask", say=("struck",))

    return build


def _struck_line(kind: str) -> Build:
    """A lot withdrawn: its whole line, name and all, struck out."""

    def build(rng: np.random.Generator) -> Made:
        table = true_table(rng, tasters=1)
        grid = cross(table, (LOT,), (DESCRIPTOR,))
        for cell in grid.rows[4]:
            cell.struck, cell.keys = True, None
        truth = table[table[LOT] != table[LOT].unique()[3]].reset_index(drop=True)
        return one(grid, truth, kind, must="may ask", say=("struck",), loose=("session", "pot", TASTER))

    return build


def _commented(kind: str) -> Build:
    def build(rng: np.random.Generator) -> Made:
        table = true_table(rng)
        grid = wide(table)
        grid.scores()[9].comment = "pot stood twelve minutes"
        grid.rows[4][0].comment = "second sample, sealed bag"
        return one(grid, table, kind, must="may ask", say=("twelve minutes", "sealed bag"))

    return build


def _hidden(what: str, kind: str) -> Build:
    """Hidden lines and columns still hold what was scored; that they were hidden is said."""

    def build(rng: np.random.Generator) -> Made:
        table = true_table(rng)
        grid = wide(table)
        if what == "rows":
            for row in grid.rows[7:10]:
                row[0].hide_row = True
        else:
            grid.rows[0][3].hide_column = True
        return one(grid, table, kind, must="may ask", say=("hidden",))

    return build


for _kind in KINDS:
    room(f"scores struck out, {_kind}", 9)(_struck(_kind))
    room(f"a line struck out, {_kind}", 9)(_struck_line(_kind))
    room(f"comments on cells, {_kind}", 9)(_commented(_kind))
    room(f"hidden rows, {_kind}", 9)(_hidden("rows", _kind))
    room(f"a hidden column, {_kind}", 9)(_hidden("columns", _kind))


@room("coloured scores without a legend", 9)
def coloured(rng: np.random.Generator) -> Made:
    table = true_table(rng)
    grid = wide(table)
    for n in (3, 30, 60):
        grid.scores()[n].fill = "FFFFFF00"
    return one(grid, table, must="may ask", say=("colour|color|filled|shaded",))


@room("headings and bands coloured for looks", 9)
def coloured_bands(rng: np.random.Generator) -> Made:
    """Every second line shaded and the headings in colour: nothing is meant by it."""
    table = true_table(rng)
    grid = wide(table)
    for r, row in enumerate(grid.rows):
        for cell in row:
            cell.fill = "FFCCE5FF" if r == 0 else "FFEEEEEE" if r % 2 else ""
    return one(grid, table)


@room("a colour explained at the foot", 9, 4)
def coloured_legend(rng: np.random.Generator) -> Made:
    table = true_table(rng)
    grid = wide(table)
    for n in (3, 30, 60):
        grid.scores()[n].fill = "FFFFFF00"
    grid.rows += [[], [Cell("yellow = tasted twice", fill="FFFFFF00")]]
    return one(grid, table, must="may ask", say=("colour|color|yellow",))


def _error(text: str, kind: str) -> Build:
    def build(rng: np.random.Generator) -> Made:
        table = true_table(rng)
        grid = wide(table)
        cell = grid.scores()[17]
        cell.value, cell.keys, cell.form = text, None, "General"
        return one(grid, without(table, [17]), kind, must="ask")

    return build


for _text, _kind in (("#DIV/0!", "xlsx"), ("#REF!", "ods"), ("#VALUE!", "csv")):
    room(f"{_text} where a score belongs, {_kind}", 9)(_error(_text, _kind))


@room("#DIV/0! in a column of averages", 9, 2)
def error_average(rng: np.random.Generator) -> Made:
    table = true_table(rng)
    grid = column(wide(table), "Average", lambda row: "#DIV/0!")
    for row in grid.rows[1:]:
        row[-1].form = "General"
    return one(grid, table, must="may ask")


@room("heads and lots merged, ods", 9, 1, 7)
def merged_ods(rng: np.random.Generator) -> Made:
    table = true_table(rng, pots=2)
    grid = cross(table, (LOT, "pot"), (TASTER, DESCRIPTOR), Look(side="merged", top="merged"))
    return one(grid, table, "ods", loose=("session",))


@room("heads merged, ods", 9, 1)
def heads_merged_ods(rng: np.random.Generator) -> Made:
    table = true_table(rng)
    return one(cross(table, (LOT,), (DESCRIPTOR, TASTER), Look(top="merged")), table, "ods")


@room("a web page saved as .xls", 9)
def web_page(rng: np.random.Generator) -> Made:
    table = true_table(rng)
    return one(wide(table), table, "xls")


@room("a web page saved as .xls, two heading rows", 9, 1)
def web_page_stacked(rng: np.random.Generator) -> Made:
    table = true_table(rng)
    return one(cross(table, (LOT,), (TASTER, DESCRIPTOR)), table, "xls")


@room("one score merged over two tasters", 9)
def merged_score(rng: np.random.Generator) -> Made:
    """They agreed on it: one score for each of them."""
    table = true_table(rng, descriptors=("brisk",))
    table.loc[7, ["score", "shown"]] = table.loc[6, "score"]  # third lot, first and second taster
    grid = cross(table, (DESCRIPTOR, LOT), (TASTER,))
    left, right = grid.rows[3][2:4]
    left.also, left.span, right.value, right.keys = (right.keys,), (1, 2), None, None
    return one(grid, table, must="may ask", say=("merge",))


@room("the wrong ending: a workbook called .csv", 9)
def workbook_as_csv(rng: np.random.Generator) -> Made:
    table = true_table(rng)
    return Made({"week 14.xlsx": {"Sheet1": wide(table)}}, Truth(table), renamed={"week 14.xlsx": "week 14.csv"})
