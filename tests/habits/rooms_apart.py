"""Rooms with something beside the usual: one heading of another kind, lines that head others, notes with figures."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from tests.habits.cells import Cell, Grid, above, below, beside, line
from tests.habits.extras import FACT, column
from tests.habits.layouts import Look, by_tab, cross, parts
from tests.habits.room import Made, room
from tests.habits.truth import DESCRIPTOR, LOT, POT, SESSION, STAGE, TASTER, Truth, true_table

Build = Callable[[np.random.Generator], Made]
NO_TASTER = (SESSION, POT, TASTER)


def one(grid: Grid, truth: Truth) -> Made:
    return Made({"week 14.xlsx": {"Sheet1": grid}}, truth)


@room("descriptor and taster in one heading, a column Weather beside", 5)
def stranger(rng: np.random.Generator) -> Made:
    table = true_table(rng)
    grid = cross(table, (LOT,), (DESCRIPTOR, TASTER), Look(join="{descriptor} {taster}"))
    return one(column(grid, "Weather", lambda row: int(rng.integers(1, 5)), means=FACT), Truth(table, must="may ask"))


@room("descriptor and pot number in one word", 5)
def one_word(rng: np.random.Generator) -> Made:
    table = true_table(rng, pots=2, tasters=1)
    grid = cross(table, (LOT,), (DESCRIPTOR, POT), Look(join="{descriptor}{pot}"))
    names = {(DESCRIPTOR, d): {f"{d}1", f"{d}2"} for d in table[DESCRIPTOR].unique()}
    return one(grid, Truth(table, must="ask", loose=(SESSION, TASTER), names=names))


def _qualified(words: tuple[str, str], pattern: str, stacked: bool) -> Build:
    """Two descriptors of one kind are no tasters, whatever stands before or after the word."""

    def build(rng: np.random.Generator) -> Made:
        names = [pattern.format(d, w) for d in ("colour", "body") for w in words]
        table = true_table(rng, descriptors=names, tasters=1)
        if stacked:
            table[STAGE] = [n.split()[-1] for n in table[DESCRIPTOR]]
            split = {n: n.split()[0] for n in names}
            grid = cross(table, (LOT,), (STAGE, DESCRIPTOR), Look(top="once", labels={DESCRIPTOR: split}))
            for score in grid.scores():
                score.keys[DESCRIPTOR] = (score.keys.pop(STAGE), score.keys[DESCRIPTOR])
            table[STAGE] = "liquor"
        else:
            grid = cross(table, (LOT,), (DESCRIPTOR,))
        spelt = {(DESCRIPTOR, n): {n, " ".join(reversed(n.split()))} for n in names}
        return one(grid, Truth(table, loose=NO_TASTER, names=spelt))

    return build


for _words, _pattern, _stacked in (
    (("hot", "cold"), "{} {}", False), (("with", "without"), "{} {} milk", False), (("dry", "wet"), "{} {}", False),
    (("heiß", "kalt"), "{} {}", False), (("hot", "cold"), "{} {}", True),
):  # fmt: skip
    room(f"descriptors {' and '.join(_words)}{', over the descriptors' * _stacked}", 1 if _stacked else 5)(
        _qualified(_words, _pattern, _stacked)
    )


# Lines that head the lines below them.
def _lot_lines(title: Callable[[str], object], corner: str | None) -> Build:
    def build(rng: np.random.Generator) -> Made:
        table = true_table(rng)
        rows: list[list[Cell]] = []
        for name, part in parts(table, LOT):
            cell = Cell(title(name))
            grid = cross(part, (TASTER,), (DESCRIPTOR,)).keyed(lot=cell)
            rows = rows or [[Cell(corner), *grid.rows[0][1:]]]
            heads = {c.value: c for c in rows[0][1:]}
            for score in grid.scores():
                score.keys[DESCRIPTOR] = heads[score.keys[DESCRIPTOR].value]
            rows += [[cell], *grid.rows[1:]]
        return one(Grid(rows), Truth(table))

    return build


room("a line Lot no. over its tasters", 7)(_lot_lines("Lot no. {}".format, "Taster"))
room("a line of the bare lot number over its tasters", 7)(_lot_lines(int, None))


@room("a tab a day written 3.3. in a file of one week", 7)
def short_days(rng: np.random.Generator) -> Made:
    table = true_table(rng, lots=list("12345"), sessions=("2026-03-03", "2026-03-10"))
    tabs = by_tab(table, SESSION, lambda p: cross(p, (LOT, TASTER), (DESCRIPTOR,)), lambda d: f"{int(d[-2:])}.3.")
    names = {(SESSION, d): {f"{int(d[-2:])}.3."} for d in ("2026-03-03", "2026-03-10")}
    return Made({"week 9.xlsx": tabs}, Truth(table, loose=(POT,), names=names))


@room("a pivot of sums, one row a taster", 7)
def sums_of(rng: np.random.Generator) -> Made:
    table = true_table(rng)
    look = Look(labels={DESCRIPTOR: lambda d: f"Sum of {d.capitalize()}"})
    return one(cross(table, (LOT, TASTER), (DESCRIPTOR,), look), Truth(table))


# Notes with figures.
@room("pairs of a word and a figure over the sheet", 4)
def pairs_above(rng: np.random.Generator) -> Made:
    table = true_table(rng)
    lines = [line("Tasters:", 3), line("Room", 2, "Kettle", 1)]
    return one(above(cross(table, (LOT, TASTER), (DESCRIPTOR,)), *lines, gap=1), Truth(table))


@room("initials and counts below a gap", 4)
def checked(rng: np.random.Generator) -> Made:
    table = true_table(rng)
    lines = [line("Checked", "RW", 3, 3), line("Bags opened", 12)]
    return one(below(cross(table, (LOT, TASTER), (DESCRIPTOR,)), *lines, gap=2), Truth(table))


@room("a line of units below the headings", 4)
def units(rng: np.random.Generator) -> Made:
    table = true_table(rng)
    grid = cross(table, (LOT, TASTER), (DESCRIPTOR,))
    grid.rows.insert(1, line(None, None, *["(1-10)"] * 4))
    return one(grid, Truth(table))


@room("a legend left of the scores", 4)
def legend_left(rng: np.random.Generator) -> Made:
    table = true_table(rng)
    scale = Grid([line(1, "poor"), line(5, "fair"), line(10, "good")])
    return one(beside([scale, cross(table, (LOT, TASTER), (DESCRIPTOR,))]), Truth(table))


@room("descriptor and weekday in one heading", 5, 7)
def weekdays(rng: np.random.Generator) -> Made:
    table = true_table(rng, lots=list("12345"), tasters=1, sessions=("Mon", "Tue"))
    grid = cross(table, (LOT,), (DESCRIPTOR, SESSION), Look(join="{descriptor} {session}"))
    return one(grid, Truth(table, loose=(POT, TASTER), must="may ask"))


@room("a taster's sign for his name on one lot", 8)
def one_letter(rng: np.random.Generator) -> Made:
    table = true_table(rng, tasters=("alder", "beech", "elm"))
    grid = cross(table, (LOT, TASTER), (DESCRIPTOR,))
    grid.rows[-1][1].value = "E"
    return one(grid, Truth(table, must="ask", names={(TASTER, "elm"): {"E"}}))


@room("a file of the first lots beside that of all", 12)
def first_lots(rng: np.random.Generator) -> Made:
    table = true_table(rng)
    some = table[table[LOT].isin(table[LOT].unique()[:4])]
    grid, part = (cross(t, (LOT, TASTER), (DESCRIPTOR,)) for t in (table, some))
    return Made({"all.csv": {"": grid}, "first four.csv": {"": part.bare()}}, Truth(table, say=("copy",)))
