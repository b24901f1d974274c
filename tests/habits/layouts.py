"""Layouts: one true table set out on a sheet, any keys down the side, any keys across the top."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

import pandas as pd

from tests.habits.cells import TAB, Cell, Grid
from tests.habits.truth import DESCRIPTOR, LOT, POT, SCORE, SESSION, STAGE, TASTER

HEADINGS = {
    SESSION: "Session", LOT: "Lot", TASTER: "Taster", POT: "Pot", STAGE: "Stage", DESCRIPTOR: "Descriptor",
    SCORE: "Score",
}  # fmt: skip


@dataclass(frozen=True)
class Look:
    """How labels and headings are written.

    `side` and `top`: "each" (a label in every cell), "once" (blank after the first) or "merged". `join`: a pattern
    that makes one heading of several keys, such as "{descriptor} {taster}"; headings are stacked without one.
    `corner`: the column keys are named left of their row. `labels`: {axis: how its label is written}.
    """

    side: str = "each"
    top: str = "each"
    join: str = ""
    corner: bool = False
    headings: Mapping[str, str] = field(default_factory=dict)
    labels: Mapping[str, Callable[[str], object] | Mapping[str, object]] = field(default_factory=dict)

    def heading(self, axis: str) -> str:
        return self.headings.get(axis, HEADINGS[axis])

    def label(self, axis: str, value: str) -> object:
        write = self.labels.get(axis)
        if write is None:
            return number(value) if axis in (LOT, POT) else str(value).capitalize() if axis == DESCRIPTOR else value
        return write.get(value, value) if isinstance(write, Mapping) else write(value)


PLAIN = Look()


def number(text: str) -> object:
    """A label of digits as spreadsheets keep it: a number."""
    return int(text) if text.isascii() and text.isdigit() and not text.startswith("0") else text


def cross(table: pd.DataFrame, rows: Sequence[str], cols: Sequence[str], look: Look = PLAIN) -> Grid:
    """Scores with the axes `rows` down the side and `cols` across the top, in the order they are named."""
    stubs, heads = (list(dict.fromkeys(table[list(a)].itertuples(index=False, name=None))) for a in (rows, cols))
    top = _joined(heads, cols, look) if look.join else _stacked(heads, cols, look)
    height = 1 if look.join else len(cols)
    corner = [[Cell() for _ in rows] for _ in range(height)]
    for n, axis in enumerate(rows):
        corner[-1][n] = Cell(look.heading(axis), means=axis)
    if look.corner:
        for r, axis in enumerate(cols[:-1]):
            corner[r][max(len(rows) - 1, 0)] = Cell(look.heading(axis))
    grid = Grid([[*corner[r], *top[r]] for r in range(height)], height)
    found = {tuple(row[a] for a in (*rows, *cols)): row["shown"] for row in table.to_dict("records")}
    side = _side(stubs, rows, look)
    for stub, (labels, shown) in zip(stubs, side, strict=True):
        keyed = dict(zip(rows, labels, strict=True))
        line = [
            Cell(found[(*stub, *head)], keys={**keyed, **_keys(cols, top, n, look, heads)})
            if (*stub, *head) in found
            else Cell()
            for n, head in enumerate(heads)
        ]
        grid.rows.append([*shown, *line])
    return grid


def long(table: pd.DataFrame, axes: Sequence[str], look: Look = PLAIN) -> Grid:
    """A row per score."""
    grid = Grid([[*(Cell(look.heading(a), means=a) for a in axes), Cell(look.heading(SCORE), means=SCORE)]])
    for row in table.to_dict("records"):
        keys = {a: Cell(look.label(a, row[a])) for a in axes}
        grid.rows.append([*keys.values(), Cell(row["shown"], keys=dict(keys))])
    return grid


def by_tab(
    table: pd.DataFrame, axis: str, build: Callable[[pd.DataFrame], Grid], title: Callable[[str], str] = str
) -> dict[str, Grid]:
    """A tab for every label of one axis."""
    return {title(name): build(part).keyed(**{axis: TAB}) for name, part in parts(table, axis)}


def parts(table: pd.DataFrame, axis: str) -> list[tuple[str, pd.DataFrame]]:
    """The table cut by one axis, in the order of the table."""
    return [(str(name), part) for name, part in table.groupby(axis, sort=False)]


def _side(stubs: list[tuple[str, ...]], rows: Sequence[str], look: Look) -> list[tuple[list[Cell], list[Cell]]]:
    """For every line the cells that show its keys, and the cells written on it; the last key is always written."""
    out: list[tuple[list[Cell], list[Cell]]] = []
    for n, stub in enumerate(stubs):
        labels: list[Cell] = []
        shown: list[Cell] = []
        for k, axis in enumerate(rows):
            again = n > 0 and stubs[n - 1][: k + 1] == stub[: k + 1] and look.side != "each" and k < len(rows) - 1
            cell = out[-1][0][k] if again else Cell(look.label(axis, stub[k]))
            labels.append(cell)
            shown.append(Cell() if again else cell)
            if again and look.side == "merged":
                cell.span = (cell.span[0] + 1, 1)
        out.append((labels, shown))
    return out


def _stacked(heads: list[tuple[str, ...]], cols: Sequence[str], look: Look) -> list[list[Cell]]:
    """A row of headings for every axis; upper rows are written once over what they head, unless "each"."""
    rows = []
    for k, axis in enumerate(cols):
        row: list[Cell] = []
        for n, head in enumerate(heads):
            again = n > 0 and heads[n - 1][: k + 1] == head[: k + 1] and look.top != "each" and k < len(cols) - 1
            row.append(Cell() if again else Cell(look.label(axis, head[k]), means=axis))
            if again and look.top == "merged":
                first = next(cell for cell in reversed(row) if cell.value is not None)
                first.span = (1, first.span[1] + 1)
        rows.append(row)
    return rows


def _joined(heads: list[tuple[str, ...]], cols: Sequence[str], look: Look) -> list[list[Cell]]:
    """One row of headings, each made of several keys."""
    texts = [{a: look.label(a, v) for a, v in zip(cols, head, strict=True)} for head in heads]
    return [[Cell(look.join.format(**text), means=" ".join(cols)) for text in texts]]


def _keys(
    cols: Sequence[str], top: list[list[Cell]], n: int, look: Look, heads: list[tuple[str, ...]]
) -> dict[str, Cell | str]:
    """The cells that head column n."""
    if look.join:
        return dict.fromkeys(cols, top[0][n])
    return {axis: _at_or_before(top[k], n) for k, axis in enumerate(cols)}


def _at_or_before(row: list[Cell], n: int) -> Cell:
    return next(cell for cell in reversed(row[: n + 1]) if cell.value is not None)
