"""Problems: all gathered, then told at once, grouped, each with its place and what to do."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import pandas as pd

from panelstats.errors import SheetError
from panelstats.scores.text import tidy

if TYPE_CHECKING:
    from panelstats.scores.grid import Sheet

COLUMNS = ["file", "sheet", "row", "column", "value", "reason", "action"]
SHOWN = 20
_LONGEST = 60


def shown(value: object) -> str:
    """A content as a message shows it: one line, cut where it is long."""
    text = tidy(value)
    return text if len(text) <= _LONGEST else f"{text[:_LONGEST]}... ({len(text):,} characters)"


@dataclass
class Problems:
    """Every problem met so far; `row` is the number a person sees, 0 where a whole sheet or column is meant."""

    found: list[tuple[str, str, int, str, str, str, str]] = field(default_factory=list)

    def add(self, sheet: Sheet, row: int | None, column: str, value: object, reason: str, action: str) -> None:
        """Note one problem; `row` is an index into the sheet's rows."""
        number = 0 if row is None else int(row) + sheet.first_row
        self.found.append((sheet.file, sheet.name, number, column, shown(value), reason, action))

    def add_unread(self, file: str, sheet: str, error: SheetError) -> None:
        """Note a file or sheet that could not be read at all."""
        what, _, do = error.args
        self.found.append((file, sheet, 0, "", "", what, do))

    def frame(self) -> pd.DataFrame:
        """All problems in order of file, sheet, row."""
        table = pd.DataFrame(self.found, columns=COLUMNS)
        return table.sort_values(["file", "sheet", "row"], kind="stable", ignore_index=True)


def place(problem: pd.Series) -> str:
    """Where a problem stands: file, sheet, row, column and value."""
    parts = [problem["file"], f"sheet {problem['sheet']}" if problem["sheet"] else ""]
    parts += [
        f"row {problem['row']}" if problem["row"] else "",
        f"column {problem['column']}" if problem["column"] else "",
    ]
    parts += [f"value {problem['value']!r}" if problem["value"] else ""]
    return ", ".join(part for part in parts if part)


def as_error(problems: pd.DataFrame) -> SheetError:
    """One error that tells all problems: the first twenty in full, grouped by what is wrong."""
    groups = list(problems.groupby(["reason", "action"], sort=False))
    if len(problems) == 1:
        row = problems.iloc[0]
        return SheetError(row["reason"], place(row), row["action"], problems)
    what, where, do = [], [], []
    left = SHOWN
    for number, ((reason, action), rows) in enumerate(groups, 1):
        what.append(f"({number}) {reason}: {len(rows)}")
        where += [f"({number}) {place(row)}" for _, row in rows.head(left).iterrows()]
        left -= min(left, len(rows))
        do.append(f"({number}) {action}")
    if len(problems) > SHOWN:
        where.append(f"and {len(problems) - SHOWN:,} more, all in the table of problems")
    margin = "\n         "
    head = f"{len(problems):,} problems in the sheets" + margin + margin.join(what)
    return SheetError(head, margin.join(where), margin.join(do), problems)
