"""Rooms that keep registers, and rooms where several sessions or halves of one lie side by side."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pandas as pd

from tests.habits.cells import FILE, TAB, Grid, line
from tests.habits.layouts import Look, by_tab, cross
from tests.habits.room import Made, room
from tests.habits.truth import DESCRIPTOR, LOT, SESSION, STAGE, TASTER, Truth, true_table

BOTH = ("black", "even", "coppery", "brisk", "bright")
Build = Callable[[np.random.Generator], Made]


def wide(table: pd.DataFrame, look: Look | None = None) -> Grid:
    return cross(table, (LOT, TASTER), (DESCRIPTOR,), look or Look())


def scales(words: dict[str, str], **more: object) -> pd.DataFrame:
    """A register of descriptors: {descriptor: stage}, each on a scale from 0 to 10."""
    return pd.DataFrame({"descriptor": words.keys(), "stage": words.values(), "low": 0, "high": 10, **more})


@room("a register says body, the sheet liquor body", 11)
def liquor_body(rng: np.random.Generator) -> Made:
    table = true_table(rng, descriptors=("brisk", "body"))
    grid = wide(table, Look(labels={DESCRIPTOR: {"body": "Liquor body", "brisk": "Brisk"}}))
    register = scales({"body": "liquor", "brisk": "liquor"}, tolerance=[0.75, 0.5])
    truth = Truth(table, governs={"body": {"high": 10, "tolerance": 0.75}})
    return Made({"a.csv": {"": grid}}, truth, registers={"descriptors": register})


@room("a register says body, two stages have one", 11)
def two_bodies(rng: np.random.Generator) -> Made:
    table = true_table(rng, descriptors=("infused leaf body", "liquor body", "brisk"))
    return Made(
        {"a.csv": {"": wide(table)}}, Truth(table, must="may ask"), registers={"descriptors": scales({"body": ""})}
    )


@room("a register whose descriptors match nothing", 11)
def matches_nothing(rng: np.random.Generator) -> Made:
    table = true_table(rng)
    register = scales({"smoothness": "liquor", "grip": "liquor"})
    return Made({"a.csv": {"": wide(table)}}, Truth(table, must="ask"), registers={"descriptors": register})


@room("a register whose tasters match nothing", 11)
def tasters_match_nothing(rng: np.random.Generator) -> Made:
    table = true_table(rng, tasters=("alder", "beech", "elm"))
    register = pd.DataFrame({"taster": ["spruce", "yew"], "role": ["senior", "trainee"]})
    return Made({"a.csv": {"": wide(table)}}, Truth(table, must="ask"), registers={"tasters": register})


@room("a score above the register's scale", 11)
def beyond_scale(rng: np.random.Generator) -> Made:
    table = true_table(rng, low=1, high=9)
    grid = wide(table)
    grid.scores()[20].value = 75
    grid.scores()[20].keys = None
    register = scales(dict.fromkeys(table[DESCRIPTOR].unique(), "liquor"))
    truth = Truth(table.drop(index=20).reset_index(drop=True), must="ask")
    return Made({"a.csv": {"": grid}}, truth, registers={"descriptors": register})


@room("registers of everything, full names and roles", 11)
def all_registers(rng: np.random.Generator) -> Made:
    table = true_table(rng, tasters=("alder", "beech", "elm"), descriptors=BOTH)
    registers = {
        "descriptors": scales(dict(zip(table[DESCRIPTOR], table[STAGE], strict=True))),
        "tasters": pd.DataFrame({"taster": ["alder", "beech", "elm"], "role": ["senior", "senior", "trainee"]}),
        "lots": pd.DataFrame({"lot": table[LOT].unique(), "grade": "broken"}),
    }
    return Made({"a.csv": {"": wide(table)}}, Truth(table), registers=registers)


@room("blind codes in a register", 11)
def blind_codes(rng: np.random.Generator) -> Made:
    table = true_table(rng, lots=6)
    lots = list(table[LOT].unique())
    code = dict(zip(lots, map(str, rng.choice(np.arange(601, 999), 6, replace=False)), strict=True))
    grid = wide(table, Look(headings={LOT: "Code"}, labels={LOT: code}))
    names = {(LOT, lot): {c} for lot, c in code.items()}
    register = pd.DataFrame({"code": code.values(), "lot": code.keys()})
    return Made({"a.csv": {"": grid}}, Truth(table, names=names), registers={"codes": register})


@room("a fault column beside scores", 11)
def fault_column(rng: np.random.Generator) -> Made:
    table = true_table(rng)
    grid = wide(table)
    for r, row in enumerate(grid.padded().rows):
        row.append(type(row[0])("Smoky" if r == 0 else 1 if r in (4, 11) else None))
    kinds = dict.fromkeys([*table[DESCRIPTOR].unique(), "smoky"], "liquor")
    register = scales(kinds, kind=["score"] * 4 + ["fault"])
    return Made({"a.csv": {"": grid}}, Truth(table), registers={"descriptors": register})


# Several sessions, or halves of one.
def dated(rng: np.random.Generator, *days: str) -> list[pd.DataFrame]:
    panel = ("alder", "beech", "elm")
    return [true_table(rng, lots=6, tasters=panel, sessions=(d,)) for d in days]


@room("last week's file left in the folder", 12)
def older_file(rng: np.random.Generator) -> Made:
    weeks = dated(rng, "2026-03-02", "2026-03-09")
    books = {f"{w[SESSION].iloc[0]}.csv": {"": wide(w).keyed(session=FILE)} for w in weeks}
    return Made(books, Truth(pd.concat(weeks, ignore_index=True), loose=("pot",), say=("2026-03-02",)))


@room("last week's tab left in the workbook", 12)
def older_tab(rng: np.random.Generator) -> Made:
    weeks = dated(rng, "2026-03-02", "2026-03-09")
    tabs = {w[SESSION].iloc[0]: wide(w).keyed(session=TAB) for w in weeks}
    return Made({"scores.xlsx": tabs}, Truth(pd.concat(weeks, ignore_index=True), loose=("pot",), say=("2026-03-02",)))


@room("a few lines of an older date in the sheet", 12)
def older_lines(rng: np.random.Generator) -> Made:
    old, new = dated(rng, "2026-03-02", "2026-03-09")
    table = pd.concat([old[old[LOT].isin(old[LOT].unique()[:2])], new], ignore_index=True)
    grid = cross(table, (SESSION, LOT, TASTER), (DESCRIPTOR,), Look(headings={SESSION: "Date"}))
    return Made({"scores.csv": {"": grid}}, Truth(table, loose=("pot",), say=("2026-03-02",)))


@room("a taster's half-empty sheet", 12)
def half_empty(rng: np.random.Generator) -> Made:
    table = true_table(rng, lots=10, tasters=("alder", "beech", "elm"))
    gone = (table[TASTER] == "elm") & table[LOT].isin(table[LOT].unique()[4:])
    tabs = by_tab(table, TASTER, lambda part: cross(part, (LOT,), (DESCRIPTOR,)))
    for row in tabs["elm"].rows[5:]:
        for cell in row[1:]:
            cell.value = cell.keys = None
    return Made({"week 14.xlsx": tabs}, Truth(table[~gone].reset_index(drop=True), say=("elm",)))


@room("a taster's empty sheet", 12)
def empty(rng: np.random.Generator) -> Made:
    table = true_table(rng, tasters=("alder", "beech", "elm"))
    tabs = by_tab(table, TASTER, lambda part: cross(part, (LOT,), (DESCRIPTOR,)))
    for row in tabs["elm"].rows[1:]:
        for cell in row[1:]:
            cell.value = cell.keys = None
    truth = table[table[TASTER] != "elm"].reset_index(drop=True)
    return Made({"week 14.xlsx": tabs}, Truth(truth, say=("elm",)))


@room("a second file of one session, other lots", 12)
def second_file(rng: np.random.Generator) -> Made:
    """The second half of a day under a name of its own."""
    table = true_table(rng, lots=10, tasters=("alder", "beech", "elm"))
    first = table[LOT].isin(table[LOT].unique()[:5])
    books = {"week 14.csv": {"": wide(table[first])}, "week 14 part 2.csv": {"": wide(table[~first])}}
    return Made(books, Truth(table, must="may ask", say=("part 2",)))


@room("a second file of one session, other tasters", 12)
def second_panel(rng: np.random.Generator) -> Made:
    table = true_table(rng, tasters=("alder", "beech", "elm", "yew"))
    north = table[TASTER] < "c"
    books = {f"{name} 2026-03-09.csv": {"": wide(table[half])} for name, half in (("north", north), ("south", ~north))}
    return Made(books, Truth(table, must="may ask"))


@room("a corrected file beside the first", 12, 2)
def corrected(rng: np.random.Generator) -> Made:
    """The same servings twice, four scores apart: which holds, someone must say."""
    table = true_table(rng)
    first = table.copy()
    for n in (3, 20, 41, 66):
        first.loc[n, ["score", "shown"]] = first.loc[n, "score"] % 9 + 0.5
    books = {"week 14.csv": {"": wide(first).bare()}, "week 14 corrected.csv": {"": wide(table)}}
    return Made(books, Truth(table, must="ask"))


@room("a list of addresses lies in the folder", 12)
def addresses(rng: np.random.Generator) -> Made:
    """A file with the right first column and no score in it."""
    table = true_table(rng)
    lots = Grid([line("Lot", "Garden"), *(line(int(lot), "Brallow Flats") for lot in table[LOT].unique())])
    return Made({"week 14.csv": {"": wide(table)}, "addresses.csv": {"": lots}}, Truth(table))
