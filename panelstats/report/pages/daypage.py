"""What the page of a day of many lots shows of its own: the short list, what to taste again, and their picture."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from panelstats.lots.shortlist.fit import Shortlist
from panelstats.lots.shortlist.listcalls import reach_said
from panelstats.lots.worth import OVERALL
from panelstats.report.charts import shapes
from panelstats.report.charts.order import shown_rows
from panelstats.report.charts.panels import panel_drawing
from panelstats.report.charts.picture import Panel, faulty, lot_mark
from panelstats.report.charts.scale import scale_of
from panelstats.report.charts.twin import in_words
from panelstats.report.pages import firstscreen
from panelstats.report.pages.daylists import About, day_lists, leads, to_taste_again
from panelstats.report.pages.daymarks import marks_chart
from panelstats.report.pages.ledger import ledger
from panelstats.report.pages.lotrows import origins, remarks_of
from panelstats.report.pages.people import people
from panelstats.report.pages.steps import stepless, steps
from panelstats.scores.cells import CLASS, DESCRIPTOR, LOT
from panelstats.speech import Phrase

if TYPE_CHECKING:
    from panelstats.result import Chart
    from panelstats.review import Review

_DRAWN = 36  # rows of the picture: the list's end and those to taste again
_CLASSES, _WORDS = 6, 3  # lists on the first screen: of classes, or of words where nothing is wanted of all together
_MOVED = Phrase("Marks on {words} moved along the row; lots are corrected for part of it.")
_JUMPED = Phrase(
    "Marks on {words} jumped along the row: what was served again left a line by more than its error allows."
)


def blocks(review: Review) -> dict[str, object]:
    """The values of the page's own blocks."""
    found, panels = review.find(Shortlist), []
    lists = [] if found is None else day_lists(found, _about(review))
    if found is not None:
        panels = [_panel(found, review)] if found.table["merit"].notna().any() else _by_marks(found, review)
    most = _CLASSES if found is None or leads(found) == [OVERALL] else _WORDS
    closing = (*_trust(review), firstscreen.densities(review), firstscreen.read(review))
    rows = [row for one in lists for row in (*one.rows, *one.rest)]
    return {
        "ledger": ledger(stepless(review.verdicts)),
        "steps": steps(review.verdicts),
        "alarms": firstscreen.alarms(review),
        "gardens_known": any(row.origin.place for row in rows),
        "days_known": any(row.origin.made for row in rows),
        "remarks_known": any(row.said for row in rows),
        "listed": any(one.listed for one in lists),
        "lists": lists[:most],
        "more_lists": lists[most:],
        "marks_known": any(row.marks for row in rows),
        "people": people(review),
        "closing": [sentence for sentence in closing if sentence],
        "panels": [panel for panel, _ in panels],
        "key": shapes.key([chart for _, chart in panels]) if panels else [],
        "in_words": [(panel.descriptor, panel.words) for panel, _ in panels],
    }


def _about(review: Review) -> About:
    assert review.scores is not None  # noqa: S101 - a short list is made from scores
    return About(origins(review.scores), remarks_of(review.scores, review.session), firstscreen.suspect(review))


def _trust(review: Review) -> list[str]:
    """How far one look may be off, and what the day did to the marks."""
    found = review.find(Shortlist)
    if found is None:
        return [firstscreen.trust(review)]
    reach = reach_said(found.errors) or firstscreen.trust(review)
    moves = [
        template.format(words=firstscreen.a_few(names)) for call, template in (("moved", _MOVED), ("jumped", _JUMPED))
        if (names := [verdict.subject for verdict in found.verdicts if verdict.call == call])
    ]  # fmt: skip
    return [reach, *moves]


def _by_marks(found: Shortlist, review: Review) -> list[tuple[Panel, Chart]]:
    """The lots by the marks of their pots, where nothing can be ranked."""
    chart = marks_chart(found, faulty(review))
    if chart is None:
        return []
    return [_drawn(replace(chart, rows=shown_rows(chart.rows)), chart.title, Phrase("marks of one pot each"))]


def _panel(found: Shortlist, review: Review) -> tuple[Panel, Chart]:
    """The list's lots and those to taste again, ringed; every faulty lot on top."""
    passed = found.classes[found.classes["passed"]]
    descriptor = next(name for name in [*leads(found), *passed[DESCRIPTOR]] if name in set(passed[DESCRIPTOR]))
    tainted = faulty(review)
    classes = list(dict.fromkeys(found.table[CLASS].astype(str)))
    ringed = {lot for name in classes for lot in to_taste_again(found, name, descriptor)}
    table = found.table[(found.table[DESCRIPTOR] == descriptor) & found.table["merit"].notna()]
    shown = table[table["listed"] | table[LOT].isin(list(ringed | tainted))]
    whole = replace(found, table=shown.assign(call="", listed=True))
    chart = whole.chart(descriptor)
    marked = [replace(row, mark=lot_mark(row.label, tainted, ringed)) for row in chart.rows]
    rows = tuple(sorted(marked, key=lambda row: (row.group, -row.value)))
    chart = replace(chart, rows=rows if len(rows) <= _DRAWN else shown_rows(rows))
    title = Phrase("Over all that is wanted") if descriptor == OVERALL else descriptor
    return _drawn(chart, title, Phrase("the list, and the lots to taste again"))


def _drawn(chart: Chart, title: str, about: str) -> tuple[Panel, Chart]:
    words = in_words(chart, "lot")
    drawing = panel_drawing(chart, scale_of([chart]), words=words, key="day")
    return Panel(title, about, (), "", words, drawing), chart
