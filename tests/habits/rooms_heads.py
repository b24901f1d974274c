"""Rooms with two kinds of heading: stacked in rows over one another, or joined in one text."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from tests.habits.cells import Grid
from tests.habits.layouts import Look, cross
from tests.habits.room import Made, room
from tests.habits.truth import DESCRIPTOR, LOT, POT, SESSION, STAGE, TASTER, Truth, true_table

Build = Callable[[np.random.Generator], Made]
BOTH = ("black", "even", "coppery", "brisk", "bright")
# (rows, columns from the top down)
STACKED = [
    ((LOT,), (DESCRIPTOR, TASTER)), ((LOT,), (TASTER, DESCRIPTOR)), ((DESCRIPTOR,), (LOT, TASTER)),
    ((DESCRIPTOR,), (TASTER, LOT)), ((TASTER,), (LOT, DESCRIPTOR)), ((TASTER,), (DESCRIPTOR, LOT)),
    ((LOT, TASTER), (POT, DESCRIPTOR)), ((LOT, TASTER), (DESCRIPTOR, POT)), ((TASTER, DESCRIPTOR), (LOT, POT)),
    ((LOT, DESCRIPTOR), (TASTER, POT)), ((LOT, DESCRIPTOR), (POT, TASTER)), ((LOT, TASTER), (STAGE, DESCRIPTOR)),
    ((TASTER,), (LOT, POT, DESCRIPTOR)), ((LOT,), (TASTER, STAGE, DESCRIPTOR)), ((LOT, POT), (DESCRIPTOR, TASTER)),
]  # fmt: skip
TOPS = ("merged", "once", "each")
# (pattern, rows, columns)
JOINED = [
    ("{descriptor} {taster}", (LOT,), (DESCRIPTOR, TASTER)),
    ("{taster}-{descriptor}", (LOT,), (TASTER, DESCRIPTOR)),
    ("{descriptor} ({taster})", (LOT,), (DESCRIPTOR, TASTER)),
    ("{taster}: {descriptor}", (LOT,), (TASTER, DESCRIPTOR)),
    ("{descriptor}/{taster}", (LOT,), (DESCRIPTOR, TASTER)),
    ("{descriptor}_{taster}", (LOT,), (DESCRIPTOR, TASTER)),
    ("{descriptor} pot {pot}", (LOT, TASTER), (DESCRIPTOR, POT)),
    ("{descriptor} {pot}", (LOT, TASTER), (DESCRIPTOR, POT)),
    ("Pot {pot} {descriptor}", (LOT, TASTER), (POT, DESCRIPTOR)),
    ("Lot {lot} [{descriptor}]", (TASTER,), (LOT, DESCRIPTOR)),
    ("{lot} {taster}", (DESCRIPTOR,), (LOT, TASTER)),
    ("{descriptor} of lot {lot}", (TASTER,), (DESCRIPTOR, LOT)),
    ("How {descriptor} is lot {lot}?", (TASTER,), (LOT, DESCRIPTOR)),
]


def _pots(rows: tuple[str, ...], cols: tuple[str, ...]) -> int:
    return 2 if POT in rows + cols else 1


def _loose(pots: int) -> tuple[str, ...]:
    return (SESSION,) if pots > 1 else (SESSION, POT)


def _headed(rows: tuple[str, ...], cols: tuple[str, ...], look: Look, must: str = "read") -> Build:
    def build(rng: np.random.Generator) -> Made:
        pots = _pots(rows, cols)
        words = BOTH if STAGE in cols else ("brisk", "bright", "body")
        table = true_table(rng, lots=6, pots=pots, descriptors=words)
        return Made(
            {"week 14.xlsx": {"Sheet1": cross(table, rows, cols, look)}}, Truth(table, must=must, loose=_loose(pots))
        )

    return build


for _n, (_rows, _cols) in enumerate(STACKED):
    _top = TOPS[_n % 3]
    room(f"{' over '.join(_cols)} ({_top}), {' and '.join(_rows)} down", 1)(_headed(_rows, _cols, Look(top=_top)))
for _top in TOPS:
    room(f"descriptor over taster, lot down, heads {_top}, corner named", 1)(
        _headed((LOT,), (DESCRIPTOR, TASTER), Look(top=_top, corner=True))
    )
for _join, _rows, _cols in JOINED:
    room(f"heading {_join}", 5)(
        _headed(_rows, _cols, Look(join=_join), "may ask" if _join == "{descriptor} {pot}" else "read")
    )


@room("heading {taster} {descriptor}, initials", 5)
def initials(rng: np.random.Generator) -> Made:
    table = true_table(rng, tasters=("AB", "CD", "EF"))
    return Made(
        {"scores.csv": {"": cross(table, (LOT,), (DESCRIPTOR, TASTER), Look(join="{descriptor} {taster}"))}},
        Truth(table),
    )


@room("heading {descriptor} {taster}, one column missing", 5)
def one_missing(rng: np.random.Generator) -> Made:
    """Three of four descriptors were scored by the third taster: no full product, yet one reading."""
    table = true_table(rng)
    last = table[TASTER].iloc[-1]
    table = table[(table[TASTER] != last) | (table[DESCRIPTOR] != "colour")].reset_index(drop=True)
    grid = cross(table, (LOT,), (DESCRIPTOR, TASTER), Look(join="{descriptor} {taster}"))
    return Made({"scores.xlsx": {"Tasting": grid}}, Truth(table, must="may ask"))


@room("two descriptors share a heading", 5)
def shared_heading(rng: np.random.Generator) -> Made:
    """Body/strength in one column: one score for both, or either; the room alone knows."""
    table = true_table(rng, descriptors=("brisk", "bright", "body/strength"))
    grid: Grid = cross(table, (LOT, TASTER), (DESCRIPTOR,))
    return Made({"scores.xlsx": {"Tasting": grid}}, Truth(table, must="may ask"))
