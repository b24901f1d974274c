"""The figures of one row on an axis that lies or stands: its intervals, its mark, and the band under it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from panelstats.report.charts.shapes import URGENT
from panelstats.report.charts.svg import SIZE, path, short, tag, text_width
from panelstats.result import Mark

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from markupsafe import Markup

    from panelstats.report.charts.scale import Scale
    from panelstats.result import Row

_GAP = 5.0  # between the words of two ticks


@dataclass(frozen=True)
class Axis:
    """A scale in a place of the drawing: `start` is where its low end stands; an upright one runs from foot to top."""

    scale: Scale
    start: float
    stop: float
    upright: bool = False

    def __call__(self, value: float) -> float:
        """Where a value stands; one beyond the scale stands at its end."""
        whole = self.scale.high - self.scale.low
        return self.start + (self.scale.within(value) - self.scale.low) / whole * (self.stop - self.start)

    def beyond(self, value: float) -> bool:
        """Whether it lies beyond the scale."""
        return not self.scale.low <= value <= self.scale.high

    def point(self, along: float, across: float) -> str:
        """A point of a path, so far along the axis and so far across it."""
        x, y = (across, along) if self.upright else (along, across)
        return f"{short(x)} {short(y)}"

    def stroke(self, first: float, last: float, across: float) -> str:
        """A stroke from one place of the axis to another."""
        return f"M{self.point(first, across)}{'V' if self.upright else 'H'}{short(last)}"

    @property
    def way(self) -> float:
        """1 where places grow with the values, else -1."""
        return math.copysign(1.0, self.stop - self.start)

    def ticks(self) -> Iterator[tuple[float, str]]:
        """The place and the words of every tick; words that would touch others are left out, zero's never."""
        marks = self.scale.ticks
        widest = SIZE if self.upright else max((text_width(words, SIZE) for _, words in marks), default=0.0)
        between = abs(self(marks[1][0]) - self(marks[0][0])) if len(marks) > 1 else math.inf
        every = max(1, math.ceil((widest + _GAP) / between)) if between else 1
        first = next((at for at, (value, _) in enumerate(marks) if value == 0), 0) % every
        for at, (value, words) in enumerate(marks):
            yield self(value), words if at % every == first else ""


def upright_ground(axis: Axis, left: float, right: float, zero: float) -> Iterable[Markup]:
    """The line of reference, the scale at its left end, and its words before it."""
    if math.isfinite(zero):
        yield path([f"M{short(left)} {short(axis(zero))}H{short(right)}"], class_="zero")
    ticks = list(axis.ticks())
    strokes = [f"M{short(left - 3)} {short(y)}h3" for y, _ in ticks]
    yield path([*strokes, axis.stroke(axis.start, axis.stop, left)], class_="axis")
    texts = (tag("text", words, x=left - 5, y=y + SIZE * 0.35) for y, words in ticks if words)
    yield tag("g", *texts, class_="ticks", text_anchor="end")


def is_urgent(row: Row) -> bool:
    """Whether its mark asks for something to be done."""
    return row.mark in URGENT


def kind_of(row: Row) -> str:
    """How it is drawn: urgent, plain, or unjudged, which is grey."""
    return "urgent" if is_urgent(row) else "plain" if row.mark else "unjudged"


def row_figures(row: Row, axis: Axis, across: float) -> Iterable[Markup]:
    """The intervals and the mark of a row; nothing stands at the estimate of what cannot be told."""
    kind = kind_of(row)
    for value, name in ((row.standard, "standard"), (row.earlier, "earlier")):
        if math.isfinite(value) and not axis.beyond(value):
            at = axis(value)
            yield path([f"M{axis.point(at, across - 7)}L{axis.point(at, across + 7)}"], class_=name)
    for low, high, name in ((row.low, row.high, "interval"), (row.inner_low, row.inner_high, "inner")):
        if not (math.isnan(low) or math.isnan(high)):
            ends = _ends(row, axis, across) if name == "interval" else ()
            yield path([axis.stroke(axis(low), axis(high), across), *ends], class_=f"{name} {kind}")
    if math.isfinite(row.value):
        yield from _mark(row, axis, across)


def _ends(row: Row, axis: Axis, across: float) -> Iterator[str]:
    """Open arrows where the interval runs on beyond the scale."""
    for value, end, way in ((row.low, axis.start, axis.way), (row.high, axis.stop, -axis.way)):
        if axis.beyond(value):
            back = end + 4 * way
            yield f"M{axis.point(back, across - 3)}L{axis.point(end, across)}L{axis.point(back, across + 3)}"


def _mark(row: Row, axis: Axis, across: float) -> Iterator[Markup]:
    middle = axis(row.value)
    if row.mark in (None, Mark.WITHIN, Mark.AGAIN):
        x, y = (across, middle) if axis.upright else (middle, across)
        if row.mark is Mark.AGAIN:
            yield tag("circle", cx=x, cy=y, r=6, class_="again")
        small = row.mark is not Mark.WITHIN
        yield tag("circle", cx=x, cy=y, r=2.5 if small else 3.6, class_="dot" if small else "within")
    elif row.mark is Mark.FAULT:
        corners = ((-5, 0), (0, -5), (5, 0), (0, 5))
        points = "L".join(axis.point(middle + along, across + aside) for along, aside in corners)
        yield path([f"M{points}z"], class_="fault")
    elif row.mark is Mark.APART:
        both = [*_triangle(axis, middle + 5, across, 1), *_triangle(axis, middle - 5, across, -1)]
        yield path(both, class_="outside")
    elif row.mark is not Mark.OPEN:
        yield path(_triangle(axis, middle, across, 1 if row.mark is Mark.HIGHER else -1), class_="outside")


def _triangle(axis: Axis, middle: float, across: float, way: float) -> Iterator[str]:
    """A triangle that points up the axis, or down it."""
    step = math.copysign(1.0, way) * axis.way
    back, tip = middle - 4 * step, middle + 5 * step
    yield f"M{axis.point(back, across - 5)}L{axis.point(tip, across)}L{axis.point(back, across + 5)}z"


def band(axis: Axis, floor: float, ceiling: float, first: float, last: float) -> Iterable[Markup]:
    """What is tolerated, across from first to last; open where one side has no limit, nothing where none was given."""
    if math.isnan(floor) or math.isnan(ceiling):
        return
    low, high = sorted((axis(floor), axis(ceiling)))
    size = {"x": first, "y": low, "width": last - first, "height": high - low}
    if not axis.upright:
        size = {"x": low, "y": first, "width": high - low, "height": last - first}
    yield tag("rect", **size, class_="band")
