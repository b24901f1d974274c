"""What the room's page shows of its own: its first screen, which answers the room, and beside it the picture."""

from __future__ import annotations

from itertools import accumulate
from typing import TYPE_CHECKING, NamedTuple

from panelstats.lots.maps.fit import LotMap
from panelstats.panel.tasters.fit import TasterAssessment
from panelstats.report.charts.picture import Panel, key, lot_charts, picture
from panelstats.report.charts.scale import scale_of
from panelstats.report.charts.strips import strip, strip_axis
from panelstats.report.charts.twin import told
from panelstats.report.pages import firstscreen
from panelstats.report.pages.ledger import ledger
from panelstats.report.pages.lotrows import classes
from panelstats.report.pages.mapfigures import map_figures, map_key
from panelstats.report.pages.people import APART, Person, people
from panelstats.report.pages.steps import stepless, steps
from panelstats.scores.cells import DESCRIPTOR
from panelstats.speech import Phrase

if TYPE_CHECKING:
    from markupsafe import Markup

    from panelstats.result import Chart
    from panelstats.review import Review

_ROOM = 1250.0  # pixels that the pictures beside the answers may be tall: one printed page


class Shown(NamedTuple):
    """A taster's row with its drawings."""

    person: Person
    strips: list[Markup | None]


def blocks(review: Review) -> dict[str, object]:
    """The values of the page's own blocks."""
    charts = lot_charts(review)
    panels = picture(review, charts)
    columns = _columns(review)
    placed = review.find(LotMap)
    told = [(panel.descriptor, panel.words) for panel in panels]
    told += (
        []
        if placed is None
        else [
            (Phrase("map of {name}").format(name=each.name), each.words) for each in map_figures(placed, besides=False)
        ]
    )
    closing = (firstscreen.trust, firstscreen.unsettled, firstscreen.densities, firstscreen.read)
    return {
        "ledger": ledger(stepless(review.verdicts)),
        "steps": steps(review.verdicts),
        "alarms": firstscreen.alarms(review),
        "classes": classes(review, firstscreen.suspect(review)),
        "people": [_shown(person, columns) for person in people(review)],
        "strip_heads": columns,
        "strip_axes": [strip_axis(scale_of([column]), column.zero) for column in columns],
        "closing": [sentence for tell in closing if (sentence := tell(review))],
        "panels": panels,
        "maps": [] if placed is None else map_figures(placed, besides=False),
        "maps_key": [] if placed is None else map_key(placed),
        "beside": _beside(panels),
        "key": key(list(charts.values())) if panels else [],
        "in_words": told,
    }


def _columns(review: Review) -> list[Chart]:
    """The aspects that are drawn beside the tasters: those on which somebody is apart, else the first."""
    found = review.find(TasterAssessment)
    if found is None:
        return []
    whole = found.table[found.table[DESCRIPTOR].astype(str) == ""]
    if not (whole["estimate"].notna() & (whole["call"] != "")).any():
        return []  # nobody could be judged
    columns = found.chart().columns
    return [column for column in columns if any(row.note == APART for row in column.rows)] or list(columns[:1])


def _shown(person: Person, columns: list[Chart]) -> Shown:
    strips = []
    for column in columns:
        row = next((row for row in column.rows if row.label == person.name), None)
        strips.append(None if row is None else strip(row, scale_of([column]), f"{column.title}: {told(row, column)}"))
    return Shown(person, strips)


def _beside(panels: list[Panel]) -> int:
    """How many panels stand beside the answers: as many as a page is tall, and one at least."""
    heights = accumulate(100 + (panel.drawing.height if panel.drawing else 30) * 1.1 for panel in panels)
    return max(1, sum(height <= _ROOM for height in heights))
