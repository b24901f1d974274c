"""The level of a day that jumps along the row: a random walk through what was served again."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import fdtrc

if TYPE_CHECKING:
    from collections.abc import Callable

JUMPED = 0.01  # chance below which a level is said to have jumped (ours)
# The slowest ways in which a level may leave its line, which are held against all others (ours).
SLOW = 3
# Squares below this share of those of the marks are rounding.
_ROUNDING = 1e-20
# Variance of a walk over the whole row, in variances of a serving: between these, in so many steps, then halved.
_LEAST, _MOST, _STEPS, _HALVINGS = 1e-4, 1e4, 81, 40


@dataclass(frozen=True, eq=False)
class DayWalk:
    """What was served again, as a walk and an error of each serving.

    Attributes
    ----------
    place : ndarray, shape (serving,)
    walk : float
        Variance of the walk over the whole row.
    scale, df : float
        What the variances of the servings are multiplied by, and the degrees of freedom these servings have for it.
    share : float
        What they alone make of that, in parts of what their scatter about a line would.
    weights : ndarray, shape (serving,)
        The level at a place is `walk` times its covariances with the servings, times these.
    projection : ndarray, shape (serving, serving)
        Inverse of the covariance of the servings once the levels of groups are out.
    """

    place: np.ndarray
    walk: float
    scale: float
    df: float
    share: float
    weights: np.ndarray
    projection: np.ndarray

    def level(self, place: np.ndarray) -> np.ndarray:
        """The level at some places, up to a constant."""
        return self.walk * np.minimum.outer(place, self.place) @ self.weights

    def error(self, parts: np.ndarray, place: np.ndarray) -> np.ndarray:
        """Variance of what the level at some places, summed by `parts`, may be off: shape (row of `parts`,).

        Parameters
        ----------
        parts : ndarray, shape (N, place)
            Rows that sum to 0: the origin of a walk is not known.
        """
        near = self.walk * np.minimum.outer(place, self.place)
        own = self.walk * np.minimum.outer(place, place)
        return np.maximum(np.einsum("np,pq,nq->n", parts, own - near @ self.projection @ near.T, parts), 0.0)


def jump_p(
    value: np.ndarray, place: np.ndarray, group: np.ndarray, variance: np.ndarray, *, known_df: float = 0.0
) -> float:
    """Chance of so large a slow movement off the line, if nothing but the error of a serving were at work.

    Parameters
    ----------
    value, place, group, variance : ndarray, shape (serving,)
        Without gaps. What each serving is worth, its place from 0 to 1, what is the same tea, and the variance of its
        error; that need be right only up to a factor where `known_df` is 0.
    known_df : float
        Degrees of freedom behind `variance`, where it was not learnt from these servings; else 0.

    Returns
    -------
    float
        NaN where too little was served again to tell.

    Notes
    -----
    Once the levels of the groups and a line are out, the servings are turned onto the ways in which a random walk moves
    them, the slowest first. F of the slowest (three, or as many as leave another as many) against all others and the
    error known before: exact whatever that error is. The scatter of all servings about the line would be held against
    an error that was learnt from the same scatter.

    Examples
    --------
    >>> place, group = np.linspace(0, 1, 13), np.zeros(13, int)
    >>> noise = 0.3 * np.random.default_rng(1).standard_normal(13)
    >>> jumped = noise + 2.0 * (place > 0.6)
    >>> [round(jump_p(each, place, group, np.full(13, 0.09)), 3) for each in (noise, jumped)]
    [0.79, 0.019]
    """
    turned, _ = _turned(value, place, group, variance, line=True)
    slow = min(SLOW, len(turned) // 2) if not known_df else min(SLOW, len(turned))
    df = len(turned) - slow + known_df
    if slow < 1 or df < 1:
        return float("nan")
    rest = (turned[slow:] ** 2).sum() + known_df
    if rest <= _ROUNDING * (value**2 / variance).sum():
        return float("nan")
    return float(fdtrc(slow, df, (turned[:slow] ** 2).sum() / slow / (rest / df)))


def day_walk(
    value: np.ndarray, place: np.ndarray, group: np.ndarray, variance: np.ndarray, *, known_df: float = 0.0
) -> DayWalk:
    """Fit a walk with a level of its own for each group; arguments as for `jump_p`.

    Notes
    -----
    y = level of the group + W(place) + error, W a Brownian motion. Its variance and the factor of the error by
    restricted maximum likelihood, what was known of the error before as so many degrees of freedom more; W at a place
    is its best linear unbiased prediction (Harville 1977, JASA 72: 320-338; Cressie 1993, *Statistics for Spatial
    Data*, 3.2: kriging).

    Examples
    --------
    >>> place = np.linspace(0, 1, 13)
    >>> walk = day_walk(5 + 2.0 * (place > 0.6), place, np.zeros(13, int), np.full(13, 0.01), known_df=20)
    >>> print((walk.level(np.array([0.0, 0.3, 0.8, 1.0])) - walk.level(np.zeros(1))).round(1))
    [0. 0. 2. 2.]
    """
    turned, spread = _turned(value, place, group, variance, line=False)
    df = len(turned) + known_df

    def scale(ratio: np.ndarray) -> np.ndarray:
        return ((turned**2 / (1 + ratio[:, None] * spread)).sum(axis=1) + known_df) / df

    def misfit(ratio: np.ndarray) -> np.ndarray:
        return np.log1p(ratio[:, None] * spread).sum(axis=1) + df * np.log(np.maximum(scale(ratio), 1e-300))

    best = _least(misfit)
    found = float(scale(np.array([best]))[0])
    walk = best * found
    covariance = walk * np.minimum.outer(place, place) + np.diag(found * variance)
    member = np.equal.outer(group, np.unique(group)).astype(float)
    solved = np.linalg.solve(covariance, member)
    projection = np.linalg.inv(covariance) - solved @ np.linalg.solve(member.T @ solved, solved.T)
    straight, _ = _turned(value, place, group, variance, line=True)
    left = 1 / (1 + best * spread)  # of each way, by the walk
    share = (turned**2 * left).mean() / max((straight**2).mean(), 1e-300)
    return DayWalk(place, walk, found, float(left.sum()), float(share), projection @ value, projection)


def _turned(
    value: np.ndarray, place: np.ndarray, group: np.ndarray, variance: np.ndarray, *, line: bool
) -> tuple[np.ndarray, np.ndarray]:
    """Servings in units of their error, turned onto the ways a walk moves them, and how much; groups (and line) out."""
    unit = 1 / np.sqrt(variance)
    fixed = np.equal.outer(group, np.unique(group)).astype(float)
    fixed = np.column_stack([fixed, place]) if line else fixed
    left, size, _ = np.linalg.svd(fixed * unit[:, None])
    rank = int((size > 1e-9 * size[0]).sum())
    rest = left[:, rank:]
    moved = rest.T @ (np.minimum.outer(place, place) * np.outer(unit, unit)) @ rest
    spread, vectors = np.linalg.eigh(moved)
    return (vectors.T @ (rest.T @ (unit * value)))[::-1], np.maximum(spread[::-1], 0.0)


def _least(misfit: Callable[[np.ndarray], np.ndarray]) -> float:
    """The ratio of variances at which a misfit is least; 0 where a walk does not help."""
    grid = np.concatenate([[0.0], np.geomspace(_LEAST, _MOST, _STEPS)])
    at = int(np.argmin(misfit(grid)))
    if not at:
        return 0.0
    low, high = np.log(grid[max(at - 1, 1)]), np.log(grid[min(at + 1, len(grid) - 1)])
    for _ in range(_HALVINGS):
        a, b = low + (high - low) / 3, high - (high - low) / 3
        left, right = misfit(np.exp([a, b]))
        low, high = (low, b) if left <= right else (a, high)
    return float(np.exp((low + high) / 2))
