"""Rooms that write more than scores on a sheet: titles, legends, footnotes, signatures."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from tests.habits.cells import Cell, Grid, above, below, beside, line
from tests.habits.layouts import cross
from tests.habits.room import Made, room
from tests.habits.truth import DESCRIPTOR, LOT, TASTER, Truth, true_table

Lines = Sequence[Sequence[object]]
LEGENDS: dict[str, tuple[Lines, Lines]] = {
    "10 = best as a footnote": ([], [["10 = best"]]),
    "a legend of the scale in one cell": ([["Scores 0-10, 10 = best, 5 = average"]], []),
    "a legend over two columns below": ([], [["Scale", ""], [0, "none"], [5, "average"], [10, "best"]]),
    "a legend over two columns above": ([["Scale"], [1, "poor"], [5, "fair"], [10, "good"]], []),
    "a title, a date and a temperature above": (
        [["Weekly tasting"], ["Date", "2026-03-09"], ["Water", 98], ["Minutes", 6]],
        [],
    ),
    "a signature and counts below": ([], [["Lots tasted", 8], ["Tasters", 3], ["Signed: head of the room"]]),
    "a legend along one line below": ([], [["Key:", "0", "none", "5", "medium", "10", "strong"]]),
    "notes with figures below": (
        [],
        [["* 2nd brew of 412 stood 7 minutes"], ["Scores above 8 rechecked"]],
    ),
    "a figure alone below": ([], [["", "", 10, "= best"]]),
    "a title with figures over every column": ([["Tasting 14 of 2026, 6 minutes, 5.6 g"]], [["1 to 10"]]),
}
LAYOUTS = [
    ((LOT, TASTER), (DESCRIPTOR,)),
    ((DESCRIPTOR,), (LOT,)),
    ((LOT,), (TASTER, DESCRIPTOR)),
    ((LOT, DESCRIPTOR), (TASTER,)),
]


def _noted(notes: tuple[Lines, Lines], n: int) -> Callable[[np.random.Generator], Made]:
    def build(rng: np.random.Generator) -> Made:
        rows, cols = LAYOUTS[n % len(LAYOUTS)]
        table = true_table(rng, tasters=3 if TASTER in rows + cols else 1)
        loose = ("session", "pot") if TASTER in rows + cols else ("session", "pot", TASTER)
        grid = cross(table, rows, cols)
        top, bottom = notes
        gap = n % 2
        grid = above(grid, *_lines(top), gap=gap) if top else grid
        grid = below(grid, *_lines(bottom), gap=gap) if bottom else grid
        kind = ("week 14.xlsx", "week 14.csv", "week 14.ods")[n % 3]
        return Made({kind: {"Sheet1": grid}}, Truth(table, loose=loose))

    return build


def _lines(texts: Lines) -> list[list[Cell]]:
    return [line(*(None if text == "" else text for text in row)) for row in texts]


for _n, (_name, _notes) in enumerate(LEGENDS.items()):
    room(_name, 4)(_noted(_notes, _n))
    room(f"{_name}, another layout", 4)(_noted(_notes, _n + 1))


@room("a legend at the side", 4)
def legend_beside(rng: np.random.Generator) -> Made:
    table = true_table(rng)
    scale = Grid(_lines([["Scale", ""], [0, "none"], [5, "medium"], [10, "strong"]]))
    return Made({"week 14.xlsx": {"Sheet1": beside([cross(table, (LOT, TASTER), (DESCRIPTOR,)), scale])}}, Truth(table))


@room("a tab that explains the scale", 4)
def legend_tab(rng: np.random.Generator) -> Made:
    table = true_table(rng)
    scale = Grid(_lines([["Scale of the room"], [0, "none"], [5, "medium"], [10, "strong"]]))
    return Made({"week 14.xlsx": {"Scores": cross(table, (LOT, TASTER), (DESCRIPTOR,)), "Scale": scale}}, Truth(table))
