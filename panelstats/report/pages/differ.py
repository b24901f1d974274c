"""What the page of difference and match tests shows of its own: who can tell, and how sure that is."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from panelstats.difference.answers.fit import JudgedAnswers
from panelstats.difference.counts.outcome import DifferenceTest
from panelstats.difference.counts.reading import DIFFER, MATCH, Interval
from panelstats.difference.counts.words import d_text
from panelstats.models.kinds import KINDS, SIGNAL
from panelstats.report.charts.against import Line, Scale, rows_drawing, shares, sizes
from panelstats.report.charts.marks import Mark
from panelstats.words import count, listing, percent

if TYPE_CHECKING:
    from collections.abc import Iterable

    from panelstats.report.charts.dots import Drawing
    from panelstats.result import Result
    from panelstats.review import Review

SHARE, FAVOUR, SIZE = (
    "share of tasters who can tell",
    "share in favour: of A to the right, of the other to the left",
    "d′",
)


@dataclass(frozen=True)
class Row:
    """One test of the picture.

    Attributes
    ----------
    name, kind : str
        What was compared, and how.
    scale : str
        What the scale counts.
    line : Line
        The interval.
    size : str
        The estimate, its limits and d′ in words.
    """

    name: str
    kind: str
    scale: str
    line: Line
    size: str

    @property
    def words(self) -> str:
        """The row in words."""
        tolerated = f" Tolerance {_on(self.scale, self.line.ceiling)}." if math.isfinite(self.line.ceiling) else ""
        return f"{self.name}, {self.kind} test: {self.line.call}. {self.size}.{tolerated}"


class Picture(NamedTuple):
    """Tests on one scale, each with its drawing."""

    scale: str
    rows: list[tuple[Row, Drawing]]


def blocks(review: Review) -> dict[str, object]:
    """The values of the page's own blocks; what a plan says cannot be settled stands first."""
    rows = test_rows(result for _, result in review.results)
    told = listing(count(n, f"{kind} test") for kind, n in Counter(row.kind for row in rows).items())
    return {
        "lede": f"{told}: what the answers show, and what they cannot tell.",
        "pictures": pictures(rows),
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
    calls = np.atleast_1d(test.call).ravel()
    signal, favour = test.kind in SIGNAL, KINDS[test.kind].two_sided
    scale = SIZE if signal else FAVOUR if favour else SHARE
    estimate = test.d_prime if signal else test.share_who_can_tell
    value, low, high = (np.atleast_1d(part).ravel() for part in (estimate.value, estimate.low, estimate.high))
    size = Interval(*(np.atleast_1d(part).ravel() for part in _parts(test.d_prime)))
    tolerance = test.verdicts[0].numbers.get("tolerance", math.nan)
    floor = -tolerance if favour or test.kind == "a-not-a" else 0.0 * tolerance
    named = name or ("test" if calls.size > 1 else "The two")
    rows = []
    for at, call in enumerate(calls):
        title = f"{named} {at + 1}" if calls.size > 1 else named
        numbers = float(value[at]), float(low[at]), float(high[at])
        line = Line(title, "", *numbers, math.nan, math.nan, floor, tolerance, str(call), _mark(str(call), numbers[0]))
        told = d_words(size, at) if signal else f"{_told(scale, *numbers)}; {d_words(size, at)}"
        rows.append(Row(title, test.kind, scale, line, told))
    return rows


def _parts(estimate: object) -> tuple:
    """Value and limits of an estimate."""
    return tuple(getattr(estimate, name) for name in ("value", "low", "high"))


def d_words(size: Interval, at: int) -> str:
    """d′ with its limits."""
    return "no d′ can be given" if np.isnan(size.value[at]) else d_text(size, at).replace("d'", "d′")


def _told(scale: str, value: float, low: float, high: float) -> str:
    if math.isnan(value):
        return f"anything from {percent(low)} to {percent(high)} may be able to tell"
    if scale == FAVOUR and value < 0:
        return f"{percent(-value)} in favour of the other ({percent(-high)} to {percent(-low)})"
    verb = "can tell" if scale == SHARE else "in favour of A"
    return f"{percent(value)} {verb} ({percent(low)} to {percent(high)})"


def _on(scale: str, value: float) -> str:
    return f"d′ {value:g}" if scale == SIZE else percent(value)


def _mark(call: str, value: float) -> Mark:
    if call == MATCH:
        return Mark.WITHIN
    if call != DIFFER:
        return Mark.OPEN
    return Mark.LOWER if value < 0 else Mark.HIGHER


def pictures(rows: list[Row], *, prefix: str = "test") -> list[Picture]:
    """The rows by scale, each drawn; the scales in the order in which they occur."""
    found = []
    for at, scale in enumerate(dict.fromkeys(row.scale for row in rows)):
        some = [row for row in rows if row.scale == scale]
        axis = _scale(scale, [row.line for row in some])
        drawn = [
            (row, rows_drawing([row.line], axis, title=f"{row.name}: {scale}", words=row.words,
                               key=f"{prefix}{at}-{n}", named=False))
            for n, row in enumerate(some)
        ]  # fmt: skip
        found.append(Picture(scale, drawn))
    return found


def _scale(scale: str, lines: list[Line]) -> Scale:
    if scale != SIZE:
        return shares(both_ways=scale == FAVOUR)
    ends = [x for line in lines for x in (line.value, line.low, line.high, line.ceiling) if math.isfinite(x)]
    return sizes(min([0.0, *ends]), max([0.0, *ends]))
