"""The twin of a picture in words, from the same rows: what is to be acted on first, or the ends of an order."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from panelstats.report.charts.shapes import URGENT
from panelstats.result import Mark
from panelstats.speech import Phrase, said
from panelstats.words import FROM_TO, capital, count, decimals, interval, listing, number, percent, stated

if TYPE_CHECKING:
    from collections.abc import Iterable

    from panelstats.result import Chart, Row

_NAMED = 3  # rows named at each end of an order


def in_words(chart: Chart, thing: str = "row") -> str:
    """Every row by its word, what is to be acted on first; rows without words from the highest to the lowest.

    Parameters
    ----------
    chart : Chart
    thing : str
        What a row is called: row, lot, descriptor.
    """
    rows = [row for row in chart.rows if not (math.isnan(row.value) and math.isnan(row.low) and not row.note)]
    parts = [f"{_counted(len(rows), thing)}; {chart.axis}."]
    if any(row.note for row in rows):
        rows = sorted(rows, key=lambda row: (row.mark not in URGENT, row.mark is not Mark.OPEN))
        for word in dict.fromkeys(row.note for row in rows):
            some = [told(row, chart) for row in rows if row.note == word]
            parts.append(f"{capital(said(word))}: {'; '.join(some)}.")
        return " ".join(parts)
    return " ".join([*parts, *_ordered(rows, chart)])


def _counted(n: int, thing: str) -> str:
    told = {"row": count(n, "row"), "lot": count(n, "lot"), "descriptor": count(n, "descriptor")}
    return told[thing]


def _ordered(rows: list[Row], chart: Chart) -> Iterable[str]:
    ordered = sorted(rows, key=lambda row: -row.value)
    every = [told(row, chart) for row in ordered]
    if len(rows) <= 2 * _NAMED:
        yield Phrase("From the highest: {every}.").format(every="; ".join(every))
    else:
        highest, lowest = "; ".join(every[:_NAMED]), "; ".join(every[: -_NAMED - 1 : -1])
        yield Phrase("Highest: {every}. Lowest: {every_2}.").format(every=highest, every_2=lowest)
    if faulty := [row.label for row in rows if row.mark is Mark.FAULT]:
        yield Phrase("A fault was noticed in {faulty}.").format(faulty=listing(faulty))
    if again := [row.label for row in rows if row.mark is Mark.AGAIN]:
        yield Phrase("To be looked at again: {again}.").format(again=listing(again))


def told(row: Row, chart: Chart) -> str:
    """One row: its estimate, the interval its call goes by, and what is tolerated."""
    name = f"{row.group}, {row.label}" if row.group and row.note else row.label
    if math.isnan(row.value):
        return Phrase("{name}, no estimate").format(name=name)
    thick = not (math.isnan(row.inner_low) or row.mark in URGENT)
    low, high = (row.inner_low, row.inner_high) if thick else (row.low, row.high)
    if math.isnan(high - low) and not math.isinf(low + high):
        return Phrase("{name} {value} (interval not known)").format(name=name, value=_value(row.value, 1, chart))
    places = decimals((high - low) / 4)
    between = interval(low, high, places, sign=_signed(chart))
    if chart.percent:
        between = FROM_TO.format(low=percent(low), high=percent(high))
    size = Phrase(", tolerance {ceiling}").format(ceiling=stated(row.ceiling, ".3g"))
    size = size if math.isfinite(row.ceiling) and row.floor == -row.ceiling else ""
    return f"{name} {_value(row.value, places, chart)} ({between}){size}"


def _value(value: float, places: int, chart: Chart) -> str:
    return percent(value) if chart.percent else number(value, places, sign=_signed(chart))


def _signed(chart: Chart) -> bool:
    """Differences from zero carry their sign."""
    return chart.zero == 0
