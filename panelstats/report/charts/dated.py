"""Lots by the day they were made, over the band of their class; changes of make as upright lines."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

from panelstats.report.charts.figures import LINE, SIZE, WIDTH, Axis, band, row_figures
from panelstats.report.charts.panels import Drawing
from panelstats.report.charts.svg import figure, path, short, tag, text_width, wrapped

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence

    from markupsafe import Markup

    from panelstats.report.charts.scale import Scale
    from panelstats.result import Row

_TALL, _EDGE = 72.0, 6.0  # height of the ground, and room inside its ends


class Dated(NamedTuple):
    """What one drawing shows.

    Attributes
    ----------
    title, words : str
    rows : sequence of (place, Row)
        Each lot at its place in time, from 0 to 1, in order; floor and ceiling are the band of its class there.
    level : sequence of (place, value)
        The smoothed mean, week by week; empty where there are too few weeks.
    changes : sequence of (place, words)
    ends : (str, str)
        The first and the last day, in words.
    """

    title: str
    words: str
    rows: Sequence[tuple[float, Row]]
    level: Sequence[tuple[float, float]]
    changes: Sequence[tuple[float, str]]
    ends: tuple[str, str]


def dated_drawing(shown: Dated, scale: Scale, *, key: str) -> Drawing:
    """Draw the lots of one descriptor; `key` is unique on the page."""
    left = max((text_width(words, SIZE) for _, words in scale.ticks), default=0.0) + 6
    told = [(place, wrapped(words, WIDTH - left, SIZE)) for place, words in shown.changes]
    top = 4 + LINE * sum(len(lines) for _, lines in told)
    axis = Axis(scale, top + _TALL - 4, top + 4, upright=True)
    height = top + _TALL + LINE + 6

    def x(place: float) -> float:
        return left + _EDGE + place * (WIDTH - left - 2 * _EDGE)

    svg = figure(
        *_bands(shown.rows, axis, left, x),
        *_ground(axis, left),
        *_changes(told, top, x),
        *(drawn for place, row in shown.rows for drawn in row_figures(row, axis, x(place))),
        *_level(shown.level, axis, x),
        *_ends(shown.ends, left, top + _TALL + LINE),
        title=shown.title,
        words=shown.words,
        key=key,
        width=WIDTH,
        height=height,
    )
    return Drawing(svg, height)


def _bands(rows: Sequence[tuple[float, Row]], axis: Axis, left: float, x: Callable[[float], float]) -> Iterable[Markup]:
    """The band of the class, from where it first holds to where another begins."""
    starts = [at for at, (_, row) in enumerate(rows) if not at or _limits(row) != _limits(rows[at - 1][1])]
    for at, after in zip(starts, [*starts[1:], None], strict=True):
        first = left if not at else x(rows[at][0])
        last = WIDTH if after is None else x(rows[after][0])
        yield from band(axis, *_limits(rows[at][1]), first, last)


def _limits(row: Row) -> tuple[float, float]:
    return (row.floor, row.ceiling)


def _ground(axis: Axis, left: float) -> Iterable[Markup]:
    """The mean of the class, the scale and its words."""
    yield path([f"M{short(left)} {short(axis(0.0))}H{short(WIDTH)}"], class_="zero")
    ticks = list(axis.ticks())
    strokes = [f"M{short(left - 3)} {short(y)}h3" for y, _ in ticks]
    yield path([*strokes, axis.stroke(axis.start, axis.stop, left)], class_="axis")
    texts = (tag("text", words, x=left - 5, y=y + SIZE * 0.35) for y, words in ticks if words)
    yield tag("g", *texts, class_="ticks", text_anchor="end")


def _changes(told: list[tuple[float, list[str]]], top: float, x: Callable[[float], float]) -> Iterable[Markup]:
    """An upright line from its words, each change on lines of its own, down through the ground."""
    y = 4.0
    for place, lines in told:
        start = y
        for line in lines:
            y += LINE
            width = text_width(line, SIZE)
            at = x(place) + 3
            at = at if at + width <= WIDTH else x(place) - 3 - width
            yield tag("text", line, x=max(at, 0.0), y=y - 3, class_="change")
        yield path([f"M{short(x(place))} {short(start)}V{short(top + _TALL)}"], class_="changed")


def _level(level: Sequence[tuple[float, float]], axis: Axis, x: Callable[[float], float]) -> Iterable[Markup]:
    known = [(x(place), axis(value)) for place, value in level if math.isfinite(value)]
    if len(known) > 1:
        yield path([f"{'L' if n else 'M'}{short(a)} {short(b)}" for n, (a, b) in enumerate(known)], class_="level")


def _ends(ends: tuple[str, str], left: float, y: float) -> Iterable[Markup]:
    """The first and the last day, where both fit; one alone where they are the same."""
    first, last = ends
    room = WIDTH - left
    if text_width(first, SIZE) > room:
        return
    yield tag("text", first, x=left, y=y, class_="quiet")
    if last != first and text_width(first, SIZE) + text_width(last, SIZE) + 10 <= room:
        yield tag("text", last, x=WIDTH - 2, y=y, text_anchor="end", class_="quiet")
