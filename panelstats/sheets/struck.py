"""Cells that somebody struck out, and comments on cells: asked about, or said, never passed over."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from panelstats.sheets.problems import letters
from panelstats.sheets.text import Kind

if TYPE_CHECKING:
    from panelstats.sheets.check import Log
    from panelstats.sheets.grid import Sheet
    from panelstats.sheets.inquiry import Inquiry
    from panelstats.sheets.marks import Marks

_SHOWN = 30
WITHDRAWN, STANDING = "withdrawn", "count as they stand"


def ask_about_struck(marks: Marks, log: Log, inquiry: Inquiry) -> None:
    """Ask whether marks struck out, or in a row whose keys are struck out, are withdrawn; withdrawn ones become blanks.

    Parameters
    ----------
    marks : Marks
        All marks.
    log : Log
        Takes the marks that must wait.
    inquiry : Inquiry
        Takes a question for each sheet.
    """
    for number, table in enumerate(log.tables):
        cells = table.sheet.struck
        if not cells:
            continue
        rows = {r for r, c in cells if table.roles[c] not in ("", "score", "fault", "word")}
        mine = marks.table == number
        hit = np.flatnonzero(mine & (marks.kind != Kind.BLANK))
        hit = hit[[(int(marks.row[i]), int(marks.column[i])) in cells or int(marks.row[i]) in rows for i in hit]]
        if not len(hit):
            continue
        places = [address(table.sheet, int(marks.row[i]), int(marks.column[i])) for i in hit]
        some = ", ".join(places[:12]) + (" ..." if len(places) > 12 else "")
        first = hit[0]
        row, column = int(marks.row[first]), int(marks.column[first])
        answer = inquiry.ask(
            f"Scores struck out: are they withdrawn, or do they count ({some})?",
            (table.sheet, row, column, table.sheet.columns[column].at(row), table.headers[column]),
            seen=f"{len(hit)} cells", guess=WITHDRAWN, allowed=(WITHDRAWN, STANDING),
            reason=f"{len(hit)} scores struck out",
        )  # fmt: skip
        if answer == WITHDRAWN:
            marks.kind[hit], marks.number[hit] = Kind.BLANK, np.nan
            log.notes.append(
                (f"{len(hit)} scores of {table.sheet.label}", "blank", "struck out, withdrawn as answered")
            )
        elif not answer:
            log.bad[hit] = True


def address(sheet: Sheet, row: int, column: int) -> str:
    """Where a spreadsheet shows a cell."""
    return f"{letters(column + sheet.first_column)}{row + sheet.first_row}"


def comments_said(sheet: Sheet) -> list[tuple[str, str, str]]:
    """What comments on the cells of a sheet say, a note each."""
    some = sorted(sheet.comments.items())
    told = [
        (f"comment on {address(sheet, *place)} of {sheet.label}", text[:200], "a comment is no score; said here only")
        for place, text in some[:_SHOWN]
    ]
    more = len(some) - _SHOWN
    return told + ([(f"{more} more comments of {sheet.label}", "not shown", "look at the sheet")] if more > 0 else [])
