"""How many cells of a column are numbers, blanks, dates, or like a mark; and the range of the numbers."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from panelstats.scores.spelling import tidy
from panelstats.sheets.content import text
from panelstats.sheets.content.text import Kind

if TYPE_CHECKING:
    from collections.abc import Mapping

    from panelstats.sheets.tables.table import Table

_LIKE_A_MARK = re.compile(r"[+\-\u2212]{1,5}|\(?[+-]?\d[\d.,]{0,6}.{0,6}")


@dataclass(frozen=True)
class Content:
    """How many cells of a column are numbers, blank, like a mark yet no number, and dates; and the range seen."""

    numbers: int = 0
    blanks: int = 0
    like: int = 0
    dates: int = 0
    others: int = 0
    low: float = np.inf
    high: float = -np.inf

    def __add__(self, other: Content) -> Content:
        return Content(
            self.numbers + other.numbers, self.blanks + other.blanks, self.like + other.like, self.dates + other.dates,
            self.others + other.others, min(self.low, other.low), max(self.high, other.high),
        )  # fmt: skip

    @property
    def filled(self) -> int:
        """Cells that hold anything."""
        return self.numbers + self.like + self.dates + self.others


def content_of(table: Table, column: int, marks: Mapping[str, float]) -> Content:
    """Count what a column holds, each distinct content looked at once."""
    factor = table.cells(column)
    parsed = table.parsed(column, marks)
    times = np.bincount(factor.codes, minlength=len(factor.values))
    number, blank = parsed.kind == Kind.NUMBER, parsed.kind == Kind.BLANK
    date = parsed.reason == text.A_DATE
    like = np.zeros(len(times), bool)
    for i in np.flatnonzero(~number & ~blank & ~date & (times > 0)):
        like[i] = parsed.reason[i] != text.NOT_A_NUMBER or bool(_LIKE_A_MARK.fullmatch(tidy(factor.values[i])))
    seen = parsed.number[number & (times > 0)]
    other = ~(number | blank | date | like)
    numbers, blanks, alike, dates, others = (int(times[m].sum()) for m in (number, blank, like, date, other))
    return Content(
        numbers, blanks, alike, dates, others, float(seen.min(initial=np.inf)), float(seen.max(initial=-np.inf))
    )
