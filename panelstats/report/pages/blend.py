"""What the page of blends shows of its own: descriptor by descriptor against the standard, beside it the weeks."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING, NamedTuple

from panelstats.lots.standard.fit import StandardMatch
from panelstats.lots.track.fit import StandardTrack
from panelstats.report.charts.figures import is_urgent
from panelstats.report.charts.panels import panel_drawing
from panelstats.report.charts.scale import scale_of
from panelstats.report.charts.shapes import key
from panelstats.report.charts.svg import Drawing
from panelstats.report.charts.twin import in_words
from panelstats.report.charts.weeks import weeks_drawing
from panelstats.report.pages.brief import brief, each_blend, urgent, whole_mark
from panelstats.report.pages.differ import in_words as tests_in_words
from panelstats.report.pages.differ import pictures, test_rows
from panelstats.result import Mark
from panelstats.scores.cells import DESCRIPTOR, STAGE
from panelstats.speech import Phrase, said
from panelstats.words import interval, number

if TYPE_CHECKING:
    from collections.abc import Hashable, Mapping
    from typing import Any

    from panelstats.result import Chart
    from panelstats.review import Review
    from panelstats.scores.table import Scores


class Panel(NamedTuple):
    """One blend of the picture: its name, call and mark, how far it lies off over all, the rows in words, drawn."""

    name: str
    call: str
    mark: Mark
    far: str
    words: str
    drawing: Drawing


def blocks(review: Review) -> dict[str, object]:
    """The values of the page's own blocks."""
    match, tracking = review.find(StandardMatch), review.find(StandardTrack)
    if match is None:
        return {}
    panels, rows = blend_panels(match, review.scores), test_rows(result for _, result in review.results)
    now = _moved_first(tracking.chart()) if tracking else None
    weeks = weeks_drawing([tracking.chart(row.label) for row in now.rows], now, key="w") if tracking and now else None
    told = [(Phrase("The weeks"), in_words(now, "descriptor"))] if now else []
    return {
        "first": urgent(review),
        "brief": brief(review),
        "panels": panels,
        "weeks": weeks,
        "key": key([match.chart()]),
        "pictures": pictures(rows),
        "tests_key": key([row.chart for row in rows]) if rows else [],
        "in_words": [*((panel.name, panel.words) for panel in panels), *told, *tests_in_words(rows)],
    }


def _moved_first(now: Chart) -> Chart:
    """Descriptors in the order in which they are to be acted on."""
    return replace(now, rows=tuple(sorted(now.rows, key=lambda row: (not is_urgent(row), row.mark is not Mark.OPEN))))


def blend_panels(match: StandardMatch, scores: Scores | None = None) -> list[Panel]:
    """A panel for each blend (and session, where there are several), all on one scale."""
    whole, stages = match.chart(), _stages(scores)
    rows = [replace(row, group=said(stages.get(row.label, ""))) for row in whole.rows]
    scale, panels = scale_of([whole]), []
    for at, (name, row, mine) in enumerate(each_blend(match)):
        title = Phrase("{name} less {standard}").format(name=name, standard=match.standard)
        chart = replace(whole, title=title, rows=tuple(drawn for drawn, here in zip(rows, mine, strict=True) if here))
        words = in_words(chart, "descriptor")
        drawing = panel_drawing(chart, scale, words=words, key=f"b{at}")
        panels.append(Panel(name, str(row["call"]), whole_mark(str(row["call"])), _far(row), words, drawing))
    return panels


def _stages(scores: Scores | None) -> dict[str, str]:
    if scores is None or STAGE not in scores.descriptors:
        return {}
    register = scores.descriptors
    return {str(d): s for d, s in zip(register[DESCRIPTOR], register[STAGE], strict=True) if isinstance(s, str)}


def _far(row: Mapping[Hashable, Any]) -> str:
    if math.isnan(row["distance"]):
        return ""
    return Phrase("over all {distance} points a descriptor ({low})").format(
        distance=number(row["distance"], 2), low=interval(row["low"], row["high"], 2)
    )
