"""What rooms add to their scores: averages, ranks, facts, remarks, titles, legends, footnotes."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from statistics import fmean

import numpy as np

from tests.habits.cells import Cell, Grid, line
from tests.habits.truth import LOT, REMARKS

DERIVED, FACT, REMARK = "derived", "fact", "remark"
Sum = Callable[[Sequence[float]], float]


def mean(values: Sequence[float]) -> float:
    """A mean as a sheet shows it, to two decimals."""
    return round(fmean(values), 2)


def by_column(grid: Grid, lines: list[list[Cell]], of: Sum) -> list[object]:
    """One value per column from its scores in some lines; None where there are none."""
    out: list[object] = []
    for c in range(grid.width):
        cells = [row[c] for row in lines if c < len(row) and row[c].keys is not None]
        values = [float(cell.value) for cell in cells]
        out.append(of(values) if values else None)
    return out


def foot(grid: Grid, word: str, of: Sum = mean, at: int = 0) -> Grid:
    """A line at the foot: `of` every column of scores, named in column `at`."""
    values = by_column(grid, grid.rows[grid.head :], of)
    values[at] = word
    return Grid([*grid.rows, line(*values)], grid.head)


def per_block(grid: Grid, axis: str, word: str, at: int, of: Sum = mean, *, named: bool = True) -> Grid:
    """After the lines of each label of `axis`, one line with their mean; `word` in column `at`."""
    blocks: list[tuple[object, list[list[Cell]]]] = []
    for row in grid.rows[grid.head :]:
        label = label_of(row, axis)
        if not blocks or blocks[-1][0] != label:
            blocks.append((label, []))
        blocks[-1][1].append(row)
    rows = list(grid.rows[: grid.head])
    for label, lines in blocks:
        values = by_column(grid, lines, of)
        if named:
            values[0] = label
        values[at] = word
        rows += [*lines, line(*values)]
    return Grid(rows, grid.head)


def column(
    grid: Grid, heading: str, of: Callable[[list[Cell]], object], *, means: str = "", at: int | None = None
) -> Grid:
    """A column more: `of` the cells of each line."""
    for r, row in enumerate(grid.padded().rows):
        cell = Cell(heading, means=means) if r == grid.head - 1 else Cell(of(row) if r >= grid.head else None)
        row.insert(len(row) if at is None else at, cell)
    return grid


def average(row: list[Cell], of: Sum = mean) -> object:
    """The mean of a line's scores."""
    values = [float(cell.value) for cell in row if cell.keys is not None]
    return of(values) if values else None


def ranks(grid: Grid, heading: str = "Rank") -> Grid:
    """The rank of each line by its mean, best first."""
    means = sorted((average(row) for row in grid.rows[grid.head :]), reverse=True)
    return column(grid, heading, lambda row: means.index(average(row)) + 1, means=DERIVED)


def facts(grid: Grid, heading: str, values: dict[str, object], *, at: int | None = None) -> Grid:
    """A column of facts: one value a lot."""
    return column(grid, heading, lambda row: values.get(str(label_of(row, LOT))), means=FACT, at=at)


def label_of(row: list[Cell], axis: str) -> object:
    """The label of a line on an axis, as its first score shows it."""
    for cell in row:
        if cell.keys is not None and isinstance(cell.keys.get(axis), Cell):
            return cell.keys[axis].value  # type: ignore[union-attr]
    return None


def remarks(grid: Grid, rng: np.random.Generator, heading: str = "Remarks") -> Grid:
    """A column of remarks, about every second line."""
    return column(grid, heading, lambda row: rng.choice(REMARKS) if rng.random() < 0.5 else None, means=REMARK)
