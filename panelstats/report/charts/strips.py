"""One cell of a taster's sheet: an interval and its mark over the pale strip of what is tolerated."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from panelstats.report.charts.marks import Mark
from panelstats.report.charts.svg import path, short, tag

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from markupsafe import Markup

WIDTH, HEIGHT = 120.0, 22.0
_PAD, _MIDDLE = 7.0, HEIGHT / 2


@dataclass(frozen=True)
class Strip:
    """One estimate with its interval, what is tolerated, and the call.

    Attributes
    ----------
    value, low, high : float
        NaN where nothing could be estimated.
    floor, ceiling : float
        Limits of what is tolerated; infinite where there is none.
    mark : Mark or None
        None where it is shown and not judged.
    """

    value: float
    low: float
    high: float
    floor: float
    ceiling: float
    mark: Mark | None


def reach(strips: Iterable[Strip]) -> tuple[float, float]:
    """Ends of the common scale of a column: all estimates and limits fit, and intervals where nothing is judged.

    Other intervals may run on beyond it.
    """
    shown = [(s.value, s.floor, s.ceiling) if s.mark else (s.low, s.high, s.floor, s.ceiling) for s in strips]
    ends = [x for some in shown for x in some if math.isfinite(x)]
    low, high = (min(ends), max(ends)) if ends else (0.0, 1.0)
    room = (high - low or 1.0) * 0.35
    return low - room, high + room


def strip(cell: Strip, ends: tuple[float, float], words: str) -> Markup:
    """Draw one cell; `words` says what it shows."""
    low, high = ends
    unit = (WIDTH - 2 * _PAD) / (high - low)

    def x(value: float) -> float:
        return _PAD + (min(max(value, low), high) - low) * unit

    inside = (0.0 if cell.floor == -math.inf else x(cell.floor), WIDTH if cell.ceiling == math.inf else x(cell.ceiling))
    drawn = [tag("rect", x=inside[0], y=0, width=inside[1] - inside[0], height=HEIGHT, class_="band")]
    if math.isfinite(cell.value):
        drawn += _interval(cell, x, ends)
        drawn += _mark(x(cell.value), cell.mark)
    view = f"0 0 {short(WIDTH)} {short(HEIGHT)}"
    return tag("svg", *drawn, viewBox=view, role="img", aria_label=words, class_="strip")


def _interval(cell: Strip, x: Callable[[float], float], ends: tuple[float, float]) -> Iterable[Markup]:
    """The line of the interval; where it runs on beyond the scale it goes to the edge and ends in an open arrow."""
    low, high = cell.low, cell.high
    start = "M0" if not low >= ends[0] else f"M{short(x(low))}"
    stop = WIDTH if not high <= ends[1] else x(high)
    kind = "interval" if cell.mark else "interval unjudged"
    moves = [f"{start} {short(_MIDDLE)}H{short(stop)}"]
    if not low >= ends[0]:
        moves.append(f"M4 {short(_MIDDLE - 3)}l-4 3 4 3")
    if not high <= ends[1]:
        moves.append(f"M{short(WIDTH - 4)} {short(_MIDDLE - 3)}l4 3-4 3")
    yield path(moves, class_=kind)


def _mark(x: float, mark: Mark | None) -> Iterable[Markup]:
    """The dot of what is shown within, the triangle of what is shown outside; nothing where it cannot be told."""
    if mark is Mark.WITHIN:
        yield tag("circle", cx=x, cy=_MIDDLE, r=3.4, class_="within")
    elif mark is Mark.HIGHER:
        yield path([f"M{short(x - 4)} {short(_MIDDLE - 5)}l9 5-9 5z"], class_="outside")
    elif mark is Mark.LOWER:
        yield path([f"M{short(x + 4)} {short(_MIDDLE - 5)}l-9 5 9 5z"], class_="outside")
    elif mark is Mark.APART:
        moves = [
            f"M{short(x - 1.5)} {short(_MIDDLE - 5)}l-7 5 7 5z",
            f"M{short(x + 1.5)} {short(_MIDDLE - 5)}l7 5-7 5z",
        ]
        yield path(moves, class_="outside")
