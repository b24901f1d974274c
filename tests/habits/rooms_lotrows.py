"""Rooms with lots across: facts about the lots in rows over or under them, and corners that name one key or two."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from tests.habits.cells import Cell, Grid, above
from tests.habits.layouts import cross
from tests.habits.room import Made, room
from tests.habits.truth import DESCRIPTOR, LOT, POT, SESSION, TASTER, Truth, true_table

Build = Callable[[np.random.Generator], Made]
GRADES, GARDENS = ("BP", "OP"), ("North slope", "South slope")


def _told(width: int, lots: int, names: Sequence[str], *, once: bool) -> list[list[Cell]]:
    """A row for every fact, over lots that begin after the side."""
    half = (lots + 1) // 2
    gardens = [GARDENS[n >= half] if not once or n in (0, half) else None for n in range(lots)]
    values = {
        "Grade": [GRADES[n % 2] for n in range(lots)],
        "Garden": gardens,
        "Invoice": [f"C{310 + n}" for n in range(lots)],
        "Bags": [40 + 20 * (n % 2) for n in range(lots)],
        "Price": [round(2.1 + n / 20, 2) for n in range(lots)],
    }
    return [[Cell(name), *[Cell()] * (width - 1), *map(Cell, values[name])] for name in names]


def _with_facts(rows: Sequence[str], corner: str, over: Sequence[str], under: Sequence[str], *, once: bool) -> Build:
    def build(rng: np.random.Generator) -> Made:
        words = ("brisk",) if DESCRIPTOR not in rows else ("brisk", "body", "colour")
        tasters = ("elm",) if TASTER not in rows else 3
        table = true_table(rng, lots=6, tasters=tasters, descriptors=words)
        grid = _named(cross(table.sort_values(list(rows), kind="stable"), rows, (LOT,)), len(rows), corner)
        told = [_told(len(rows), 6, names, once=once) for names in (over, under)]
        whole = above(Grid([grid.rows[0], *told[1], *grid.rows[1:]], grid.head), *told[0])
        loose = (SESSION, POT, *({TASTER, DESCRIPTOR} - set(rows)))
        return Made({"week 14.xlsx": {"Sheet1": whole}}, Truth(table, loose=loose))

    return build


def _named(grid: Grid, side: int, corner: str) -> Grid:
    """The grid with another word in the last cell of its corner, the one beside the lots."""
    grid.rows[0][side - 1].value = corner or grid.rows[0][side - 1].value
    return grid


for _rows, _corner, _over, _under, _once in (
    ((TASTER, DESCRIPTOR), "Lot", ("Garden", "Grade"), (), False),
    ((TASTER, DESCRIPTOR), "", ("Grade",), ("Bags",), False),
    ((TASTER, DESCRIPTOR), "Lot", ("Garden", "Invoice", "Grade", "Bags"), ("Price",), True),
    ((DESCRIPTOR,), "Lot", ("Garden", "Grade"), (), True),
    ((DESCRIPTOR,), "", (), ("Grade", "Price"), False),
    ((TASTER,), "", ("Grade",), (), False),
    ((TASTER,), "", (), (), False),
    ((TASTER,), "Lot / Taster", ("Garden", "Grade", "Price"), (), False),
    ((TASTER,), "Taster \\ Lot", (), ("Grade",), False),
):
    room(
        f"{' and '.join(_rows)} down, lots across, corner {_corner or 'of the side'}, "
        f"{' '.join(_over) or 'nothing'} over, {' '.join(_under) or 'nothing'} under{', once' if _once else ''}",
        1,
    )(_with_facts(_rows, _corner, _over, _under, once=_once))


def _corner(corner: str, rows: Sequence[str], cols: Sequence[str], must: str = "read") -> Build:
    def build(rng: np.random.Generator) -> Made:
        axes = {*rows, *cols}
        words = ("brisk",) if DESCRIPTOR not in axes else ("brisk", "body", "colour")
        table = true_table(rng, lots=6, tasters=("elm",) if TASTER not in axes else 3, descriptors=words)
        grid = _named(cross(table.sort_values(list(rows), kind="stable"), rows, cols), len(rows), corner)
        loose = (SESSION, POT, *({TASTER, DESCRIPTOR} - axes))
        return Made({"week 14.xlsx": {"Sheet1": grid}}, Truth(table, must=must, loose=loose))

    return build


for _name, _rows, _cols, _must in (
    ("Lot/Taster", (LOT,), (TASTER,), "read"),
    ("Lot | Attribute", (LOT,), (DESCRIPTOR,), "read"),
    ("Attribute / Lot", (DESCRIPTOR,), (LOT,), "read"),
    ("Lot", (TASTER,), (LOT,), "may ask"),  # the corner names what runs across, not the side below it
):
    room(f"corner {_name}, {_rows[0]} down, {_cols[0]} across", 1)(_corner(_name, _rows, _cols, _must))
