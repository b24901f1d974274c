"""Pairs of lots, or lots against one control, with intervals that hold together."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.stats import t as t_distribution

from panelstats.lots.compare.fitted import FEW_LOTS
from panelstats.models import comparisons
from panelstats.models.multiplicity import adjusted

if TYPE_CHECKING:
    from panelstats.lots.compare.fitted import Fitted
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
    few = group.count <= FEW_LOTS
    every = wanted or control is not None
    passed = wanted is None and few
    which = [d for d in range(len(group.grid.descriptors)) if every or (passed and group.passed(d))]
    return compare(group, which, adjust=adjust, control=control)


def compare(group: Fitted, which: list[int], *, adjust: str = "tukey", control: str | None = None) -> list[Compared]:
    """The comparisons of some descriptors; none where it was not fitted or fewer than two lots were scored."""
    asked = [one for d in which if (one := _asked(group, d, control)) is not None]
    if control is not None and adjust != "none":
        judged = [_against_control(group, one) for one in asked]
    elif adjust == "tukey":
        judged = _all_pairs(group, asked)
    else:
        judged = [_alone(group, one, adjust) for one in asked]
    return [
        Compared(
            descriptor=one.descriptor,
            first=one.lots[one.first],
            second=one.lots[one.second],
            contrasts=one.contrasts,
            p=np.asarray(2 * t_distribution.sf(np.abs(one.t), one.contrasts.df)),
            p_adjusted=p_adjusted,
            low=one.contrasts.estimate - half,
            high=one.contrasts.estimate + half,
            all_pairs=control is None,
        )
        for one, (p_adjusted, half) in zip(asked, judged, strict=True)
    ]


@dataclass(frozen=True, eq=False)
class _Asked:
    """Contrasts of one descriptor before they are judged together; `first` and `second` count its scored `lots`."""

    descriptor: int
    effects: LotEffects
    slot: int
    lots: np.ndarray
    first: np.ndarray
    second: np.ndarray
    contrasts: Contrasts
    means: int

    @property
    def t(self) -> np.ndarray:
        return self.contrasts.estimate / self.contrasts.se


def _asked(group: Fitted, d: int, control: str | None) -> _Asked | None:
    part = group.part(d)
    if part.effects is None or d not in part.slot:
        return None
    effects, k = part.effects, part.slot[d]
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
    return _Asked(d, effects, k, lots, first, second, effects.pairs(k, first, second), len(ours))


def _all_pairs(group: Fitted, asked: list[_Asked]) -> list[tuple[np.ndarray, np.ndarray]]:
    """Adjusted p and half-widths by the studentised range, all descriptors at once."""
    if not asked:
        return []
    columns = ((one.t, one.contrasts.se, one.contrasts.df) for one in asked)
    t, se, df = (np.concatenate(parts) for parts in zip(*columns, strict=True))
    sizes = [len(one.first) for one in asked]
    means = np.repeat([one.means for one in asked], sizes)
    ends = np.cumsum(sizes)[:-1]
    p = comparisons.pairs_p(t, df, means)
    half = comparisons.pairs_half_width(se, df, means, level=group.level)
    return list(zip(np.split(p, ends), np.split(half, ends), strict=True))


def _against_control(group: Fitted, one: _Asked) -> tuple[np.ndarray, np.ndarray]:
    correlation = one.effects.correlation_with(one.slot, int(one.second[0]), one.first)
    family = comparisons.against_control(correlation, one.t, one.contrasts.df, level=group.level)
    half = family.half_width(one.contrasts.se, one.contrasts.df, group.level)
    return family.p(one.t, one.contrasts.df), half


def _alone(group: Fitted, one: _Asked, adjust: str) -> tuple[np.ndarray, np.ndarray]:
    """Student's t, p by Holm or as it stands; intervals by Bonferroni where p is by Holm."""
    p = np.asarray(2 * t_distribution.sf(np.abs(one.t), one.contrasts.df))
    tail = (1 - group.level) / 2 / (len(p) if adjust == "holm" else 1)
    return adjusted(p, adjust), t_distribution.isf(tail, one.contrasts.df) * one.contrasts.se


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
