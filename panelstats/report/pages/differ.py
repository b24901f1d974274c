"""The page of difference and match tests: who can tell, how sure that is, and how many answers would settle it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from importlib.metadata import version
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from panelstats.difference.answers.fit import JudgedAnswers
from panelstats.difference.counts.outcome import DifferenceTest
from panelstats.difference.counts.reading import DIFFER, MATCH, Interval
from panelstats.difference.counts.words import d_text
from panelstats.models.kinds import KINDS, SIGNAL
from panelstats.output import PAGE_MARK, check_writable, page_bytes, templates, write_whole
from panelstats.report.charts.against import Line, Scale, rows_drawing, shares, sizes
from panelstats.report.charts.marks import Mark
from panelstats.report.pages.ledger import ledger
from panelstats.report.pages.names import Names, turns
from panelstats.report.pages.steps import stepless, steps, unsettled
from panelstats.report.tables import shown
from panelstats.result import Result, in_order
from panelstats.words import count, listing, percent

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence
    from pathlib import Path

    from panelstats.report.charts.dots import Drawing

_NAMED = 3  # tests named in the heading; more are counted
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


def write_differ_page(
    results: Result | Sequence[Result], path: str | Path, *, source: str = "", overwrite: bool = False
) -> Path:
    """Write the page of one or several difference and match tests: one file, no script, nothing fetched.

    Parameters
    ----------
    results : Result or sequence of Result
        Of `difference_test`, `match_test`, `repeated_test`, `judge_answers`; plans of `answers_needed` may stand among
        them: where one says that the answers cannot settle it, the page says so first.
    path : str or Path
        Ending in .html. Our own earlier page is replaced, another file only with `overwrite`.
    source : str
        Where the counts or answers come from, for the last line.
    overwrite : bool
        Replace a file that is not ours.

    Returns
    -------
    Path
        The page. The same results give the same bytes.

    Raises
    ------
    PanelError
        The file may not or cannot be written.
    """
    check_writable(path, overwrite=overwrite)
    return write_whole(path, page_bytes(differ_page(results, source=source)), overwrite=overwrite)


def differ_page(results: Result | Sequence[Result], *, source: str = "") -> str:
    """The page of difference and match tests as text."""
    every = [results] if isinstance(results, Result) else list(results)
    verdicts, first = in_order([verdict for result in every for verdict in result.verdicts]), unsettled(every)
    rows = test_rows(every)
    names = Names({row.name for row in rows} | {verdict.subject for verdict in verdicts})
    environment = templates()
    environment.filters |= {"isolate": names.isolate, "told": names.told, "turns": turns}
    return environment.get_template("differ.html.j2").render(
        page_mark=PAGE_MARK,
        title=_title(rows),
        lede=_lede(rows),
        first=first,
        pictures=pictures(rows),
        ledger=ledger(stepless(verdict for verdict in verdicts if verdict not in first)),
        steps=steps(verdicts),
        results=titled(every),
        provenance=_provenance(every, source),
    )


def _provenance(results: list[Result], source: str) -> str:
    """The last line: what was read, version, sessions."""
    tables = [result.table["session"] for result in results if isinstance(result, JudgedAnswers)]
    sessions = list(dict.fromkeys(str(name) for names in tables for name in names if str(name)))
    dated = [f"session {sessions[0]}" if len(sessions) == 1 else f"sessions {listing(sessions)}"] if sessions else []
    return " · ".join([f"Input {source or 'counts as given'}", f"panelstats {version('panelstats')}", *dated])


def titled(results: Iterable[Result]) -> list[tuple[str, Result, list]]:
    """Results with a title each, unlike any other of the page, and their tables."""
    listed, counted = [], 0
    for result in results:
        tests = isinstance(result, JudgedAnswers | DifferenceTest)
        counted += tests
        title = (f"Test {counted}" if counted > 1 else "Tests") if tests else "Answers needed"
        listed.append((title, result, shown(result.tables(), title)))
    return listed


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


def _title(rows: list[Row]) -> str:
    names = list(dict.fromkeys(row.name for row in rows))
    return listing(names) if 0 < len(names) <= _NAMED else count(len(names), "difference test")


def _lede(rows: list[Row]) -> str:
    kinds = list(dict.fromkeys(row.kind for row in rows))
    counted = listing(count(sum(row.kind == kind for row in rows), f"{kind} test") for kind in kinds)
    return f"{counted}: what the answers show, and what they cannot tell."
