"""Rows of intervals over what is tolerated, on one scale: a blend against its standard, answers against guessing."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from itertools import groupby
from typing import TYPE_CHECKING

from panelstats.report.charts.dots import SIZE, WIDTH, Drawing
from panelstats.report.charts.marks import Mark
from panelstats.report.charts.svg import figure, path, short, tag, text_width, ticks, wrapped
from panelstats.words import MINUS, percent

if TYPE_CHECKING:
    from collections.abc import Iterable

    from markupsafe import Markup

_ROW, _LINE, _AXIS, _EDGE, _GUTTER = 18.0, 12.0, 20.0, 19.0, 118.0
_URGENT = (Mark.HIGHER, Mark.LOWER, Mark.APART)


@dataclass(frozen=True)
class Line:
    """One row: an estimate, one or two intervals, what is tolerated, and the call.

    Attributes
    ----------
    name, group : str
        What it is about, and the heading it stands under ("" for none).
    value, low, high : float
        NaN where nothing could be estimated; a limit may be infinite.
    inner_low, inner_high : float
        Limits drawn thick, inside the others; NaN where there are none.
    floor, ceiling : float
        Limits of what is tolerated; NaN where nothing was declared.
    call : str
        The answer in words.
    mark : Mark
        Its shape.
    """

    name: str
    group: str
    value: float
    low: float
    high: float
    inner_low: float
    inner_high: float
    floor: float
    ceiling: float
    call: str
    mark: Mark


@dataclass(frozen=True)
class Scale:
    """One scale for all rows of a picture.

    Attributes
    ----------
    low, high : float
        Its ends.
    ticks : tuple of (float, str)
        Where it is marked, and in which words.
    """

    low: float
    high: float
    ticks: tuple[tuple[float, str], ...]


def points(reach: float) -> Scale:
    """Signed differences in points of the scale, zero in the middle."""
    values = ticks(reach)
    places = 0 if all(value == round(value) for value in values) else 1 if reach >= 0.4 else 2
    told = [(value, f"{value:+.{places}f}".replace("-", MINUS) if value else "0") for value in values]
    return Scale(-reach, reach, tuple(told))


def shares(*, both_ways: bool) -> Scale:
    """Shares of tasters, from none to all; both ways where either product may be the one favoured."""
    low = -1.0 if both_ways else 0.0
    values = [low + at * (1 - low) / 4 for at in range(5)]
    return Scale(low, 1.0, tuple((value, percent(abs(value))) for value in values))


def sizes(least: float, most: float) -> Scale:
    """d', from zero (or below, where it has a sign) to a little beyond the largest."""
    reach = max(abs(least), most, 1.0) * 1.1
    found = [value for value in ticks(reach, most=9) if value >= min(least, 0.0)]
    told = tuple((value, f"{value:g}".replace("-", MINUS)) for value in found)
    return Scale(-reach if least < 0 else 0.0, reach, told)


@dataclass
class _Layout:
    gutter: float
    y: float = 4.0
    rows: list[tuple[Line, float, float, list[str]]] = field(default_factory=list)  # top, foot, name in lines
    headers: list[tuple[float, str]] = field(default_factory=list)


def rows_drawing(lines: list[Line], scale: Scale, *, title: str, words: str, key: str, named: bool = True) -> Drawing:
    """Draw rows of intervals in the order given.

    Parameters
    ----------
    lines : list of Line
    scale : Scale
        Intervals that run beyond it end in an open arrow.
    title, words : str
        What the drawing is, and what it shows, for those who do not see it.
    key : str
        Unique on the page; names the title and the words.
    named : bool
        Write the names into the drawing; False where the page writes them beside it.
    """
    layout = _laid_out(lines, named=named)
    left, right = (layout.gutter + 12 if named else _EDGE), WIDTH - _EDGE
    unit = (right - left) / (scale.high - scale.low)
    at = _Places(left, right, scale.low, unit)
    height = layout.y + 2 + _AXIS
    svg = figure(
        *_ground(layout, scale, at),
        *(drawn for line, top, foot, _ in layout.rows for drawn in _figure(line, at, (top + foot) / 2)),
        *_names(layout),
        title=title,
        words=words,
        key=key,
        width=WIDTH,
        height=height,
    )
    return Drawing(svg, height)


@dataclass(frozen=True)
class _Places:
    """Where values stand; what lies beyond the scale stands at its edge."""

    left: float
    right: float
    low: float
    unit: float

    def __call__(self, value: float) -> float:
        return min(max(self.left + (value - self.low) * self.unit, self.left), self.right)

    def beyond(self, value: float) -> bool:
        x = self.left + (value - self.low) * self.unit
        return not self.left - 0.05 <= x <= self.right + 0.05


def _laid_out(lines: list[Line], *, named: bool) -> _Layout:
    widest = max((text_width(line.name, SIZE) for line in lines), default=0.0)
    layout = _Layout(gutter=min(max(widest, 24.0), _GUTTER) if named else 0.0)
    for group, some in groupby(lines, key=lambda line: line.group):
        if named and group:
            layout.y += _LINE + 3
            layout.headers.append((layout.y, group))
            layout.y += 5
        for line in some:
            name = wrapped(line.name, layout.gutter, SIZE) if named else []
            foot = layout.y + max(_ROW, len(name) * _LINE + 4)
            layout.rows.append((line, layout.y, foot, name))
            layout.y = foot
    return layout


def _ground(layout: _Layout, scale: Scale, at: _Places) -> Iterable[Markup]:
    """What is tolerated, the line at no difference, the ticks and their words."""
    for (floor, ceiling, _), some in groupby(layout.rows, key=lambda row: (row[0].floor, row[0].ceiling, row[0].group)):
        rows = list(some)
        if math.isfinite(floor) and math.isfinite(ceiling):
            width = at(ceiling) - at(floor)
            yield tag("rect", x=at(floor), y=rows[0][1], width=width, height=rows[-1][2] - rows[0][1], class_="band")
    foot = layout.y + 2
    strokes = [f"M{short(at(value))} {short(foot)}v4" for value, _ in scale.ticks]
    yield path([*strokes, f"M{short(at.left)} {short(foot)}H{short(at.right)}"], class_="axis")
    yield path([f"M{short(at(0.0))} 2V{short(foot)}"], class_="zero")
    told = (tag("text", words, x=at(value), y=foot + 14) for value, words in scale.ticks)
    yield tag("g", *told, class_="ticks", text_anchor="middle")


def _figure(line: Line, at: _Places, y: float) -> Iterable[Markup]:
    """The intervals of one row and the mark of its call; nothing stands at the estimate of what cannot be told."""
    kind = "urgent" if line.mark in _URGENT else "plain"
    if not (math.isnan(line.low) or math.isnan(line.high)):
        yield path([f"M{short(at(line.low))} {short(y)}H{short(at(line.high))}", *_ends(line, at, y)],
                   class_=f"interval {kind}")  # fmt: skip
    if not (math.isnan(line.inner_low) or math.isnan(line.inner_high)):
        moves = [f"M{short(at(line.inner_low))} {short(y)}H{short(at(line.inner_high))}"]
        yield path(moves, class_=f"inner {kind}")
    if not math.isnan(line.value):
        yield from _mark(at(line.value), y, line.mark)


def _ends(line: Line, at: _Places, y: float) -> Iterable[str]:
    if at.beyond(line.low):
        yield f"M{short(at.left + 4)} {short(y - 3)}l-4 3 4 3"
    if at.beyond(line.high):
        yield f"M{short(at.right - 4)} {short(y - 3)}l4 3-4 3"


def _mark(x: float, y: float, mark: Mark) -> Iterable[Markup]:
    if mark is Mark.WITHIN:
        yield tag("circle", cx=x, cy=y, r=3.6, class_="within")
    elif mark is Mark.LOWER:
        yield path([f"M{short(x + 4)} {short(y - 5)}l-9 5 9 5z"], class_="outside")
    elif mark is not Mark.OPEN:
        yield path([f"M{short(x - 4)} {short(y - 5)}l9 5-9 5z"], class_="outside")


def _names(layout: _Layout) -> Iterable[Markup]:
    texts = []
    for line, top, foot, name in layout.rows:
        first = (top + foot) / 2 - (len(name) - 1) * _LINE / 2 + SIZE * 0.35
        kind = {"class_": "urgent"} if line.mark in _URGENT else {}
        texts += [tag("text", part, x=layout.gutter, y=first + n * _LINE, **kind) for n, part in enumerate(name)]
    if texts:
        yield tag("g", *texts, class_="names", text_anchor="end")
    if layout.headers:
        yield tag("g", *(tag("text", words, x=0, y=y) for y, words in layout.headers), class_="classes")
