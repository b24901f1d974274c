"""Rows of averages, totals and the like: named by a word, or found by arithmetic; they are no marks."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from panelstats.scores.cells import DESCRIPTOR, LOT, SESSION, STAGE, TASTER
from panelstats.scores.spelling import plain, tidy
from panelstats.sheets.content.roles import CODE, GIVEN, SCORE
from panelstats.sheets.content.text import is_empty
from panelstats.sheets.content.totals import is_total, may_be_total
from panelstats.sheets.tables.datarows import left_out
from panelstats.sheets.tables.figures import worked_out

if TYPE_CHECKING:
    from panelstats.sheets.room.room import Room
    from panelstats.sheets.tables.table import Table


def without_totals(table: Table, room: Room) -> Table:
    """The table without rows of averages, totals and the like; they are said."""
    listed = frozenset[str]().union(*room.listed.values())  # registers win over total words
    named, lotless = total_rows(table, listed)
    rows = table.rows
    marks = [c for c, r in enumerate(table.roles) if r in ("", GIVEN, SCORE) and table.headers[c]]
    maybe = _unsure_rows(table, named, lotless, listed)
    drop = named.copy()
    if (maybe.any() and marks and not table.is_down) or (maybe.any() and len(marks) > 1):
        numbers = numbers_of(table, marks, room)
        for at in np.flatnonzero(maybe):
            if any(worked_out(numbers[at], above) for above in _above(numbers, drop | named, int(at))):
                drop[at] = True
    if not drop.any() or drop.all():
        return table
    words = ", ".join(dict.fromkeys(v for r in rows[drop] for v in table.sheet.line(int(r)) if may_be_total(v)))
    return left_out(table, rows[drop], f"totals, not marks{': ' * bool(words)}{words[:60]}").only(~drop)


def _unsure_rows(table: Table, named: np.ndarray, lotless: np.ndarray, listed: frozenset[str]) -> np.ndarray:
    """Rows that arithmetic must judge: without a lot or taster, or with a word that may be a name, few of them."""
    maybe = lotless.copy()
    for role in (LOT, CODE, TASTER, DESCRIPTOR):
        for c in table.where(role):
            cells = table.cells(c)
            empty = cells.mask(lambda v: tidy(v) == "")
            words = cells.mask(lambda v: may_be_total(v) and plain(v) not in listed)
            maybe |= words if role in (LOT, CODE, DESCRIPTOR) else empty
            if role in (LOT, CODE) and empty.sum() > len(empty) / 3:
                return np.zeros(len(named), bool)
    maybe &= ~named
    return maybe if maybe.sum() <= max(len(maybe) // 3, 1) else np.zeros(len(named), bool)


def numbers_of(table: Table, marks: list[int], room: Room) -> np.ndarray:
    """The numbers of some columns, (row, column), NaN where there is none."""
    return np.column_stack([table.numbers(c, room.worth) for c in marks])


def _above(numbers: np.ndarray, dropped: np.ndarray, at: int) -> list[np.ndarray]:
    """The rows a row may sum up: all above it, or those since the last one that was worked out."""
    kept = np.flatnonzero(~dropped[:at])
    last = int(np.flatnonzero(dropped[:at])[-1]) if dropped[:at].any() else -1
    return [part for part in (numbers[kept], numbers[kept[kept > last]]) if len(part) > 1]


def total_rows(table: Table, sure: frozenset[str]) -> tuple[np.ndarray, np.ndarray]:
    """Masks of rows that a total word, none of the `sure` labels, names: in the lot, or in another key without one.

    Returns
    -------
    named, lotless : ndarray of bool
        Rows a total word names; rows whose lot (or, without a column for it, first key) is empty.
    """
    size, lots = len(table.rows), table.where(LOT) or table.where(CODE)
    keys = {0, *(c for role in (TASTER, SESSION, STAGE, DESCRIPTOR) for c in table.where(role))} - {*lots}
    cells = {c: table.sheet.columns[c].take(table.rows) for c in (*lots, *keys)}
    words = {c: column.mask(lambda v: is_total(v) and plain(v) not in sure) for c, column in cells.items()}
    lotless = np.logical_and.reduce([np.ones(size, bool), *(cells[c].mask(is_empty) for c in lots)])
    named = np.logical_or.reduce([np.zeros(size, bool), *(words[c] for c in lots), *(lotless & words[c] for c in keys)])
    return named, lotless if lots else np.zeros(size, bool)
