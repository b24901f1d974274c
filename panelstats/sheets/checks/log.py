"""What the checks find: problems with their places, notes, questions, and which marks cannot be used."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from panelstats.scores.spelling import tidy
from panelstats.sheets.content.text import Kind
from panelstats.sheets.room.problems import Problems

if TYPE_CHECKING:
    from panelstats.sheets.files.grid import Sheet
    from panelstats.sheets.marks.marks import Marks
    from panelstats.sheets.room.inquiry import Inquiry
    from panelstats.sheets.tables.table import Flaw, Table

_EACH = 6  # rows up to which each is told; of more only the first, with their number (ours)


@dataclass
class Log:
    """What the checks find: problems, notes (what, value, why), and a mask of the marks that cannot be used.

    Marks that wait for the answer to a question of `inquiry` are bad until it is given.
    `facts` counts the cells of each table that contradict what is said of their lot before.
    """

    tables: list[Table]
    bad: np.ndarray
    inquiry: Inquiry
    problems: Problems = field(default_factory=Problems)
    notes: list[tuple[str, str, str]] = field(default_factory=list)
    facts: Counter[int] = field(default_factory=Counter)

    def where(self, marks: Marks, i: int) -> tuple[Sheet, int, int]:
        """Sheet, row and column of a mark."""
        return self.tables[marks.table[i]].sheet, int(marks.row[i]), int(marks.column[i])

    def cell(self, marks: Marks, i: int) -> tuple[Sheet, int, int, object, str]:
        """Where a mark stands, what stands there, and under which heading."""
        sheet, row, column = self.where(marks, i)
        return sheet, row, column, sheet.columns[column].at(row), self.tables[marks.table[i]].headers[column]

    def key_place(self, marks: Marks, i: int, role: str) -> tuple[Sheet, int | None, int]:
        """Where a key of a mark stands; of one that no column holds, the column of the mark."""
        sheet, row, column = self.where(marks, i)
        columns = self.tables[marks.table[i]].where(role)
        return (sheet, row, columns[0]) if columns else (sheet, None, column)

    def cells(self, marks: Marks, mask: np.ndarray, reason: str, action: str) -> None:
        """One problem for each cell."""
        mask = mask & ~self.bad
        for i in np.flatnonzero(mask).tolist():
            sheet, row, column, value, header = self.cell(marks, i)
            self.problems.add(sheet, (row, column), value, (header, reason, action))
        self.bad |= mask

    def contents(self, marks: Marks, mask: np.ndarray, reason: str, action: str) -> None:
        """One problem for each distinct content of each table and column, at its first cell."""
        mask = mask & ~self.bad
        alike: dict[tuple[int, str, str], list[int]] = {}
        for i in np.flatnonzero(mask).tolist():
            *_, value, header = self.cell(marks, i)
            alike.setdefault((int(marks.table[i]), header, tidy(value)), []).append(i)
        for (_, header, value), cells in alike.items():
            sheet, row, column, *_ = self.cell(marks, cells[0])
            told = f"{reason}, {len(cells)} cells" if len(cells) > 1 else reason
            self.problems.add(sheet, (row, column), value, (header, told, action))
        self.bad |= mask

    def flaw(self, marks: Marks, number: int, flaw: Flaw) -> None:
        """One problem for a row or column of a table as a whole."""
        table = self.tables[number]
        header = "" if flaw.column is None else table.headers[flaw.column]
        if flaw.reason:
            self.problems.add(table.sheet, (flaw.row, flaw.column), flaw.value, (header, flaw.reason, flaw.action))
        mask = marks.table == number
        if flaw.row is not None:
            mask = mask & (marks.row == flaw.row)
        if flaw.column is not None:
            mask = mask & (marks.column == flaw.column)
        self.bad |= mask

    def rows(self, marks: Marks, mask: np.ndarray, role: str, told: tuple[str, str]) -> None:
        """One problem for each row whose key `role` cannot be used; only rows that hold a mark count."""
        mask = mask & ~self.bad
        live = mask & (marks.kind != Kind.BLANK)
        reason, action = told
        places: dict[int, dict[int, int]] = {}
        for i in np.flatnonzero(live).tolist():
            places.setdefault(int(marks.table[i]), {}).setdefault(int(marks.row[i]), i)
        for number, rows in places.items():
            table = self.tables[number]
            columns = table.where(role)
            header = table.headers[columns[0]] if columns else role
            many = len(rows) > _EACH
            what = f"{reason}, {len(rows)} rows" if many else reason
            for row, i in list(rows.items())[: 1 if many else None]:
                value = table.sheet.columns[columns[0]].at(row) if columns else marks.keys[role].at(i)
                where = (row, columns[0] if columns else None)
                self.problems.add(table.sheet, where, value, (header, what, action))
        self.bad |= mask
