"""What the page of all trainees shows of its own: on what their scores count, what is missing, how each came nearer."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from panelstats.panel.training.fit import TraineeAssessment
from panelstats.report.charts.shapes import mark
from panelstats.report.charts.weeks import progress_drawing
from panelstats.report.pages.sheet import NOT_YET, READY, TRAINEE, some_of
from panelstats.result import Mark
from panelstats.scores.cells import DESCRIPTOR
from panelstats.speech import Phrase
from panelstats.words import number

if TYPE_CHECKING:
    from collections.abc import Iterator

    import pandas as pd

    from panelstats.report.charts.svg import Drawing
    from panelstats.result import Chart, Verdict
    from panelstats.review import Review

COUNTS, COUNTS_NOWHERE = Phrase("Counts from today on {words}."), Phrase("Counts on no word yet.")
OPEN = Phrase("Open: {words}.")
LEVEL = Phrase("Marks lie up to {size} off on {words} ({ceiling} allowed).")
SCALE = Phrase("A point of the seniors comes out as {size} on {words}.")
REPEATS = Phrase("Two servings of one lot lie up to {size} times as far apart as the seniors' on {words}.")
SCATTER = Phrase("Strays up to {size} times as far from the seniors' line as they do on {words}.")


class Person(NamedTuple):
    """One trainee: the call, what counts and why no more does, the next step, and the way there."""

    name: str
    call: str
    mark: Mark
    phrase: str
    step: str
    curve: Drawing | None


def blocks(review: Review) -> dict[str, object]:
    """The values of the page's own blocks."""
    found = review.find(TraineeAssessment)
    return {"people": [_person(found, verdict, at) for at, verdict in enumerate(found.verdicts)] if found else []}


def _person(found: TraineeAssessment, verdict: Verdict, at: int) -> Person:
    name, curve = verdict.subject, progress_drawing(found, verdict.subject, key=f"c{at}")
    return Person(name, verdict.call, mark(verdict), phrase(found, name), verdict.next_step, curve)


def phrase(found: TraineeAssessment, name: str) -> str:
    """What counts of a trainee's marks, what is open, and the most that keeps the rest from counting."""
    table = found.table[found.table[TRAINEE].astype(str) == name]
    calls = {call: list(rows[DESCRIPTOR].astype(str)) for call, rows in table.groupby(table["call"].astype(str))}
    ready, missing = calls.pop(READY, []), calls.pop(NOT_YET, [])
    parts = [COUNTS.format(words=some_of(ready, len(table))) if ready else COUNTS_NOWHERE]
    parts += _outside(found.chart(taster=name), table, set(missing))
    rest = [word for words in calls.values() for word in words]
    return " ".join([*map(str, parts), *([OPEN.format(words=some_of(rest, len(table)))] if rest else [])])


def _outside(chart: Chart, table: pd.DataFrame, missing: set[str]) -> Iterator[str]:
    """The aspects that lie outside on words that do not count yet, that on most words first; two of them."""
    steady = REPEATS if (table["spread_from"] == "repeats").all() else SCATTER
    found = []
    for column, template in zip(chart.columns, (LEVEL, SCALE, steady), strict=False):
        rows = [row for row in column.rows if row.label in missing and row.mark in (Mark.HIGHER, Mark.LOWER)]
        if rows:
            worst = max(rows, key=lambda row: max(row.value - row.ceiling, row.floor - row.value))
            size, ceiling = number(abs(worst.value), 1), number(worst.ceiling, 1)
            words = some_of([row.label for row in rows], len(column.rows))
            found.append((-len(rows), template.format(size=size, ceiling=ceiling, words=words)))
    for _, sentence in sorted(found, key=lambda each: each[0])[:2]:
        yield sentence
