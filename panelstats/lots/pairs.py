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


@dataclass(frozen=True, eq=False)
class Spans:
    """How far the lots of each descriptor lie apart, and how far they must; arrays over the grid's descriptors.

    Attributes
    ----------
    top, bottom : ndarray of int
        Highest and lowest lot that are compared, by their place in the grid; -1 where there are no two.
    difference, half_width : ndarray
        Top less bottom and the half-width of its interval, simultaneous over all pairs; NaN where unknown.
    least : ndarray
        Least difference between two lots that this panel can separate, simultaneous over all pairs.
    """

    top: np.ndarray
    bottom: np.ndarray
    difference: np.ndarray
    half_width: np.ndarray
    least: np.ndarray


def spans(group: Fitted) -> Spans:
    """Widest pair and least difference of every descriptor."""
    size = len(group.grid.descriptors)
    ends, count = np.full((2, size), -1), np.zeros(size, int)
    difference, (se, df) = np.full(size, np.nan), np.full((2, 2, size), np.nan)
    for d in range(size):
        part = group.part(d)
        if part.effects is None or d not in part.slot:
            continue
        effects, k = part.effects, part.slot[d]
        rows = effects.rows_of(k)
        lots = effects.fit.blocks.row_lot[rows]
        ours = np.flatnonzero(group.compared[lots])
        if len(ours) < 2:
            continue
        mean, count[d] = effects.mean[rows][ours], len(ours)
        widest = ours[[mean.argmax(), mean.argmin()]]
        # each lot against its neighbour is a fair sample of the pairs
        found = effects.pairs(k, np.r_[widest[0], ours], np.r_[widest[1], ours[np.arange(len(ours)) - 1]])
        ends[:, d], difference[d] = lots[widest], found.estimate[0]
        se[:, d], df[:, d] = (found.se[0], np.median(found.se[1:])), (found.df[0], np.median(found.df[1:]))
    half = comparisons.pairs_half_width(se, df, count, level=group.level)
    return Spans(ends[0], ends[1], difference, half[0], half[1])
