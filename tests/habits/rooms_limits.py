"""Rooms whose headings tell the scale: beside the descriptor, in a line below, in the name of a tab."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from tests.habits.cells import Cell, Grid
from tests.habits.layouts import Look, by_tab, cross, long
from tests.habits.room import Made, room
from tests.habits.truth import DESCRIPTOR, LOT, TASTER, Truth, true_table

Build = Callable[[np.random.Generator], Made]
LOW_HIGH = {"low": 1.0, "high": 10.0}


def _headed(pattern: str, limits: dict[str, float], rows: Sequence[str], cols: Sequence[str]) -> Build:
    def build(rng: np.random.Generator) -> Made:
        table = true_table(rng)
        look = Look(labels={DESCRIPTOR: lambda d: pattern.format(d.capitalize())})
        grid = cross(table, rows, cols, look)
        return Made({"week 14.xlsx": {"Sheet1": grid}}, Truth(table, governs=_governed(table, limits)))

    return build


def _governed(table, limits: dict[str, float]) -> dict[str, dict[str, float]]:
    return dict.fromkeys(table[DESCRIPTOR].unique(), limits)


for _pattern, _limits in (
    ("{} (1-10)", LOW_HIGH), ("{} [1..10]", LOW_HIGH), ("{} (1 to 10)", LOW_HIGH), ("{} (1–10)", LOW_HIGH),
    ("{} /10", {"high": 10.0}), ("{} out of 10", {"high": 10.0}), ("{}, max. 10", {"high": 10.0}),
    ("{} (scale 1-10)", LOW_HIGH), ("{} (1-10 points)", LOW_HIGH),
):  # fmt: skip
    room(f"heading {_pattern}", 4)(_headed(_pattern, _limits, (LOT, TASTER), (DESCRIPTOR,)))
room("heading {} (1-10) under tasters", 1, 4)(_headed("{} (1-10)", LOW_HIGH, (LOT,), (TASTER, DESCRIPTOR)))
room("descriptors with (1-10) down, lots across", 4)(_headed("{} (1-10)", LOW_HIGH, (DESCRIPTOR, TASTER), (LOT,)))


@room("a tab for each descriptor with (1-10)", 4, 7)
def tabs(rng: np.random.Generator) -> Made:
    table = true_table(rng)
    book = by_tab(table, DESCRIPTOR, lambda part: cross(part, (LOT,), (TASTER,)), "{} (1-10)".format)
    return Made({"week 14.xlsx": book}, Truth(table, governs=_governed(table, LOW_HIGH)))


@room("descriptors with (1-10) in a column of a long table", 4)
def down(rng: np.random.Generator) -> Made:
    table = true_table(rng)
    grid = long(table, (LOT, TASTER, DESCRIPTOR), Look(labels={DESCRIPTOR: "{} (1-10)".format}))
    return Made({"week 14.csv": {"": grid}}, Truth(table, governs=_governed(table, LOW_HIGH)))


def _line(said: str, word: str, limits: dict[str, float]) -> Build:
    def build(rng: np.random.Generator) -> Made:
        table = true_table(rng)
        grid = cross(table, (LOT, TASTER), (DESCRIPTOR,))
        line = [Cell(word or None), Cell(), *[Cell(said) for _ in range(len(grid.rows[0]) - 2)]]
        whole = Grid([grid.rows[0], line, *grid.rows[1:]], grid.head)
        return Made({"week 14.xlsx": {"Sheet1": whole}}, Truth(table, governs=_governed(table, limits)))

    return build


for _said, _word, _limits in (("1-10", "", LOW_HIGH), ("(1 to 10)", "Scale", LOW_HIGH), ("/10", "", {"high": 10.0})):
    room(f"a line of {_said} below the headings {_word}".strip(), 4)(_line(_said, _word, _limits))


@room("a first lot of marks like 1-4, tasters on tabs", 4, 7)
def ranges(rng: np.random.Generator) -> Made:
    table = true_table(rng)
    first = table[LOT] == table[LOT].iloc[0]
    table = table.assign(score=table["score"].mask(first, 2.5), shown=table["shown"].astype(object).mask(first, "1-4"))
    book = by_tab(table, TASTER, lambda part: cross(part, (LOT,), (DESCRIPTOR,)))
    return Made({"week 14.xlsx": book}, Truth(table, must="ask", worth={"1-4": 2.5}))


@room("two scales of one descriptor on two tabs", 4, 7)
def two(rng: np.random.Generator) -> Made:
    table = true_table(rng, tasters=("alder", "elm"), descriptors=("brisk", "body"), low=1, high=5)
    table[DESCRIPTOR] = [
        f"brisk ({'0-5' if t == 'elm' else '1-10'})" if d == "brisk" else d
        for t, d in table[[TASTER, DESCRIPTOR]].itertuples(index=False)
    ]
    book = by_tab(table, TASTER, lambda part: cross(part, (LOT,), (DESCRIPTOR,)))
    return Made({"week 14.xlsx": book}, Truth(table))
