"""Number columns that do not look like the other scores: asked about, not scored."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from panelstats.scores.cells import DESCRIPTOR, SCORE, TASTER
from panelstats.scores.spelling import plain
from panelstats.sheets.content.roles import FACT, LEFT_OUT
from panelstats.sheets.content.totals import is_rank
from panelstats.sheets.tables.table import doubt

if TYPE_CHECKING:
    from collections.abc import Mapping

    from panelstats.sheets.marks.contents import Content
    from panelstats.sheets.room.inquiry import Inquiry
    from panelstats.sheets.tables.table import Table

# Headings of numbers that are no scores, beside ranks (common practice).
_NO_SCORES = frozenset(["id", "index", "temperature", "temp", "ph", "moisture", "time", "age"])
_FEW = 6  # numbers below which a column is too short to look like or unlike another (ours)


def ask_about_unlike(
    tables: list[Table], scored: Mapping[str, Content], sure: set[str], marks: Mapping[str, float], inquiry: Inquiry
) -> None:
    """Number columns that do not look like the other scores are asked about, not scored."""
    highs = {k: c.high for k, c in scored.items() if c.numbers >= _FEW}
    for key, content in scored.items():
        here = [(t, c) for t in tables if not t.is_down for c in t.where(SCORE) if plain(t.names[c]) == key]
        others = [h for k, h in highs.items() if k != key]
        why = "" if key in sure or not here else _of_nobody(here, tables) or _unlike(here, content, others, marks)
        if why:
            _ask_one(here, why, inquiry)


def _ask_one(here: list[tuple[Table, int]], why: str, inquiry: Inquiry) -> None:
    table, column = here[0]
    name = table.headers[column]
    values = table.cells(column).said[:3]
    answer = inquiry.ask(
        f"What stands under the heading {name!r}?", (table.sheet, None, column, "", name),
        seen=f"{', '.join(values)} ...",
        guess=FACT, allowed=(SCORE, FACT, LEFT_OUT), reason=why,
    )  # fmt: skip
    for one, c in here:
        if answer in (FACT, LEFT_OUT):
            one.roles[c] = answer
        elif not answer:
            one.flaws.append(doubt(column=c))


def _of_nobody(here: list[tuple[Table, int]], tables: list[Table]) -> str:
    """Why numbers may be facts: their sheet has no taster and no word of the sheets that name theirs; "" else."""
    mine = [table for table, _ in here]
    theirs = [t for t in tables if TASTER in t.roles or TASTER in t.across]
    words = {plain(t.names[c]) for t in theirs for c in t.where(SCORE)}
    words |= {plain(v) for t in theirs if DESCRIPTOR in t.extra for v in t.extra[DESCRIPTOR].values}
    words |= {plain(v) for t in theirs for c in t.where(DESCRIPTOR) for v in t.cells(c).values}
    if not words or any(t is other for t in mine for other in theirs):
        return ""
    if any(plain(t.names[c]) in words for t in mine for c in t.where(SCORE)):
        return ""
    return "numbers on a sheet that names no taster, beside sheets that name theirs"


def _unlike(here: list[tuple[Table, int]], content: Content, others: list[float], marks: Mapping[str, float]) -> str:
    """Why a number column does not look like a score, "" where it does."""
    table, column = here[0]
    if plain(table.names[column]) in _NO_SCORES or is_rank(table.names[column]):
        return "a number column whose heading names no score"
    far = bool(others) and content.high > 4 * max(others) > 0
    odd = len(others) >= 3 and content.high > 10 * float(np.median(others)) > 0
    if len(others) >= 2 and content.numbers >= _FEW and (far or odd):
        span = f"{content.low:g} to {content.high:g}"
        return f"a number column unlike the others: it runs {span}, they reach {max(others):g}"
    if others and content.low == 1 and content.high >= 8 and all(_counts_rows(t, c, marks) for t, c in here):
        return "a number column that counts 1, 2, 3 ... for each taster, as ranks and positions do"
    return ""


def _counts_rows(table: Table, column: int, marks: Mapping[str, float]) -> bool:
    """Whether every taster's numbers are 1 to n, each once, n at least 8."""
    number = table.numbers(column, marks)
    tasters = table.where(TASTER)
    group = table.cells(tasters[0]).codes if tasters else np.zeros(len(number), np.int32)
    frame = pd.DataFrame({"group": group, "number": number})
    seen = frame.groupby("group")["number"].agg(["min", "max", "count", "nunique"])
    return bool(
        ((seen["min"] == 1) & (seen["max"] == seen["count"]) & (seen["nunique"] == seen["count"])).all()
        and seen["count"].min() >= 8
    )
