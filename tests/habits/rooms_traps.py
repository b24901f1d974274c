"""Rooms where an honest figure looks worked out, or the reverse, or a label looks like something else."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
import pandas as pd

from tests.habits.cells import FILE, Cell, Grid, above, below, line
from tests.habits.extras import average, column, facts, foot, mean, remarks
from tests.habits.layouts import Look, by_tab, cross
from tests.habits.room import Made, room
from tests.habits.truth import DESCRIPTOR, LOT, SCORE, SESSION, TASTER, Truth, true_table

Build = Callable[[np.random.Generator], Made]
PANEL = ("alder", "beech", "elm")


def one(grid: Grid, table: pd.DataFrame, kind: str = "xlsx", **truth: object) -> Made:
    return Made({f"week 14.{kind}": {"Sheet1": grid}}, Truth(table, **truth))


def wide(table: pd.DataFrame, look: Look | None = None) -> Grid:
    return cross(table, (LOT, TASTER), (DESCRIPTOR,), look or Look())


def rescored(table: pd.DataFrame, score: Sequence[float]) -> pd.DataFrame:
    return table.assign(score=list(score), shown=list(score))


# Honest figures.
@room("a taster who happens to give the mean of the two others", 2)
def mean_by_chance(rng: np.random.Generator) -> Made:
    table = true_table(rng, lots=3, tasters=PANEL, descriptors=("brisk",))
    scores = {"alder": (4, 6, 7), "beech": (6, 7, 5), "elm": (5, 6.5, 6)}
    table = rescored(table, [scores[t][n // 3] for n, t in enumerate(table[TASTER])])
    return one(wide(table), table, must="may ask")


@room("a descriptor called Overall that is scored", 2)
def overall_scored(rng: np.random.Generator) -> Made:
    table = true_table(rng, descriptors=("brisk", "bright", "body", "overall"))
    return one(wide(table), table)


@room("a taster called Max", 2)
def taster_max(rng: np.random.Generator) -> Made:
    """Neither the highest nor the last: a name."""
    table = true_table(rng, tasters=("alder", "max", "yew"))
    return one(wide(table), table, must="may ask")


@room("a descriptor on which all tasters agree", 6)
def all_agree(rng: np.random.Generator) -> Made:
    """One figure a lot, and yet a score."""
    table = true_table(rng, lots=12, tasters=PANEL)
    alike = table[DESCRIPTOR] == "colour"
    first = table[alike].groupby(LOT)[SCORE].transform("first")
    table.loc[alike, SCORE] = first
    table["shown"] = table[SCORE]
    return one(wide(table), table, must="may ask")


@room("a descriptor that one taster gives alike throughout", 6)
def one_constant(rng: np.random.Generator) -> Made:
    table = true_table(rng, tasters=PANEL)
    mine = (table[TASTER] == "elm") & (table[DESCRIPTOR] == "body")
    return one(wide(t := rescored(table, table[SCORE].where(~mine, 5.0))), t)


@room("scores that count up with the lots", 2)
def counting(rng: np.random.Generator) -> Made:
    """Served from the weakest: one taster's marks are 1, 2, 3, ... for one descriptor."""
    table = true_table(rng, tasters=PANEL, step=1, low=1, high=9)
    mine = (table[TASTER] == "beech") & (table[DESCRIPTOR] == "brisk")
    table.loc[mine, SCORE] = np.arange(1.0, 9.0)
    table["shown"] = table[SCORE]
    return one(wide(table), table)


for _low, _high, _step in ((1, 5, 1), (0, 100, 1), (1, 9, 1), (0, 3, 0.25), (1, 20, 0.5)):

    @room(f"a scale from {_low} to {_high} by {_step}", 4)
    def scale(rng: np.random.Generator, low: float = _low, high: float = _high, step: float = _step) -> Made:
        table = true_table(rng, low=low, high=high, step=step)
        return one(wide(table), table, "csv")


for _lots, _tasters, _descriptors in ((1, 4, 4), (6, 1, 4), (6, 4, 1), (1, 1, 3), (2, 2, 1)):

    @room(f"{_lots} lots, {_tasters} tasters, {_descriptors} descriptors", 2)
    def small(rng: np.random.Generator, sizes: tuple[int, int, int] = (_lots, _tasters, _descriptors)) -> Made:
        words = ("brisk", "bright", "body", "colour")[: sizes[2]]
        table = true_table(rng, lots=sizes[0], tasters=sizes[1], descriptors=words)
        return one(wide(table), table)


# Figures worked out, or counted.
def range_of(values: Sequence[float]) -> float:
    return max(values) - min(values)


for _heading, _of in (
    ("Total (40)", sum),
    ("%", lambda v: round(100 * sum(v) / (10 * len(v)), 1)),
    ("Range", range_of),
    ("Average x 2", lambda v: round(2 * mean(v), 2)),
    ("Mittelwert", lambda v: round(mean(v), 1)),
):

    @room(f"a column {_heading} beside the scores", 2)
    def beside_scores(rng: np.random.Generator, heading: str = _heading, of: Callable = _of) -> Made:
        table = true_table(rng)
        return one(column(wide(table), heading, lambda row: average(row, of)), table, must="may ask")


@room("a column No. that counts the lines", 2)
def numbered(rng: np.random.Generator) -> Made:
    table = true_table(rng)
    lines = iter(range(1, 1000))
    return one(column(wide(table), "No.", lambda row: next(lines), at=0), table, must="may ask")


@room("a column Position in the order of serving", 2)
def position(rng: np.random.Generator) -> Made:
    table = true_table(rng)
    places = {t: iter(rng.permutation(8) + 1) for t in table[TASTER].unique()}
    grid = column(wide(table), "Position", lambda row: int(next(places[str(row[1].value)])))
    return one(grid, table)


for _at in ("column", "foot"):

    @room(f"averages as formulas that were never worked out, {_at}", 2)
    def formulas(rng: np.random.Generator, at: str = _at) -> Made:
        table = true_table(rng)
        if at == "column":
            numbers = iter(range(2, 1000))
            grid = column(wide(table), "Average", lambda row: f"=AVERAGE(C{next(numbers)}:F99)")
        else:
            grid = below(wide(table), line("Average", None, *(f"=AVERAGE({c}2:{c}25)" for c in "CDEF")))
        for _, _, cell in grid.cells():
            cell.form = "General" if str(cell.value).startswith("=") else ""
        return one(grid, table, must="may ask")


# The word for a mean in other languages, from general dictionaries.
for _word in ("Durchschnitt", "Moyenne", "Promedio", "Média", "平均", "औसत", "Gesamt", "Somme", "合計"):

    @room(f"a line {_word} at the foot and a column of that name", 2, 10)
    def foreign_mean(rng: np.random.Generator, word: str = _word) -> Made:
        table = true_table(rng)
        of = sum if word in ("Gesamt", "Somme", "合計") else mean
        grid = column(wide(table), word, lambda row: average(row, of))
        return one(below(grid, foot(wide(table), word, of).rows[-1]), table, must="may ask")


# Keys in titles, in file names, in several columns.
@room("taster and date in lines over the sheet", 7, 4)
def titled(rng: np.random.Generator) -> Made:
    table = true_table(rng, tasters=("hornbeam",), sessions=("2026-03-09",))
    name, day = Cell("hornbeam"), Cell("2026-03-09")
    grid = cross(table, (LOT,), (DESCRIPTOR,)).keyed(taster=name, session=day)
    return one(above(grid, [Cell("Taster:"), name], [Cell("Date:"), day], gap=1), table, loose=("pot",))


@room("taster and date in the names of files", 7)
def named_files(rng: np.random.Generator) -> Made:
    table = true_table(rng, tasters=PANEL, sessions=("2026-03-09",))
    tabs = by_tab(table, TASTER, lambda part: cross(part, (LOT,), (DESCRIPTOR,)), "{} 2026-03-09".format)
    return Made({f"{name}.csv": {"": grid.keyed(taster=FILE)} for name, grid in tabs.items()}, Truth(table))


@room("a folder a day, a file a taster", 7, 12)
def folders(rng: np.random.Generator) -> Made:
    days = ("2026-03-02", "2026-03-09")
    table = pd.concat([true_table(rng, tasters=PANEL, sessions=(d,)) for d in days], ignore_index=True)
    books = {
        f"{day}/{name}.csv": {"": cross(part, (LOT,), (DESCRIPTOR,)).keyed(taster=FILE)}
        for (day, name), part in table.groupby([SESSION, TASTER], sort=False)
    }
    return Made(books, Truth(table, loose=("pot",)))


@room("a lot told by garden and invoice", 7)
def two_columns(rng: np.random.Generator) -> Made:
    """The same invoice numbers from two gardens."""
    lots = [f"{garden} / {n}" for garden in ("Upper Brallow", "Mid Brallow") for n in (11, 12, 13)]
    table = true_table(rng, lots=lots)
    grid = wide(table)
    for row in grid.padded().rows:
        text = row[0].value
        garden, number = ("Garden", "Invoice") if text == "Lot" else text.split(" / ")
        first, second = (
            Cell(int(v) if v.isdigit() else v, means=LOT if text == "Lot" else "") for v in (garden, number)
        )
        for cell in row:
            if cell.keys is not None:
                cell.keys[LOT] = (first, second)  # type: ignore[assignment]
        row[:1] = [first, second]
    names = {(LOT, lot): {lot.replace(" /", "")} for lot in lots}
    return one(grid, table, must="may ask", names=names)


@room("lots that look like dates", 8)
def lots_like_dates(rng: np.random.Generator) -> Made:
    table = true_table(rng, lots=("3-4", "3-5", "12-4", "12-5"))
    return one(wide(table), table)


@room("lots that look like scores", 8)
def lots_like_scores(rng: np.random.Generator) -> Made:
    table = true_table(rng, lots=("1", "2", "3", "4", "5", "6"))
    return one(wide(table), table)


@room("tasters that are numbers", 8)
def numbered_tasters(rng: np.random.Generator) -> Made:
    table = true_table(rng, tasters=("1", "2", "3"))
    return one(wide(table, Look(labels={TASTER: int})), table)


@room("tasters that are numbers, across", 8, 1)
def numbered_across(rng: np.random.Generator) -> Made:
    table = true_table(rng, tasters=("1", "2", "3"))
    grid = cross(table, (LOT,), (DESCRIPTOR, TASTER), Look(top="merged", labels={TASTER: int}))
    return one(grid, table, must="may ask", loose=(SESSION, "pot"))


# Several habits at once.
@room("a tab a day, tasters over descriptors, averages at the foot", 7, 1, 2)
def days_stacked(rng: np.random.Generator) -> Made:
    days = ("26 Feb", "5 Mar", "12 Mar")
    table = pd.concat([true_table(rng, lots=5, tasters=PANEL, sessions=(d,)) for d in days], ignore_index=True)
    look = Look(top="merged")
    tabs = by_tab(table, SESSION, lambda part: foot(cross(part, (LOT,), (TASTER, DESCRIPTOR), look), "Average"))
    return Made({"season.xlsx": tabs}, Truth(table, loose=("pot",)))


@room("a tab a taster, a legend on each, one of averages", 7, 2, 4)
def tabs_noted(rng: np.random.Generator) -> Made:
    table = true_table(rng, tasters=PANEL)

    def build(part: pd.DataFrame) -> Grid:
        return below(above(cross(part, (LOT,), (DESCRIPTOR,)), line("Scores 0 to 10"), gap=1), line("10 = best"), gap=1)

    means = table.groupby([LOT, DESCRIPTOR], sort=False)[SCORE].mean().round(2).rename("shown").reset_index()
    tabs = {**by_tab(table, TASTER, build), "Averages": cross(means, (LOT,), (DESCRIPTOR,)).bare()}
    return Made({"week 14.xlsx": tabs}, Truth(table, say=("averag",)))


@room("lots merged, average lines, kilograms and remarks, German headings, semicolons", 10, 7, 2)
def german_blocks(rng: np.random.Generator) -> Made:
    table = true_table(rng, lots=10, descriptors=("Farbe", "Stärke"))
    look = Look(side="once", headings={LOT: "Los", TASTER: "Verkoster"})
    kilograms = dict(zip(table[LOT].unique(), range(500, 1500, 100), strict=True))
    grid = facts(cross(table, (LOT, TASTER), (DESCRIPTOR,), look), "kg", kilograms)
    grid = foot(remarks(grid, rng, "Bemerkung"), "Mittelwert")
    dialect = {"delimiter": ";", "decimal": ",", "encoding": "cp1252"}
    return Made({"Verkostung.csv": {"": grid}}, Truth(table), dialect=dialect)


@room("stars in merged blocks with an average taster", 6, 7, 2)
def starred_blocks(rng: np.random.Generator) -> Made:
    table = true_table(rng, low=1, high=5, step=1, tasters=PANEL)
    table["shown"] = ["★" * int(s) for s in table[SCORE]]
    worth = {"★" * n: float(n) for n in range(1, 6)}
    grid = cross(table, (LOT, TASTER), (DESCRIPTOR,), Look(side="merged"))
    return one(grid, table, must="may ask", worth=worth)


@room("the standard in blocks side by side with footnotes", 3, 7, 4)
def standard_beside(rng: np.random.Generator) -> Made:
    table = true_table(rng, lots=["Std", "412", "413", "414"], tasters=PANEL)
    grid = cross(table, (TASTER,), (LOT, DESCRIPTOR), Look(top="merged"))
    return one(below(grid, line("Std = last week's blend, 2 g to 100 ml"), gap=1), table)


@room("lot and taster in one heading, a column Overall beside", 5, 2)
def joined_overall(rng: np.random.Generator) -> Made:
    """The last column is no product of a lot and a taster."""
    table = true_table(rng, lots=4)
    grid = cross(table, (DESCRIPTOR,), (LOT, TASTER), Look(join="{lot} {taster}"))
    return one(column(grid, "Overall", average), table)
