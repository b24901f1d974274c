"""Which rows of a sheet hold marks: not the blank ones, the repeated headers, the totals."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from panelstats.scores.cells import LOT, SESSION, STAGE, TASTER
from panelstats.sheets.roles import CODE
from panelstats.sheets.tables import Flaw
from panelstats.sheets.text import is_empty, plain

if TYPE_CHECKING:
    from collections.abc import Iterable

    from panelstats.sheets.tables import Table

TOTALS = frozenset([
    "total", "totals", "sum", "mean", "average", "avg", "means", "averages", "grand total", "grand mean",
    "overall mean", "sd", "st dev", "stdev", "std", "min", "max", "minimum", "maximum", "median", "count", "range",
    "sub total", "subtotal",
])  # fmt: skip


def data_rows(table: Table, top: int) -> Table:
    """The table without blank rows, repeated headers and totals (the latter two are said); ragged rows are flaws."""
    sheet, rows = table.sheet, table.rows
    blank, header = np.ones(len(rows), bool), np.ones(len(rows), bool)
    for column in sheet.columns:
        codes = column.codes[rows]
        empty = _mask(map(is_empty, column.values), len(column.values))[codes]
        blank &= empty
        header &= empty | (codes == column.codes[top])
    header &= ~blank & (top >= 0)
    total = _totals(table) & ~blank
    notes = list(table.notes)
    for mask, what in ((header, "the header again"), (total, "totals, not marks")):
        if mask.any():
            numbers = ", ".join(str(r + sheet.first_row) for r in rows[mask][:10]) + (" ..." if mask.sum() > 10 else "")
            notes.append((f"{sheet.label}, row {numbers}", "left out", what))
    kept = rows[~(blank | header | total)]
    return replace(
        table, rows=kept, notes=notes, flaws=[*table.flaws, *_ragged(table, kept, top)], _cells={}, _parsed={}
    )


def _mask(values: Iterable[bool], size: int) -> np.ndarray:
    return np.fromiter(values, bool, size)


def _totals(table: Table) -> np.ndarray:
    """Rows whose lot cell, or first cell where the lot is empty, says total, mean or the like."""
    rows = table.rows
    found, empty = np.zeros(len(rows), bool), np.ones(len(rows), bool)
    lots = table.where(LOT) or table.where(CODE)
    for c in lots:
        column = table.sheet.columns[c]
        found |= _mask((plain(v) in TOTALS for v in column.values), len(column.values))[column.codes[rows]]
        empty &= _mask(map(is_empty, column.values), len(column.values))[column.codes[rows]]
    for c in {0, *table.where(TASTER), *table.where(SESSION), *table.where(STAGE)} - set(lots):
        column = table.sheet.columns[c]
        found |= empty & _mask((plain(v) in TOTALS for v in column.values), len(column.values))[column.codes[rows]]
    return found


def _ragged(table: Table, rows: np.ndarray, top: int) -> list[Flaw]:
    """Rows of a text file with fewer cells than the header, or with more that are not empty."""
    fields = table.sheet.fields
    if fields is None or top < 0:
        return []
    width = max((c + 1 for c, h in enumerate(table.headers) if h), default=0)
    odd = rows[(fields[rows] < width) | (fields[rows] > max(int(fields[top]), width))]
    flaws = []
    for row in odd:
        beyond = [c for c in range(width, len(table.sheet.columns)) if not is_empty(table.sheet.columns[c].at(row))]
        if fields[row] < width or beyond:
            reason = f"a row of {fields[row]} cells under a header of {width}"
            flaws.append(
                Flaw(
                    int(row),
                    None,
                    "",
                    reason,
                    "give the row as many cells as the header; quote a cell that holds the delimiter",
                )
            )
    return flaws
