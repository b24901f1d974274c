"""One map with all that stands beside it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from panelstats.lots.maps.besides import distances, fitted, grouped
from panelstats.lots.maps.together import by_stage, lot_test, panels_picture

if TYPE_CHECKING:
    from collections.abc import Sequence

    import pandas as pd

    from panelstats.lots.maps.besides import Distance, Fitted, Grouped
    from panelstats.lots.maps.placed import Placed
    from panelstats.lots.maps.together import ByStage, LotTest, SharedPicture


@dataclass(frozen=True, eq=False)
class Drawn:
    """A map, and what is read off it or laid on it; None or empty where that could not be asked."""

    placed: Placed
    level: float
    standard: str
    groups: Grouped | None
    distances: list[Distance]
    facts: list[Fitted]
    stages: ByStage | None
    picture: SharedPicture | None
    test: LotTest | None


def drawn(
    placed: Placed,
    register: pd.DataFrame,
    *,
    standard: str,
    facts: Sequence[str],
    resamples: int,
    level: float,
    seed: int,
    besides: bool,
) -> Drawn:
    """Ask what can be asked of a map: how far lots lie from the standard and, with `besides`, everything."""
    far = distances(placed, standard, level)
    if not besides:
        return Drawn(placed, level, standard, None, far, [], None, None, None)
    return Drawn(
        placed=placed,
        level=level,
        standard=standard,
        groups=grouped(placed, resamples=resamples, level=level, seed=seed),
        distances=far,
        facts=fitted(placed, register, facts, resamples=resamples, seed=seed),
        stages=by_stage(placed, resamples=resamples, level=level, seed=seed),
        picture=panels_picture(placed, resamples=resamples, seed=seed),
        test=lot_test(placed),
    )
