"""The error of a source that holds no mark: what stopped each file, what was found instead, or that it is empty."""

from __future__ import annotations

from typing import TYPE_CHECKING

from panelstats.errors import SheetError
from panelstats.sheets.content.roles import DERIVED, FACT, role_of
from panelstats.sheets.content.text import are_numbers
from panelstats.sheets.marks import kinds
from panelstats.sheets.room.problems import as_error
from panelstats.speech import said

if TYPE_CHECKING:
    from panelstats.sheets.reading.examine import Found
    from panelstats.sheets.tables.table import Table


def nothing_read(found: Found) -> SheetError:
    """The error where no score is left: what stopped each file, or that there was none."""
    problems = found.problems
    if len(problems):
        return as_error(problems, may_go_on=False)
    where = ", ".join(dict.fromkeys(s.label for s in found.sheets)) or "the source"
    if heads := _only_figures(found.tables):
        what = f"the sheets hold no mark, only what was worked out from several: {heads}"
        do = (
            "give the marks themselves (in a pivot table put taster and pot among its rows, so that each figure is one "
            f"mark); or say in room.xlsx, sheet headings, that each of these is one mark already ({found.start})"
        )
        return SheetError(what, where=where, do=do)
    if found.tables:
        do = f"fill in the scores; or say in room.xlsx, sheet headings, which column holds them ({found.start})"
        return SheetError("the sheets hold no score", where=where, do=do)
    if not found.sheets and found.notes:  # what is there is no score sheet
        where = "; ".join(f"{label}: {said(what)}, {said(why)}" for label, what, why in found.notes)
    return SheetError("there is nothing to read", where=where, do="give a file or folder that holds score sheets")


def _only_figures(tables: list[Table]) -> str:
    """Headings of averages and the like with numbers under them, where no other column may hold marks; "" else."""
    heads = [(t, c, head) for t in tables for c, head in enumerate(t.headers) if head]
    figures = [head for t, c, head in heads if t.roles[c] == DERIVED and are_numbers(t.cells(c).said).any()]
    others = any(t.roles[c] in kinds.MARK_ROLES or (t.roles[c] == FACT and not role_of(head)) for t, c, head in heads)
    return "" if others else ", ".join(dict.fromkeys(figures))
