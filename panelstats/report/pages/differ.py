"""What the page of difference and match tests shows of its own: who can tell, and how sure that is."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from panelstats.difference.answers.tables import JudgedAnswers
from panelstats.difference.counts.forced import Interval
from panelstats.difference.counts.tables import FAVOUR, SIZE, DifferenceTest
from panelstats.difference.counts.words import d_text, favour_text
from panelstats.report.charts.panels import panel_drawing
from panelstats.report.charts.scale import scale_of
from panelstats.report.charts.shapes import key
from panelstats.report.charts.svg import Drawing
from panelstats.report.pages.brief import brief
from panelstats.speech import Phrase, said
from panelstats.words import listing, percent, percent_limit, stated

if TYPE_CHECKING:
    from collections.abc import Iterable

    from panelstats.result import Chart, Result
    from panelstats.result import Row as ChartRow
    from panelstats.review import Review


@dataclass(frozen=True)
class Row:
    """One test of the picture.

    Attributes
    ----------
    name, kind : str
        What was compared, and how.
    chart : Chart
        The interval, in a chart of its own.
    size, short : str
        The estimate, its limits and d′ in words; without d′ where there is a share.
    """

    name: str
    kind: str
    chart: Chart
    size: str
    short: str

    @property
    def line(self) -> ChartRow:
        """The interval and the call."""
        return self.chart.rows[0]

    @property
    def words(self) -> str:
        """The row in words."""
        tolerance = Phrase(" Tolerance {axis}.").format(axis=_on(self.chart.axis, self.line.ceiling))
        tolerated = tolerance if math.isfinite(self.line.ceiling) else ""
        return Phrase("{name}, {kind} test: {note}. {size}.{tolerated}").format(
            name=self.name, kind=said(self.kind), note=said(self.line.note), size=self.size, tolerated=tolerated
        )


class Picture(NamedTuple):
    """Tests on one scale, each with its drawing."""

    scale: str
    rows: list[tuple[Row, Drawing]]


def blocks(review: Review) -> dict[str, object]:
    """The values of the page's own blocks; what a plan says cannot be settled stands first."""
    rows = test_rows(result for _, result in review.results)
    kinds = Counter(row.kind for row in rows)
    told = listing(
        (Phrase("{n} {kind} test") if n == 1 else Phrase("{n} {kind} tests")).format(n=n, kind=said(kind))
        for kind, n in kinds.items()
    )
    return {
        "lede": Phrase("{told}: what the answers show, and what they cannot tell.").format(told=told),
        "brief": brief(review),
        "pictures": pictures(rows),
        "tests_key": key([row.chart for row in rows]) if rows else [],
        "in_words": in_words(rows),
    }


def in_words(rows: list[Row]) -> list[tuple[str, str]]:
    """Every row of the picture with its words."""
    return [(row.name, row.words) for row in rows]


def test_rows(results: Iterable[Result]) -> list[Row]:
    """A row for each test among the results, in their order."""
    rows = []
    for result in results:
        if isinstance(result, JudgedAnswers):
            sessions = result.table["session"].nunique() > 1
            for test, (session, name) in zip(result.tests, result.table[["session", "test"]].to_numpy(), strict=True):
                rows += _of(test, f"{name}, {session}" if sessions else str(name))
        elif isinstance(result, DifferenceTest):
            rows += _of(result, next((verdict.subject for verdict in result.verdicts), ""))
    return rows


def _of(test: DifferenceTest, name: str) -> list[Row]:
    """The rows of one result; counts that came as an array are numbered."""
    d = test.d_prime
    chart, size = test.chart(), Interval(*map(np.ravel, (d.value, d.low, d.high)))
    rows = []
    for at, line in enumerate(chart.rows):
        title = name if name and len(chart.rows) == 1 else line.label
        short = told = _d_words(size, at)
        if chart.axis != SIZE:
            short = _told(chart.axis, line.value, line.low, line.high)
            told = f"{short}; {told}"
        one = replace(chart, title=f"{title}: {chart.axis}", rows=(replace(line, label=title),))
        rows.append(Row(title, test.kind, one, told, short))
    return rows


def _d_words(size: Interval, at: int) -> str:
    """d′ with its limits."""
    if np.isnan(size.value[at]):
        return Phrase("no d′ can be given")
    return d_text(*size.at(at)).replace("d'", "d′")


def _told(scale: str, value: float, low: float, high: float) -> str:
    if math.isnan(value):
        return Phrase("anything from {low} to {high} may be able to tell").format(low=percent(low), high=percent(high))
    if scale == FAVOUR:
        return favour_text(value, low, high)
    return Phrase("{value} can tell ({low} to {high})").format(
        value=percent(value), low=percent_limit(low, up=False), high=percent_limit(high, up=True)
    )


def _on(scale: str, value: float) -> str:
    return f"d′ {stated(value)}" if scale == SIZE else percent(value)


def pictures(rows: list[Row]) -> list[Picture]:
    """The rows by scale, each drawn; the scales in the order in which they occur."""
    found = []
    for at, axis in enumerate(dict.fromkeys(row.chart.axis for row in rows)):
        some = [row for row in rows if row.chart.axis == axis]
        scale = scale_of([row.chart for row in some], most=5)
        drawn = [(row, panel_drawing(row.chart, scale, words=row.words, key=f"test{at}-{n}", named=False))
                 for n, row in enumerate(some)]  # fmt: skip
        found.append(Picture(axis, drawn))
    return found
