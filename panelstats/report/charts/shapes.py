"""The mark beside a verdict's word: shown within, shown outside and which way, or cannot tell.

The word always stands first; the mark repeats it as a shape. On every page a scale runs from left to right, so a
triangle to the right means higher.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from panelstats.result import Act, Mark
from panelstats.speech import Phrase

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from panelstats.result import Chart, Verdict

CANNOT_TELL = "cannot tell"
# Numbers of a verdict that are signed deviations from what was expected; the first one found wins.
_SIGNED = ("deviation", "change")


# Shapes that ask for something to be done; they alone carry the accent.
URGENT = frozenset({Mark.HIGHER, Mark.LOWER, Mark.APART, Mark.FAULT, Mark.AGAIN})
_MEANINGS = {
    Mark.WITHIN: Phrase("shown within what is tolerated"),
    Mark.HIGHER: Phrase("shown outside, the way it points"),
    Mark.LOWER: Phrase("shown outside, the way it points"),
    Mark.APART: Phrase("shown outside"),
    Mark.OPEN: Phrase("cannot tell: not the same as no difference"),
    Mark.FAULT: Phrase("a fault was noticed"),
    Mark.AGAIN: Phrase("taste this one again"),
}


def key(charts: Iterable[Chart]) -> list[tuple[str, str]]:
    """The shapes of some charts and what they mean, only those that occur; of two that say one thing the first."""
    drawn = list(charts)
    rows = [row for chart in drawn for part in chart.columns or (chart,) for row in part.rows]
    thick = any(math.isfinite(row.inner_low) for row in rows)
    unjudged = any(row.mark is None and math.isfinite(row.low) for row in rows)
    usual = "both" if thick else "dot" if unjudged and not drawn[0].columns else "interval"
    lines = {chart.words: "level" if chart.along else usual for chart in drawn if chart.words}
    if any(math.isfinite(row.floor) or math.isfinite(row.ceiling) for row in rows):
        lines.setdefault(drawn[0].band, "band")
    if any(math.isfinite(row.standard) for row in rows):
        lines[str(Phrase("the standard"))] = "standard"
    if any(math.isfinite(row.earlier) for row in rows):
        lines[str(Phrase("its class last season"))] = "earlier"
    for mark, words in _MEANINGS.items():
        if any(row.mark is mark for row in rows):
            lines.setdefault(str(words), mark.value)
    if unjudged and drawn[0].columns:
        lines[str(Phrase("grey: shown, not judged"))] = "unjudged"
    return [(shape, words) for words, shape in lines.items()]


def mark(verdict: Verdict) -> Mark:
    """The shape that repeats a verdict's call.

    Examples
    --------
    >>> from panelstats.result import Act, Verdict
    >>> mark(Verdict("Do the lots differ?", "strength", "cannot tell", "...", act=Act.TASTE_AGAIN))
    <Mark.OPEN: 'open'>
    >>> mark(Verdict("Level?", "beech", "apart", "...", {"deviation": -0.8}, act=Act.DECIDE))
    <Mark.LOWER: 'lower'>
    """
    if verdict.call == CANNOT_TELL or verdict.act == Act.TASTE_AGAIN:
        return Mark.OPEN
    if verdict.act == Act.KNOW:
        return Mark.WITHIN
    way = _way(verdict.numbers)
    return Mark.HIGHER if way > 0 else Mark.LOWER if way < 0 else Mark.APART


def _way(numbers: Mapping[str, float]) -> float:
    """Which way the deviation goes: its sign, 0 where it has none."""
    if "estimate" in numbers and math.isfinite(numbers.get("floor", -math.inf)):  # a ceiling alone limits a size
        above = numbers["estimate"] > numbers.get("ceiling", math.inf)
        return float(above) - float(numbers["estimate"] < numbers["floor"])
    return next((numbers[name] for name in _SIGNED if name in numbers), 0.0)
