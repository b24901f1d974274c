"""Ordered groups against values: is there a trend from the first group to the last?"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from scipy.special import ndtr

from panelstats.models.ties import tied

# Values up to which p is counted from shuffles of all of them rather than from the normal distribution.
MOST_SHUFFLED = 60
SHUFFLES = 9999


class Trend(NamedTuple):
    """A test of trend.

    Attributes
    ----------
    statistic : float
        J of Jonckheere and Terpstra.
    z : float
        Its distance from what no trend would give, in standard deviations (ties allowed for).
    p : float
        Two-sided.
    p_up : float
        One-sided: values rise from group to group.
    """

    statistic: float
    z: float
    p: float
    p_up: float


def jonckheere(values: np.ndarray, group: np.ndarray, rng: np.random.Generator) -> Trend:
    """Trend over independent groups.

    Parameters
    ----------
    values : ndarray, shape (unit,)
    group : ndarray of int, shape (unit,)
        Order of the group of each, from 0.
    rng : Generator

    Notes
    -----
    J = pairs of a lower and a higher group in which the second value is higher, ties half; variance with the full
    correction for ties (Jonckheere 1954, Biometrika 41: 133; Hollander & Wolfe). Up to 60 values p is that of 9,999
    shuffles, beyond of the normal distribution. It is Kendall's test of group against value.

    Examples
    --------
    >>> rng = np.random.default_rng(0)
    >>> found = jonckheere(np.array([1.0, 2, 3, 4, 5, 6]), np.array([0, 0, 1, 1, 2, 2]), rng)
    >>> print(found.statistic, found.p_up < 0.02)
    12.0 True
    """
    n, size, values = len(values), np.bincount(group), tied(values)
    sign = np.sign(np.subtract.outer(values, values))
    later = group[:, None] > group
    score = float((later * (sign + 1) / 2).sum())
    mean = (n**2 - (size**2).sum()) / 4
    ties = np.unique(values, return_counts=True)[1].astype(float)
    sd = np.sqrt(_variance(float(n), size.astype(float), ties))
    z = (score - mean) / sd if sd > 0 else 0.0
    if n > MOST_SHUFFLED or sd == 0:
        return Trend(score, z, 2 * float(ndtr(-abs(z))) if sd > 0 else 1.0, float(ndtr(-z)) if sd > 0 else 1.0)
    drawn = np.array(
        [(later * (sign[np.ix_(at, at)] + 1) / 2).sum() for at in (rng.permutation(n) for _ in range(SHUFFLES))]
    )
    up = (1 + (drawn >= score - 1e-9).sum()) / (1 + SHUFFLES)
    far = (1 + (np.abs(drawn - mean) >= abs(score - mean) - 1e-9).sum()) / (1 + SHUFFLES)
    return Trend(score, z, float(far), float(up))


def _variance(n: float, size: np.ndarray, ties: np.ndarray) -> float:
    first = n * (n - 1) * (2 * n + 5) - sum((m * (m - 1) * (2 * m + 5)).sum() for m in (size, ties))
    second = third = 0.0
    if n > 2:
        second = (
            (size * (size - 1) * (size - 2)).sum()
            * (ties * (ties - 1) * (ties - 2)).sum()
            / (36 * n * (n - 1) * (n - 2))
        )
        third = (size * (size - 1)).sum() * (ties * (ties - 1)).sum() / (8 * n * (n - 1))
    return float(first / 72 + second + third)
