"""Pairs of lots, or lots against one control, with intervals that hold together."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import stdtrit

from panelstats.lots.classfit import FEW_LOTS
from panelstats.models import comparisons
from panelstats.models.contrasts import Contrasts
from panelstats.models.multiplicity import adjusted

if TYPE_CHECKING:
    from panelstats.lots.classfit import ClassFit
    from panelstats.models.degrees import LotEffects
    from panelstats.models.seasoneffects import SeasonEffects


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
    p_adjusted, half : ndarray
        Adjusted over the comparisons of this descriptor, and half-widths of intervals that hold together.
    all_pairs : bool
        Whether every pair was compared (and letters can be given).
    """

    descriptor: int
    first: np.ndarray
    second: np.ndarray
    contrasts: Contrasts
    p_adjusted: np.ndarray
    half: np.ndarray
    all_pairs: bool


def compared_pairs(group: ClassFit, *, adjust: str, control: str | None, wanted: bool | None) -> list[Compared]:
    """Compare the lots of every descriptor that calls for it.

    Parameters
    ----------
    group : ClassFit
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


def compare(group: ClassFit, which: list[int], *, adjust: str = "tukey", control: str | None = None) -> list[Compared]:
    """The comparisons of some descriptors; none where it was not fitted or fewer than two lots were scored."""
    asked = [
        (d, fit.lots, one)
        for d in which
        if (fit := group.of(d)) is not None
        and (one := Asked.of(fit.effects, fit.slot, group.compared[fit.lots], group.grid.lots[fit.lots], control))
    ]
    judged = judged_together([one for *_, one in asked], adjust=adjust, control=control, level=group.level)
    return [
        Compared(d, lots[one.first], lots[one.second], one.contrasts, p_adjusted, half, all_pairs=control is None)
        for (d, lots, one), (p_adjusted, half) in zip(asked, judged, strict=True)
    ]


@dataclass(frozen=True, eq=False)
class Asked:
    """Lots of one fitted descriptor that are held against one another, before these contrasts are judged together.

    Attributes
    ----------
    effects : LotEffects or SeasonEffects
    slot : int
        The descriptor's place in the fit.
    first, second : ndarray of int
        Lots, counted in those of its fit.
    means : int
        Lots compared.
    contrasts : Contrasts
        First less second.
    """

    effects: LotEffects | SeasonEffects
    slot: int
    first: np.ndarray
    second: np.ndarray
    means: int
    contrasts: Contrasts

    @staticmethod
    def of(
        effects: LotEffects | SeasonEffects, slot: int, compared: np.ndarray, names: np.ndarray, control: str | None
    ) -> Asked | None:
        """All pairs of the compared lots, or each of them against one; None where there are no two."""
        ours = np.flatnonzero(compared)
        if control is None:
            first, second = (ours[side] for side in np.triu_indices(len(ours), 1))
        else:
            place = np.flatnonzero(names == control)
            first = ours[ours != place] if len(place) else ours[:0]
            second = np.repeat(place, len(first))
        if not len(first):
            return None
        return Asked(effects, slot, first, second, len(ours), effects.pairs(slot, first, second))


def judged_together(
    asked: list[Asked], *, adjust: str, control: str | None, level: float
) -> list[tuple[np.ndarray, np.ndarray]]:
    """P adjusted over the contrasts of each descriptor, and half-widths of intervals that hold together."""
    if control is not None and adjust != "none":
        return [_against_control(one, level) for one in asked]
    if adjust == "tukey":
        return _all_pairs([one.contrasts for one in asked], [one.means for one in asked], level)
    return [_alone(one.contrasts, adjust, level) for one in asked]


def _all_pairs(found: list[Contrasts], means: list[int], level: float) -> list[tuple[np.ndarray, np.ndarray]]:
    """By the studentised range, all descriptors at once."""
    if not found:
        return []
    every, sizes = Contrasts.joined(found), [len(one.se) for one in found]
    of, ends = np.repeat(means, sizes), np.cumsum(sizes)[:-1]
    p = comparisons.pairs_p(every.t, every.df, of)
    half = comparisons.pairs_half_width(every.se, every.df, of, level=level)
    return list(zip(np.split(p, ends), np.split(half, ends), strict=True))


def _against_control(one: Asked, level: float) -> tuple[np.ndarray, np.ndarray]:
    correlation, found = one.effects.correlation_with(one.slot, int(one.second[0]), one.first), one.contrasts
    family = comparisons.against_control(correlation, found.t, found.df, level=level)
    return family.p(found.t, found.df), family.half_width(found.se, found.df, level)


def _alone(found: Contrasts, adjust: str, level: float) -> tuple[np.ndarray, np.ndarray]:
    """Student's t, p by Holm or as it stands; intervals by Bonferroni where p is by Holm."""
    tail = (1 - level) / 2 / (len(found.se) if adjust == "holm" else 1)
    return adjusted(found.p, adjust), stdtrit(found.df, 1 - tail) * found.se


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


def spans(group: ClassFit) -> Spans:
    """Widest pair and least difference of every descriptor."""
    size = len(group.grid.descriptors)
    ends, count = np.full((2, size), -1), np.zeros(size, int)
    difference, (se, df) = np.full(size, np.nan), np.full((2, 2, size), np.nan)
    for d in range(size):
        fit = group.of(d)
        ours = np.flatnonzero(group.compared[fit.lots]) if fit is not None else np.zeros(0, int)
        if fit is None or len(ours) < 2:
            continue
        mean, count[d] = fit.mean[ours], len(ours)
        widest = ours[[mean.argmax(), mean.argmin()]]
        # each lot against its neighbour is a fair sample of the pairs
        found = fit.pairs(np.r_[widest[0], ours], np.r_[widest[1], ours[np.arange(len(ours)) - 1]])
        ends[:, d], difference[d] = fit.lots[widest], found.estimate[0]
        se[:, d], df[:, d] = (found.se[0], np.median(found.se[1:])), (found.df[0], np.median(found.df[1:]))
    half = comparisons.pairs_half_width(se, df, count, level=group.level)
    return Spans(ends[0], ends[1], difference, half[0], half[1])
