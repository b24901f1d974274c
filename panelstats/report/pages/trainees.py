"""What the page of all trainees shows of its own: on what their scores count, and how each came nearer."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from panelstats.panel.training.fit import TraineeAssessment
from panelstats.report.charts.shapes import Mark, mark
from panelstats.report.charts.weeks import progress_drawing
from panelstats.report.pages.sheet import READY, TRAINEE
from panelstats.scores.cells import DESCRIPTOR
from panelstats.words import listing

if TYPE_CHECKING:
    from panelstats.report.charts.panels import Drawing
    from panelstats.review import Review


class Person(NamedTuple):
    """One trainee: the call over all descriptors, on which ones the scores count, and the way there."""

    name: str
    call: str
    mark: Mark
    counts: str
    curve: Drawing | None


def blocks(review: Review) -> dict[str, object]:
    """The values of the page's own blocks."""
    found = review.find(TraineeAssessment)
    names = [] if found is None else list(enumerate(found.summary[TRAINEE].astype(str)))
    return {"people": [_person(found, name, at) for at, name in names] if found else []}


def _person(found: TraineeAssessment, name: str, at: int) -> Person:
    verdict = next(verdict for verdict in found.verdicts if verdict.subject == name)
    mine = found.table[found.table[TRAINEE].astype(str) == name]
    ready = mine.loc[mine["call"] == READY, DESCRIPTOR].astype(str)
    counts = f"counts from today on {listing(ready)}" if len(ready) else "counts on no descriptor yet"
    learning = progress_drawing(found, name, key=f"c{at}")
    return Person(name, verdict.call, mark(verdict), counts, learning)
