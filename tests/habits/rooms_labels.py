"""Rooms that spell one name in several ways, and names that only look alike."""

from __future__ import annotations

import unicodedata
from collections.abc import Callable, Sequence

import numpy as np
import pandas as pd

from tests.habits.cells import FILE, Cell, Grid
from tests.habits.layouts import Look, by_tab, cross, parts
from tests.habits.room import Made, room
from tests.habits.truth import DESCRIPTOR, LOT, TASTER, Truth, true_table

Build = Callable[[np.random.Generator], Made]
Way = Callable[[str], str]
ACCENTED = ("aliségier", "mélèze", "érable", "chêne", "hêtre")
WIDE = str.maketrans("0123456789", "０１２３４５６７８９")
NAGARI = str.maketrans("0123456789", "०१२३४५६७८९")


def one(grid: Grid, table: pd.DataFrame, **truth: object) -> Made:
    return Made({"week 14.xlsx": {"Sheet1": grid}}, Truth(table, **truth))


def parted(text: str) -> str:
    """Letters and accents apart."""
    return unicodedata.normalize("NFD", text)


def shown(grid: Grid, axis: str) -> list[Cell]:
    """The cells that show the labels of an axis, in order."""
    return list({id(cell.keys[axis]): cell.keys[axis] for cell in grid.scores()}.values())


def respelt(grid: Grid, axis: str, ways: Sequence[Way], every: int = 1) -> Grid:
    """Every so many-th label of an axis spelt another way."""
    for n, cell in enumerate(shown(grid, axis)):
        if n % every == every - 1:
            cell.value = ways[(n // every) % len(ways)](str(cell.value))
    return grid


# (axis, labels, ways of writing them): no one would take them for other names.
FOLDED: dict[str, tuple[str, Sequence[str], Sequence[Way]]] = {
    "tasters in other cases": (TASTER, ("alder", "beech", "elm"), (str.upper, str.capitalize, str.lower)),
    "tasters with spaces round them": (TASTER, ("alder", "beech", "elm"), (" {}  ".format, "{}\u00a0".format)),
    "tasters in two normal forms": (
        TASTER, ACCENTED[:3], (parted, str)
    ),
    "tasters with invisible signs": (TASTER, ("alder", "beech", "elm"), ("{}\u200b".format, "\ufeff{}".format)),
    "tasters with two kinds of space": (
        TASTER, ("old alder", "old elm"), (lambda s: s.replace(" ", "\u00a0"), lambda s: s.replace(" ", "  "))
    ),
    "tasters with two apostrophes": (TASTER, ("d'orme", "d'aulne"), (lambda s: s.replace("'", "’"), str)),
    "lots in full-width digits": (LOT, ("411", "412", "413", "414"), (lambda s: s.translate(WIDE), str)),
    "lots in another script's digits": (LOT, ("411", "412", "413", "414"), (lambda s: s.translate(NAGARI), str)),
    "lots with several dashes": (
        LOT, ("B-1", "B-2", "B-3", "C-1"), (lambda s: s.replace("-", "–"), lambda s: s.replace("-", "\u2011"), str)
    ),
    "lots with a soft hyphen": (LOT, ("Brallow 1", "Brallow 2", "Brallow 3"), (lambda s: f"Bral\u00adlow{s[7:]}", str)),
    "lots as text and as numbers": (LOT, ("411", "412", "413", "414"), (str, int)),
    "lots in two cases": (LOT, ("br1", "br2", "br3"), (str.upper, str)),
}  # fmt: skip


def _folded(name: str) -> Build:
    def build(rng: np.random.Generator) -> Made:
        axis, labels, ways = FOLDED[name]
        table = true_table(rng, **{f"{axis}s": labels})
        return one(respelt(cross(table, (LOT, TASTER), (DESCRIPTOR,)), axis, ways, 2), table)

    return build


for _name in FOLDED:
    room(_name, 8)(_folded(_name))

# (axis, labels, the label misspelt, its misspelling): someone must be asked.
NEAR: list[tuple[str, Sequence[str], str, str]] = [
    (LOT, ("411", "412", "413", "414", "415"), "411", "41l"),
    (LOT, ("402", "403", "404", "405", "406"), "402", "4O2"),
    (LOT, ("B-1", "B-2", "B-3", "B-4"), "B-2", "B 2"),
    (LOT, ("B-1", "B-2", "B-3", "B-4"), "B-2", "B/2"),
    (TASTER, ("alder", "beech", "elm"), "alder", "aldr"),
    (TASTER, ("alder", "beech", "elm"), "beech", "beeech"),
    (TASTER, ("alder", "beech", "elm"), "alder", "\u0430lder"),
    (TASTER, ("hornbeam", "sycamore", "yew"), "hornbeam", "hornbaem"),
]


def _near(axis: str, labels: Sequence[str], right: str, wrong: str, registered: bool) -> Build:
    def build(rng: np.random.Generator) -> Made:
        table = true_table(rng, **{f"{axis}s": labels})
        grid = cross(table, (LOT, TASTER), (DESCRIPTOR,))
        [cell for cell in shown(grid, axis) if str(cell.value) == right][1].value = wrong
        names = {(axis, right): {wrong}}
        register = {f"{axis}s": pd.DataFrame({axis: labels})} if registered else {}
        return Made({"week 14.csv": {"": grid}}, Truth(table, must="ask", names=names), registers=register)

    return build


for _axis, _labels, _right, _wrong in NEAR:
    for _registered in (False, True):
        _shown = _wrong.encode("ascii", "namereplace").decode()
        room(f"{_right} once written {_shown}{', registered' * _registered}", 8, *([11] if _registered else []))(
            _near(_axis, _labels, _right, _wrong, _registered)
        )


@room("a descriptor misspelt on one of the tabs", 8, 7)
def misspelt_heading(rng: np.random.Generator) -> Made:
    table = true_table(rng)
    tabs = by_tab(table, TASTER, lambda part: cross(part, (LOT,), (DESCRIPTOR,)))
    last = list(tabs.values())[-1]
    last.rows[0][1].value = "Briks"
    return Made({"week 14.xlsx": tabs}, Truth(table, must="ask", names={(DESCRIPTOR, "brisk"): {"Briks"}}))


@room("a descriptor spelt in several ways over the tabs", 8, 7)
def headings_respelt(rng: np.random.Generator) -> Made:
    table = true_table(rng)
    ways = iter((str, str.upper, lambda d: f"{d} "))
    tabs = {
        t: cross(p, (LOT,), (DESCRIPTOR,), Look(labels={DESCRIPTOR: next(ways)})).keyed(taster="<tab>")
        for t, p in parts(table, TASTER)
    }
    return Made({"week 14.xlsx": tabs}, Truth(table))


@room("a taster's file misspelt beside his others", 8, 7)
def misspelt_file(rng: np.random.Generator) -> Made:
    """Two halves of one sitting, each taster a file for each; one file name has a slip."""
    table = true_table(rng)
    halves = np.where(table[LOT].isin(table[LOT].unique()[:4]), "leaf 1", "leaf 2")
    books = {}
    for (name, half), part in table.groupby([TASTER, halves], sort=False):
        written = name.replace("e", "", 1) if half == "leaf 2" and name == table[TASTER].iloc[-1] else name
        books[f"{half}/{written}.csv"] = {"": cross(part, (LOT,), (DESCRIPTOR,)).keyed(taster=FILE)}
    last = table[TASTER].iloc[-1]
    return Made(books, Truth(table, must="ask", names={(TASTER, last): {last.replace("e", "", 1)}}))


@room("tasters and lots that differ only in digits", 8)
def digits_differ(rng: np.random.Generator) -> Made:
    table = true_table(rng, tasters=("T1", "T2", "T11", "T12"), lots=("B1", "B2", "B11", "B12", "B21"))
    return one(cross(table, (LOT, TASTER), (DESCRIPTOR,)), table)


@room("tasters of one and two letters", 8)
def initials(rng: np.random.Generator) -> Made:
    table = true_table(rng, tasters=("A", "AB", "B", "BA"))
    return one(cross(table, (LOT, TASTER), (DESCRIPTOR,)), table, must="may ask")


@room("spellings of every kind over two heading rows", 8, 1)
def respelt_stacked(rng: np.random.Generator) -> Made:
    table = true_table(rng, tasters=("mélèze", "érable", "chêne"))
    grid = respelt(cross(table, (LOT,), (DESCRIPTOR, TASTER)), TASTER, (str.upper, parted), 2)
    return one(respelt(grid, LOT, (lambda s: s.translate(WIDE),), 3), table)


@room("lot and taster in one heading, every second in capitals", 8, 5)
def respelt_joined(rng: np.random.Generator) -> Made:
    table = true_table(rng, lots=4, tasters=("poplar", "sycamore", "yew"))
    grid = cross(table, (DESCRIPTOR,), (LOT, TASTER), Look(join="{lot} {taster}"))
    return one(respelt(grid, TASTER, (str.upper,), 2), table)


@room("descriptor and taster in one heading, some in capitals", 8, 5)
def respelt_product(rng: np.random.Generator) -> Made:
    table = true_table(rng, tasters=("poplar", "sycamore", "yew"))
    grid = cross(table, (LOT,), (DESCRIPTOR, TASTER), Look(join="{descriptor} {taster}"))
    return one(respelt(grid, TASTER, (str.upper, str), 3), table)
