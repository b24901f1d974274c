"""One small panel: lots as sorted dots, the interval of each from its class mean, faults on top."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from markupsafe import Markup

from panelstats.report.charts.svg import figure, path, short, spread, tag, text_width, ticks, wrapped
from panelstats.words import MINUS

if TYPE_CHECKING:
    from collections.abc import Iterable

WIDTH, SIZE, ROW = 340.0, 10.5, 13.0  # all in the drawing's own unit, a pixel at full size
LABELS_SHOWN = 40  # above so many lots only the ends and the asked-for are labelled
_GUTTER, _LINE, _EDGE, _AXIS = 116.0, 12.0, 12.0, 20.0
_ENDS, _FAULTS, _TALL = 4, 12, 430.0


@dataclass(frozen=True)
class Dot:
    """One lot on one descriptor: its distance from the mean of its class, with the interval.

    Attributes
    ----------
    name, group : str
        The lot and its class.
    value, low, high : float
        In scale points; `low` and `high` NaN where no interval is known.
    fault, again : bool
        A fault was noticed in it; it is to be looked at again.
    """

    name: str
    group: str
    value: float
    low: float
    high: float
    fault: bool = False
    again: bool = False


@dataclass(frozen=True)
class _Row:
    dot: Dot
    y: float
    label_y: float | None = None  # None: not labelled
    lines: tuple[str, ...] = ()


@dataclass
class _Layout:
    """Where everything stands; `y` is the lower edge of what has been placed."""

    gutter: float
    y: float = 8.0
    rows: list[_Row] = field(default_factory=list)
    headers: list[tuple[float, str]] = field(default_factory=list)
    rules: list[float] = field(default_factory=list)


class Drawing(NamedTuple):
    """An inline drawing, and how tall it is at full size."""

    svg: Markup
    height: float


def dot_panel(dots: list[Dot], *, reach: float, band: float, title: str, words: str, key: str) -> Drawing:
    """Draw one panel.

    Parameters
    ----------
    dots : list of Dot
        All lots that have a value.
    reach : float
        The scale runs from -reach to reach, in scale points.
    band : float
        Half the width of the pale band; NaN where no tolerance is known.
    title, words : str
        What the drawing is, and what it shows, for those who do not see it.
    key : str
        Unique on the page; names the title and the words.
    """
    layout = _laid_out(dots)
    top, foot = 2.0, layout.y + 2
    height = foot + _AXIS
    left, right = layout.gutter + 10, WIDTH - _EDGE
    scale = _Scale((left + right) / 2, (right - left) / 2 / reach)
    svg = figure(
        *_ground(scale, reach, band, top, foot),
        *_figures(layout.rows, scale),
        *_words(layout, scale, reach, foot),
        title=title,
        words=words,
        key=key,
        width=WIDTH,
        height=height,
    )
    return Drawing(svg, height)


@dataclass(frozen=True)
class _Scale:
    zero: float
    unit: float

    def __call__(self, value: float) -> float:
        return self.zero + value * self.unit


def _laid_out(dots: list[Dot]) -> _Layout:
    dense = len(dots) > LABELS_SHOWN
    pinned = [dot for dot in dots if dot.fault][:_FAULTS]
    pinned_names = {dot.name for dot in pinned}
    rest = [dot for dot in dots if dot.name not in pinned_names]
    labelled = dots if not dense else pinned + [dot for dot in rest if dot.again] + _ends(rest)
    widest = max((text_width(dot.name, SIZE) for dot in labelled), default=0.0)
    layout = _Layout(gutter=min(max(widest, 24.0), _GUTTER))
    if pinned:
        _add_block(layout, pinned, ROW, {dot.name for dot in pinned})
        layout.rules.append(layout.y + 3)
        layout.y += 6
    pitch = max(1.5, _TALL / len(dots)) if dense else ROW
    groups = list(dict.fromkeys(dot.group for dot in rest))
    for group in groups:
        if len(groups) > 1:
            _add_header(layout, group)
        here = [dot for dot in rest if dot.group == group]
        names = {dot.name for dot in (here if not dense else [*_ends(here), *(d for d in here if d.again)])}
        _add_block(layout, here, pitch, names)
    return layout


def _ends(dots: list[Dot]) -> list[Dot]:
    """The highest and the lowest lots of each class."""
    groups: dict[str, list[Dot]] = {}
    for dot in sorted(dots, key=lambda dot: -dot.value):
        groups.setdefault(dot.group, []).append(dot)
    return [dot for group in groups.values() for dot in dict.fromkeys([*group[:_ENDS], *group[-_ENDS:]])]


def _add_header(layout: _Layout, group: str) -> None:
    layout.y += 4
    for line in wrapped(group or "no class", WIDTH - 4, SIZE):
        layout.y += _LINE
        layout.headers.append((layout.y, line))
    layout.y += 4


def _add_block(layout: _Layout, dots: list[Dot], pitch: float, labelled: set[str]) -> None:
    """Rows of one class, highest on top, each as tall as its name; where few are labelled, names spread out."""
    dots = sorted(dots, key=lambda dot: -dot.value)
    lines = [tuple(wrapped(dot.name, layout.gutter, SIZE)) if dot.name in labelled else () for dot in dots]
    tall = [max(ROW, len(name) * _LINE + 2) if name else 0.0 for name in lines]
    if len(labelled) == len(dots):  # every row has its name: rows grow with it
        edges = layout.y + np.cumsum([0.0, *tall])
        middles = ((edges[1:] + edges[:-1]) / 2).tolist()
        foot = float(edges[-1])
    else:
        height = max(pitch * len(dots), sum(tall))
        middles = (layout.y + (np.arange(len(dots)) + 0.5) * height / len(dots)).tolist()
        foot = layout.y + height
    named = [at for at, name in enumerate(lines) if name]
    places = spread([middles[at] for at in named], [tall[at] for at in named], layout.y, foot)
    at_label = dict(zip(named, places, strict=True))
    layout.rows += [_Row(dot, middles[at], at_label.get(at), lines[at]) for at, dot in enumerate(dots)]
    layout.y = foot


def _ground(scale: _Scale, reach: float, band: float, top: float, foot: float) -> Iterable[Markup]:
    """The band round the class mean, the line at it, the tick lines."""
    if np.isfinite(band):
        half = min(band, reach)
        yield tag("rect", x=scale(-half), y=top, width=2 * half * scale.unit, height=foot - top, class_="band")
    lines = [f"M{short(scale(value))} {short(foot)}v4" for value in ticks(reach)]
    yield path([*lines, f"M{short(scale(-reach))} {short(foot)}H{short(scale(reach))}"], class_="axis")
    yield path([f"M{short(scale(0))} {short(top)}V{short(foot)}"], class_="zero")


def _figures(rows: list[_Row], scale: _Scale) -> Iterable[Markup]:
    """Intervals, dots, the diamonds of faults and the rings of what to look at again."""
    dense = "dense" if len(rows) > LABELS_SHOWN else "few"
    plain, faulty = [row for row in rows if not row.dot.fault], [row for row in rows if row.dot.fault]
    for some, kind in ((plain, "plain"), (faulty, "urgent")):
        known = [row for row in some if np.isfinite(row.dot.low) and np.isfinite(row.dot.high)]
        strokes = [f"M{_at(scale(r.dot.low), r.y)}H{short(scale(r.dot.high))}" for r in known]
        if strokes:
            yield path(strokes, class_=f"interval {kind} {dense}")
    if plain:  # a stroke of no length with a round end is a dot
        yield path((f"M{_at(scale(row.dot.value), row.y)}h0" for row in plain), class_=f"dot {dense}")
    if faulty:
        yield path((f"M{_at(scale(r.dot.value), r.y - 5)}l5 5l-5 5l-5-5z" for r in faulty), class_="fault")
    for row in rows:
        if row.dot.again:
            yield tag("circle", cx=scale(row.dot.value), cy=row.y, r=6, class_="again")


def _at(x: float, y: float) -> str:
    return f"{short(x)} {short(y)}"


def _words(layout: _Layout, scale: _Scale, reach: float, foot: float) -> Iterable[Markup]:
    """Names of lots and classes, tick labels, and the leaders of names that had to move."""
    moved = [row for row in layout.rows if row.label_y is not None and abs(row.label_y - row.y) > 1.5]
    if moved:
        g = layout.gutter
        yield path((f"M{_at(g + 2, row.label_y or 0)}L{_at(g + 9, row.y)}" for row in moved), class_="leader")
    if layout.rules:
        yield path((f"M0 {short(y)}H{short(WIDTH)}" for y in layout.rules), class_="rule")
    names = [text for row in layout.rows if row.label_y is not None for text in _name(row, layout.gutter)]
    yield tag("g", *names, class_="names", text_anchor="end")
    if layout.headers:
        yield tag("g", *(tag("text", line, x=0, y=y) for y, line in layout.headers), class_="classes")
    places = 0 if all(value == round(value) for value in ticks(reach)) else 1
    numbers = [(value, f"{value:+.{places}f}".replace("-", MINUS) if value else "0") for value in ticks(reach)]
    figures = [tag("text", text, x=scale(value), y=foot + 14) for value, text in numbers]
    yield tag("g", *figures, class_="ticks", text_anchor="middle")


def _name(row: _Row, x: float) -> Iterable[Markup]:
    first = (row.label_y or 0) - (len(row.lines) - 1) * _LINE / 2 + SIZE * 0.35
    kind = {"class_": "urgent"} if row.dot.fault or row.dot.again else {}
    for at, line in enumerate(row.lines):
        yield tag("text", line, x=x, y=first + at * _LINE, **kind)
