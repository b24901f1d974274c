"""Cells that hold no usable score: errors, and figures beyond the scale; left out or mended as the room answers."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from panelstats.sheets.checks.struck import address
from panelstats.sheets.content import text
from panelstats.sheets.content.text import Kind

if TYPE_CHECKING:
    from panelstats.sheets.checks.log import Log
    from panelstats.sheets.marks.marks import Marks

BLANKS, MENDED, LEAVE_OUT = "blanks", "to be mended", "leave out"
_EACH = 6  # different figures up to which each is asked about (ours)
_SHOWN = 12


def ask_about_errors(marks: Marks, beside: np.ndarray, log: Log) -> None:
    """Ask of each sheet whether its error cells are blanks, and make them so; those beside the scores are left."""
    errors = marks.reason.mask(lambda reason: reason == text.AN_ERROR)
    errors &= (marks.kind == Kind.PROBLEM) & ~beside & ~log.bad
    for number in np.unique(marks.table[errors]):
        hit = np.flatnonzero(errors & (marks.table == number))
        some = _places(marks, hit, log)
        answer = log.inquiry.ask(
            f"Error cells ({some}): are they blanks, or to be mended?", log.cell(marks, hit[0]),
            seen=_counted(len(hit)), guess=BLANKS, allowed=(BLANKS, MENDED),
            reason=f"{text.AN_ERROR}, {len(hit)} cells" if len(hit) > 1 else text.AN_ERROR,
        )  # fmt: skip
        if answer == BLANKS:
            marks.blank(hit)
            log.notes.append((f"{_counted(len(hit))} with an error ({some})", "left out", "blanks, as answered"))
        elif not answer:
            log.bad[hit] = True


def outside(marks: Marks, hit: np.ndarray, told: tuple[str, str, str, str], log: Log) -> None:
    """Ask about figures that a scale does not hold: each may be left out, or written right.

    Parameters
    ----------
    marks : Marks
        Keys final; what is answered is changed.
    hit : ndarray of bool
        The marks.
    told : tuple of str
        Descriptor, what is wrong, the scale, and what else may be done.
    log : Log
        Takes notes, and the marks that must wait.
    """
    name, wrong, span, do = told
    hit = hit & ~log.bad
    figures = np.unique(marks.number[hit])
    if len(figures) > _EACH:
        log.cells(marks, hit, wrong, f"correct it, or {do}")
        return
    for figure in figures:
        mine = np.flatnonzero(hit & (marks.number == figure))
        some = _places(marks, mine, log)
        answer = log.inquiry.ask(
            f"{figure:g} under {name!r} ({some}) is {wrong} ({span}): {LEAVE_OUT}, or which score is right?",
            log.cell(marks, mine[0]), seen=_counted(len(mine)), guess=LEAVE_OUT, allowed=(LEAVE_OUT,),
            number=True, reason=wrong,
        )  # fmt: skip
        if answer == LEAVE_OUT:
            marks.blank(mine)
            log.notes.append((f"{figure:g} under {name!r} ({some})", "left out", f"{wrong}, as answered"))
        elif answer:
            marks.number[mine] = float(answer)
            log.notes.append((f"{figure:g} under {name!r} ({some})", answer, f"{wrong}, mended as answered"))
        else:
            log.bad[mine] = True


def _counted(cells: int) -> str:
    return "1 cell" if cells == 1 else f"{cells} cells"


def _places(marks: Marks, hit: np.ndarray, log: Log) -> str:
    return ", ".join(address(*log.where(marks, i)) for i in hit[:_SHOWN]) + (" ..." if len(hit) > _SHOWN else "")
