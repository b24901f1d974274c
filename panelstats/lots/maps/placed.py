"""One map: its axes, how many of them to trust, and how sure each lot's place is."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from panelstats.lots.maps.filled import with_gaps_filled
from panelstats.models.axistest import axis_p, dealt, relabelled, trusted
from panelstats.models.parallelaxes import parallel_axes
from panelstats.models.principal import Principal, anchored, matched, principal_axes
from panelstats.models.regions import radius_squared

if TYPE_CHECKING:
    from collections.abc import Sequence

    from panelstats.lots.maps.ground import Ground

# A map needs so many lots, tasters and descriptors, and regions one taster more (ours).
_NONE = 1e-9  # of the lots' spread, what remains where nothing does
LEAST_LOTS, LEAST_TASTERS, LEAST_WORDS, REGION_TASTERS = 3, 3, 2, 4
# Axes that are tested, and that are shown unless others are asked for.
TESTED, SHOWN = 5, 3
# An axis that turns by more when a taster is left out has no direction of its own (ours).
TURNS = 30.0
POINTS, SPREAD, ERROR = "points", "spread", "error"
# The axes of the error's scale need its covariance known so well: degrees of freedom above the descriptors (ours).
SPARE = 2


@dataclass(frozen=True, eq=False)
class Placed:
    """A map.

    Attributes
    ----------
    ground : Ground
    scale : str
        points, spread or error.
    axes : Principal
        Loadings are points of a descriptor for a step along the axis (`spread`: standard deviations of the lots).
    coefficients : ndarray, shape (descriptor, axis)
        Scores are means times these.
    p : ndarray, shape (axis,)
        Up to the first axis that is not shown; NaN beyond.
    trusted, shown : int
        Axes the tasters agree on, and axes that are given.
    covariance : ndarray, shape (lot, axis, axis)
        Of each lot's place on the axes that are given.
    df, radius : float
        Degrees of freedom of the regions, and their squared radius; NaN where there are none.
    arbitrary, turned : bool
        Whether directions in the plane mean nothing, and whether it was turned onto a stored map.
    observed, drawn : ndarray
        Squares and products of the panel's means, and with lots relabelled.
    short : str
        What is too little for a map: lots, tasters, descriptors, or error; "" where nothing is.
    alone : int
        Axes of a single taster's marks that stand out from marks at random; -1 where that was not asked.
    """

    ground: Ground
    scale: str
    axes: Principal
    coefficients: np.ndarray
    p: np.ndarray
    trusted: int
    shown: int
    covariance: np.ndarray
    df: float
    radius: float
    arbitrary: bool
    turned: bool
    observed: np.ndarray
    drawn: np.ndarray
    short: str = ""
    alone: int = -1

    @property
    def scores(self) -> np.ndarray:
        """Places on the axes that are given, shape (lot, axis)."""
        return self.axes.scores[:, : self.shown]

    @property
    def plane(self) -> int:
        """Axes of a region: two at most."""
        return min(self.shown, 2)


def error_known(ground: Ground) -> bool:
    """Whether the tasters show how sure a place is: enough of them, two at least on every descriptor, who differ."""
    differ = np.nanmax(np.abs(ground.residual), initial=0.0) > _NONE * np.nanmax(np.abs(ground.means), initial=0.0)
    return len(ground.tasters) >= REGION_TASTERS and ground.df >= 1 and bool(differ)


def placed(
    ground: Ground,
    *,
    scale: str,
    axes: int | None,
    anchors: Sequence[str],
    stored: np.ndarray | None,
    resamples: int,
    level: float,
    seed: int,
) -> Placed:
    """Draw the map of a ground; `stored` holds the loadings of an earlier one by descriptor."""
    short = _too_little(ground, scale)
    if short:
        ground = with_gaps_filled(ground, np.eye(len(ground.descriptors)), 0)
        return replace(_nothing(ground, scale, short), alone=_alone(ground, resamples, level, seed))
    whole = _scaling(ground, scale)
    found = principal_axes(np.nan_to_num(ground.means) @ whole)
    rng = np.random.default_rng(seed)
    observed, drawn, p = _judged(ground, scale, whole, len(found.variance), resamples, rng)
    count = trusted(p, 1 - level)
    if ground.gaps.at.any():
        ground = with_gaps_filled(ground, whole, count)
        found = principal_axes(ground.means @ whole)
    p = np.where(np.arange(len(p)) <= count, p, np.nan)
    shown = min(axes if axes is not None else min(count, SHOWN), len(found.variance))
    arbitrary = count > 1 and _turns(ground, whole, found.loadings[:, :2])
    found, turned = _directed(found, ground, anchors, stored, max(count, shown), arbitrary=arbitrary)
    coefficients = whole @ found.loadings
    if scale == ERROR:
        back = np.linalg.inv(whole) @ found.loadings
        found = Principal(found.scores, back, found.variance, found.share)
    covariance, df = _covariance(ground, coefficients[:, :shown])
    known = shown > 0 and error_known(ground)
    return Placed(
        ground, scale, found, coefficients, p, count, shown, covariance, df if known else np.nan,
        radius_squared(min(shown, 2), df, level) if known else np.nan, arbitrary, turned, observed, drawn,
    )  # fmt: skip


def _too_little(ground: Ground, scale: str) -> str:
    if len(ground.lots) < LEAST_LOTS:
        return "lots"
    if len(ground.tasters) < LEAST_TASTERS:
        return "tasters"
    if len(ground.descriptors) < LEAST_WORDS:
        return "descriptors"
    if scale == ERROR and (ground.df < len(ground.descriptors) + SPARE or _singular(ground.error)):
        return "error"
    return ""


def _alone(ground: Ground, resamples: int, level: float, seed: int) -> int:
    """Axes of the marks of a single taster, against chance; -1 where they are of several, or too few."""
    if len(ground.tasters) != 1 or len(ground.lots) < LEAST_LOTS or len(ground.descriptors) < LEAST_WORDS:
        return -1
    return parallel_axes(ground.means, resamples=resamples, rng=np.random.default_rng(seed), level=level)[0]


def _singular(error: np.ndarray) -> bool:
    values = np.linalg.eigvalsh(error)
    return bool(values[0] <= 1e-10 * values[-1])


def _nothing(ground: Ground, scale: str, short: str) -> Placed:
    p = len(ground.descriptors)
    none = Principal(np.zeros((len(ground.lots), 0)), np.zeros((p, 0)), np.zeros(0), np.zeros(0))
    return Placed(ground, scale, none, np.zeros((p, 0)), np.zeros(0), 0, 0, np.zeros((len(ground.lots), 0, 0)), np.nan,
                  np.nan, False, False, np.zeros((p, p)), np.zeros((0, p, p)), short)  # fmt: skip


def _scaling(ground: Ground, scale: str) -> np.ndarray:
    """What means are multiplied by before their axes are sought, shape (descriptor, descriptor)."""
    if scale == SPREAD:
        return np.diag(1 / np.nanstd(ground.means, axis=0, ddof=1))
    return _inverse_root(ground.error) if scale == ERROR else np.eye(len(ground.descriptors))


def _inverse_root(matrix: np.ndarray) -> np.ndarray:
    values, vectors = np.linalg.eigh(matrix)
    return np.asarray((vectors / np.sqrt(values)) @ vectors.T)


def _judged(
    ground: Ground, scale: str, whole: np.ndarray, most: int, resamples: int, rng: np.random.Generator
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Squares and products seen and drawn, and p of each axis; where pots were shared, the larger of the two p."""
    seen = ground.seen
    observed, drawn = relabelled(ground.marks, seen, ground.block, resamples=resamples, rng=rng)
    if scale == ERROR:  # of the same order as against the error: what all tasters' marks spread is fixed
        flat = np.where(seen, ground.marks, 0.0).reshape(-1, len(ground.descriptors))
        whole = _inverse_root(flat.T @ flat)
    count = min(most, TESTED)
    p = axis_p(whole @ observed @ whole, whole @ drawn @ whole, most=count)
    if ground.pots is not None:
        opinions = np.moveaxis(ground.residual, 1, 0)
        pots, again = dealt(ground.pots.means, ground.pots.lot, opinions, resamples=resamples, rng=rng)
        p = np.fmax(p, axis_p(whole @ pots @ whole, whole @ again @ whole, most=count))
    return observed, drawn, p


def _turns(ground: Ground, whole: np.ndarray, plane: np.ndarray) -> bool:
    """Whether leaving one taster out turns the first axis within the plane too far to speak of directions."""
    held, seen = np.where(ground.seen, ground.marks, 0.0), ground.seen
    total, count = held.sum(axis=0), seen.sum(axis=0)
    for t in range(len(held)):
        means = ground.means_of(total - held[t], count - seen[t])
        found = principal_axes(means @ whole)
        if found.loadings.shape[1]:
            inside = np.abs(plane.T @ found.loadings[:, 0])
            if np.degrees(np.arctan2(inside[1], inside[0])) > TURNS:
                return True
    return False


def _directed(
    found: Principal, ground: Ground, anchors: Sequence[str], stored: np.ndarray | None, count: int, *, arbitrary: bool
) -> tuple[Principal, bool]:
    """The axes as a stored map, or anchors, would have them point."""
    if stored is not None and np.abs(stored).max(initial=0.0) > 0:
        return matched(found, stored, count=count, rotate=arbitrary), arbitrary
    words = list(ground.descriptors)
    return anchored(found, [words.index(name) if name in words else None for name in anchors]), False


def _covariance(ground: Ground, coefficients: np.ndarray) -> tuple[np.ndarray, float]:
    """Covariance of each lot's place, shape (lot, axis, axis), and its degrees of freedom in the plane."""
    away = np.sqrt(ground.factor)[:, :, None] * coefficients
    people = np.einsum("lpa,pr,lrb->lab", away, ground.error, away, optimize=True)
    pots = ground.pots
    if pots is None or not coefficients.size or ground.df < 1:
        return people, ground.df
    share = (1 - 1 / len(ground.lots)) / pots.count
    brews = share[:, None, None] * (coefficients.T @ pots.variance @ coefficients)
    plane = coefficients[:, :2]
    parts = [np.trace(plane.T @ each @ plane) * share.mean() for each in (pots.between, pots.within)]
    mine = float(np.trace(people[:, :2, :2], axis1=1, axis2=2).mean())
    whole = mine + max(parts[0] - parts[1], 0.0)
    if parts[0] <= parts[1]:
        return people + brews, ground.df
    df = whole**2 / (mine**2 / ground.df + parts[0] ** 2 / pots.df + parts[1] ** 2 / pots.df_within)
    return people + brews, min(float(df), ground.df)
