"""The mark beside a verdict's word: shown within, shown outside and which way, or cannot tell.

The word always stands first; the mark repeats it as a shape. On every page a scale runs from left to right, so a
triangle to the right means higher.
"""

from __future__ import annotations

import math
from enum import Enum
from typing import TYPE_CHECKING

from panelstats.result import Act

if TYPE_CHECKING:
    from collections.abc import Mapping

    from panelstats.result import Verdict

CANNOT_TELL = "cannot tell"
# Numbers of a verdict that are signed deviations from what was expected; the first one found wins.
_SIGNED = ("deviation", "change")


class Mark(Enum):
    """Shapes; the value names the symbol of the page."""

    WITHIN = "within"
    HIGHER = "higher"
    LOWER = "lower"
    APART = "apart"
    OPEN = "open"


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
