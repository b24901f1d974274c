"""A taster's sheet, row by row: what was found of each descriptor, and in which words."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from panelstats.panel.tasters.aspectcharts import ALL
from panelstats.panel.tasters.naming import APART, CANNOT
from panelstats.result import Mark
from panelstats.scores.cells import DESCRIPTOR, TASTER
from panelstats.speech import Phrase, said
from panelstats.words import decimals, interval, listing, number

if TYPE_CHECKING:
    import pandas as pd

    from panelstats.panel.tasters.fit import TasterAssessment
    from panelstats.panel.training.fit import TraineeAssessment
    from panelstats.result import Chart, Row

READY, NOT_YET = "ready", "not yet"
TRAINEE = "trainee"
FROM, TO = Phrase("from {x}"), Phrase("to {x}")
ALL_WORDS, OF_WORDS = Phrase("every word"), Phrase("{n} of {all} words")
ON, ON_MANY = Phrase("on {columns}"), Phrase("on {n} of {all} columns")
_NAMED = 4  # words named one by one; more are counted
_COLUMNS = 1  # columns named one by one


@dataclass(frozen=True)
class Line:
    """One descriptor: a cell per column, the word at its end with its mark, and why."""

    name: str
    cells: tuple[Row, ...]
    word: str
    mark: Mark
    why: str
    whole: bool = False


@dataclass(frozen=True)
class Sheet:
    """Everything a sheet shows of one taster; `bowls` are the lots to taste again."""

    chart: Chart
    lines: tuple[Line, ...]
    bowls: pd.DataFrame


def taster_sheet(assessment: TasterAssessment, taster: str) -> Sheet:
    """The sheet of a senior taster: a column per aspect that was judged."""
    chart = assessment.chart(taster=taster)
    table = assessment.table[assessment.table[TASTER].astype(str) == taster]
    open_ones = table[table["call"] == CANNOT]
    reasons = {name: list(dict.fromkeys(filter(None, some["reason"].astype(str))))
               for name, some in open_ones.groupby(open_ones[DESCRIPTOR].astype(str))}  # fmt: skip
    lines = []
    for row, cells in _cells(chart):
        name = "" if row.label == ALL else row.label
        why = _why(row, [(column.title, cell) for column, cell in zip(chart.columns, cells, strict=True)],
                   reasons.get(name, []))  # fmt: skip
        lines.append(Line(row.label, cells, row.note, row.mark or Mark.OPEN, why, whole=not name))
    bowls = assessment.taste_again
    return Sheet(chart, tuple(lines), bowls[bowls[TASTER].astype(str) == taster])


def _why(row: Row, cells: list[tuple[str, Row]], reasons: list[str]) -> str:
    """What lies outside and by how much; or what cannot be told, and why where there is one reason."""
    if row.note == APART:
        return "; ".join(f"{heading} {_with_interval(cell)}" for heading, cell in cells if cell.note == APART)
    if row.note != CANNOT:
        return ""
    open_ones = [heading for heading, cell in cells if cell.note == CANNOT]
    if len(open_ones) > _COLUMNS:
        return ON_MANY.format(n=len(open_ones), all=len(cells))
    on = ON.format(columns=listing(open_ones))
    return f"{on}: {said(reasons[0])}" if len(reasons) == 1 else on


def trainee_sheet(assessment: TraineeAssessment, trainee: str) -> Sheet:
    """The sheet of a trainee: level, use of the scale, repeats, and where the marks lie in the seniors' band."""
    chart = assessment.chart(taster=trainee)
    table = assessment.table[assessment.table[TRAINEE].astype(str) == trainee]
    pairs = zip(table["licence"], table["reason"], strict=True)
    whys = ["; ".join(map(said, filter(None, map(str, pair)))) for pair in pairs]
    heads = [column.title for column in chart.columns]
    lines = [Line(row.label, cells, row.note, row.mark or Mark.OPEN, _outside(row, heads, cells) or why)
             for (row, cells), why in zip(_cells(chart), whys, strict=True)]  # fmt: skip
    bowls = assessment.taste_again
    return Sheet(chart, tuple(lines), bowls[bowls[TRAINEE].astype(str) == trainee])


def _outside(row: Row, heads: list[str], cells: tuple[Row, ...]) -> str:
    """On which columns a word that does not count yet lies outside."""
    out = [head for head, cell in zip(heads, cells, strict=True) if cell.mark in (Mark.HIGHER, Mark.LOWER)]
    return ON.format(columns=listing(map(said, out))) if row.note == NOT_YET and out else ""


def some_of(names: list[str], of: int) -> str:
    """A few words listed, many counted, all of them called so.

    Examples
    --------
    >>> some_of(["brisk", "body"], 16), some_of(list("abcde"), 16), some_of(["brisk"], 1)
    ('brisk and body', '5 of 16 words', 'brisk')
    """
    if len(names) == of > 1:
        return str(ALL_WORDS)
    return listing(names) if len(names) <= _NAMED else OF_WORDS.format(n=len(names), all=of)


def _cells(chart: Chart) -> list[tuple[Row, tuple[Row, ...]]]:
    """Every row with its cells."""
    return [(row, tuple(column.rows[at] for column in chart.columns)) for at, row in enumerate(chart.rows)]


def cell_words(cell: Row) -> str:
    """One cell in words: the estimate, what is tolerated, the call."""
    ends = [way.format(x=number(x, 2)) for way, x in ((FROM, cell.floor), (TO, cell.ceiling)) if math.isfinite(x)]
    called = said(cell.note or ("not judged" if cell.mark is None else ""))
    tolerated = Phrase("tolerated {part}").format(part=" ".join(ends) or Phrase("all"))
    return "; ".join(filter(None, [_with_interval(cell), tolerated, called]))


def _with_interval(cell: Row) -> str:
    if math.isnan(cell.low) and math.isnan(cell.high):
        return number(cell.value, 2)
    places = decimals((cell.high - cell.low) / 4)
    return f"{number(cell.value, places)} ({interval(cell.low, cell.high, places)})"
