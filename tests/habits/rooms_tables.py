"""Rooms that write keys once, several tables on a sheet, or a tab for each of something."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence

import numpy as np
import pandas as pd

from tests.habits.cells import FILE, Cell, Grid, above, below, beside, line, under
from tests.habits.extras import average, column, facts, foot, mean, per_block
from tests.habits.layouts import Look, by_tab, cross, long, parts
from tests.habits.room import Made, room
from tests.habits.truth import DESCRIPTOR, LOT, POT, SESSION, STAGE, TASTER, Truth, true_table

Build = Callable[[np.random.Generator], Made]
BOTH = ("black", "even", "coppery", "brisk", "bright")


def one(grid: Grid, table: pd.DataFrame, kind: str = "xlsx", **truth: object) -> Made:
    return Made({f"week 14.{kind}": {"Sheet1": grid}}, Truth(table, **truth))


# Keys written once, or merged.
def _once(rows: Sequence[str], cols: Sequence[str], side: str, kind: str) -> Build:
    def build(rng: np.random.Generator) -> Made:
        pots = 2 if POT in rows else 1
        table = true_table(rng, lots=6, pots=pots)
        grid = cross(table.sort_values(list(rows), kind="stable"), rows, cols, Look(side=side, top="merged"))
        return one(grid, table, kind, loose=(SESSION,) if pots > 1 else (SESSION, POT))

    return build


for _side, _rows, _cols, _kind in (
    ("once", (LOT, TASTER), (DESCRIPTOR,), "xlsx"),
    ("merged", (LOT, TASTER), (DESCRIPTOR,), "xlsx"),
    ("merged", (TASTER, LOT), (DESCRIPTOR,), "ods"),
    ("once", (TASTER, LOT), (DESCRIPTOR,), "csv"),
    ("once", (LOT, DESCRIPTOR), (TASTER,), "xlsx"),
    ("merged", (LOT, DESCRIPTOR), (TASTER,), "xlsx"),
    ("merged", (LOT, TASTER, POT), (DESCRIPTOR,), "xlsx"),
    ("once", (LOT, TASTER, POT), (DESCRIPTOR,), "csv"),
    ("merged", (TASTER, DESCRIPTOR), (LOT,), "xlsx"),
    ("once", (LOT, POT), (TASTER, DESCRIPTOR), "xlsx"),
):
    room(f"{_rows[0]} {_side}, {' and '.join(_rows)} down, {' over '.join(_cols)} across, {_kind}", 7)(
        _once(_rows, _cols, _side, _kind)
    )


# Several tables on one sheet.
def titled(part: pd.DataFrame, axis: str, title: str, rows: Sequence[str], cols: Sequence[str], gap: int) -> Grid:
    """A table under a line that names what it is of."""
    cell = Cell(title)
    return above(cross(part, rows, cols).keyed(**{axis: cell}), [cell], gap=gap)


def _several(axis: str, title: str, rows: Sequence[str], cols: Sequence[str], how: str, gap: int) -> Build:
    def build(rng: np.random.Generator) -> Made:
        table = true_table(rng, lots=6, pots=2 if axis == POT else 1)
        grids = [titled(p, axis, title.format(name), rows, cols, gap) for name, p in parts(table, axis)]
        whole = beside(grids) if how == "beside" else under(grids, gap=gap + 1)
        return one(whole, table, loose=(SESSION,) if axis == POT else (SESSION, POT))

    return build


for _axis, _title, _rows, _cols, _how, _gap in (
    (TASTER, "{}", (LOT,), (DESCRIPTOR,), "under", 0),
    (TASTER, "Taster: {}", (LOT,), (DESCRIPTOR,), "under", 1),
    (TASTER, "Taster {}", (LOT,), (DESCRIPTOR,), "beside", 0),
    (TASTER, "{}", (LOT,), (DESCRIPTOR,), "beside", 0),
    (LOT, "Lot {}", (TASTER,), (DESCRIPTOR,), "under", 0),
    (LOT, "Lot {}", (DESCRIPTOR,), (TASTER,), "under", 0),
    (LOT, "Lot {}", (DESCRIPTOR,), (TASTER,), "beside", 0),
    (DESCRIPTOR, "{}", (LOT,), (TASTER,), "under", 0),
    (DESCRIPTOR, "{}", (LOT,), (TASTER,), "beside", 0),
    (POT, "Pot {}", (LOT, TASTER), (DESCRIPTOR,), "under", 0),
    (POT, "Pot {}", (LOT, TASTER), (DESCRIPTOR,), "beside", 0),
):
    room(f"a table a {_axis} titled {_title}, {_how}, {' '.join(_rows)} down, {' '.join(_cols)} across, gap {_gap}", 7)(
        _several(_axis, _title, _rows, _cols, _how, _gap)
    )


@room("a table a stage, side by side", 7)
def stages_beside(rng: np.random.Generator) -> Made:
    table = true_table(rng, descriptors=BOTH)
    grids = [titled(p, STAGE, s.capitalize(), (LOT, TASTER), (DESCRIPTOR,), 0) for s, p in parts(table, STAGE)]
    return one(beside(grids), table)


@room("a line for the lot, its tasters below", 7)
def lot_lines(rng: np.random.Generator) -> Made:
    return _title_lines(rng, LOT, "Lot {}", TASTER)


@room("a line for the taster, the lots below", 7)
def taster_lines(rng: np.random.Generator) -> Made:
    return _title_lines(rng, TASTER, "{}", LOT)


def _title_lines(rng: np.random.Generator, axis: str, title: str, below_it: str) -> Made:
    """One heading row for all; a line with one label stands over each block."""
    table = true_table(rng)
    head, rows = None, []
    for name, part in parts(table, axis):
        cell = Cell(title.format(name))
        grid = cross(part, (below_it,), (DESCRIPTOR,)).keyed(**{axis: cell})
        head = head or grid.rows[0]
        for score in grid.scores():
            score.keys[DESCRIPTOR] = next(h for h in head if h.value == score.keys[DESCRIPTOR].value)
        rows += [[cell], *grid.rows[1:]]
    return one(Grid([head, *rows]), table)


@room("headings again at every printed page", 7)
def headings_again(rng: np.random.Generator) -> Made:
    table = true_table(rng, lots=12)
    grid = cross(table, (LOT, TASTER), (DESCRIPTOR,))
    for at in (31, 21, 11):
        grid.rows[at:at] = [[], line(*(cell.value for cell in grid.rows[0]))]
    return one(grid, table, "csv")


@room("blank lines between the lots", 7)
def blank_lines(rng: np.random.Generator) -> Made:
    table = true_table(rng)
    grid = cross(table, (LOT, TASTER), (DESCRIPTOR,), Look(side="once"))
    for at in range(len(grid.rows) - 3, 3, -3):
        grid.rows.insert(at, [])
    return one(grid, table)


@room("a list of lots over the scores", 7)
def list_above(rng: np.random.Generator) -> Made:
    table = true_table(rng)
    known = enumerate(table[LOT].unique())
    lots = [line("Lot", "Garden", "Grade")]
    lots += [line(int(lot), f"Brallow Flats {n % 3 + 1}", ("broken", "dust")[n % 2]) for n, lot in known]
    return one(above(cross(table, (LOT, TASTER), (DESCRIPTOR,)), *lots, gap=1), table)


@room("a list of tasters over the scores", 7)
def tasters_above(rng: np.random.Generator) -> Made:
    table = true_table(rng)
    grid = above(cross(table, (LOT,), (TASTER, DESCRIPTOR)), line("Tasters:", *table[TASTER].unique()), gap=1)
    return one(grid, table)


@room("a list of prices beside the scores", 7)
def list_beside(rng: np.random.Generator) -> Made:
    table = true_table(rng)
    prices = Grid([line("Lot", "Price"), *(line(int(lot), 3.2 + 0.1 * n) for n, lot in enumerate(table[LOT].unique()))])
    return one(beside([cross(table, (LOT, TASTER), (DESCRIPTOR,)), prices], gap=2), table, must="may ask")


# A tab, or a file, for each of something.
def _tabs(axis: str, title: Callable[[str], str], rows: Sequence[str], cols: Sequence[str]) -> Build:
    def build(rng: np.random.Generator) -> Made:
        table = true_table(rng, lots=5, pots=2 if axis == POT else 1, descriptors=BOTH if axis == STAGE else BOTH[2:])
        tabs = by_tab(table, axis, lambda part: cross(part, rows, cols), title)
        return Made({"week 14.xlsx": tabs}, Truth(table, loose=(SESSION,) if axis == POT else (SESSION, POT)))

    return build


for _axis, _title, _rows, _cols in (
    (LOT, "{}", (TASTER,), (DESCRIPTOR,)),
    (LOT, "Lot {}", (TASTER,), (DESCRIPTOR,)),
    (LOT, "Lot {}", (DESCRIPTOR,), (TASTER,)),
    (TASTER, "{}", (LOT,), (DESCRIPTOR,)),
    (TASTER, "{}", (DESCRIPTOR,), (LOT,)),
    (TASTER, "Scores {}", (LOT,), (DESCRIPTOR,)),
    (DESCRIPTOR, "{}", (LOT,), (TASTER,)),
    (POT, "Pot {}", (LOT, TASTER), (DESCRIPTOR,)),
    (STAGE, "{}", (LOT, TASTER), (DESCRIPTOR,)),
):
    room(f"a tab a {_axis} called {_title}, {' '.join(_rows)} down, {' '.join(_cols)} across", 7)(
        _tabs(_axis, _title.format, _rows, _cols)
    )

DAYS = ("2026-02-26", "2026-03-05", "2026-03-12")


def day(pattern: str) -> Callable[[str], str]:
    """Dates as rooms write them on tabs."""
    return lambda iso: dt.date.fromisoformat(iso).strftime(pattern)


def _days(pattern: str, files: bool, same_lots: bool) -> Build:
    def build(rng: np.random.Generator) -> Made:
        lots, panel = (list("12345"), ("elm", "larch", "yew")) if same_lots else (5, 3)
        days = [true_table(rng, lots=lots, tasters=panel, sessions=(d,)) for d in DAYS]
        table = pd.concat(days, ignore_index=True)
        names = {(SESSION, d): {day(pattern)(d)} for d in DAYS}
        truth = Truth(table, loose=(POT,), names=names, say=("lot",) if same_lots else ())
        tabs = by_tab(table, SESSION, lambda part: cross(part, (LOT, TASTER), (DESCRIPTOR,)), day(pattern))
        if files:
            return Made({f"{name}.csv": {"": grid.keyed(session=FILE)} for name, grid in tabs.items()}, truth)
        return Made({"season.xlsx": tabs}, truth)

    return build


for _pattern, _files, _same in (
    ("%m-%d", False, False), ("%a %d %b", False, False), ("%d %B", False, True), ("%Y-%m-%d", False, True),
    ("%Y-%m-%d", True, True), ("%d.%m.%Y", True, False), ("%d.%m.", False, True), ("%b %d", False, True),
):  # fmt: skip
    room(f"a {'file' if _files else 'tab'} a day written {_pattern}{', lot numbers again' * _same}", 7)(
        _days(_pattern, _files, _same)
    )


@room("days in a column, lot numbers again", 7)
def days_in_column(rng: np.random.Generator) -> Made:
    table = true_table(rng, lots=list("12345"), sessions=DAYS)
    look = Look(headings={SESSION: "Date"})
    return one(cross(table, (SESSION, LOT, TASTER), (DESCRIPTOR,), look), table, loose=(POT,), say=("lot",))


@room("days in a column written once", 7)
def days_once(rng: np.random.Generator) -> Made:
    table = true_table(rng, lots=list("12345"), sessions=DAYS)
    look = Look(headings={SESSION: "Date"}, side="once")
    return one(cross(table, (SESSION, LOT, TASTER), (DESCRIPTOR,), look), table, loose=(POT,))


# Pivots and forms.
@room("a pivot with grand totals", 7, 2)
def pivot(rng: np.random.Generator) -> Made:
    table = true_table(rng)
    grid = cross(table, (LOT, TASTER), (DESCRIPTOR,), Look(side="once", headings={LOT: "Lot", TASTER: "Taster"}))
    grid = column(foot(grid, "Grand Total"), "Grand Total", _whole_mean)
    return one(above(grid, line("Average of Score", None, "Descriptor")), table)


def _whole_mean(row: list[Cell]) -> object:
    """The mean of a line, of scores or of what is worked out from them."""
    figures = [c.value for c in row if isinstance(c.value, float)]
    return mean(figures) if figures else average(row)


@room("a pivot in one column, lots over their tasters", 7, 2)
def pivot_compact(rng: np.random.Generator) -> Made:
    """Each lot's line holds the means of the tasters' lines below it."""
    table = true_table(rng)
    full = per_block(cross(table, (LOT, TASTER), (DESCRIPTOR,)), LOT, "mean", 1)
    rows: list[list[Cell]] = [[Cell("Row Labels"), *full.rows[0][2:]]]
    block: list[list[Cell]] = []
    for row in full.rows[1:]:
        if row[1].value == "mean":
            lot = block[0][0]
            for cell in [c for r in block for c in r if c.keys]:
                cell.keys[LOT] = lot
            rows += [[lot, *row[2:]], *[r[1:] for r in block]]
            block = []
        else:
            block.append(row)
    return one(below(Grid(rows), foot(Grid(rows), "Grand Total").rows[-1]), table, must="may ask")


@room("a form's export", 7, 5)
def form(rng: np.random.Generator) -> Made:
    table = true_table(rng)
    asked = {d: f"How {d} is the liquor? (0-10)" for d in table[DESCRIPTOR].unique()}
    look = Look(headings={TASTER: "Your name", LOT: "Which lot are you tasting?"}, labels={DESCRIPTOR: asked})
    grid = cross(table, (TASTER, LOT), (DESCRIPTOR,), look)
    minutes = iter(range(1000))
    grid = column(grid, "Timestamp", lambda row: f"2026-03-09 10:{next(minutes) % 60:02}:07", at=0)
    names = {(DESCRIPTOR, d): {text, text.removesuffix(" (0-10)")} for d, text in asked.items()}
    return one(grid, table, "csv", must="may ask", names=names, governs={d: {"low": 0, "high": 10} for d in asked})


@room("a form's grid questions", 7, 5)
def form_grid(rng: np.random.Generator) -> Made:
    table = true_table(rng)
    grid = cross(table, (LOT, TASTER), (DESCRIPTOR,), Look(labels={DESCRIPTOR: lambda d: f"Liquor [{d.capitalize()}]"}))
    grid = column(grid, "Timestamp", lambda row: "2026-03-09 10:12:07", at=0)
    return one(grid, table, "csv")


@room("a form with all lots on one line", 7, 5)
def form_line(rng: np.random.Generator) -> Made:
    table = true_table(rng, lots=4)
    look = Look(join="Lot {lot} [{descriptor}]", headings={TASTER: "Your name"})
    grid = cross(table, (TASTER,), (LOT, DESCRIPTOR), look)
    return one(column(grid, "Timestamp", lambda row: "2026-03-09 10:12:07", at=0), table, "csv")


# Lots served again under a suffix.
def _suffixed(second: str, must: str) -> Build:
    def build(rng: np.random.Generator) -> Made:
        table = true_table(rng, lots=6, pots=2)
        again = table[LOT].isin(table[LOT].unique()[[1, 4]])
        table = table[(table[POT] == "1") | again].reset_index(drop=True)
        seen = table.sort_values(POT, kind="stable")
        seen[LOT] = seen[LOT].where(seen[POT] == "1", seen[LOT].map(second.format))
        names = {(LOT, lot): {second.format(lot)} for lot in table[LOT].unique()}
        return one(cross(seen, (LOT, TASTER), (DESCRIPTOR,)), table, must=must, names=names)

    return build


for _second in ("{} again", "{}a", "{}/2", "{} (2)", "{} repeat", "{}R"):
    room(f"a lot served again as {_second}", 7)(_suffixed(_second, "ask"))


@room("a fact in a merged cell over each lot's block", 7)
def merged_fact(rng: np.random.Generator) -> Made:
    table = true_table(rng, lots=6)
    grid = cross(table, (LOT, TASTER), (DESCRIPTOR,), Look(side="merged"))
    grid = facts(grid, "Kg", {lot: 50 * (n + 3) for n, lot in enumerate(table[LOT].unique())})
    for at in range(1, len(grid.rows), 3):
        grid.rows[at][-1].span = (3, 1)
        for row in grid.rows[at + 1 : at + 3]:
            row[-1].value = None
    return one(grid, table)


@room("a long list with the lot written once", 7)
def long_once(rng: np.random.Generator) -> Made:
    table = true_table(rng)
    grid = long(table, (LOT, TASTER, DESCRIPTOR))
    for before, row in zip(grid.rows[-2::-1], grid.rows[:0:-1], strict=True):
        if before[0].value == row[0].value:
            row[0].value = None
    last = None
    for row in grid.rows[1:]:
        last = row[0] if row[0].value is not None else last
        row[-1].keys[LOT] = last
    return one(grid, table)
