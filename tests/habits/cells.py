"""Sheets before they are files: cells that know, where they hold a score, which cells show its keys."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

# Keys that no cell shows: the tab's name, the file's name, or nothing at all.
TAB, FILE = "<tab>", "<file>"


@dataclass(eq=False)
class Cell:
    """One cell. `keys` is filled for scores: {axis: the cell that shows it, or TAB, FILE}; `means` for headings."""

    value: object = None
    keys: dict[str, Cell | str] | None = None
    also: tuple[dict[str, Cell | str], ...] = ()  # keys of further scores that the cell holds
    means: str = ""
    span: tuple[int, int] = (1, 1)
    struck: bool = False
    comment: str = ""
    fill: str = ""
    hide_row: bool = False
    hide_column: bool = False
    form: str = ""


@dataclass(eq=False)
class Grid:
    """A sheet as rows of cells; rows may be of different lengths."""

    rows: list[list[Cell]] = field(default_factory=list)
    head: int = 1  # rows of headings

    @property
    def width(self) -> int:
        return max(map(len, self.rows), default=0)

    def cells(self) -> Iterator[tuple[int, int, Cell]]:
        """Every cell with its row and column, counted from 0."""
        for r, row in enumerate(self.rows):
            for c, cell in enumerate(row):
                yield r, c, cell

    def scores(self) -> list[Cell]:
        """The cells that hold a score."""
        return [cell for _, _, cell in self.cells() if cell.keys is not None]

    def keyed(self, **keys: Cell | str) -> Grid:
        """The same grid, its scores keyed further (by a title cell, the tab or the file)."""
        for cell in self.scores():
            cell.keys = {**(cell.keys or {}), **keys}
        return self

    def bare(self) -> Grid:
        """The same grid, none of whose figures is a score: worked out, or a copy."""
        for cell in self.scores():
            cell.keys = None
        return self

    def padded(self) -> Grid:
        """The same grid with rows of one length."""
        for row in self.rows:
            row.extend(Cell() for _ in range(self.width - len(row)))
        return self


def line(*values: object) -> list[Cell]:
    """A row of plain cells."""
    return [Cell(value) for value in values]


def above(grid: Grid, *lines: list[Cell], gap: int = 0) -> Grid:
    """Put lines over a sheet."""
    return Grid([*map(list, lines), *([[]] * gap), *grid.rows], grid.head + len(lines) + gap)


def below(grid: Grid, *lines: list[Cell], gap: int = 0) -> Grid:
    """Put lines under a sheet."""
    return Grid([*grid.rows, *[[] for _ in range(gap)], *map(list, lines)], grid.head)


def under(grids: list[Grid], gap: int = 1) -> Grid:
    """Several tables on one sheet, one under another."""
    rows: list[list[Cell]] = []
    for grid in grids:
        rows += ([[] for _ in range(gap)] if rows else []) + grid.rows
    return Grid(rows, grids[0].head)


def beside(grids: list[Grid], gap: int = 1) -> Grid:
    """Several tables on one sheet, side by side."""
    height = max(len(grid.rows) for grid in grids)
    rows: list[list[Cell]] = [[] for _ in range(height)]
    for n, grid in enumerate(grids):
        grid.padded()
        for r in range(height):
            more = grid.rows[r] if r < len(grid.rows) else [Cell() for _ in range(grid.width)]
            rows[r] += ([Cell() for _ in range(gap)] if n else []) + more
    return Grid(rows, grids[0].head)
