"""What the room's page shows of its own: its first screen, which answers the room, and beside it the picture."""

from __future__ import annotations

from itertools import accumulate
from typing import TYPE_CHECKING

from panelstats.lots.maps.fit import LotMap
from panelstats.report.charts.picture import Panel, key, lot_charts, picture
from panelstats.report.pages import firstscreen
from panelstats.report.pages.ledger import ledger
from panelstats.report.pages.lotrows import classes
from panelstats.report.pages.mapfigures import map_figures, map_key
from panelstats.report.pages.steps import stepless, steps
from panelstats.report.pages.tasterrows import taster_rows
from panelstats.speech import Phrase

if TYPE_CHECKING:
    from panelstats.review import Review

_ROOM = 1250.0  # pixels that the pictures beside the answers may be tall: one printed page


def blocks(review: Review) -> dict[str, object]:
    """The values of the page's own blocks."""
    charts = lot_charts(review)
    panels = picture(review, charts)
    placed = review.find(LotMap)
    maps = [] if placed is None else map_figures(placed, besides=False)
    told = [(panel.descriptor, panel.words) for panel in panels]
    told += [(Phrase("map of {name}").format(name=each.name), each.words) for each in maps]
    closing = (firstscreen.trust, firstscreen.unsettled, firstscreen.densities, firstscreen.read)
    return {
        "ledger": ledger(stepless(review.verdicts)),
        "steps": steps(review.verdicts),
        "alarms": firstscreen.alarms(review),
        "classes": classes(review, firstscreen.suspect(review)),
        "closing": [sentence for tell in closing if (sentence := tell(review))],
        "panels": panels,
        "maps": maps,
        "maps_key": [] if placed is None else map_key(placed),
        "beside": _beside(panels),
        "key": key(list(charts.values())) if panels else [],
        "in_words": told,
    } | taster_rows(review)


def _beside(panels: list[Panel]) -> int:
    """How many panels stand beside the answers: as many as a page is tall, and one at least."""
    heights = accumulate(100 + (panel.drawing.height if panel.drawing else 30) * 1.1 for panel in panels)
    return max(1, sum(height <= _ROOM for height in heights))
