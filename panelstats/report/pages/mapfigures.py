"""The pictures of maps on a page: a square and its bars for each class with two axes, a line for each with one."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from panelstats.lots.maps.plane import CONTROL, STANDARD
from panelstats.report.charts.mapplane import bars_drawing, further, plane_drawing
from panelstats.report.charts.panels import panel_drawing
from panelstats.report.charts.scale import scale_of
from panelstats.report.charts.stagerow import stage_row
from panelstats.report.charts.twin import in_words
from panelstats.speech import Phrase
from panelstats.words import stated

if TYPE_CHECKING:
    from panelstats.lots.maps.fit import LotMap
    from panelstats.report.charts.svg import Drawing


class MapFigure(NamedTuple):
    """One map: its class, the drawing, the bars beside it (None for a line), what lies on it, what it rests on."""

    name: str
    drawing: Drawing
    bars: Drawing | None
    notes: tuple[str, ...]
    footer: str
    words: str


def map_figures(found: LotMap, *, besides: bool = True) -> list[MapFigure]:
    """The figures of all maps that have one, with `besides` those of third axes and stages."""
    planes = [
        MapFigure((plane.name or Phrase("All lots")) + further(plane), plane_drawing(plane, key=f"m{at}"),
                  bars_drawing(plane, key=f"mb{at}"), plane.notes, plane.footer, plane.words)
        for at, plane in enumerate(found.planes)
        if besides or not further(plane)
    ]  # fmt: skip
    for at, each in enumerate(found.stage_planes if besides else ()):
        name = Phrase("{part}, stage by stage").format(part=each.name or Phrase("All lots"))
        planes.append(MapFigure(name, stage_row(each, key=f"mt{at}"), None, (), each.words, each.words))
    for at, chart in enumerate(found.strips):
        told = in_words(chart, "lot")
        drawing = panel_drawing(chart, scale_of([chart]), words=told, key=f"ms{at}")
        planes.append(MapFigure(chart.title, drawing, None, (), chart.words, told))
    return planes


def map_key(found: LotMap) -> list[tuple[str, str]]:
    """The shapes that occur and what they mean."""
    spots = [spot for plane in found.planes for spot in plane.spots]
    roles, regions = {spot.role for spot in spots}, any(plane.ovals for plane in found.planes)
    could_be = Phrase("where the lot could be with other tasters like these ({level} %)")
    lines = (
        (spots, "lot", Phrase("a lot; near ones were marked alike, a unit is as long both ways")),
        (regions, "region", could_be.format(level=stated(100 * found.level))),
        (regions, "", Phrase("Whether two lots differ is not told by regions that overlap or touch.")),
        (any(spot.guessed for spot in spots), "guessed",
         Phrase("in part filled in, as asked: a guess, which no region covers")),
        (any(spot.apart for spot in spots), "guessed",
         Phrase("a lot left out, where the descriptors it was scored on would put it")),
        (any(plane.ways for plane in found.planes), "way", Phrase("its places, session by session")),
        (CONTROL in roles, "ring", Phrase("a hidden control")),
        (STANDARD in roles, "target", Phrase("the standard")),
        (any(spot.group for spot in spots), "", Phrase("Shapes are groups.")),
        (spots, "bars", Phrase("a step along the axis across (filled) and the axis up (outline), in points")),
    )  # fmt: skip
    return [(shape, words) for occurs, shape, words in lines if occurs]
