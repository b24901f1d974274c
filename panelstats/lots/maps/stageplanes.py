"""Where each stage alone sees the lots, on the axes of all stages together."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from panelstats.lots.maps import words
from panelstats.speech import said
from panelstats.words import listing

if TYPE_CHECKING:
    from panelstats.lots.maps.drawn import Drawn

# Lots named at either end of how far the stages agree (ours).
_TOLD = 2


@dataclass(frozen=True)
class StagePlanes:
    """The lots as each stage sees them.

    Attributes
    ----------
    name : str
        The class.
    lots : tuple of str
    stages : tuple of (str, tuple of (float, float))
        A stage, and the place of each lot on the first two axes of the joint map.
    words : str
    """

    name: str
    lots: tuple[str, ...]
    stages: tuple[tuple[str, tuple[tuple[float, float], ...]], ...]
    words: str


def stage_planes(drawn: Drawn) -> StagePlanes | None:
    """The picture of a map by stage; None where no two stages have an axis, or they share one axis only."""
    found = drawn.stages
    if found is None or found.joint is None or found.joint.scores.shape[1] < 2:
        return None
    ground, places = drawn.placed.ground, found.joint.places[:, :, :2]
    lots = tuple(str(lot) for lot in ground.lots)
    apart = np.sqrt(((places - places.mean(axis=0)) ** 2).sum(axis=2).mean(axis=0))
    order = np.argsort(apart, kind="stable")
    named = min(_TOLD, len(lots) // 2)
    most, least = ([lots[at] for at in some] for some in (order[:named], order[::-1][:named]))
    told = words.BY_STAGE.format(stages=listing(map(said, found.used)), least=listing(least), most=listing(most))
    stages = tuple(
        (stage, tuple((float(x), float(y)) for x, y in mine)) for stage, mine in zip(found.used, places, strict=True)
    )
    return StagePlanes(ground.lot_class, lots, stages, told)
