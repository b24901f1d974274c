"""Rooms that score in words, stars, letters and signs, or whose figures were changed on the way."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping

import numpy as np
import pandas as pd

from tests.habits.cells import Grid, above, below, line
from tests.habits.extras import facts, remarks
from tests.habits.layouts import cross
from tests.habits.room import Made, room
from tests.habits.truth import DESCRIPTOR, LOT, SCORE, TASTER, Truth, true_table

Build = Callable[[np.random.Generator], Made]
WORDS = {
    "poor, fair, good": ("poor", "fair", "good"),
    "weak, medium, strong": ("weak", "medium", "strong"),
    "low, medium, high": ("low", "medium", "high"),
    "letters E to A": ("E", "D", "C", "B", "A"),
    "signs - = +": ("-", "=", "+"),
    "roman figures": ("I", "II", "III", "IV", "V"),
    "none to very strong": ("none", "slight", "medium", "strong", "very strong"),
}
COUNTED = {
    "asterisks": ("*", "**", "***", "****", "*****"),
    "stars": ("★", "★★", "★★★", "★★★★", "★★★★★"),
    "filled and open stars": ("★☆☆☆☆", "★★☆☆☆", "★★★☆☆", "★★★★☆", "★★★★★"),
    "plus signs": ("+", "++", "+++"),
}


def _levels(rng: np.random.Generator, marks: tuple[str, ...], descriptors: tuple[str, ...]) -> pd.DataFrame:
    """Scores 1, 2, ... as many as there are marks, shown as marks."""
    table = true_table(rng, low=1, high=len(marks), step=1, descriptors=descriptors)
    return table.assign(shown=[marks[int(s) - 1] for s in table[SCORE]])


def _sheet(table: pd.DataFrame) -> dict[str, dict[str, Grid]]:
    return {"scores.xlsx": {"Tasting": cross(table, (LOT, TASTER), (DESCRIPTOR,))}}


def _worth(marks: tuple[str, ...]) -> dict[str, float]:
    return {mark: n + 1.0 for n, mark in enumerate(marks)}


def _worded(marks: tuple[str, ...], must: str, *, some: bool) -> Build:
    """Every descriptor in marks, or one among figures."""

    def build(rng: np.random.Generator) -> Made:
        table = _levels(rng, marks, ("brisk", "bright", "body") if not some else ("strength",))
        if some:
            figures = true_table(rng, lots=list(table[LOT].unique()), tasters=list(table[TASTER].unique()))
            figures = figures[figures[DESCRIPTOR] != "strength"]
            table = pd.concat([figures, table], ignore_index=True)
        return Made(_sheet(table), Truth(table, must=must, worth=_worth(marks)))

    return build


for _must, _group in (("ask", WORDS), ("may ask", COUNTED)):
    for _name, _marks in _group.items():
        room(f"{_name} as scores", 6)(_worded(_marks, _must, some=False))
        room(f"{_name} as scores in one column among figures", 6)(_worded(_marks, _must, some=True))


def rewritten(
    table: pd.DataFrame, write: Callable[[float], object], often: Callable[[int, float], bool]
) -> tuple[pd.DataFrame, dict[str, float]]:
    """Some scores written in another way; how each is read."""
    shown = [write(s) if often(n, s) else s for n, s in enumerate(table[SCORE])]
    changed = {_text(w): s for w, s in zip(shown, table[SCORE], strict=True) if w is not s}
    return table.assign(shown=shown), changed


def _text(value: object) -> str:
    return value.strftime("%Y-%m-%d") if isinstance(value, dt.datetime) else str(value)


def _whole(score: float) -> str:
    return f"{score:g}"


WRITTEN: Mapping[str, tuple[Callable[[float], object], Callable[[int, float], bool], str]] = {
    "decimals turned into dates": (lambda s: dt.datetime(2026, 5, int(s)), lambda n, s: s % 1 > 0, "may ask"),  # noqa: DTZ001
    "a word after some figures": (lambda s: f"{s:g} bright", lambda n, s: n % 9 == 0, "may ask"),
    "a word before some figures": (lambda s: f"good {s:g}", lambda n, s: n % 9 == 0, "may ask"),
    "out of ten": (lambda s: f"{s:g}/10", lambda n, s: True, "read"),
    "halves as a sign": (lambda s: f"{int(s)}½", lambda n, s: s % 1 > 0, "read"),
    "halves as a fraction": (lambda s: f"{int(s)} 1/2", lambda n, s: s % 1 > 0, "read"),
    "figures kept as text": (_whole, lambda n, s: True, "read"),
    "a comma in some figures": (lambda s: f"{s:g}".replace(".", ","), lambda n, s: s % 1 > 0, "may ask"),
    "a question mark after some figures": (lambda s: f"{s:g}?", lambda n, s: n % 11 == 0, "may ask"),
    "brackets round some figures": (lambda s: f"({s:g})", lambda n, s: n % 11 == 0, "may ask"),
    "an asterisk after some figures": (lambda s: f"{s:g}*", lambda n, s: n % 11 == 0, "may ask"),
    "points after the figures": (lambda s: f"{s:g} pts", lambda n, s: True, "may ask"),
    "full-width figures": (lambda s: f"{s:g}".translate(str.maketrans("0123456789.", "０１２３４５６７８９．")),
                           lambda n, s: True, "read"),
}  # fmt: skip


def _written(name: str) -> Build:
    def build(rng: np.random.Generator) -> Made:
        write, often, must = WRITTEN[name]
        table, worth = rewritten(true_table(rng), write, often)
        return Made(_sheet(table), Truth(table, must=must, worth=worth))

    return build


for _name in WRITTEN:
    room(_name, 6)(_written(_name))


@room("one taster plus and minus on figures", 6)
def plus_minus(rng: np.random.Generator) -> Made:
    """7+ is a little above 7: how much, the taster knows."""
    table = true_table(rng, step=1)
    mine = (table[TASTER] == table[TASTER].iloc[0]).to_numpy()
    halves = mine & (rng.random(len(table)) < 0.4)
    table[SCORE] = table[SCORE] + 0.5 * halves
    table["shown"] = [f"{int(s)}+" if h else s for s, h in zip(table[SCORE], halves, strict=True)]
    worth = {f"{n}+": n + 0.5 for n in range(11)}
    return Made(
        {"scores.xlsx": {"T": cross(table, (LOT, TASTER), (DESCRIPTOR,))}}, Truth(table, must="ask", worth=worth)
    )


@room("ranges as scores", 6)
def ranges(rng: np.random.Generator) -> Made:
    often = lambda n, s: s % 1 > 0 and n % 3 == 0  # noqa: E731
    table, worth = rewritten(true_table(rng), lambda s: f"{int(s)}-{int(s) + 1}", often)
    return Made(
        {"scores.xlsx": {"T": cross(table, (LOT, TASTER), (DESCRIPTOR,))}}, Truth(table, must="ask", worth=worth)
    )


@room("zeros of one taster where the others left blanks", 6)
def zeros_for_blanks(rng: np.random.Generator) -> Made:
    """Two lots were not served: two tasters left their cells empty, one typed 0."""
    table = true_table(rng, lots=10)
    lost, zero = table[LOT].unique()[[3, 7]], table[TASTER].iloc[0]
    missing = table[LOT].isin(lost)
    true = table[~missing].reset_index(drop=True)
    shown = pd.concat([true, table[missing & (table[TASTER] == zero)].assign(shown=0)]).sort_values(
        [LOT, TASTER], kind="stable"
    )
    grid = cross(shown, (LOT, TASTER), (DESCRIPTOR,))
    for cell in grid.scores():
        if cell.value == 0:
            cell.keys = None
    return Made({"scores.xlsx": {"T": grid}}, Truth(true, must="ask"))


@room("blanks written as - and n/a and abs", 6)
def written_blanks(rng: np.random.Generator) -> Made:
    table = true_table(rng)
    gone = rng.random(len(table)) < 0.1
    marks = rng.choice(["-", "n/a", "abs", "–"], len(table))
    shown = table.assign(shown=[m if g else s for m, g, s in zip(marks, gone, table["shown"], strict=True)])
    grid = cross(shown, (LOT, TASTER), (DESCRIPTOR,))
    for cell in grid.scores():
        if isinstance(cell.value, str):
            cell.keys = None
    return Made({"scores.xlsx": {"T": grid}}, Truth(table[~gone].reset_index(drop=True)))


@room("remarks, grades and kilograms beside the scores", 6)
def beside_scores(rng: np.random.Generator) -> Made:
    """Words that vary by taster are remarks, words and figures that are one for each lot are facts."""
    table = true_table(rng, lots=12)
    lots = list(table[LOT].unique())
    grid = cross(table, (LOT, TASTER), (DESCRIPTOR,))
    grid = facts(grid, "Grade", dict(zip(lots, rng.choice(["whole", "broken", "dust"], 12), strict=True)), at=1)
    grid = facts(grid, "Kg", dict(zip(lots, (rng.integers(4, 60, 12) * 50).tolist(), strict=True)))
    return Made({"scores.xlsx": {"T": remarks(grid, rng)}}, Truth(table))


@room("facts that look like scores", 6)
def facts_like_scores(rng: np.random.Generator) -> Made:
    """Chests per lot, between 1 and 9, under a heading of the room's own."""
    table = true_table(rng, lots=12)
    lots = list(table[LOT].unique())
    grid = facts(
        cross(table, (LOT, TASTER), (DESCRIPTOR,)),
        "Chests",
        dict(zip(lots, rng.integers(1, 9, 12).tolist(), strict=True)),
    )
    return Made({"scores.xlsx": {"T": grid}}, Truth(table, must="may ask"))


@room("words as scores with their worth in a legend", 6, 4)
def words_with_legend(rng: np.random.Generator) -> Made:
    marks = ("poor", "fair", "good")
    table = _levels(rng, marks, ("brisk", "bright", "body"))
    grid = cross(table, (LOT, TASTER), (DESCRIPTOR,))
    grid = below(
        above(grid, line("Tasting of the week"), gap=1), line("1 = poor"), line("2 = fair"), line("3 = good"), gap=1
    )
    worth = {mark: n + 1.0 for n, mark in enumerate(marks)}
    return Made({"scores.xlsx": {"T": grid}}, Truth(table, must="may ask", worth=worth))


@room("words as scores under two heading rows", 6, 1)
def words_stacked(rng: np.random.Generator) -> Made:
    marks = ("weak", "medium", "strong")
    table = _levels(rng, marks, ("body", "strength"))
    worth = {mark: n + 1.0 for n, mark in enumerate(marks)}
    return Made(
        {"scores.xlsx": {"T": cross(table, (LOT,), (TASTER, DESCRIPTOR))}}, Truth(table, must="ask", worth=worth)
    )


@room("words as scores in a register of marks", 6, 11)
def words_registered(rng: np.random.Generator) -> Made:
    marks = ("poor", "fair", "good")
    table = _levels(rng, marks, ("brisk", "bright", "body"))
    register = pd.DataFrame(_worth(marks).items(), columns=["mark", "worth"])
    return Made(_sheet(table), Truth(table, worth=_worth(marks)), registers={"marks": register})
