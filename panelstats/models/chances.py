"""The chance of each lot to be among the best of its class, and how far its merit may lie."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import ndtr

DRAWS = 1000
CUT_FROM = 100  # lots from which the cut stands in for draws
QUANTILES = 24  # values of the error that stand for its uncertainty on the cut route
GRID, REACH = 121, 5.0  # points of the bent prior, and how many SDs they reach
BENDS = 20  # steps that bend the prior; 100 overfit (simulated)
BINS = 200  # scores that are told apart there
MOST_STEPS, SETTLED = 60, 1e-6  # steps to the cut, and the last of them in SDs: Newton's error after it is its square
ROOT_2_PI = np.sqrt(2 * np.pi)


@dataclass(frozen=True, eq=False)
class Chances:
    """One class and descriptor; arrays of shape (lot,), in points from the mean of the class.

    Attributes
    ----------
    merit, low, high : ndarray
    best, worst : ndarray
        Chance to be among the best, and the worst, `take` of the class.
    """

    merit: np.ndarray
    low: np.ndarray
    high: np.ndarray
    best: np.ndarray
    worst: np.ndarray


def chances(
    score: np.ndarray,
    observed: float,
    variance: np.ndarray,
    *,
    take: int,
    level: float,
    rng: np.random.Generator,
) -> Chances | None:
    """Chances when the error of one look is itself uncertain; None where no draw leaves the lots any variance.

    Parameters
    ----------
    score : ndarray, shape (lot,)
        Mean score of each lot less the mean of the class.
    observed : float
        Variance of the lots' scores.
    variance : ndarray, shape (draw, lot)
        Draws of the variance of each lot's score as a statement on the lot.
    take : int
        Places on the list, fewer than there are lots.
    level : float in (0, 1)
        Of the interval.
    rng : Generator

    Notes
    -----
    Draws with a variance of scores below their error are dropped. Up to 100 lots: normal prior, merits drawn. From 100
    lots: for each of 24 values of the error the prior of the lots is estimated on a grid (Laird 1978, JASA 73: 805,
    20 steps from the normal one), and the cut is found that leaves `take` lots above it.
    """
    if len(score) < CUT_FROM:
        return _by_draws(score, observed, variance, take, level, rng)
    error = variance.mean(axis=1)
    kept = np.flatnonzero(error < observed)
    if not len(kept):
        return None
    order = kept[np.argsort(error[kept], kind="stable")]
    chosen = order[((np.arange(QUANTILES) + 0.5) / QUANTILES * len(order)).astype(int)]
    return _by_cut(score, observed, variance[chosen], take, level)


def _by_draws(
    score: np.ndarray, observed: float, variance: np.ndarray, take: int, level: float, rng: np.random.Generator
) -> Chances | None:
    draws, lots = variance.shape
    spread = (lots - 1) * observed / rng.chisquare(lots - 1, draws)
    noise = rng.standard_normal((draws, lots))
    between = spread - variance.mean(axis=1)
    kept = between > 0
    if not kept.any():
        return None
    between, variance = between[kept, None], variance[kept]
    share = between / (between + variance)
    drawn = share * score + np.sqrt(share * variance) * noise[kept]
    drawn -= drawn.mean(axis=1, keepdims=True)
    ranks = np.argsort(drawn, axis=1)
    best, worst = np.zeros(lots), np.zeros(lots)
    np.add.at(best, ranks[:, lots - take :], 1 / len(drawn))
    np.add.at(worst, ranks[:, :take], 1 / len(drawn))
    low, high = np.quantile(drawn, [(1 - level) / 2, (1 + level) / 2], axis=0)
    return Chances(drawn.mean(axis=0), low, high, best, worst)


def _by_cut(score: np.ndarray, observed: float, variance: np.ndarray, take: int, level: float) -> Chances:
    """Averages over values of the error; lots of one score and one error share their answer."""
    sd = np.sqrt(observed)
    place = np.round((score - score.min()) / max(np.ptp(score), 1e-300) * (BINS - 1))
    _, first, of, count = np.unique(
        np.column_stack([place, variance.T.round(12)]),
        axis=0,
        return_index=True,
        return_inverse=True,
        return_counts=True,
    )
    of = of.reshape(-1)
    at = np.bincount(of, score) / count
    points = score.mean() + sd * np.linspace(-REACH, REACH, GRID)
    posterior = np.stack([_posterior(at, count, observed, each[first], points) for each in variance])
    above = np.cumsum(posterior[:, :, ::-1], axis=2)[:, :, ::-1]  # at or above each point
    best = _beyond(above, count, take).mean(axis=0)
    below = np.cumsum(posterior, axis=2)
    worst = _beyond(below[:, :, ::-1], count, take).mean(axis=0)
    total = np.cumsum(posterior.mean(axis=0), axis=1)
    limits = [_quantile(total, points, q) for q in ((1 - level) / 2, (1 + level) / 2)]
    merit = posterior.mean(axis=0) @ points
    centre = np.average(merit, weights=count)
    return Chances(merit[of] - centre, limits[0][of] - centre, limits[1][of] - centre, best[of], worst[of])


def _posterior(
    score: np.ndarray, count: np.ndarray, observed: float, variance: np.ndarray, points: np.ndarray
) -> np.ndarray:
    """Where each lot may lie, shape (score, point): the prior bent by the scores themselves."""
    between = observed - variance.mean()
    away = score[:, None] - points
    likelihood = np.exp(-(away**2) / (2 * variance[:, None])) / np.sqrt(variance[:, None])
    prior = np.exp(-((points - points.mean()) ** 2) / (2 * between))
    prior /= prior.sum()
    share = count / count.sum()
    for _ in range(BENDS):
        prior = prior * (likelihood.T @ (share / np.maximum(likelihood @ prior, 1e-300)))
    joint = likelihood * prior
    return joint / np.maximum(joint.sum(axis=1, keepdims=True), 1e-300)


def _beyond(above: np.ndarray, count: np.ndarray, take: int) -> np.ndarray:
    """Chance to lie beyond the cut that leaves `take` lots beyond it; `above` (error, score, point) falls to 0."""
    expected = np.einsum("esp,s->ep", above, count)
    after = np.concatenate([above[:, :, 1:], np.zeros_like(above[:, :, :1])], axis=2)
    last = (expected >= take).sum(axis=1) - 1  # the cut lies at this point: part of its mass is beyond it
    rows = np.arange(len(above))
    here, there = above[rows, :, last], after[rows, :, last]
    full, less = expected[rows, last], there @ count
    part = (take - less) / np.maximum(full - less, 1e-300)
    return there + part[:, None] * (here - there)


def _quantile(total: np.ndarray, points: np.ndarray, q: float) -> np.ndarray:
    """Quantile of each row of a distribution on a grid, mass spread evenly between points."""
    step = points[1] - points[0]
    at = (total < q).sum(axis=1)
    before = np.where(at > 0, np.take_along_axis(total, np.maximum(at - 1, 0)[:, None], axis=1)[:, 0], 0.0)
    inside = np.take_along_axis(total, np.minimum(at, len(points) - 1)[:, None], axis=1)[:, 0]
    part = (q - before) / np.maximum(inside - before, 1e-300)
    return points[np.minimum(at, len(points) - 1)] + (part - 0.5) * step


def chances_by_cut(merit: np.ndarray, variance: np.ndarray, take: int) -> np.ndarray:
    """Chance of each lot to lie above the cut that leaves `take` lots above it, merits independent and normal.

    Parameters
    ----------
    merit, variance : ndarray, shape (..., lot)
    take : int
        Where there are no more lots than that, all of them are sure of their place.

    Returns
    -------
    ndarray, shape (..., lot)
        They sum to `take`.

    Examples
    --------
    >>> print(chances_by_cut(np.array([1.0, 0.0, -1.0]), np.full(3, 0.25), 1).round(3))
    [0.841 0.158 0.001]
    """
    if take >= merit.shape[-1]:
        return np.ones(np.broadcast_shapes(merit.shape, variance.shape))
    sd = np.sqrt(variance)
    low, high = (merit - 9 * sd).min(axis=-1), (merit + 9 * sd).max(axis=-1)
    near = np.partition(merit, (-take - 1, -take), axis=-1)
    cut = (near[..., -take - 1] + near[..., -take]) / 2
    for _ in range(MOST_STEPS):
        z = (merit - cut[..., None]) / sd
        above = ndtr(z).sum(axis=-1) - take
        low, high = np.where(above > 0, cut, low), np.where(above > 0, high, cut)
        steps = cut + above / np.maximum((np.exp(-(z**2) / 2) / (ROOT_2_PI * sd)).sum(axis=-1), 1e-300)
        then = np.where((low <= steps) & (steps <= high), steps, (low + high) / 2)  # Newton's step, or half the bracket
        moved, cut = np.abs(then - cut), then
        if (moved <= SETTLED * sd.min(axis=-1)).all():
            break
    return ndtr((merit - cut[..., None]) / sd)
