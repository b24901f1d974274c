"""Lots and tasters under one another in one column, as pivots write them: each line of the outer heads its block."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from panelstats.scores.cells import DESCRIPTOR, LOT, TASTER
from panelstats.sheets.content.roles import GIVEN, SCORE, UNNAMED
from panelstats.sheets.content.text import has_digit
from panelstats.sheets.files.grid import text_factor
from panelstats.sheets.tables.figures import worked_out
from panelstats.sheets.tables.table import doubt
from panelstats.sheets.tables.totalrows import numbers_of

if TYPE_CHECKING:
    from panelstats.sheets.tables.table import Context, Table

_WAYS = {"lots over tasters": (LOT, TASTER), "tasters over lots": (TASTER, LOT)}
# What pivots write over a column (general dictionaries).
_SUM_OF = re.compile(r"(?:sum of|summe von|somme de|suma de|soma de) +(?=\S)", re.IGNORECASE)
_MOST = 20_000  # rows beyond which nobody writes a pivot in one column (ours)


def unnested(table: Table, context: Context) -> Table:
    """The table with lots and tasters of one column as two keys, without the lines that head each block."""
    told = {r for r in (LOT, TASTER) if r in table.extra or r in context.named}
    free = [c for c, r in enumerate(table.roles[:1]) if r in ("", UNNAMED, LOT, TASTER)]
    others = {r for c, r in enumerate(table.roles) if c not in free}
    if not free or told or others & {LOT, TASTER, DESCRIPTOR} or not 4 <= len(table.rows) <= _MOST:
        return table
    labels = table.cells(0).texts
    outer = _outer(labels)
    marks = [c for c, r in enumerate(table.roles) if c and r in ("", GIVEN, SCORE) and table.headers[c]]
    if outer is None or not marks or not _heads(numbers_of(table, marks, context.room), outer):
        return table
    return _apart(table, labels, outer, _way(table, (labels[outer], labels[~outer]), context))


def _outer(labels: np.ndarray) -> np.ndarray | None:
    """The rows whose label stands once, where each is followed by rows of labels that come again block by block."""
    names, codes, times = np.unique(labels.astype(str), return_inverse=True, return_counts=True)
    outer = times[codes] == 1
    if "" in names or not outer[0] or outer.sum() < 2 or outer[-1] or (outer[1:] & outer[:-1]).any():
        return None
    block = np.cumsum(outer)[~outer]
    pairs = set(zip(block.tolist(), codes[~outer].tolist(), strict=True))
    inner = len(set(codes[~outer].tolist()))
    even = len(pairs) == len(block) and inner >= 2 and len(block) * 2 >= inner * int(outer.sum())
    return outer if even else None


def _heads(numbers: np.ndarray, outer: np.ndarray) -> bool:
    """Whether the lines of the outer hold nothing, or figures worked out from the lines of their block."""
    block = np.cumsum(outer)
    for at in np.flatnonzero(outer):
        mine = numbers[(block == block[at]) & ~outer]
        if not np.isnan(numbers[at]).all() and len(mine) > 1 and not worked_out(numbers[at], mine):
            return False
    return True


def _way(table: Table, parts: tuple[np.ndarray, np.ndarray], context: Context) -> str:
    """Which of the two stands over the other, "" where nobody said."""
    ways = list(_WAYS)
    digits = [np.mean([*map(has_digit, part)]) for part in parts]
    if sorted(digits) == [0, 1]:
        return ways[int(digits[1] == 1)]
    head = table.headers[0] or "the first column"
    shown = ["; ".join(dict.fromkeys(part)) for part in parts]
    return context.inquiry.ask(
        f"What stands over what in {head!r}?", (table.sheet, int(table.rows[0]), 0, parts[0][0], head),
        seen=f"{shown[0][:60]} over {shown[1][:60]}", guess=ways[int(digits[1] > digits[0])], allowed=tuple(ways),
        reason="lots and tasters under one another in one column",
    )  # fmt: skip


def _apart(table: Table, labels: np.ndarray, outer: np.ndarray, way: str) -> Table:
    """The table of the inner rows, the outer label beside each."""
    over, under = _WAYS[way or next(iter(_WAYS))]
    at = np.maximum.accumulate(np.where(outer, np.arange(len(outer)), 0))[~outer]
    inner = table.only(~outer)
    note = (table.sheet.label, f"{over}s over {under}s in one column", "the line of each heads those below it")
    flaws = table.flaws if way else [*table.flaws, doubt()]
    heads, names = [table.headers[0] or under, *table.headers[1:]], [under, *table.names[1:]]
    extra = {**inner.extra, over: text_factor(labels[at])}
    return replace(inner, headers=heads, names=names, flaws=flaws, extra=extra).taking({0: under}, note)


def unsummed(table: Table) -> Table:
    """The table with `Sum of Brisk` called `Brisk`, where each of its rows is one taster's: nothing was added up."""
    names = [table.names[c] for c, r in enumerate(table.roles) if r in ("", GIVEN, SCORE) and table.headers[c]]
    if not names or not all(map(_SUM_OF.match, names)) or not table.tells(TASTER):
        return table
    return replace(table, names=[_SUM_OF.sub("", x) for x in table.names])
