"""Lots by the day they were made, over the band of their class; changes of make as upright lines."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

from panelstats.report.charts.figures import Axis, band, row_figures, upright_ground
from panelstats.report.charts.svg import LINE, SIZE, WIDTH, figure, line, path, short, tag, text_width, wrapped

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence

    from markupsafe import Markup

    from panelstats.report.charts.scale import Scale
    from panelstats.report.charts.svg import Drawing
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

    level = [(x(place), axis(value)) for place, value in shown.level if math.isfinite(value)]
    return figure(
        *_bands(shown.rows, axis, left, x),
        *upright_ground(axis, left, WIDTH, 0.0),
        *_changes(told, top, x),
        *(drawn for place, row in shown.rows for drawn in row_figures(row, axis, x(place))),
        *([line(level, class_="level")] if len(level) > 1 else []),
        *_ends(shown.ends, left, top + _TALL + LINE),
        title=shown.title, words=shown.words, key=key, height=height,
    )  # fmt: skip


def _bands(rows: Sequence[tuple[float, Row]], axis: Axis, left: float, x: Callable[[float], float]) -> Iterable[Markup]:
    """The band of the class, from where it first holds to where another begins."""
    starts = [at for at, (_, row) in enumerate(rows) if not at or _limits(row) != _limits(rows[at - 1][1])]
    for at, after in zip(starts, [*starts[1:], None], strict=True):
        first = left if not at else x(rows[at][0])
        last = WIDTH if after is None else x(rows[after][0])
        yield from band(axis, *_limits(rows[at][1]), first, last)


def _limits(row: Row) -> tuple[float, float]:
    return (row.floor, row.ceiling)


def _changes(told: list[tuple[float, list[str]]], top: float, x: Callable[[float], float]) -> Iterable[Markup]:
    """An upright line from its words, each change on lines of its own, down through the ground."""
    y = 4.0
    for place, lines in told:
        start = y
        for words in lines:
            y += LINE
            width = text_width(words, SIZE)
            at = x(place) + 3
            at = at if at + width <= WIDTH else x(place) - 3 - width
            yield tag("text", words, x=max(at, 0.0), y=y - 3, class_="change")
        yield path([f"M{short(x(place))} {short(start)}V{short(top + _TALL)}"], class_="changed")


def _ends(ends: tuple[str, str], left: float, y: float) -> Iterable[Markup]:
    """The first and the last day, where both fit; one alone where they are the same."""
    first, last = ends
    room = WIDTH - left
    if text_width(first, SIZE) > room:
        return
    yield tag("text", first, x=left, y=y, class_="quiet")
    if last != first and text_width(first, SIZE) + text_width(last, SIZE) + 10 <= room:
        yield tag("text", last, x=WIDTH - 2, y=y, text_anchor="end", class_="quiet")
