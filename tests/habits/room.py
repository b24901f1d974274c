"""A room: files in a habit, and the truth about them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from zlib import crc32

import numpy as np
import pandas as pd

from tests.habits.cells import Grid
from tests.habits.files import write
from tests.habits.second import reread
from tests.habits.truth import AXES, SCORE, Truth

Registers = Mapping[str, pd.DataFrame]


@dataclass(frozen=True, eq=False)
class Made:
    """What a room sends: {file: {tab: sheet}}, how its text files are written, its registers, files renamed after."""

    books: Mapping[str, Mapping[str, Grid]]
    truth: Truth
    dialect: Mapping[str, str] = field(default_factory=dict)
    registers: Registers = field(default_factory=dict)
    renamed: Mapping[str, str] = field(default_factory=dict)

    def write(self, folder: Path) -> Path:
        """Write every file; the file, or the folder where there are several."""
        folder.mkdir(parents=True, exist_ok=True)
        for name, book in self.books.items():
            write(folder / name, book, **self.dialect)
        for name, table in self.registers.items():
            table.to_csv(folder / f"{name}.csv", index=False)
        for name, other in self.renamed.items():
            (folder / name).rename(folder / other)
        (only,) = self.books if len(self.books) == 1 and not self.registers else (None,)
        return folder / self.renamed.get(only, only) if only else folder

    def check(self, folder: Path) -> None:
        """Hold the truth to the written files, read by another reader."""
        for name, other in self.renamed.items():
            (folder / other).rename(folder / name)
        read = [reread(folder / name, _tabs(name, book), self.truth, self.dialect) for name, book in self.books.items()]
        for name, other in self.renamed.items():
            (folder / name).rename(folder / other)
        got = pd.concat([r for r in read if len(r)], ignore_index=True)
        shown = [axis for axis in AXES if got[axis].notna().all()]
        there, true = (Counter(zip(*(t[k] for k in (*shown, SCORE)), strict=True)) for t in (got, self.truth.table))
        if there != true:
            raise ValueError(f"the files hold {list(there - true)[:3]}, the truth {list(true - there)[:3]}")


def _tabs(name: str, book: Mapping[str, Grid]) -> Mapping[str, Grid]:
    """Text files have no tabs; the tables of a web page are numbered."""
    if name.endswith((".xlsx", ".ods")):
        return book
    return dict(enumerate(book.values())) if name.endswith(".xls") else {"": next(iter(book.values()))}  # type: ignore[dict-item]


@dataclass(frozen=True)
class Room:
    """One room of the corpus: its name, the classes of habit it shows, and how it is made."""

    name: str
    classes: tuple[int, ...]
    build: Callable[[np.random.Generator], Made]

    def made(self) -> Made:
        """The room, the same every time."""
        return self.build(np.random.default_rng(crc32(self.name.encode())))


ROOMS: dict[str, Room] = {}


def room(
    name: str, *classes: int
) -> Callable[[Callable[[np.random.Generator], Made]], Callable[[np.random.Generator], Made]]:
    """Enter a function among the rooms."""

    def entered(build: Callable[[np.random.Generator], Made]) -> Callable[[np.random.Generator], Made]:
        if name in ROOMS:
            raise ValueError(f"two rooms are called {name}")
        ROOMS[name] = Room(name, classes, build)
        return build

    return entered
