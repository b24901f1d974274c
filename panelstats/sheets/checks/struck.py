"""Cells that somebody struck out, and comments on cells: asked about, or said, never passed over."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from panelstats.scores.spelling import tidy
from panelstats.sheets.content.text import Kind, decimal_style, parse
from panelstats.words import column_letters

if TYPE_CHECKING:
    from panelstats.sheets.checks.log import Log
    from panelstats.sheets.files.grid import Sheet
    from panelstats.sheets.marks.marks import Marks

_SHOWN = 30
WITHDRAWN, STANDING = "withdrawn", "count as they stand"
LEFT, WHOLE = "what is left", "all of it"


def ask_about_struck(marks: Marks, log: Log) -> None:
    """Ask whether marks struck out, or of a row whose keys are, are withdrawn: these become blanks."""
    for number, table in enumerate(log.tables):
        _ask_about_parts(marks, number, log)
        cells = {at for at, left in table.sheet.struck.items() if not left}
        if not cells:
            continue
        rows = {r for r, c in cells if table.roles[c] not in ("", "score", "fault", "word")}
        mine = marks.table == number
        hit = np.flatnonzero(mine & (marks.kind != Kind.BLANK))
        hit = hit[[(int(marks.row[i]), int(marks.column[i])) in cells or int(marks.row[i]) in rows for i in hit]]
        if not len(hit):
            continue
        some = ", ".join(address(*log.where(marks, i)) for i in hit[:12]) + (" ..." if len(hit) > 12 else "")
        answer = log.inquiry.ask(
            f"Scores struck out: are they withdrawn, or do they count ({some})?", log.cell(marks, hit[0]),
            seen=f"{len(hit)} cells", guess=WITHDRAWN, allowed=(WITHDRAWN, STANDING),
            reason=f"{len(hit)} scores struck out",
        )  # fmt: skip
        if answer == WITHDRAWN:
            marks.blank(hit)
            log.notes.append(
                (f"{len(hit)} scores of {table.sheet.label}", "blank", "struck out, withdrawn as answered")
            )
        elif not answer:
            log.bad[hit] = True


def _ask_about_parts(marks: Marks, number: int, log: Log) -> None:
    """Ask what counts of cells of which a part is struck out; of keys it is said that they were read whole."""
    table = log.tables[number]
    parts = {at: left for at, left in table.sheet.struck.items() if left}
    mine = np.flatnonzero((marks.table == number) & (marks.kind != Kind.BLANK)) if parts else np.zeros(0, int)
    hit = [i for i in mine if (int(marks.row[i]), int(marks.column[i])) in parts]
    here = {(int(marks.row[i]), int(marks.column[i])): i for i in hit}
    log.notes += [
        (f"cell {address(table.sheet, *at)} of {table.sheet.label}", "read whole", f"struck out but for {left!r}")
        for at, left in parts.items() if at not in here
    ]  # fmt: skip
    if not hit:
        return
    said = {at: tidy(table.sheet.columns[at[1]].at(at[0])) for at in here}
    shown = [f"{address(table.sheet, *at)}: {parts[at]} of {said[at]!r}" for at in here]
    first = next(iter(here))
    answer = log.inquiry.ask(
        f"Of cells of which a part is struck out, what counts ({'; '.join(shown[:8])})?",
        (table.sheet, *first, said[first], table.headers[first[1]]), seen=f"{len(hit)} cells", guess=LEFT,
        allowed=(LEFT, WHOLE, WITHDRAWN), reason=f"{len(hit)} cells of which a part is struck out",
    )  # fmt: skip
    if not answer:
        log.bad[hit] = True
    elif answer != WHOLE:
        left = ["" if answer == WITHDRAWN else parts[at] for at in here]
        read = parse(left, decimal=decimal_style(left))
        marks.kind[hit], marks.number[hit] = read.kind, read.number
        log.notes.append((f"{len(hit)} cells of {table.sheet.label}", answer, "a part is struck out; as answered"))


def address(sheet: Sheet, row: int, column: int) -> str:
    """Where a spreadsheet shows a cell."""
    return f"{column_letters(column + sheet.first_column)}{row + sheet.first_row}"


def comments_said(sheet: Sheet) -> list[tuple[str, str, str]]:
    """What comments on the cells of a sheet say, a note each."""
    some = sorted(sheet.comments.items())
    told = [
        (
            f"comment on {address(sheet, *place)} of {sheet.label}",
            text[:200],
            "said here; on a score it is kept as a remark",
        )
        for place, text in some[:_SHOWN]
    ]
    more = len(some) - _SHOWN
    return told + ([(f"{more} more comments of {sheet.label}", "not shown", "look at the sheet")] if more > 0 else [])
