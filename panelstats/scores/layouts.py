"""Sheet -> Table: where the header stands, what each column is for, which rows hold marks."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np

from panelstats.errors import SheetError
from panelstats.scores.cells import DESCRIPTOR, LOT, SCORE, SESSION, STAGE, TASTER
from panelstats.scores.columns import (
    CODE,
    FACT,
    KEY_ROLES,
    LEFT_OUT,
    STAGES,
    SYNONYMS,
    Wishes,
)
from panelstats.scores.grid import Factor, Sheet
from panelstats.scores.text import Parsed, is_empty, parse, plain, tidy

if TYPE_CHECKING:
    from collections.abc import Mapping

SEARCHED = 40  # rows in which a header is looked for
TOTALS = frozenset(
    ["total", "totals", "sum", "mean", "average", "avg", "means", "averages", "grand total", "grand mean", "overall mean", "sd",
     "st dev", "stdev", "std", "min", "max", "minimum", "maximum", "median", "count", "range"]
)  # fmt: skip


@dataclass(frozen=True, eq=False)
class Table:
    """A sheet understood: `rows` are indices of the rows that hold marks, the lists run over columns.

    Attributes
    ----------
    sheet : Sheet
        Where it came from.
    headers, roles, names : list of str
        Header as typed, role ("" where unknown), and the name it takes.
    rows : ndarray of int
        Data rows.
    notes : list of tuple
        What was left out or mended: (what, value, why).
    extra : dict of Factor
        Key roles that no column holds but the layout told (a taster named above the marks).
    """

    sheet: Sheet
    headers: list[str]
    roles: list[str]
    names: list[str]
    rows: np.ndarray
    notes: list[tuple[str, str, str]] = field(default_factory=list)
    extra: dict[str, Factor] = field(default_factory=dict)
    _cells: dict[int, Factor] = field(default_factory=dict)
    _parsed: dict[tuple[int, str], Parsed] = field(default_factory=dict)

    def cells(self, column: int) -> Factor:
        """What the data rows of one column hold."""
        if column not in self._cells:
            self._cells[column] = self.sheet.columns[column].compact(self.rows)
        return self._cells[column]

    def parsed(self, column: int, decimal: str, marks: Mapping[str, float]) -> Parsed:
        """The distinct contents of one column read as scores; `marks` is the room's, the same at every call."""
        if (column, decimal) not in self._parsed:
            self._parsed[column, decimal] = parse(self.cells(column).values, decimal=decimal, marks=marks)
        return self._parsed[column, decimal]

    def where(self, role: str) -> list[int]:
        """Columns of one role."""
        return [c for c, r in enumerate(self.roles) if r == role]

    @property
    def is_long(self) -> bool:
        """A row per score, rather than a column per descriptor."""
        return bool(self.where(DESCRIPTOR) and self.where(SCORE))


def understand(sheet: Sheet, wishes: Wishes) -> Table | None:
    """The table in a sheet; None where the sheet is empty.

    Raises
    ------
    SheetError
        No row names the lot (or a code) among its headers.
    """
    if not len(sheet):
        return None
    top = -1 if sheet.headers is not None else _header_row(sheet, wishes)
    headers = list(sheet.headers) if sheet.headers is not None else [tidy(v) for v in sheet.row(top)]
    headers = [tidy(h) for h in headers]
    above = _stages_above(sheet, top)
    roles, names = _roles(headers, wishes)
    names = [
        f"{stage} {name}" if stage and not role else name for stage, role, name in zip(above, roles, names, strict=True)
    ]
    table = Table(sheet, headers, roles, names, np.arange(top + 1, len(sheet)))
    if not table.where(LOT) and not table.where(CODE):
        raise no_lot(sheet, headers)
    return _data_rows(_one_column_a_role(table), top)


def no_lot(sheet: Sheet, headers: list[str]) -> SheetError:
    """The error for a sheet in which no column is the lot."""
    found = ", ".join(h for h in headers[:30] if h) or "no header"
    return SheetError(
        "no column says which lot was tasted", where=f"{sheet.label}, headers found: {found}",
        do='name the column: columns={"their header": "lot"} (--column "their header=lot"), or leave the sheet out',
    )  # fmt: skip


def _header_row(sheet: Sheet, wishes: Wishes) -> int:
    """The row, among the first, that names most roles, the lot or a code among them; ties go to the upper one."""
    best, most = -1, 0
    first = None
    for row in range(min(SEARCHED, len(sheet))):
        cells = [tidy(v) for v in sheet.row(row)]
        filled = [c for c in cells if c]
        if first is None and len(filled) > 1:
            first = filled
        roles = [wishes.role(c)[0] for c in filled]
        if len(set(filled)) > 1 and (LOT in roles or CODE in roles) and sum(map(bool, roles)) > most:
            best, most = row, sum(map(bool, roles))
    if best < 0:
        raise no_lot(sheet, first or [])
    return best


def _stages_above(sheet: Sheet, top: int) -> list[str]:
    """Stage named in the row above each header, spread to the right as merged cells are; "" where none is."""
    if top < 1:
        return [""] * len(sheet.columns)
    above = [STAGES.get(plain(v), "") if tidy(v) else None for v in sheet.row(top - 1)]
    if not any(above):
        return [""] * len(sheet.columns)
    spread, last = [], ""
    for stage in above:
        last = last if stage is None else stage
        spread.append(last)
    return spread


def _roles(headers: list[str], wishes: Wishes) -> tuple[list[str], list[str]]:
    roles, names = [], []
    for header in headers:
        role, name = wishes.role(header) if header else ("", None)
        roles.append(role)
        names.append(name or header)
    return roles, names


def _one_column_a_role(table: Table) -> Table:
    """Keep one column for each key, the most outspoken; several that the user named join to one key."""
    roles, notes = list(table.roles), list(table.notes)
    for role in KEY_ROLES:
        found = [c for c in table.where(role) if _unasked(table, c, role)]
        if len(found) > 1:
            keep = min(found, key=lambda c: SYNONYMS[role].index(plain(table.headers[c])))
            for c in found:
                if c != keep:
                    roles[c] = FACT
                    notes.append(
                        (
                            f"column {table.headers[c]!r}",
                            "a fact, not a key",
                            f"{table.headers[keep]!r} names the {role}",
                        )
                    )
    return replace(table, roles=roles, notes=notes)


def _unasked(table: Table, column: int, role: str) -> bool:
    """Whether a column has its role from its own header, not from the user."""
    return plain(table.headers[column]) in map(plain, SYNONYMS[role])


def _data_rows(table: Table, top: int) -> Table:
    """Leave out blank rows, repeated headers and totals; the latter two are said."""
    sheet, rows = table.sheet, table.rows
    blank = np.ones(len(rows), bool)
    header = np.ones(len(rows), bool)
    for column in sheet.columns:
        codes = column.codes[rows]
        empty = np.fromiter(map(is_empty, column.values), bool, len(column.values))[codes]
        blank &= empty
        header &= empty | (codes == column.codes[top])
    header &= ~blank & (top >= 0)
    total = _totals(table) & ~blank
    notes = list(table.notes)
    for mask, what in ((header, "the header again"), (total, "totals, not marks")):
        if mask.any():
            numbers = ", ".join(str(r + sheet.first_row) for r in rows[mask][:10]) + (" ..." if mask.sum() > 10 else "")
            notes.append((f"{sheet.label}, row {numbers}", "left out", what))
    return replace(table, rows=rows[~(blank | header | total)], notes=notes, _cells={}, _parsed={})


def _totals(table: Table) -> np.ndarray:
    """Rows whose lot cell, or first cell where the lot is empty, says total, mean or the like."""
    rows = table.rows
    found = np.zeros(len(rows), bool)
    lots = table.where(LOT) or table.where(CODE)
    empty = np.ones(len(rows), bool)
    for c in lots:
        column = table.sheet.columns[c]
        words = [plain(v) for v in column.values]
        found |= np.fromiter((w in TOTALS for w in words), bool, len(words))[column.codes[rows]]
        empty &= np.fromiter((w == "" for w in words), bool, len(words))[column.codes[rows]]
    for c in {0, *table.where(TASTER), *table.where(SESSION), *table.where(STAGE)} - set(lots):
        column = table.sheet.columns[c]
        words = [plain(v) for v in column.values]
        found |= empty & np.fromiter((w in TOTALS for w in words), bool, len(words))[column.codes[rows]]
    return found


def left_out(table: Table) -> list[str]:
    """Headers the user asked to leave out."""
    return [h for h, r in zip(table.headers, table.roles, strict=True) if r == LEFT_OUT]
