"""Pairs of lots, or lots against one control, with intervals that hold together."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import stdtr, stdtrit

from panelstats.lots.classfit import FEW_LOTS
from panelstats.models import comparisons
from panelstats.models.multiplicity import adjusted

if TYPE_CHECKING:
    from panelstats.lots.classfit import ClassFit
    from panelstats.models.degrees import Contrasts
    from panelstats.models.panelfit import DescriptorFit


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
            first=one.fit.lots[one.first],
            second=one.fit.lots[one.second],
            contrasts=one.contrasts,
            p=one.p,
            p_adjusted=p_adjusted,
            low=one.contrasts.estimate - half,
            high=one.contrasts.estimate + half,
            all_pairs=control is None,
        )
        for one, (p_adjusted, half) in zip(asked, judged, strict=True)
    ]


@dataclass(frozen=True, eq=False)
class _Asked:
    """Contrasts of one descriptor before they are judged together; `first` and `second` count the lots of its fit."""

    descriptor: int
    fit: DescriptorFit
    first: np.ndarray
    second: np.ndarray
    contrasts: Contrasts
    means: int

    @property
    def t(self) -> np.ndarray:
        return self.contrasts.estimate / self.contrasts.se

    @property
    def p(self) -> np.ndarray:
        return np.asarray(2 * stdtr(self.contrasts.df, -np.abs(self.t)))


def _asked(group: ClassFit, d: int, control: str | None) -> _Asked | None:
    fit = group.of(d)
    if fit is None:
        return None
    lots = fit.lots
    ours = np.flatnonzero(group.compared[lots])
    if control is None:
        first, second = (ours[side] for side in np.triu_indices(len(ours), 1))
    else:
        place = np.flatnonzero(group.grid.lots[lots] == control)
        first = ours[ours != place] if len(place) else ours[:0]
        second = np.repeat(place, len(first))
    if not len(first):
        return None
    return _Asked(d, fit, first, second, fit.pairs(first, second), len(ours))


def _all_pairs(group: ClassFit, asked: list[_Asked]) -> list[tuple[np.ndarray, np.ndarray]]:
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


def _against_control(group: ClassFit, one: _Asked) -> tuple[np.ndarray, np.ndarray]:
    correlation = one.fit.effects.correlation_with(one.fit.slot, int(one.second[0]), one.first)
    family = comparisons.against_control(correlation, one.t, one.contrasts.df, level=group.level)
    half = family.half_width(one.contrasts.se, one.contrasts.df, group.level)
    return family.p(one.t, one.contrasts.df), half


def _alone(group: ClassFit, one: _Asked, adjust: str) -> tuple[np.ndarray, np.ndarray]:
    """Student's t, p by Holm or as it stands; intervals by Bonferroni where p is by Holm."""
    tail = (1 - group.level) / 2 / (len(one.p) if adjust == "holm" else 1)
    return adjusted(one.p, adjust), stdtrit(one.contrasts.df, 1 - tail) * one.contrasts.se


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
