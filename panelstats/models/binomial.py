"""Exact binomial tails, critical numbers and limits, for whole arrays of (successes, trials) at once.

No library is called for the tails and limits: they need each side at its own error rate, their complement exact near 0
or 1, and neither scipy.stats nor statsmodels, which take longer to import than all of this takes to compute.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy.special import bdtrik, betainc, betaincc, betainccinv, betaincinv, gammaln, ndtri

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

# Ties with the error rate happen exactly (two of two at chance 1/10: 0.01); floating point alone gets them wrong.
TIES = 1 + 1e-12


def log_ways(answers: int) -> np.ndarray:
    """Logarithm of the number of ways in which 0, 1, ... of so many answers are right."""
    right = np.arange(answers + 1)
    return np.asarray(gammaln(answers + 1) - gammaln(right + 1) - gammaln(answers - right + 1))


def at_least(correct: ArrayLike, answers: ArrayLike, share: ArrayLike) -> np.ndarray:
    """P(X >= correct) for X binomial(answers, share); 1 where nothing was answered.

    Examples
    --------
    >>> float(at_least(2, 2, 0.1).round(6))
    0.01
    """
    x, n, p = np.broadcast_arrays(np.asarray(correct, float), np.asarray(answers, float), share)
    inside = (x > 0) & (x <= n)
    return np.where(
        x <= 0, 1.0, np.where(inside, betainc(np.where(inside, x, 1), np.where(inside, n - x + 1, 1), p), 0.0)
    )


def at_most(correct: ArrayLike, answers: ArrayLike, share: ArrayLike) -> np.ndarray:
    """P(X <= correct) for X binomial(answers, share); 1 where nothing was answered.

    Examples
    --------
    >>> float(at_most(0, 2, 0.1).round(6))
    0.81
    """
    x, n, p = np.broadcast_arrays(np.asarray(correct, float), np.asarray(answers, float), share)
    inside = (x >= 0) & (x < n)
    return np.where(
        x >= n, 1.0, np.where(inside, betaincc(np.where(inside, x + 1, 1), np.where(inside, n - x, 1), p), 0.0)
    )


def p_two_sided(correct: ArrayLike, answers: ArrayLike) -> np.ndarray:
    """Two-sided sign test at one half: twice the smaller tail, at most 1.

    Examples
    --------
    >>> float(p_two_sided(6, 6))
    0.03125
    """
    return np.minimum(1.0, 2 * np.minimum(at_least(correct, answers, 0.5), at_most(correct, answers, 0.5)))


def least_correct(answers: ArrayLike, chance: float, error: ArrayLike) -> np.ndarray:
    """Critical number: least correct with P(X >= correct | chance) within the error rate.

    Returns
    -------
    ndarray of float
        answers + 1 where even all right would not do.

    Examples
    --------
    >>> least_correct([2, 3, 24], 1 / 3, 0.05)
    array([ 3.,  3., 13.])
    """
    return np.asarray(answers, float) - most_correct(answers, 1 - chance, error)  # as many wrong, told from below


def most_correct(answers: ArrayLike, share: ArrayLike, error: ArrayLike) -> np.ndarray:
    """Largest number correct that still shows a match: P(X <= correct | share) within the error rate.

    Returns
    -------
    ndarray of float
        -1 where not even none right would do.

    Examples
    --------
    >>> most_correct([12, 36], 1 / 3 + 2 / 3 * 0.3, 0.05)
    array([ 3., 13.])
    """
    n, share, error = np.broadcast_arrays(np.asarray(answers, float), share, error)
    m = np.ceil(np.nan_to_num(bdtrik(error, n, share)))
    for _ in range(2):  # the quantile is right up to its own rounding: look one to either side
        m = np.where((m >= 0) & (at_most(m, n, share) > error * TIES), m - 1, m)
        m = np.where((m < n) & (at_most(m + 1, n, share) <= error * TIES), m + 1, m)
    return np.where(n > 0, m, -1.0)


def limits(
    correct: ArrayLike, answers: ArrayLike, *, below: float | np.ndarray, above: float | np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Exact limits of the share correct (Clopper & Pearson 1934, Biometrika 26), each with its own error rate.

    Parameters
    ----------
    correct, answers : array_like
        Counts; nothing answered gives 0 to 1, an unknown number (NaN) gives NaN.
    below, above : array_like in (0, 1)
        Chance that the lower limit lies above the truth, and that the upper one lies below it.

    Returns
    -------
    low, high : ndarray

    Examples
    --------
    >>> low, high = limits(8, 12, below=0.025, above=0.025)
    >>> float(low.round(4)), float(high.round(4))
    (0.3489, 0.9008)
    """
    x, n = np.broadcast_arrays(np.asarray(correct, float), np.asarray(answers, float))
    low = betaincinv(np.maximum(x, 1), np.maximum(n - x + 1, 1), below)
    high = betainccinv(np.maximum(x + 1, 1), np.maximum(n - x, 1), above)
    known = np.where(np.isnan(n), np.nan, 0.0)
    return known + np.where((x > 0) & (n > 0), low, 0.0), known + np.where((x < n) & (n > 0), high, 1.0)


def wrong_below(correct: ArrayLike, answers: ArrayLike, above: float | np.ndarray) -> np.ndarray:
    """1 less the upper limit of the share correct, exact near 0 where that limit nears 1.

    Examples
    --------
    >>> float(wrong_below(11, 12, 0.025).round(6))
    0.002108
    """
    x, n = np.broadcast_arrays(np.asarray(correct, float), np.asarray(answers, float))
    return np.where((x < n) & (n > 0), betaincinv(np.maximum(n - x, 1), np.maximum(x + 1, 1), above), 0.0)


def normal_number(p_null: float, p_true: float, sd_null: float, sd_true: float, *, error: float, power: float) -> float:
    """Trials at which a one-sided test of a share reaches its power, by the normal approximation.

    Parameters
    ----------
    p_null, p_true : float
        The share where nothing is there to be found, and the share to be found.
    sd_null, sd_true : float
        Standard deviation of one trial at either.
    error, power : float in (0, 1)
        Error rate of the test, and the chance of success wanted.

    Examples
    --------
    >>> round(normal_number(1 / 3, 0.6, (2 / 9) ** 0.5, 0.24**0.5, error=0.05, power=0.8), 2)
    19.84
    """
    return float(((-ndtri(error) * sd_null + ndtri(power) * sd_true) / (p_true - p_null)) ** 2)
