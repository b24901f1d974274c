"""Rooms that name the whole panel above the marks and number its columns, or name each taster in a file's name."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from tests.habits.cells import FILE, Cell, above
from tests.habits.layouts import Look, cross, parts
from tests.habits.room import Made, room
from tests.habits.truth import DESCRIPTOR, LOT, POT, SESSION, TASTER, Truth, true_table

PANEL = ("elm", "yew", "alder")


def _numbered(cols: Sequence[str], said: str, words: Sequence[str]):
    def build(rng: np.random.Generator) -> Made:
        table = true_table(rng, tasters=PANEL, descriptors=words)
        number = {name: n + 1 for n, name in enumerate(PANEL)}
        grid = cross(table, (LOT,), cols, Look(labels={TASTER: number}, top="once"))
        whole = above(grid, [Cell("Liquor tasting")], [Cell("Tasters:"), Cell(said)])
        names = {(TASTER, name): {str(n)} for name, n in number.items()}
        loose = (SESSION, POT) if DESCRIPTOR in cols else (SESSION, POT, DESCRIPTOR)
        return Made({"week 14.xlsx": {"Sheet1": whole}}, Truth(table, must="ask", names=names, loose=loose))

    return build


for _said in ("elm, yew, alder", "elm; yew; alder", "elm, yew and alder"):
    room(f"descriptors over numbered columns, tasters {_said} above", 1, 4)(
        _numbered((DESCRIPTOR, TASTER), _said, ("brisk", "body"))
    )
room("numbered columns, the panel named above", 4)(_numbered((TASTER,), "elm, yew, alder", ("brisk",)))


@room("a file for each taster, scores_elm.csv", 7)
def files(rng: np.random.Generator) -> Made:
    table = true_table(rng, tasters=PANEL)
    books = {
        f"scores_{name}.csv": {"": cross(part, (LOT,), (DESCRIPTOR,)).keyed(**{TASTER: FILE})}
        for name, part in parts(table, TASTER)
    }
    return Made(books, Truth(table))
