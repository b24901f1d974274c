"""A map as a square with one unit both ways, its axes in words at their ends; and the words themselves as bars."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

from panelstats.lots.maps.plane import CONTROL, STANDARD
from panelstats.report.charts.nudging import Name, stands
from panelstats.report.charts.svg import LINE, SIZE, WIDTH, figure, line, path, short, tag, text_width, wrapped
from panelstats.speech import Phrase
from panelstats.words import stated

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from markupsafe import Markup

    from panelstats.lots.maps.plane import Oval, Plane, Spot, Way
    from panelstats.report.charts.svg import Drawing

_MARGIN, _RADIUS, _TALL, _HEXAGON = 14.0, 3.0, 11.0, 9.0
_BAR, _GUTTER = 19.0, 104.0
_GUESSED, _APART = Phrase("in part filled in"), Phrase("left out, put where its other marks would have it")
# Lengths a scale bar may have, in units of the map, and how long it may be drawn.
_LENGTHS, _LONGEST = (0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50), 90.0


class _Ground(NamedTuple):
    """Where the map stands in the drawing: the middle of both, the pixels of a unit, and the frame."""

    x: float
    y: float
    unit: float
    left: float
    top: float
    right: float
    foot: float

    def place(self, x: float, y: float) -> tuple[float, float]:
        """A place of the map in the drawing; up is up."""
        return (
            (self.left + self.right) / 2 + (x - self.x) * self.unit,
            (self.top + self.foot) / 2 - (y - self.y) * self.unit,
        )


def plane_drawing(plane: Plane, *, key: str) -> Drawing:
    """Draw a map; `key` is unique on the page. Its words are its twin."""
    up, across = plane.up, plane.across
    over = Phrase("axis {axes} ({share}), up: {high}").format(axes=plane.axes[1], share=up.share, high=up.high)
    above, below = (wrapped(words, WIDTH - 2, SIZE) for words in (over, Phrase("down: {low}").format(low=up.low)))
    sides = Phrase("left: {low}").format(low=across.low), Phrase("right: {high}").format(high=across.high)
    left, right = (wrapped(words, WIDTH / 2 - 8, SIZE) for words in sides)
    ground = _ground(plane, LINE * len(above) + 7)
    y = ground.foot + LINE * len(below) + 4
    middle = Phrase("axis {n} ({share})").format(n=plane.axes[0], share=across.share)
    part = f", {plane.name}" if plane.name else ""
    return figure(
        tag("rect", x=ground.left, y=ground.top, width=ground.right - ground.left, height=ground.foot - ground.top,
            class_="frame"),
        *(_oval(oval, ground) for oval in plane.ovals),
        *(_density(plane, ground) if plane.dense else ()),
        *(_way(way, ground) for way in plane.ways),
        *_spots(plane, ground),
        *_scale_bar(plane, ground),
        *_lines(above, 1, 3),
        *_lines(below, 1, ground.foot + 2),
        tag("text", middle, x=WIDTH / 2, y=y + LINE - 3, text_anchor="middle"),
        *_lines(left, 1, y + LINE),
        *_lines(right, WIDTH - 2, y + LINE, end=True),
        title=Phrase("Map of the lots{part}{plane}").format(part=part, plane=further(plane)), words=plane.words,
        key=key, height=y + LINE * (1 + max(len(left), len(right))) + 4,
    )  # fmt: skip


def _ground(plane: Plane, top: float) -> _Ground:
    """The map in its square: everything drawn fits, with one unit both ways."""
    reach = [(spot.x, spot.y, 0.0, 0.0) for spot in plane.spots]
    reach += [(oval.x, oval.y, *_half(oval)) for oval in plane.ovals]
    reach += [(x, y, 0.0, 0.0) for way in plane.ways for x, y in way.places]
    xs = [end for x, _, a, _ in reach for end in (x - a, x + a)]
    ys = [end for _, y, _, b in reach for end in (y - b, y + b)]
    wide = max(max(xs) - min(xs), max(ys) - min(ys)) or 1.0
    unit = (WIDTH - 2 - 2 * _MARGIN) / wide
    return _Ground((min(xs) + max(xs)) / 2, (min(ys) + max(ys)) / 2, unit, 1.0, top, WIDTH - 1.0, top + WIDTH - 2.0)


def further(plane: Plane) -> str:
    """Which axes a picture shows, where it is not the first two."""
    if plane.axes == (1, 2):
        return ""
    return Phrase(", axes {axes} and {axes_2}").format(axes=plane.axes[0], axes_2=plane.axes[1])


def _way(way: Way, ground: _Ground) -> Markup:
    """A thin line through the places of a control, the last of them marked."""
    places = [ground.place(x, y) for x, y in way.places]
    title = tag("title", f"{way.label}, session by session")
    end = tag("circle", cx=places[-1][0], cy=places[-1][1], r=1.6, class_="dot")
    return tag("g", title, line(places, class_="way"), end)


def _half(oval: Oval) -> tuple[float, float]:
    """Half the width and half the height of a turned oval."""
    c, s = math.cos(math.radians(oval.degrees)), math.sin(math.radians(oval.degrees))
    return math.hypot(oval.long * c, oval.short * s), math.hypot(oval.long * s, oval.short * c)


def _oval(oval: Oval, ground: _Ground) -> Markup:
    x, y = ground.place(oval.x, oval.y)
    return tag("ellipse", cx=x, cy=y, rx=oval.long * ground.unit, ry=oval.short * ground.unit,
               transform=f"rotate({short(-oval.degrees)} {short(x)} {short(y)})",
               class_="region guessed" if oval.guessed else "region")  # fmt: skip


def _spots(plane: Plane, ground: _Ground) -> Iterator[Markup]:
    """The lots, each with its name to be read out, and the names that find room."""
    drawn = [spot for spot in plane.spots if spot.named or not plane.dense]
    places = [ground.place(spot.x, spot.y) for spot in drawn]
    for spot, (x, y) in zip(drawn, places, strict=True):
        yield _shape(spot, x, y)
    named = [(spot, place) for spot, place in zip(drawn, places, strict=True) if spot.named]
    others = [place for spot, place in zip(drawn, places, strict=True) if not spot.named]
    wanted = [
        Name(x, y, text_width(spot.label, SIZE), spot.asked or spot.role in (CONTROL, STANDARD))
        for spot, (x, y) in named
    ]
    bounds = (ground.left + 2, ground.top + 2, ground.right - 2, ground.foot - 2)
    found = stands(wanted, others, radius=_RADIUS, tall=_TALL, bounds=bounds)
    told = [tag("text", spot.label, x=at.x, y=at.y + SIZE * 0.35)
            for (spot, _), at in zip(named, found, strict=True) if at is not None]  # fmt: skip
    if told:
        yield tag("g", *told, class_="names")


def hollow(spot: Spot) -> bool:
    """Whether a lot is drawn in dashes."""
    return spot.guessed or spot.apart


def _shape(spot: Spot, x: float, y: float) -> Markup:
    """A lot by its role, else by its group; in dashes where its place is in part a guess."""
    told = [spot.label, spot.role, _GUESSED if spot.guessed else _APART if spot.apart else ""]
    title, dashed = tag("title", ", ".join(str(each) for each in told if each)), " guessed" if hollow(spot) else ""
    if spot.role == STANDARD:
        cross = f"M{short(x - 5)} {short(y)}h10M{short(x)} {short(y - 5)}v10"
        return tag("path", title, d=cross, class_=f"target{dashed}")
    if spot.role == CONTROL:
        ring = tag("circle", cx=x, cy=y, r=5, class_=f"ring{dashed}")
        return tag("g", title, ring, tag("circle", cx=x, cy=y, r=2, class_="dot"))
    kind = (f"lot group-{spot.group}" if spot.group else "lot") + dashed
    if spot.group < 2:
        return tag("circle", title, cx=x, cy=y, r=_RADIUS + (1.0 if hollow(spot) else 0.0), class_=kind)
    return tag("path", title, d=f"M{'L'.join(_corners(spot.group, x, y))}z", class_=kind)


# Corners of the shapes of groups from the second on, in units of their radius.
_SHAPES = {
    2: ((0, -1.3), (1.2, 0.9), (-1.2, 0.9)),
    3: ((0, -1.4), (1.4, 0), (0, 1.4), (-1.4, 0)),
    4: ((-1, -1), (1, -1), (1, 1), (-1, 1)),
    5: ((0, 1.3), (1.2, -0.9), (-1.2, -0.9)),
    6: ((-1.3, -0.6), (0, -1.3), (1.3, -0.6), (1.3, 0.6), (0, 1.3), (-1.3, 0.6)),
}


def _corners(group: int, x: float, y: float) -> Iterator[str]:
    for across, down in _SHAPES[group]:
        yield f"{short(x + across * (_RADIUS + 0.6))} {short(y + down * (_RADIUS + 0.6))}"


def _density(plane: Plane, ground: _Ground) -> Iterator[Markup]:
    """Lots counted in hexagons, darker where there are more."""
    counted: dict[tuple[int, int], int] = {}
    for spot in plane.spots:
        at = _cell(*ground.place(spot.x, spot.y))
        counted[at] = counted.get(at, 0) + 1
    most = max(counted.values())
    for (row, column), n in sorted(counted.items()):
        x, y = _centre(row, column)
        turns = (k * math.pi / 3 for k in range(6))
        corners = (f"{short(x + _HEXAGON * math.sin(t))} {short(y + _HEXAGON * math.cos(t))}" for t in turns)
        yield tag("path", d=f"M{'L'.join(corners)}z", class_="density", fill_opacity=f"{0.12 + 0.68 * n / most:.2f}")


def _cell(x: float, y: float) -> tuple[int, int]:
    """The hexagon a point falls into: of the nearest centres in two rows the nearer."""
    row = round(y / (1.5 * _HEXAGON))
    near = [(r, round(x / (math.sqrt(3) * _HEXAGON) - (r % 2) / 2)) for r in (row - 1, row, row + 1)]
    return min(near, key=lambda at: math.dist((x, y), _centre(*at)))


def _centre(row: int, column: int) -> tuple[float, float]:
    return (column + (row % 2) / 2) * math.sqrt(3) * _HEXAGON, row * 1.5 * _HEXAGON


def _scale_bar(plane: Plane, ground: _Ground) -> Iterator[Markup]:
    """How long a point is, the same both ways."""
    fitting = [length for length in _LENGTHS if length * ground.unit <= _LONGEST]
    length = fitting[-1] if fitting else _LENGTHS[0]
    one, many = plane.unit
    words = f"{stated(length)} {one if length == 1 else many}"
    x, y = ground.right - 6, ground.foot - 6
    yield path([f"M{short(x)} {short(y - 3)}v6M{short(x)} {short(y)}h{short(-length * ground.unit)}m0 -3v6"],
               class_="axis")  # fmt: skip
    yield tag("text", words, x=x, y=y - 6, text_anchor="end", class_="quiet")


def _lines(lines: list[str], x: float, y: float, *, end: bool = False) -> Iterable[Markup]:
    for at, words in enumerate(lines):
        yield tag("text", words, x=x, y=y + LINE * (at + 1) - 3, text_anchor="end" if end else "start")


def bars_drawing(plane: Plane, *, key: str) -> Drawing:
    """Draw what a step along each axis means: a row a descriptor, the axis across filled, the axis up in outline."""
    most = max((abs(size) for _, *both in plane.bars for size in both), default=1.0) or 1.0
    middle, reach = _GUTTER + 10 + (WIDTH - _GUTTER - 12) / 2, (WIDTH - _GUTTER - 16) / 2
    y, drawn = 4.0, []
    for name, first, second in plane.bars:
        lines = wrapped(name, _GUTTER, SIZE)
        tall = max(_BAR, LINE * len(lines) + 3)
        start = y + tall / 2 - (len(lines) - 1) * LINE / 2 + SIZE * 0.35
        drawn += [tag("text", part, x=_GUTTER, y=start + at * LINE, text_anchor="end") for at, part in enumerate(lines)]
        for at, (size, kind) in enumerate(((first, "loading"), (second, "loading second"))):
            long = abs(size) / most * reach
            drawn.append(tag("rect", x=middle - (long if size < 0 else 0), y=y + tall / 2 - 6 + 6.5 * at, width=long,
                             height=5, class_=kind))  # fmt: skip
        y += tall
    drawn.append(path([f"M{short(middle)} 2V{short(y + 2)}"], class_="axis"))
    words = "; ".join(
        Phrase("{name} {first} and {second}").format(name=name, first=_signed(first), second=_signed(second))
        for name, first, second in plane.bars
    )
    told = Phrase("A step along axis {axes} and axis {axes_2}, by descriptor: {words}.").format(
        axes=plane.axes[0], axes_2=plane.axes[1], words=words
    )
    return figure(*drawn, title=str(Phrase("What the axes mean")), words=told, key=key, height=y + 4)


def _signed(size: float) -> str:
    return stated(size, "+.2f")
