"""A page for any result that has a picture: its answers beside it, what to act on first."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from panelstats.errors import DesignError
from panelstats.report.charts.panels import panel_drawing
from panelstats.report.charts.scale import scale_of
from panelstats.report.charts.shapes import key, mark
from panelstats.report.charts.svg import Drawing
from panelstats.report.charts.twin import in_words
from panelstats.report.pages.steps import at_the_last
from panelstats.report.tables import about
from panelstats.result import Act
from panelstats.words import capital

if TYPE_CHECKING:
    from panelstats.result import Chart, Mark, Result, Verdict
    from panelstats.review import Review

# Answers on the first screen, and pictures beside them; the rest stands below (ours).
ANSWERS, PICTURES = 10, 3


class Answer(NamedTuple):
    """One answer of the first screen: the call, the sentence, the next step."""

    subject: str
    call: str
    mark: Mark
    sentence: str
    step: str


class Picture(NamedTuple):
    """One drawing."""

    title: str
    drawing: Drawing


def blocks(review: Review) -> dict[str, object]:
    """The values of the page's own blocks."""
    charts = [chart for _, result in review.results if (chart := _chart(result)) is not None][:PICTURES]
    words = [in_words(chart) for chart in charts]
    told = [verdict for verdict in review.verdicts if verdict.act != Act.NOW]  # those of now stand at the head
    return {
        "answers": _answers(told[:ANSWERS]),
        "answers_below": max(len(told) - ANSWERS, 0),
        "pictures": [
            Picture(chart.title, panel_drawing(chart, scale_of([chart], most=5), words=said, key=f"pic{at}"))
            for at, (chart, said) in enumerate(zip(charts, words, strict=True))
        ],
        "key": key(charts) if charts else [],
        "in_words": [(chart.title, said) for chart, said in zip(charts, words, strict=True)],
    }


def _chart(result: Result) -> Chart | None:
    """What a result has to draw on one axis; None where it has nothing."""
    try:
        chart = result.chart()
    except DesignError:
        return None
    return chart if chart.rows and not chart.columns else None


def _answers(verdicts: list[Verdict]) -> list[Answer]:
    """The answers in page order; a step for several stands after the last of them."""
    steps = at_the_last(verdict.next_step for verdict in verdicts)
    return [Answer(about(v.subject), v.call, mark(v), _once(v), step) for v, step in zip(verdicts, steps, strict=True)]


def _once(verdict: Verdict) -> str:
    """The sentence without the subject that stands beside it."""
    head = f"{verdict.subject}: "
    rest = verdict.sentence[len(head) :] if verdict.sentence.casefold().startswith(head.casefold()) else ""
    return capital(rest) if verdict.subject and rest else verdict.sentence
