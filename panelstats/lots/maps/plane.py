"""What the picture of a map shows, and the same in words."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from panelstats.lots.maps import words
from panelstats.lots.maps.apart import apart
from panelstats.lots.maps.axiswords import ends, outermost
from panelstats.lots.maps.mapcalls import fact_words, pairs, size_of
from panelstats.lots.maps.placed import ERROR, SHOWN, SPREAD
from panelstats.models.regions import ellipses
from panelstats.result import Chart, chart_rows
from panelstats.scores.cells import LOT
from panelstats.speech import Phrase
from panelstats.words import count, listing, p_value, percent, stated, stated_percent

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator, Mapping

    from panelstats.lots.maps.drawn import Drawn
    from panelstats.lots.maps.placed import Placed

# Up to so many lots every one is named, and to so many has its region; beyond, so many of the farthest are named.
NAMED, WITH_REGIONS, FARTHEST = 40, 25, 8
# From so many lots on they are drawn as density (ours).
DENSE = 500
CONTROL, STANDARD = "control", "standard"
_UNITS = {
    SPREAD: (Phrase("sd of the lots"), Phrase("sds of the lots")),
    ERROR: (Phrase("sd of the error"), Phrase("sds of the error")),
}


@dataclass(frozen=True)
class Side:
    """An axis: its share of the variance, and what its ends mean."""

    share: str
    low: str
    high: str


@dataclass(frozen=True)
class Spot:
    """A lot: its place, whether it is named, its role, its group (0: none), whether it was asked for, is in part a
    guess, or is none of the lots of the map: left out, and put where what is known of it would have it.
    """

    label: str
    x: float
    y: float
    named: bool
    role: str
    group: int
    asked: bool
    guessed: bool = False
    apart: bool = False


@dataclass(frozen=True)
class Oval:
    """Where a lot could be: centre, half axes, degrees of the long one from the first axis; whether about a guess."""

    x: float
    y: float
    long: float
    short: float
    degrees: float
    guessed: bool = False


@dataclass(frozen=True)
class Way:
    """A control met in several sessions: its place in each, in their order."""

    label: str
    places: tuple[tuple[float, float], ...]


@dataclass(frozen=True)
class Plane:
    """Two axes of a map.

    Attributes
    ----------
    name : str
        The class.
    unit : (str, str)
        What a step on both axes is, one and several.
    across, up : Side
    spots : tuple of Spot
    ovals : tuple of Oval
    bars : tuple of (descriptor, float, float)
        Loadings on both axes, the largest on the first on top.
    dense : bool
        So many lots that only those named are drawn one by one.
    notes : tuple of str
        What lies on the map without steering it.
    footer, words : str
        What the map rests on; the picture in words.
    ways : tuple of Way
    axes : (int, int)
        Which axis runs across and which up, counted from 1.
    """

    name: str
    unit: tuple[str, str]
    across: Side
    up: Side
    spots: tuple[Spot, ...]
    ovals: tuple[Oval, ...]
    bars: tuple[tuple[str, float, float], ...]
    dense: bool
    notes: tuple[str, ...]
    footer: str
    words: str
    ways: tuple[Way, ...] = ()
    axes: tuple[int, int] = (1, 2)


def planes_of(drawn: Drawn, roles: Mapping[str, str], asked: Collection[str]) -> list[Plane]:
    """The pictures of a map: the second axis over the first and, where there is one, the third; none with one axis."""
    return [_plane(drawn, roles, asked, [0, up]) for up in range(1, min(drawn.placed.shown, SHOWN))]


def _plane(drawn: Drawn, roles: Mapping[str, str], asked: Collection[str], pair: list[int]) -> Plane:
    placed = drawn.placed
    ground = placed.ground
    loadings = placed.axes.loadings[:, pair]
    order = np.argsort(-loadings[:, 0], kind="stable")
    sides = [Side(percent(float(placed.axes.share[at])), *ends(placed, at)) for at in pair]
    return Plane(
        name=ground.lot_class,
        unit=_UNITS.get(placed.scale, (Phrase("point"), Phrase("points"))),
        across=sides[0],
        up=sides[1],
        spots=_spots(drawn, roles, asked, pair),
        ovals=_ovals(placed, asked, pair),
        bars=tuple((str(ground.descriptors[at]), float(loadings[at, 0]), float(loadings[at, 1])) for at in order),
        dense=len(ground.lots) > DENSE,
        notes=tuple(
            f"{each.variable}: {fact_words(placed, each)}." for each in drawn.facts if each.p_adjusted < 1 - drawn.level
        ),
        footer=footer(drawn),
        words=in_words(drawn) if pair == [0, 1] else _other_axis(placed, pair[1]),
        ways=_ways(placed, roles, pair),
        axes=(pair[0] + 1, pair[1] + 1),
    )


def _ways(placed: Placed, roles: Mapping[str, str], pair: list[int]) -> tuple[Way, ...]:
    """Where controls and standards stood in each session in which they were met."""
    turn = placed.coefficients[:, pair]
    return tuple(
        Way(lot, tuple((float(x), float(y)) for x, y in means @ turn))
        for lot, means in placed.ground.met.items()
        if roles.get(lot) in (CONTROL, STANDARD)
    )


def strip_of(drawn: Drawn) -> Chart:
    """The lots along the one axis, with the interval of each."""
    placed = drawn.placed
    x = placed.scores[:, 0]
    half = np.sqrt(placed.radius * placed.covariance[:, 0, 0])
    order = np.argsort(-x, kind="stable")
    low, high = ends(placed, 0)
    lot_class = placed.ground.lot_class
    return Chart(
        Phrase("Lots along one axis{part}").format(part=f": {lot_class}" if lot_class else ""),
        Phrase("{low} (left) to {high} (right)").format(low=low, high=high),
        chart_rows(placed.ground.lots[order], value=x[order], low=(x - half)[order], high=(x + half)[order]),
        words=Phrase("a lot: its place with the {level} % interval").format(level=stated(100 * drawn.level))
        + guessed(placed),
        zero=0.0,
    )  # fmt: skip


def _spots(drawn: Drawn, roles: Mapping[str, str], asked: Collection[str], pair: list[int]) -> tuple[Spot, ...]:
    ground, x = drawn.placed.ground, drawn.placed.scores[:, pair]
    names = [str(lot) for lot in ground.lots]
    far = set(np.argsort(-(x**2).sum(axis=1), kind="stable")[:FARTHEST].tolist()) if len(names) > NAMED else set()
    group = np.zeros(len(names), int)
    if drawn.groups is not None and drawn.groups.clear:
        group[drawn.groups.row] = drawn.groups.found.label + 1
    found = []
    for at, name in enumerate(names):
        role = STANDARD if name == drawn.standard else str(roles.get(name) or "")
        named = len(names) <= NAMED or at in far or name in asked or role in (CONTROL, STANDARD)
        place = float(x[at, 0]), float(x[at, 1])
        found.append(Spot(name, *place, named, role, int(group[at]), name in asked, bool(ground.guessed[at])))
    return (*found, *_apart(drawn.placed, roles, asked, pair, everyone=len(names) <= NAMED))


def _apart(
    placed: Placed, roles: Mapping[str, str], asked: Collection[str], pair: list[int], *, everyone: bool
) -> Iterator[Spot]:
    """Lots that were left out, where what is known of them would have them."""
    for _, row in apart(placed).iterrows():
        name, (x, y) = str(row[LOT]), (float(row[f"axis_{axis + 1}"]) for axis in pair)
        yield Spot(name, x, y, everyone or name in asked, str(roles.get(name) or ""), 0, name in asked, False, True)


def _ovals(placed: Placed, asked: Collection[str], pair: list[int]) -> tuple[Oval, ...]:
    """Regions: of every lot where they are few, else of those asked for."""
    lots = placed.ground.lots
    if not np.isfinite(placed.radius):
        return ()
    found = ellipses(placed.covariance[:, pair][:, :, pair], placed.radius)
    shown = [at for at, lot in enumerate(lots) if len(lots) <= WITH_REGIONS or str(lot) in asked]
    return tuple(
        Oval(
            x=float(placed.scores[at, pair[0]]),
            y=float(placed.scores[at, pair[1]]),
            long=float(found.long[at]),
            short=float(found.short[at]),
            degrees=float(found.degrees[at]),
            guessed=bool(placed.ground.guessed[at]),
        )
        for at in shown
    )


def footer(drawn: Drawn) -> str:
    """What the map rests on."""
    placed = drawn.placed
    ground = placed.ground
    regions = ""
    if np.isfinite(placed.radius):
        also = words.AND_POTS if ground.pots is not None else ""
        regions = words.REGIONS.format(level=stated_percent(drawn.level)) + also
    missing = int(ground.incomplete.sum())
    return words.FOOTER.format(
        tasters=count(len(ground.tasters), "taster"), lots=count(len(ground.lots), "lot"), trusted=placed.trusted,
        p=words.FOOTER_P.format(p=listing(map(p_value, placed.p[: placed.trusted]))) if placed.trusted else "",
        regions=regions,
        incomplete=(words.INCOMPLETE.format(lots=count(missing, "lot")) if missing else "") + guessed(placed),
    )  # fmt: skip


def guessed(placed: Placed) -> str:
    """Which lots were filled in; "" where none was."""
    ground = placed.ground
    if not ground.guessed.any():
        return ""
    return words.GUESSED.format(lots=listing(ground.lots[ground.guessed]), share=percent(ground.gaps.share))


def in_words(drawn: Drawn) -> str:
    """The picture for those who do not see it: axes, who stands where, who is far and near, how many axes to trust."""
    placed = drawn.placed
    far, near = pairs(placed)
    parts = [words.WAY.format(at=at + 1, low=low, high=high)
             for at, (low, high) in enumerate(ends(placed, axis) for axis in range(placed.plane))]  # fmt: skip
    parts += [
        words.OUTERMOST.format(lots=listing(lots), words=way) for lots, way in outermost(placed, range(placed.plane))
    ]
    parts.append(
        Phrase("Farthest apart: {part}; nearest: {placed}.").format(
            part=listing(_pair(placed, each) for each in far), placed=_pair(placed, near[0])
        )
    )
    if drawn.distances:
        first = drawn.distances[0]
        parts.append(
            Phrase("Nearest to {standard}: {lot} ({placed}).").format(
                standard=drawn.standard, lot=first.lot, placed=size_of(placed, first.distance)
            )
        )
    return " ".join([*parts, Phrase("Trusted axes: {trusted}.").format(trusted=placed.trusted)])


def _other_axis(placed: Placed, axis: int) -> str:
    """A further axis for those who do not see it: its ends, and who stands there."""
    low, high = ends(placed, axis)
    parts = [words.WAY.format(at=axis + 1, low=low, high=high)]
    return " ".join([*parts, *(words.OUTERMOST.format(lots=listing(lots), words=way)
                               for lots, way in outermost(placed, [axis]))])  # fmt: skip


def _pair(placed: Placed, pair: tuple[str, str, float]) -> str:
    return words.PAIR.format(one=pair[0], other=pair[1], size=size_of(placed, pair[2]))
