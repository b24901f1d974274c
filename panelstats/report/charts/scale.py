"""The one scale of all rows that are drawn together: its ends, and its ticks in words."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from panelstats.words import MINUS, percent, stated

if TYPE_CHECKING:
    from collections.abc import Iterable

    from panelstats.result import Chart, Row

_ROOM = 0.04  # of the whole, beyond the outermost thing drawn


@dataclass(frozen=True)
class Scale:
    """Its ends, and where it is marked in which words."""

    low: float
    high: float
    ticks: tuple[tuple[float, str], ...]

    def within(self, value: float) -> float:
        """The value, or the end beyond which it lies."""
        return min(max(value, self.low), self.high)


def scale_of(charts: Iterable[Chart], *, most: int = 7) -> Scale:
    """One scale for charts that are read against one another.

    Every estimate and tolerance fits; an interval may reach as far again beyond them, and runs on over the end if it
    is longer. Where zero is the reference and both signs occur, it stands in the middle.

    Parameters
    ----------
    charts : iterable of Chart
        With one axis.
    most : int
        Ticks there may be.
    """
    drawn = list(charts)
    first, rows = drawn[0], [row for chart in drawn for row in chart.rows]
    low, high = first.ends or _ends(rows, first.zero)
    return Scale(low, high, tuple((value, _told(value, first, low)) for value in ticks(low, high, most=most)))


def _ends(rows: list[Row], zero: float) -> tuple[float, float]:
    core = [
        x
        for row in rows
        for x in (row.value, row.floor, row.ceiling, row.level, row.standard, row.earlier, zero)
        if math.isfinite(x)
    ]
    core += [x for row in rows if not math.isfinite(row.value) for x in (row.low, row.high) if math.isfinite(x)]
    far = [x for row in rows for x in (row.low, row.high, row.inner_low, row.inner_high) if math.isfinite(x)]
    if not core + far:
        return 0.0, 1.0
    low, high = min(core or far), max(core or far)
    reach = high - low or max(map(abs, [low, *far]))
    low, high = min([low, *(x for x in far if x >= low - reach)]), max([high, *(x for x in far if x <= high + reach)])
    if any(x < low for x in far):
        low = min(low, min(core or far) - reach)
    if any(x > high for x in far):
        high = max(high, max(core or far) + reach)
    if zero == 0 and low < 0:
        low, high = -max(-low, high), max(-low, high)
    room = _ROOM * ((high - low) or 1.0)
    return (low if zero == low else low - room), high + room


def ticks(low: float, high: float, *, most: int = 7) -> list[float]:
    """Round values from low to high, no more than `most`.

    Examples
    --------
    >>> ticks(-1.3, 1.3), ticks(0.0, 1.0, most=5)
    ([-1.0, -0.5, 0.0, 0.5, 1.0], [0.0, 0.25, 0.5, 0.75, 1.0])
    """
    power = 10.0 ** math.floor(math.log10((high - low) / most if high > low else 1.0))
    found: list[float] = []
    for step in (power * times for times in (1, 2, 2.5, 5, 10, 20)):
        first, last = math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9)
        found = [round(step * at, 10) + 0.0 for at in range(first, last + 1)]
        if len(found) <= most:
            break
    return found


def _told(value: float, chart: Chart, low: float) -> str:
    if chart.percent:
        return percent(abs(value))
    sign = "+" if chart.zero == 0 and low < 0 and value > 0 else ""
    return f"{sign}{stated(value)}".replace("-", MINUS)
