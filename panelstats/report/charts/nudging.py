"""Where names stand beside their points so that none lies on another: one way for the same points, always."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Sequence


class Name(NamedTuple):
    """A point with the width of its name; `first` names are placed before others."""

    x: float
    y: float
    width: float
    first: bool


class Stand(NamedTuple):
    """The left end and the middle height of a name."""

    x: float
    y: float


class _Box(NamedTuple):
    left: float
    top: float
    right: float
    foot: float

    def meets(self, other: _Box) -> bool:
        return self.left < other.right and other.left < self.right and self.top < other.foot and other.top < self.foot


# Sides on which a name is tried, the best first: across, down; -1, 0 or 1.
_SIDES = ((1, 0), (-1, 0), (0, -1), (0, 1), (1, -1), (-1, -1), (1, 1), (-1, 1))


def stands(
    names: Sequence[Name],
    others: Sequence[tuple[float, float]],
    *,
    radius: float,
    tall: float,
    bounds: tuple[float, float, float, float],
) -> list[Stand | None]:
    """A place for each name, or None where it would lie on another, on a point, or beyond the bounds.

    Parameters
    ----------
    names : sequence of Name
        The outermost are placed first, after those that are `first`.
    others : sequence of (x, y)
        Points without a name, which no name may cover.
    radius, tall : float
        Of a point; height of a line.
    bounds : left, top, right, foot

    Examples
    --------
    >>> stands([Name(50, 50, 20, False)], [], radius=3, tall=10, bounds=(0, 0, 100, 100))
    [Stand(x=55.0, y=50.0)]
    """
    points = [_Box(x - radius, y - radius, x + radius, y + radius) for x, y in (*((n.x, n.y) for n in names), *others)]
    middle = ((bounds[0] + bounds[2]) / 2, (bounds[1] + bounds[3]) / 2)
    order = sorted(
        range(len(names)),
        key=lambda at: (not names[at].first,
                        -round((names[at].x - middle[0]) ** 2 + (names[at].y - middle[1]) ** 2, 3), at),
    )  # fmt: skip
    taken: list[_Box] = []
    found: list[Stand | None] = [None] * len(names)
    for at in order:
        others_here = [*taken, *(each for each in points if each is not points[at])]
        for across, down in _SIDES:
            box = _beside(names[at], across, down, radius + 2, tall)
            inside = bounds[0] <= box.left and box.right <= bounds[2] and bounds[1] <= box.top and box.foot <= bounds[3]
            if inside and not any(box.meets(each) for each in others_here):
                taken.append(box)
                found[at] = Stand(box.left, (box.top + box.foot) / 2)
                break
    return found


def _beside(name: Name, across: int, down: int, gap: float, tall: float) -> _Box:
    slant = 0.7 if across and down else 1.0
    left = name.x + across * gap * slant - (name.width if across < 0 else 0 if across > 0 else name.width / 2)
    middle = name.y + down * (gap * slant + tall / 2 * (1 if not across else 0.6))
    return _Box(left, middle - tall / 2, left + name.width, middle + tall / 2)
