"""The lots as each stage sees them: small squares in a row, one unit in all of them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from panelstats.report.charts.nudging import Name, stands
from panelstats.report.charts.svg import LINE, SIZE, WIDTH, figure, tag, text_width, wrapped
from panelstats.speech import Phrase, said

if TYPE_CHECKING:
    from collections.abc import Iterator

    from markupsafe import Markup

    from panelstats.lots.maps.stageplanes import StagePlanes
    from panelstats.report.charts.svg import Drawing

_ACROSS, _GAP, _MARGIN, _RADIUS, _TALL = 2, 10.0, 9.0, 2.2, SIZE + 2
_HEAD = 4.0  # over the first heading, for faces with tall letters


def stage_row(found: StagePlanes, *, key: str) -> Drawing:
    """Draw the lots of each stage in a square of its own; `key` is unique on the page. Its words are its twin."""
    side = (WIDTH - 2 - _GAP * (_ACROSS - 1)) / _ACROSS
    places = [place for _, mine in found.stages for place in mine]
    low, high = (tuple(end(axis) for axis in zip(*places, strict=True)) for end in (min, max))
    middle = tuple((a + b) / 2 for a, b in zip(low, high, strict=True))
    unit = (side - 2 * _MARGIN) / (max(b - a for a, b in zip(low, high, strict=True)) or 1.0)
    drawn: list[Markup] = []
    y = _HEAD
    for start in range(0, len(found.stages), _ACROSS):
        row = found.stages[start : start + _ACROSS]
        headings = [wrapped(said(stage or "no stage"), side, SIZE) for stage, _ in row]
        top = y + LINE * max(map(len, headings)) + 2
        for at, ((_, mine), heading) in enumerate(zip(row, headings, strict=True)):
            left = 1 + at * (side + _GAP)
            drawn += [tag("text", line, x=left, y=y + LINE * (n + 1) - 3) for n, line in enumerate(heading)]
            drawn.append(tag("rect", x=left, y=top, width=side, height=side, class_="frame"))
            centre = left + side / 2 - middle[0] * unit, top + side / 2 + middle[1] * unit
            drawn += _lots(found.lots, [(centre[0] + a * unit, centre[1] - b * unit) for a, b in mine],
                           (left + 1, top + 1, left + side - 1, top + side - 1))  # fmt: skip
        y = top + side + 6
    title = Phrase("The lots stage by stage{part}").format(part=f", {found.name}" if found.name else "")
    return figure(*drawn, title=title, words=found.words, key=key, height=y)


def _lots(
    lots: tuple[str, ...], places: list[tuple[float, float]], bounds: tuple[float, float, float, float]
) -> Iterator[Markup]:
    """Dots, each with its name to be read out, and the names that find room."""
    for lot, (x, y) in zip(lots, places, strict=True):
        yield tag("circle", tag("title", lot), cx=x, cy=y, r=_RADIUS, class_="lot")
    wanted = [Name(x, y, text_width(lot, SIZE), False) for lot, (x, y) in zip(lots, places, strict=True)]
    found = stands(wanted, [], radius=_RADIUS, tall=_TALL, bounds=bounds)
    told = [tag("text", lot, x=at.x, y=at.y + SIZE * 0.35)
            for lot, at in zip(lots, found, strict=True) if at is not None]  # fmt: skip
    if told:
        yield tag("g", *told, class_="names")
