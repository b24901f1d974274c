"""Pairs of lots, or lots against one control, with intervals that hold together."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.stats import t as t_distribution

from panelstats.lots.fitted import FEW_LOTS
from panelstats.models import comparisons
from panelstats.models.multiplicity import adjusted

if TYPE_CHECKING:
    from panelstats.lots.fitted import Fitted
    from panelstats.models.degrees import Contrasts, LotEffects


@dataclass(frozen=True, eq=False)
class Compared:
    """The comparisons of one descriptor; arrays run over them.

    Attributes
    ----------
    descriptor : int
        Its place in the grid.
    first, second : ndarray of int
        Lots compared, by their place in the grid.
    contrasts : Contrasts
        First less second.
    p, p_adjusted, low, high : ndarray
        Adjusted over the comparisons of this descriptor; the intervals hold together.
    all_pairs : bool
        Whether every pair was compared (and letters can be given).
    """

    descriptor: int
    first: np.ndarray
    second: np.ndarray
    contrasts: Contrasts
    p: np.ndarray
    p_adjusted: np.ndarray
    low: np.ndarray
    high: np.ndarray
    all_pairs: bool


def compared_pairs(group: Fitted, *, adjust: str, control: str | None, wanted: bool | None) -> list[Compared]:
    """Compare the lots of every descriptor that calls for it.

    Parameters
    ----------
    group : Fitted
    adjust : {"tukey", "holm", "none"}
    control : str or None
        The lot that all others are compared with, instead of all pairs.
    wanted : bool or None
        True: every descriptor. None: where the lot test was passed, up to FEW_LOTS lots. False: none.
    """
    out = []
    for d in range(len(group.grid.descriptors)):
        few = group.count <= FEW_LOTS and group.passed(d)
        if wanted or control is not None or (wanted is None and few):
            out.append(compare_one(group, d, adjust=adjust, control=control))
    return [one for one in out if one is not None]


def compare_one(group: Fitted, d: int, *, adjust: str = "tukey", control: str | None = None) -> Compared | None:
    """The comparisons of one descriptor; None where it was not fitted or fewer than two lots were scored."""
    part = group.part(d)
    if part.effects is None or d not in part.slot:
        return None
    return _compare(group, part.effects, (d, part.slot[d]), adjust, control)


def _compare(
    group: Fitted, effects: LotEffects, at: tuple[int, int], adjust: str, control: str | None
) -> Compared | None:
    d, k = at
    lots = effects.fit.blocks.row_lot[effects.rows_of(k)]
    ours = np.flatnonzero(group.compared[lots])
    if control is None:
        first, second = (ours[side] for side in np.triu_indices(len(ours), 1))
    else:
        place = np.flatnonzero(group.grid.lots[lots] == control)
        first = ours[ours != place] if len(place) else ours[:0]
        second = np.repeat(place, len(first))
    if not len(first):
        return None
    contrasts = effects.pairs(k, first, second)
    t = contrasts.estimate / contrasts.se
    p = np.asarray(2 * t_distribution.sf(np.abs(t), contrasts.df))
    if control is not None and adjust != "none":
        family = comparisons.against_control(
            effects.correlation_with(k, int(place[0]), first), t, contrasts.df, level=group.level
        )
    elif adjust == "tukey":
        family = comparisons.all_pairs(len(ours))
    else:
        family = None
    if family is None:
        p_adjusted = adjusted(p, adjust)
        share = len(p) if adjust == "holm" else 1
        half = t_distribution.isf((1 - group.level) / 2 / share, contrasts.df) * contrasts.se
    else:
        p_adjusted = family.p(t, contrasts.df)
        half = family.half_width(contrasts.se, contrasts.df, group.level)
    return Compared(
        descriptor=d,
        first=lots[first],
        second=lots[second],
        contrasts=contrasts,
        p=p,
        p_adjusted=p_adjusted,
        low=contrasts.estimate - half,
        high=contrasts.estimate + half,
        all_pairs=control is None,
    )


def least_difference(group: Fitted, d: int) -> float:
    """Least difference between two lots that this panel can separate, simultaneous over all pairs; NaN if unknown."""
    part = group.part(d)
    if part.effects is None or d not in part.slot or group.count < 2:
        return float("nan")
    effects, k = part.effects, part.slot[d]
    ours = np.flatnonzero(group.compared[effects.fit.blocks.row_lot[effects.rows_of(k)]])
    if len(ours) < 2:
        return float("nan")
    steps = np.arange(len(ours))
    contrasts = effects.pairs(k, ours, ours[steps - 1])  # each lot against its neighbour: a fair sample of the pairs
    se, df = np.median(contrasts.se), np.median(contrasts.df)
    return float(comparisons.all_pairs(len(ours)).half_width(np.array(se), np.array(df), group.level))
