"""Rooms whose worked-out figures bear names of their own: weighted sums, differences, extremes, medians."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from statistics import median

import numpy as np

from tests.habits.cells import Cell, Grid
from tests.habits.extras import DERIVED, average, column, foot, label_of
from tests.habits.layouts import cross
from tests.habits.room import Made, room
from tests.habits.truth import DESCRIPTOR, LOT, POT, SESSION, TASTER, Truth, true_table

Build = Callable[[np.random.Generator], Made]
Of = Callable[[Sequence[float]], float]


def one(grid: Grid, truth: Truth) -> Made:
    return Made({"week 14.xlsx": {"Sheet1": grid}}, truth)


def _weighted(*weights: float) -> Of:
    return lambda values: round(sum(w * v for w, v in zip(weights, values, strict=True)), 3)


# Few lots cannot prove a weighted sum, many can.
def _merit(name: str, lots: int, tasters: int, weights: Sequence[float]) -> Build:
    def build(rng: np.random.Generator) -> Made:
        table = true_table(rng, lots=lots, tasters=tasters)
        grid = cross(table, (LOT, TASTER), (DESCRIPTOR,))
        grid = column(grid, name, lambda row: average(row, _weighted(*weights)), means=DERIVED)
        return one(grid, Truth(table, must="read" if lots * tasters > 12 else "may ask"))

    return build


for _name, _lots, _tasters, _weights in (
    ("Merit", 8, 3, (0.4, 0.3, 0.2, 0.1)), ("Gesamturteil", 8, 3, (0.37, 0.33, 0.2, 0.1)),
    ("Merit", 3, 2, (0.4, 0.3, 0.2, 0.1)), ("Worth", 2, 2, (0.25, 0.3, 0.35, 0.1)),
):  # fmt: skip
    room(f"a column {_name} weighted from its line, {_lots} lots, {_tasters} tasters", 2)(
        _merit(_name, _lots, _tasters, _weights)
    )


@room("a line of weighted points under six lots across", 2)
def weighted_line(rng: np.random.Generator) -> Made:
    table = true_table(rng, lots=6, tasters=1)
    grid = foot(cross(table, (DESCRIPTOR,), (LOT,)), "Grade points", _weighted(0.4, 0.3, 0.2, 0.1))
    grid.rows[-1][0].means = DERIVED
    return one(grid, Truth(table, must="may ask", loose=(SESSION, POT, TASTER)))


# Figures over tasters across.
def _over_tasters(figures: dict[str, Of]) -> Build:
    def build(rng: np.random.Generator) -> Made:
        table = true_table(rng, descriptors=("brisk",), tasters=2 if "Diff" in figures else 4)
        grid = cross(table, (LOT,), (TASTER,))
        for name, of in figures.items():
            grid = column(grid, name, lambda row, of=of: average(row, of), means=DERIVED)
        return Made({"week 14.xlsx": {"Brisk": grid}}, Truth(table, must="may ask"))

    return build


for _figures in (
    {"Diff": lambda v: v[0] - v[1]}, {"Highest": max, "Lowest": min}, {"Mitte": median},
    {"Spread": lambda v: max(v) - min(v)}, {"Trimmed": lambda v: (sum(v) - max(v) - min(v)) / 2},
):  # fmt: skip
    room(f"{' and '.join(_figures)} beside tasters across", 2)(_over_tasters(_figures))


@room("each score against the first lot, in columns of their own", 2)
def against_first(rng: np.random.Generator) -> Made:
    table = true_table(rng)
    grid = cross(table, (LOT, TASTER), (DESCRIPTOR,))
    first = {(label_of(row, TASTER), n): row[n].value for row in grid.rows[1:4] for n in range(2, 6)}
    for n in range(2, 6):
        head = f"{grid.rows[0][n].value} +/-"
        grid = column(grid, head, lambda row, n=n: _less(row[n], first[label_of(row, TASTER), n]), means=DERIVED)
    return one(grid, Truth(table, must="may ask"))


def _less(cell: Cell, base: object) -> float:
    return float(cell.value) - float(base)  # type: ignore[arg-type]


@room("a column Liquor that adds up two of the descriptors", 2)
def some_added(rng: np.random.Generator) -> Made:
    table = true_table(rng)
    grid = cross(table, (LOT, TASTER), (DESCRIPTOR,))
    grid = column(grid, "Liquor", lambda row: row[2].value + row[3].value, means=DERIVED, at=4)
    return one(grid, Truth(table))
