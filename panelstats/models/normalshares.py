"""Normal samples held against limits: the share beyond one, tolerance limits, how many it takes to accept."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from scipy import optimize
from scipy.special import chdtri, nctdtr, nctdtrit, ndtr, ndtri

MOST = 10_000  # observations tried for a plan
MOST_T = 1e4  # beyond it the share is 0 or 1 to the last digit, whatever the sample
NEVER = -9.0  # a normal this far below nought is above it in no sample


def share_below(k: float, n: int, *, level: float) -> tuple[float, float]:
    """Limits of the share of a normal population below a line, from one sample.

    Parameters
    ----------
    k : float
        (mean - line) / standard deviation, of the sample.
    n : int
        Two or more.
    level : float in (0, 1)
        Two-sided.

    Returns
    -------
    tuple of float
        Lower and upper limit.

    Notes
    -----
    sqrt(n) k follows the noncentral t with n - 1 degrees of freedom and noncentrality sqrt(n) z; inverted for z.

    Examples
    --------
    >>> low, high = share_below(0.08 / 0.036, 20, level=0.95)
    >>> print(round(low, 4), round(high, 4))
    0.0012 0.0827
    """
    t, tail = np.sqrt(n) * k, (1 - level) / 2
    return tuple(float(ndtr(-_noncentrality(t, n - 1, p) / np.sqrt(n))) for p in (tail, 1 - tail))  # type: ignore[return-value]


def _noncentrality(t: float, df: int, p: float) -> float:
    """The noncentrality at which t is exceeded with probability 1 - p."""
    if t < 0:
        return -_noncentrality(-t, df, 1 - p)
    t = min(t, MOST_T)
    reach = 10 + 2 * t
    return float(optimize.brentq(lambda nc: _reached(t, df, nc) - p, t - reach, t + reach, xtol=1e-12))


def _reached(t: float, df: int, nc: float) -> float:
    """The chance that a noncentral t is at most t, t >= 0; where scipy has no number it is as good as 0 or 1."""
    return 1.0 if nc < NEVER else float(np.nan_to_num(nctdtr(df, nc, t), nan=float(nc < t)))


def one_sided_factor(n: int, coverage: float, confidence: float) -> float:
    """K such that mean - k sd lies below all but `coverage` of the population, with this confidence.

    Notes
    -----
    Exact, by the noncentral t (NIST/SEMATECH e-Handbook 7.2.6.3).

    Examples
    --------
    >>> print(round(one_sided_factor(43, 0.90, 0.99), 4))
    1.874
    """
    return float(nctdtrit(n - 1, np.sqrt(n) * ndtri(coverage), confidence) / np.sqrt(n))


class Capability(NamedTuple):
    """How a population lies in a window, in units of half its spread of six standard deviations."""

    cp: float
    cp_low: float
    cp_high: float
    cpk: float
    cpk_low: float
    cpk_high: float


def capability(mean: float, sd: float, n: int, window: tuple[float, float], *, level: float) -> Capability:
    """Capability of a normal sample of `n` between two limits, with intervals.

    Notes
    -----
    Cp = width / (6 sd), Cpk = distance to the nearer limit / (3 sd): NIST/SEMATECH e-Handbook 6.1.6. Limits of Cp by
    chi-square, of Cpk by the normal approximation Cpk +- z sqrt(1/(9 n) + Cpk^2 / (2 (n - 1))) (Bissell 1990, Applied
    Statistics 39: 331).

    Examples
    --------
    >>> found = capability(16.0, 2.0, 20, (8.0, 20.0), level=0.95)
    >>> print(found.cp, round(found.cpk, 3))
    1.0 0.667
    """
    low, high = window
    cp, cpk = (high - low) / (6 * sd), min(high - mean, mean - low) / (3 * sd)
    ends = [np.sqrt(chdtri(n - 1, (1 + way * level) / 2) / (n - 1)) for way in (1, -1)]
    reach = ndtri((1 + level) / 2) * np.sqrt(1 / (9 * n) + cpk**2 / (2 * (n - 1)))
    return Capability(cp, float(cp * ends[0]), float(cp * ends[1]), cpk, float(cpk - reach), float(cpk + reach))


class Plan(NamedTuple):
    """How many to measure, and the smallest (mean - line) / sd that passes."""

    n: int
    k: float


def plan_to_accept(good: float, bad: float, *, miss: float, wrong: float) -> Plan | None:
    """Fewest observations that pass a population with the share `good` below the line, and not one with `bad`.

    Parameters
    ----------
    good, bad : float in (0, 1)
        Shares below the line, good < bad.
    miss, wrong : float in (0, 1)
        How often the good may fail and the bad pass.

    Returns
    -------
    Plan or None
        None where 10,000 would not do.

    Examples
    --------
    >>> found = plan_to_accept(0.01, 0.06, miss=0.05, wrong=0.10)
    >>> print(found.n, round(found.k, 4))
    42 1.9053
    """
    if not good < bad:
        return None

    def left(n: int) -> tuple[float, float]:
        root = np.sqrt(n)
        k = nctdtrit(n - 1, root * ndtri(1 - good), miss) / root
        return float(k), float(1 - nctdtr(n - 1, root * ndtri(1 - bad), root * k)) - wrong

    low, high = 2, 4
    while left(high)[1] > 0:
        low, high = high, 2 * high
        if high > MOST:
            return None
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (middle, high) if left(middle)[1] > 0 else (low, middle)
    at = low if left(low)[1] <= 0 else high
    return Plan(at, left(at)[0])
