"""What the page of a map shows of its own: what the map of each class tells in a line, the map, the words beside it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from panelstats.lots.maps.fit import LotMap
from panelstats.lots.maps.words import CANNOT_TELL, IS_THERE, MAPPED, ONE_AXIS
from panelstats.report.pages.brief import Line
from panelstats.report.pages.mapfigures import map_figures, map_key
from panelstats.result import Mark
from panelstats.scores.cells import CLASS
from panelstats.speech import Phrase

if TYPE_CHECKING:
    from panelstats.result import Verdict
    from panelstats.review import Review

FAR_OUT, NONE_OUT = "{lots}: {words}", Phrase("no lot lies far out")
NO_AXIS = Phrase("no map: the tasters agree on no way in which these lots differ")
ALL_LOTS = Phrase("all lots")


def blocks(review: Review) -> dict[str, object]:
    """The values of the page's own blocks."""
    found = review.find(LotMap)
    if found is None:
        return {}
    figures = map_figures(found)
    return {
        "brief": [_line(found, verdict) for verdict in found.verdicts if verdict.question == IS_THERE],
        "figures": figures,
        "key": map_key(found),
        "in_words": [(figure.name, figure.words) for figure in figures],
    }


def _line(found: LotMap, verdict: Verdict) -> Line:
    """Which lots of a class lie farthest out and what they are; or why there is no map."""
    name = verdict.subject
    mine = found.outermost
    if CLASS in mine:
        mine = mine[mine[CLASS].astype(str) == name]
    told = "; ".join(FAR_OUT.format(lots=row["lots"], words=row["words"]) for _, row in mine.iterrows())
    if verdict.call in (MAPPED, ONE_AXIS):
        return Line(name or ALL_LOTS, Mark.APART if told else Mark.OPEN, told or NONE_OUT)
    said = verdict.sentence.removeprefix(f"{name}: ") if verdict.call == CANNOT_TELL else NO_AXIS
    return Line(name or ALL_LOTS, Mark.OPEN, said if said.endswith(".") else f"{said}.", verdict.next_step)
