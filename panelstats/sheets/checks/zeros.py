"""Zeros that may be blanks: one taster writes 0 where the others leave the cell empty."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from panelstats.scores.cells import DESCRIPTOR, LOT, POT, SCORE, SESSION, TASTER
from panelstats.sheets.content.text import Kind

if TYPE_CHECKING:
    from panelstats.sheets.checks.log import Log
    from panelstats.sheets.marks.marks import Marks

_FEW = 3  # zeros below which nobody is asked (ours)


def ask_about_zeros(marks: Marks, log: Log) -> None:
    """Ask whether zeros of one taster, where nobody else scored and all other marks are 1 or more, are blanks."""
    scored = marks.of(SCORE) & ~log.bad
    number = scored & (marks.kind == Kind.NUMBER)
    zero = number & (marks.number == 0)
    if zero.sum() < _FEW:
        return
    tasters = marks.keys[TASTER]
    who = np.unique(tasters.codes[zero])
    rest = marks.number[number & ~zero]
    if len(who) > 1 or len(tasters.met) < 2 or not len(rest) or rest.min() < 1:
        return
    mine = tasters.codes == who[0]
    place = marks.place(SESSION, LOT, POT, DESCRIPTOR)
    others, shared = place[number & ~mine], place[number & mine & ~zero]
    if (
        (mine & scored & (marks.kind == Kind.BLANK)).any()
        or np.isin(place[zero], others).any()
        or not np.isin(shared, others).any()
    ):
        return
    sheet, row, column, _, head = log.cell(marks, int(np.flatnonzero(zero)[0]))
    name = str(tasters.values[who[0]])
    answer = log.inquiry.ask(
        f"Are the zeros of {name!r} scores, or cells left blank?", (sheet, row, column, 0, head),
        seen=f"{int(zero.sum())} zeros, all where the others scored nothing", guess="blanks",
        allowed=("blanks", "scores"), reason=f"{int(zero.sum())} zeros of {name!r} where the others scored nothing",
    )  # fmt: skip
    if answer == "blanks":
        marks.blank(zero)
    elif not answer:
        log.bad |= zero
