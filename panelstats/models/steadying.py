"""Moderated variances: a variance known from few degrees of freedom borrows from its likes."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import polygamma, psi

# No group of panel variances is alike enough to lend more than this (ours).
MOST_DF = 200.0
# A variance of exactly 0 is rounding, not proof of perfection: it counts as this share of the median one (ours).
LEAST_SHARE = 1e-3
# With fewer deviations than this the spread of the variances is unknown and nothing is borrowed (ours).
LEAST_SPREAD_DF = 2
NEWTON_STEPS = 60


@dataclass(frozen=True, eq=False)
class Prior:
    """What the variances of a group have in common; both arrays keep the group's axes with length 1.

    Attributes
    ----------
    df : ndarray
        Degrees of freedom lent to each variance; 0 where the group is too small to lend.
    variance : ndarray
        The variance lent; NaN where nothing is lent.
    """

    df: np.ndarray
    variance: np.ndarray


def trigamma_inverse(value: np.ndarray | float) -> np.ndarray:
    """The y with trigamma(y) = value, to double precision.

    Parameters
    ----------
    value : array_like of float > 0
        Any shape.

    Returns
    -------
    ndarray
        Same shape; NaN where `value` is not a positive number.

    Notes
    -----
    Newton's method on 1 / trigamma, which is increasing and convex (Smyth 2004, appendix). It starts above the root,
    from trigamma(y) < 1/y + 1/y^2, and so falls steadily.

    Examples
    --------
    >>> print(trigamma_inverse(np.pi**2 / 6).round(12))
    1.0
    """
    x = np.where(np.asarray(value, float) > 0, value, np.nan)
    y = (1 + np.sqrt(1 + 4 * x)) / (2 * x)
    for _ in range(NEWTON_STEPS):
        tri = polygamma(1, y)
        step = tri * (1 - tri / x) / polygamma(2, y)
        y = y + step
        if not (np.abs(step) > 4 * np.finfo(float).eps * y).any():
            break
    return y


def log_shift(df: np.ndarray) -> np.ndarray:
    """Mean of log(chi-square on df / df): what the logarithm of a variance estimate lacks on average."""
    return psi(df / 2) - np.log(df / 2)


def variance_prior(variance: np.ndarray, df: np.ndarray, *, axis: int = -1, pooled: tuple[int, ...] = ()) -> Prior:
    """Prior degrees of freedom and variance from a group of variances.

    Parameters
    ----------
    variance, df : array_like of float, broadcastable
        Variance estimates and their degrees of freedom. NaN, or df of 0, is left out; a variance of 0 counts as a
        thousandth of the group's median, and is left out where that is 0 too.
    axis : int
        Axis of the group, for instance tasters.
    pooled : tuple of int
        Further axes, for instance descriptors, that share one spread (so one df) while each keeps its own variance.

    Returns
    -------
    Prior
        Shapes as `variance`, length 1 along `axis` (and, for df, along `pooled`).

    Notes
    -----
    Smyth (2004), Statistical Applications in Genetics and Molecular Biology 3: 3. With e = log s^2 - digamma(d/2) +
    log(d/2), d0 solves trigamma(d0/2) = var(e) - mean trigamma(d/2), and is `MOST_DF` where the right side is not
    positive; log s0^2 = mean(e) + digamma(d0/2) - log(d0/2).

    Examples
    --------
    >>> prior = variance_prior(np.array([0.4, 0.9, 1.6, 0.6]), np.array(11.0))
    >>> print(prior.df.round(1), prior.variance.round(2))
    [14.2] [0.78]
    """
    variance, df = np.broadcast_arrays(np.asarray(variance, float), np.asarray(df, float))
    variance, known = _off_zero(variance, (df > 0) & np.isfinite(variance), axis)
    count = known.sum(axis=axis, keepdims=True)
    d = np.where(known, df, 1.0)
    e = np.where(known, np.log(variance) - log_shift(d), 0.0)
    mean = e.sum(axis=axis, keepdims=True) / np.maximum(count, 1)

    axes = (axis, *pooled)
    squares = np.where(known, (e - mean) ** 2, 0.0).sum(axis=axes, keepdims=True)
    noise = np.where(known, polygamma(1, d / 2), 0.0).sum(axis=axes, keepdims=True)
    spread_df = np.maximum(count - 1, 0).sum(axis=axes, keepdims=True)
    excess = squares / np.maximum(spread_df, 1) - noise / np.maximum(known.sum(axis=axes, keepdims=True), 1)
    d0 = np.where(excess > 0, np.fmin(2 * trigamma_inverse(excess), MOST_DF), MOST_DF)

    d0 = np.where(spread_df >= LEAST_SPREAD_DF, d0, 0.0)
    lends = (count > 0) & (d0 > 0)
    return Prior(d0, np.where(lends, np.exp(mean + log_shift(np.where(d0 > 0, d0, 1.0))), np.nan))


def _off_zero(variance: np.ndarray, known: np.ndarray, axis: int) -> tuple[np.ndarray, np.ndarray]:
    """Variances raised to a share of the group's median, and which of them have a logarithm; 1 elsewhere."""
    median = np.ma.median(np.ma.array(variance, mask=~known), axis=axis, keepdims=True)
    raised = np.maximum(np.where(known, variance, 0.0), LEAST_SHARE * np.ma.filled(median, 0.0))
    known = known & (raised > 0)
    return np.where(known, raised, 1.0), known


def moderated_variance(variance: np.ndarray, df: np.ndarray, prior: Prior) -> tuple[np.ndarray, np.ndarray]:
    """The variance after borrowing, and its degrees of freedom.

    Parameters
    ----------
    variance, df : array_like of float
        As given to `variance_prior`; NaN, or df of 0, takes the prior alone.
    prior : Prior

    Returns
    -------
    variance, df : ndarray
        (d0 s0^2 + d s^2) / (d0 + d) on d0 + d degrees of freedom; NaN on 0 where there is neither variance nor prior.

    Examples
    --------
    >>> variance, df = moderated_variance(np.array([0.2]), np.array([4.0]), Prior(np.array([6.0]), np.array([0.7])))
    >>> print(variance, df)
    [0.5] [10.]
    """
    variance, df = np.asarray(variance, float), np.asarray(df, float)
    own = np.where(np.isfinite(variance) & (df > 0), df, 0.0)
    lent = np.where(np.isfinite(prior.variance), prior.df, 0.0)
    total = own + lent
    weighed = own * np.where(own > 0, variance, 0.0) + lent * np.where(lent > 0, prior.variance, 0.0)
    return np.where(total > 0, weighed / np.where(total > 0, total, 1.0), np.nan), total
