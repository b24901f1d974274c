"""What the ends of an axis, a lot, or a group are called: by the descriptors that carry them."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from panelstats.speech import Phrase
from panelstats.words import listing

if TYPE_CHECKING:
    from collections.abc import Iterable

    from panelstats.lots.maps.placed import Placed

# Descriptors named at one end, and how large beside the largest they must be (ours).
_NAMED, _SIZE = 3, 0.5
# Lots are named as outermost from so many standard deviations of the lots on, so many a side (ours).
_OUT, _OUTERMOST = 1.0, 3


def ends(placed: Placed, axis: int) -> tuple[str, str]:
    """The low and the high end of an axis in words.

    Where its large loadings all have one sign, one end is "more" and the other "less" of the same.
    """
    loading = placed.axes.loadings[:, axis]
    up, down = carried(placed, loading), carried(placed, -loading)
    if up and down:
        return Phrase("more {down}").format(down=listing(down)), Phrase("more {up}").format(up=listing(up))
    if up:
        return Phrase("less {up}").format(up=listing(up)), Phrase("more {up}").format(up=listing(up))
    return Phrase("more {down}").format(down=listing(down)), Phrase("less {down}").format(down=listing(down))


def carried(placed: Placed, size: np.ndarray, *, most: int = _NAMED) -> list[str]:
    """Descriptors with the largest positive sizes, as far as they are large beside the largest of either sign."""
    order = np.argsort(-size, kind="stable")[:most]
    least = _SIZE * np.abs(size).max(initial=0.0)
    return [str(placed.ground.descriptors[at]) for at in order if size[at] > 0 and size[at] >= least]


def marked_by(placed: Placed, rows: np.ndarray) -> str:
    """What sets some lots apart from the mean of all: "brisk, coppery; less even"."""
    away = placed.ground.means[rows].mean(axis=0)
    up, down = carried(placed, away, most=2), carried(placed, -away, most=2)
    parts = [", ".join(up)] if up else []
    parts += [Phrase("less {down}").format(down=", ".join(down))] if down else []
    return "; ".join(parts)


def outermost(placed: Placed, axes: Iterable[int]) -> list[tuple[list[str], str]]:
    """The lots farthest out at each end of some axes, and what that end is."""
    found = []
    for axis in axes:
        x = placed.axes.scores[:, axis]
        spread = x.std(ddof=1)
        for side, words in zip((1, -1), reversed(ends(placed, axis)), strict=True):
            order = np.argsort(-side * x, kind="stable")[:_OUTERMOST]
            names = [str(placed.ground.lots[at]) for at in order if side * x[at] > _OUT * spread]
            if names:
                found.append((names, words))
    return found
