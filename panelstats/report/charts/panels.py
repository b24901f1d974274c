"""Rows below one another on one axis: lots, descriptors of a blend, tests."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from itertools import groupby
from typing import TYPE_CHECKING, NamedTuple

from panelstats.report.charts.figures import Axis, band, is_urgent, row_figures
from panelstats.report.charts.svg import LINE, SIZE, WIDTH, figure, path, short, tag, text_width, wrapped

if TYPE_CHECKING:
    from collections.abc import Iterable

    from markupsafe import Markup

    from panelstats.report.charts.scale import Scale
    from panelstats.report.charts.svg import Drawing
    from panelstats.result import Chart, Row

_ROW, _GUTTER, _EDGE = 15.0, 118.0, 14.0


class _Placed(NamedTuple):
    row: Row
    top: float
    foot: float
    name: list[str]

    @property
    def middle(self) -> float:
        return (self.top + self.foot) / 2


@dataclass
class _Layout:
    """Where everything stands; `y` is the lower edge of what has been placed."""

    gutter: float
    y: float = 4.0
    rows: list[_Placed] = field(default_factory=list)
    headers: list[tuple[float, str]] = field(default_factory=list)


def panel_drawing(chart: Chart, scale: Scale, *, words: str, key: str, named: bool = True) -> Drawing:
    """Draw the rows of a chart in the order given.

    Parameters
    ----------
    chart : Chart
    scale : Scale
        Intervals that run beyond it end in an open arrow.
    words : str
        What the drawing shows, for those who do not see it.
    key : str
        Unique on the page; names the title and the words.
    named : bool
        Write the names of rows and axis into the drawing; False where the page writes them beside it.
    """
    layout = _laid_out(chart.rows, named=named)
    ends = [text_width(label, SIZE) / 2 + 1 for _, label in scale.ticks[:: max(1, len(scale.ticks) - 1)]]
    edge = max([_EDGE, *ends])
    axis = Axis(scale, layout.gutter + 10 if named else edge, WIDTH - edge)
    foot = layout.y + 2
    told = wrapped(chart.axis, WIDTH, SIZE) if named else []
    return figure(
        *_ground(layout, chart, axis, foot),
        *(drawn for placed in layout.rows for drawn in row_figures(placed.row, axis, placed.middle)),
        *_names(layout),
        *_axis_name(told, axis, foot),
        title=chart.title, words=words, key=key, height=foot + 20 + LINE * len(told),
    )  # fmt: skip


def _laid_out(rows: Iterable[Row], *, named: bool) -> _Layout:
    widest = max((text_width(row.label, SIZE) for row in rows), default=0.0)
    layout = _Layout(gutter=min(max(widest, 24.0), _GUTTER) if named else 0.0)
    for group, some in groupby(rows, key=lambda row: row.group):
        if named and group:
            _add_header(layout, group)
        for row in some:
            name = wrapped(row.label, layout.gutter, SIZE) if named else []
            foot = layout.y + max(_ROW, len(name) * LINE + 3)
            layout.rows.append(_Placed(row, layout.y, foot, name))
            layout.y = foot
    return layout


def _add_header(layout: _Layout, group: str) -> None:
    layout.y += 3
    for line in wrapped(group, WIDTH - 4, SIZE):
        layout.y += LINE
        layout.headers.append((layout.y, line))
    layout.y += 4


def _ground(layout: _Layout, chart: Chart, axis: Axis, foot: float) -> Iterable[Markup]:
    """What is tolerated, the line of reference, the ticks and their words."""
    same = groupby(layout.rows, key=lambda placed: (placed.row.floor, placed.row.ceiling, placed.row.group))
    for (floor, ceiling, _), some in same:
        placed = list(some)
        yield from band(axis, floor, ceiling, placed[0].top, placed[-1].foot)
    if math.isfinite(chart.zero):
        yield path([f"M{short(axis(chart.zero))} 2V{short(foot)}"], class_="zero")
    ticks = list(axis.ticks())
    yield path([*(f"M{short(x)} {short(foot)}v4" for x, _ in ticks), axis.stroke(axis.start, axis.stop, foot)],
               class_="axis")  # fmt: skip
    told = (tag("text", words, x=x, y=foot + 14) for x, words in ticks if words)
    yield tag("g", *told, class_="ticks", text_anchor="middle")


def _names(layout: _Layout) -> Iterable[Markup]:
    """Names of rows and groups."""
    texts = []
    for row, top, foot, name in layout.rows:
        first = (top + foot) / 2 - (len(name) - 1) * LINE / 2 + SIZE * 0.35
        kind = {"class_": "urgent"} if is_urgent(row) else {}
        texts += [tag("text", part, x=layout.gutter, y=first + n * LINE, **kind) for n, part in enumerate(name)]
    if texts:
        yield tag("g", *texts, class_="names", text_anchor="end")
    if layout.headers:
        yield tag("g", *(tag("text", words, x=0, y=y) for y, words in layout.headers), class_="classes")


def _axis_name(told: list[str], axis: Axis, foot: float) -> Iterable[Markup]:
    """What the axis counts, under its ticks, as near its middle as it fits."""
    for at, line in enumerate(told):
        half = text_width(line, SIZE) / 2
        x = min(max((axis.start + axis.stop) / 2, half), WIDTH - half)
        yield tag("text", line, x=x, y=foot + 14 + LINE * (at + 1), text_anchor="middle", class_="quiet")
