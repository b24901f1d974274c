"""One cell of a taster's sheet: an interval and its mark over the pale strip of what is tolerated; a column's axis."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from panelstats.report.charts.figures import Axis, band, row_figures
from panelstats.report.charts.svg import SIZE, path, short, tag

if TYPE_CHECKING:
    from markupsafe import Markup

    from panelstats.report.charts.scale import Scale
    from panelstats.result import Row

_WIDTH, _HEIGHT, _EDGE = 120.0, 22.0, 13.0


def strip(row: Row, scale: Scale, words: str) -> Markup | None:
    """Draw one cell; `words` says what it shows. None where nothing was found."""
    if math.isnan(row.value) and math.isnan(row.low):
        return None
    axis = _axis(scale)
    drawn = [*band(axis, row.floor, row.ceiling, 0, _HEIGHT), *row_figures(row, axis, _HEIGHT / 2)]
    return _cell(drawn, role="img", aria_label=words)


def strip_axis(scale: Scale, zero: float) -> Markup:
    """The axis under a column of cells: ticks, their words, and where the others stand."""
    axis = _axis(scale)
    ticks = list(axis.ticks())
    strokes = [f"M{short(x)} 1v4" for x, _ in ticks]
    texts = (tag("text", words, x=x, y=5 + SIZE) for x, words in ticks if words)
    line = [path([f"M{short(axis(zero))} 0v6"], class_="zero")] if math.isfinite(zero) else []
    return _cell([path([*strokes, axis.stroke(axis.start, axis.stop, 1)], class_="axis"), *line,
                  tag("g", *texts, class_="ticks", text_anchor="middle")], aria_hidden="true")  # fmt: skip


def _axis(scale: Scale) -> Axis:
    return Axis(scale, _EDGE, _WIDTH - _EDGE)


def _cell(drawn: list[Markup], **attributes: str) -> Markup:
    return tag("svg", *drawn, viewBox=f"0 0 {short(_WIDTH)} {short(_HEIGHT)}", class_="strip", **attributes)
