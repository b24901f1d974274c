"""Problems: all gathered, then told at once, grouped, each with its place and what to do."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import pandas as pd

from panelstats.errors import IN_PYTHON, SheetError
from panelstats.scores.spelling import tidy
from panelstats.speech import Phrase, heard
from panelstats.words import column_letters, stated

if TYPE_CHECKING:
    from panelstats.sheets.files.grid import Sheet

COLUMNS = ["file", "sheet", "row", "column", "value", "reason", "action", "cell"]
SHOWN = 20
_LONGEST = 60
GO_ON = f"--set-aside{IN_PYTHON}"
_PLACE = {
    "sheet": Phrase("sheet {it}"),
    "row": Phrase("row {it}"),
    "column": Phrase("column {it}"),
    "value": Phrase("value {it}"),
}


def shown(value: object) -> str:
    """A content as a message shows it: one line, cut where it is long."""
    text = tidy(value)
    return text if len(text) <= _LONGEST else f"{text[:_LONGEST]}... ({len(text):,} characters)"


@dataclass
class Problems:
    """Every problem met so far; `row` is the number a person sees, 0 where a whole sheet or column is meant.

    `cell` is where a spreadsheet shows it; a whole column is shown at its heading.
    """

    found: list[tuple[str, str, int, str, str, str, str, str]] = field(default_factory=list)

    def add(
        self, sheet: Sheet, where: tuple[int | None, int | None], value: object, told: tuple[str, str, str]
    ) -> None:
        """Note one problem at (row, column), indices into the sheet; `told` is column name, reason and action."""
        row, column = where
        number = 0 if row is None else int(row) + sheet.first_row
        address = f"{column_letters((column or 0) + sheet.first_column)}{max(number, sheet.first_row)}"
        name, reason, action = told
        self.found.append((sheet.file, sheet.name, number, name, shown(value), reason, action, address))

    def add_unread(self, file: str, sheet: str, error: SheetError) -> None:
        """Note a file or sheet that could not be read at all."""
        what, _, do = error.args
        self.found.append((file, sheet, 0, "", "", what, do, "A1"))

    def frame(self) -> pd.DataFrame:
        """All problems in order of file, sheet, row."""
        table = pd.DataFrame(self.found, columns=COLUMNS)
        return table.sort_values(["file", "sheet", "row"], kind="stable", ignore_index=True)


def place(problem: pd.Series) -> str:
    """Where a problem stands: file, sheet, row, column and value."""
    told = [
        _PLACE[name].format(it=repr(problem[name]) if name == "value" else problem[name])
        for name in _PLACE
        if problem[name]
    ]
    return ", ".join([problem["file"], *told])


def as_error(problems: pd.DataFrame, *, may_go_on: bool = True) -> SheetError:
    """One error that tells all problems: the first twenty in full, grouped by what is wrong."""
    groups = list(problems.groupby(["reason", "action"], sort=False))
    if len(problems) == 1:
        row = problems.iloc[0]
        return SheetError(
            row["reason"],
            place(row),
            heard(row["action"])
            + (Phrase("; or go on without it: {option}").format(option=GO_ON) if may_go_on else ""),
            problems,
        )
    what: list[str] = []
    where: list[str] = []
    do: dict[str, list[str]] = {}
    left = SHOWN
    for number, ((reason, action), rows) in enumerate(groups, 1):
        what.append(f"({number}) {heard(str(reason))}: {len(rows)}")
        where += [f"({number}) {place(row)}" for _, row in rows.head(left).iterrows()]
        left -= min(left, len(rows))
        do.setdefault(heard(str(action)), []).append(f"({number})")
    if len(problems) > SHOWN:
        more = stated(len(problems) - SHOWN, ",")
        where.append(Phrase("and {more} more, all in the table of problems").format(more=more))
    todo = [f"{' '.join(numbers)} {action}" for action, numbers in do.items()]
    if may_go_on:
        told = Phrase("or go on without them, which the account will tell: {option}")
        todo.append(told.format(option=GO_ON))
    margin = "\n         "
    head = Phrase("{n} problems in the sheets").format(n=stated(len(problems), ","))
    return SheetError(head + margin + margin.join(what), margin.join(where), margin.join(todo), problems)
