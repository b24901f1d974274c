"""Rooms whose sheets hold figures worked out from the scores, and files that stand there twice."""

from __future__ import annotations

from collections.abc import Callable
from statistics import pstdev

import numpy as np
import pandas as pd

from tests.habits.cells import Grid
from tests.habits.extras import DERIVED, Sum, average, column, foot, mean, per_block, ranks
from tests.habits.layouts import PLAIN, Look, by_tab, cross, long, parts
from tests.habits.room import Made, room
from tests.habits.truth import DESCRIPTOR, LOT, SCORE, SESSION, TASTER, Truth, true_table

Build = Callable[[np.random.Generator], Made]
BOOK = "week 14.xlsx"
WORKED_OUT = "averag|mean|total|sum|deriv|worked out|comput"


def one(grid: Grid, table: pd.DataFrame, **truth: object) -> Made:
    return Made({BOOK: {"Sheet1": grid}}, Truth(table, **truth))


def wide(table: pd.DataFrame, look: Look = PLAIN) -> Grid:
    return cross(table, (LOT, TASTER), (DESCRIPTOR,), look)


def panel(table: pd.DataFrame, word: str) -> pd.DataFrame:
    """The panel's means as if a taster of that name had given them."""
    means = table.groupby([SESSION, LOT, "pot", "stage", DESCRIPTOR], sort=False)[SCORE].mean().round(2).reset_index()
    return means.assign(**{TASTER: word, "shown": means[SCORE]})[table.columns]


def unkeyed(grid: Grid, axis: str, word: str) -> Grid:
    """The scores of one label are no scores."""
    for cell in grid.scores():
        if getattr(cell.keys[axis], "value", None) == word:
            cell.keys = None
    return grid


def _foot(word: str) -> Build:
    def build(rng: np.random.Generator) -> Made:
        table = true_table(rng)
        return one(foot(wide(table), word, sum if word == "Total" else mean), table)

    return build


for _word in ("Average", "Total", "Ø", "Moyenne", "Panel"):
    room(f"{_word} at the foot", 2)(_foot(_word))


@room("maximum, minimum and spread at the foot", 2)
def several_at_foot(rng: np.random.Generator) -> Made:
    table = true_table(rng)
    body = wide(table)
    grid = foot(body, "Max", max)
    for word, of in (("Min", min), ("Average", mean), ("SD", lambda v: round(pstdev(v), 3))):
        grid.rows.append(foot(body, word, of).rows[-1])
    return one(grid, table)


@room("a mean at the foot that is not named", 2)
def unnamed_foot(rng: np.random.Generator) -> Made:
    table = true_table(rng)
    return one(foot(wide(table), None, mean), table, must="may ask")


def _block(word: str, of: Sum, named: bool) -> Build:
    def build(rng: np.random.Generator) -> Made:
        table = true_table(rng)
        return one(per_block(wide(table), LOT, word, 1, of, named=named), table, say=(WORKED_OUT,))

    return build


for _word, _of, _named in (
    ("Average", mean, True), ("Mean", mean, False), ("Total", sum, True),
    ("Panel", mean, True), ("Schnitt", mean, True), ("AVG", lambda v: round(2 * mean(v)) / 2, True),
):  # fmt: skip
    room(f"{_word} as each lot's last line, lot {'repeated' if _named else 'left blank'}", 2)(
        _block(_word, _of, _named)
    )


def _taster(word: str, rows: tuple[str, ...], cols: tuple[str, ...]) -> Build:
    def build(rng: np.random.Generator) -> Made:
        table = true_table(rng)
        grid = unkeyed(cross(pd.concat([table, panel(table, word)]), rows, cols), TASTER, word)
        return one(grid, table, say=(f"{word}|averag|mean",))

    return build


for _word, _rows, _cols in (
    ("Average", (TASTER, LOT), (DESCRIPTOR,)), ("Mean", (LOT,), (TASTER, DESCRIPTOR)),
    ("Room", (DESCRIPTOR,), (LOT, TASTER)), ("Consensus", (LOT, DESCRIPTOR), (TASTER,)),
):  # fmt: skip
    room(f"a taster called {_word}, {' and '.join(_rows)} down, {' over '.join(_cols)} across", 2)(
        _taster(_word, _rows, _cols)
    )


@room("a tab Average beside a tab a taster", 2, 7)
def tab_average(rng: np.random.Generator) -> Made:
    table = true_table(rng)
    tabs = by_tab(table, TASTER, lambda part: cross(part, (LOT,), (DESCRIPTOR,)))
    means = cross(panel(table, "x"), (LOT,), (DESCRIPTOR,)).bare()
    return Made({BOOK: {**tabs, "Average": means}}, Truth(table, say=("averag",)))


@room("a summary tab under another name beside a tab a taster", 2, 7)
def tab_summary(rng: np.random.Generator) -> Made:
    table = true_table(rng)
    tabs = by_tab(table, TASTER, lambda part: cross(part, (LOT,), (DESCRIPTOR,)))
    means = cross(panel(table, "x"), (LOT,), (DESCRIPTOR,)).bare()
    return Made({BOOK: {"Result": means, **tabs}}, Truth(table, say=("result",)))


@room("a file of panel means in the folder of tasters' files", 2, 7)
def file_average(rng: np.random.Generator) -> Made:
    table = true_table(rng)
    books = {f"{t}.csv": {t: cross(p, (LOT,), (DESCRIPTOR,)).keyed(taster="<file>")} for t, p in parts(table, TASTER)}
    means = cross(panel(table, "x"), (LOT,), (DESCRIPTOR,)).bare()
    return Made({**books, "summary.csv": {"": means}}, Truth(table, say=("summary",)))


def _column(heading: str, of: Sum) -> Build:
    def build(rng: np.random.Generator) -> Made:
        table = true_table(rng)
        return one(column(wide(table), heading, lambda row: average(row, of), means=DERIVED), table, say=(heading,))

    return build


for _heading, _of in (
    ("Average", mean), ("Total", sum), ("Overall", mean), ("Points", sum), ("Score", mean), ("Max", max),
    ("Gesamt", sum),
):  # fmt: skip
    room(f"a column {_heading} worked out from its line", 2)(_column(_heading, _of))


@room("a column Rank", 2)
def rank(rng: np.random.Generator) -> Made:
    table = true_table(rng)
    return one(ranks(wide(table)), table, must="may ask", say=("rank",))


@room("rank and average over tasters across", 2, 1)
def across_average(rng: np.random.Generator) -> Made:
    table = true_table(rng, descriptors=("brisk",))
    grid = cross(table, (LOT,), (TASTER,))
    grid = column(grid, "Average", average, means=DERIVED)
    return one(
        ranks(grid),
        table,
        must="may ask",
        names={(DESCRIPTOR, "brisk"): {"score", "sheet1", "week 14", "scores"}},
        loose=("session", "pot", DESCRIPTOR),
    )


@room("two descriptors whose scores happen to be alike", 2)
def alike(rng: np.random.Generator) -> Made:
    """One taster's figures for two descriptors are the same: nothing is worked out, nothing is left out."""
    table = true_table(rng)
    table["score"] = table["shown"] = _copied(table)
    return one(wide(table), table)


def _copied(table: pd.DataFrame) -> pd.Series:
    keyed = table.set_index([LOT, TASTER, DESCRIPTOR])[SCORE]
    first = table[TASTER].iloc[0]
    return pd.Series(
        [keyed[lot, t, "brisk" if (t == first and d == "bright") else d] for lot, t, d in keyed.index],
        index=table.index,
    )


@room("long sheet with a taster called Average", 2)
def long_average(rng: np.random.Generator) -> Made:
    table = true_table(rng)
    grid = unkeyed(long(pd.concat([table, panel(table, "Average")]), (LOT, TASTER, DESCRIPTOR)), TASTER, "Average")
    return one(grid, table, say=("averag",))


@room("the same file saved twice", 2, 12)
def saved_twice(rng: np.random.Generator) -> Made:
    table = true_table(rng)
    books = {"week 14.xlsx": {"Sheet1": wide(table)}, "week 14 copy.xlsx": {"Sheet1": wide(table).bare()}}
    return Made(books, Truth(table, say=("copy|same|twice|identical",)))


@room("one sheet as csv and as workbook", 2, 12)
def two_kinds(rng: np.random.Generator) -> Made:
    table = true_table(rng)
    books = {"week 14.xlsx": {"Sheet1": wide(table)}, "week 14.csv": {"Sheet1": wide(table).bare()}}
    return Made(books, Truth(table, say=("copy|same|twice|identical",)))


@room("a tab copied whole", 2, 12)
def tab_twice(rng: np.random.Generator) -> Made:
    table = true_table(rng)
    return Made(
        {BOOK: {"Tasting": wide(table), "Tasting (2)": wide(table).bare()}},
        Truth(table, say=("copy|same|twice|identical",)),
    )


# The standard and controls.
def _standard(word: str, at: int, register: bool) -> Build:
    def build(rng: np.random.Generator) -> Made:
        lots = [str(412 + n) for n in range(7)]
        lots.insert(at, word)
        table = true_table(rng, lots=lots)
        lines = pd.DataFrame({"lot": lots, "role": ["standard" if lot == word else "" for lot in lots]})
        return Made({BOOK: {"Sheet1": wide(table)}}, Truth(table), registers={"lots": lines} if register else {})

    return build


for _word, _at, _register in (
    ("STD", 0, False), ("Std", 7, False), ("Standard", 7, False), ("Ctrl", 3, False), ("Control", 7, False),
    ("STD", 7, True), ("S", 7, False), ("Std.", 0, True),
):  # fmt: skip
    room(f"{_word} as the lot in place {_at}{', registered' * _register}", 3, *([11] if _register else []))(
        _standard(_word, _at, _register)
    )


@room("Standard across the top, averages at the foot", 3, 2, 1)
def standard_across(rng: np.random.Generator) -> Made:
    table = true_table(rng, lots=["Standard", "412", "413", "414", "415"])
    return one(foot(cross(table, (TASTER,), (LOT, DESCRIPTOR), Look(top="merged")), "Average"), table)


@room("STD with its own blocks and an average a lot", 3, 2)
def standard_blocks(rng: np.random.Generator) -> Made:
    table = true_table(rng, lots=["412", "413", "STD", "414", "415"])
    return one(per_block(wide(table), LOT, "Average", 1), table, say=("averag",))


@room("a lot called Total in the register", 3, 11)
def lot_total(rng: np.random.Generator) -> Made:
    """A blend of that name: the register wins over the word."""
    lots = ["412", "413", "414", "415", "Total"]
    table = true_table(rng, lots=lots)
    return Made({BOOK: {"Sheet1": wide(table)}}, Truth(table), registers={"lots": pd.DataFrame({"lot": lots})})
