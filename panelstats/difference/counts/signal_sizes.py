"""How many servings a-not-a and same-different need: exact power of Fisher's test, approximate for a match."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from scipy.special import gammaln, ndtr, ndtri

from panelstats.difference.counts.exact import TIES
from panelstats.difference.counts.signal import A_NOT_A, said_same, tau_of
from panelstats.difference.counts.sizes import Needed

# Servings of each kind up to which the power is enumerated; beyond, the normal approximation has long been good.
MOST_ENUMERATED = 300


def rates(kind: str, d: float) -> tuple[float, float]:
    """Shares called A of A and of what is not A (or "different" of mixed and of like pairs), by an unbiased taster."""
    if kind == A_NOT_A:
        return float(ndtr(d / 2)), float(ndtr(-d / 2))
    tau = tau_of(0.5)  # like pairs are called different as often as not
    return 1 - said_same(tau, d), 1 - said_same(tau, 0.0)


@lru_cache(maxsize=64)
def difference_rates_needed(kind: str, d: float, *, error: float, power: float) -> Needed:
    """Answers, half of each kind of serving, at which Fisher's test reaches and keeps the power."""
    hit, false = rates(kind, d)
    about = _about(hit, false, error, power)
    most = int(1.6 * about) + 20
    if most > MOST_ENUMERATED:
        return _needed(about, about, power)
    reached = np.array([fisher_power(n, hit, false, error=error) for n in range(1, most + 1)])
    settled = int(np.flatnonzero(reached < power).max(initial=-1)) + 2
    return _needed(int(np.argmax(reached >= power)) + 1, settled, float(reached[settled - 1]))


@lru_cache(maxsize=64)
def match_rates_needed(kind: str, d: float, *, error: float, power: float) -> Needed:
    """Answers that show a match within d' when the products are not apart, by the normal approximation."""
    about = _about(*rates(kind, d), error, power)
    return _needed(about, about, power)


def _needed(first: int, settled: int, power: float) -> Needed:
    """Servings of each kind, told as answers of both."""
    return Needed(2 * first, 2 * settled, 2 * settled, None, power)


def _about(one: float, other: float, error: float, power: float) -> int:
    mean = (one + other) / 2
    alike = -ndtri(error) * np.sqrt(2 * mean * (1 - mean))
    apart = ndtri(power) * np.sqrt(one * (1 - one) + other * (1 - other))
    return int(np.ceil(((alike + apart) / (one - other)) ** 2))


def fisher_power(n: int, hit: float, false: float, *, error: float) -> float:
    """Exact power of the one-sided Fisher test with n servings of each kind.

    Examples
    --------
    >>> round(fisher_power(20, 0.8, 0.4, error=0.05), 3)
    0.753
    """
    k = np.arange(n + 1)
    choose = gammaln(n + 1) - gammaln(k + 1) - gammaln(n - k + 1)
    joint = choose[:, None] + choose[None, :]  # log C(n, hits) C(n, false)
    total = k[:, None] + k[None, :]
    all_ = gammaln(2 * n + 1) - gammaln(total + 1) - gammaln(2 * n - total + 1)
    given = np.exp(joint - all_)
    # P(hits or more | total): add along lines of one total, from the most hits down
    tail = given.copy()
    for hits in range(n - 1, -1, -1):
        tail[hits, 1:] += tail[hits + 1, :-1]
    one, other = (np.exp(choose + k * np.log(p) + (n - k) * np.log1p(-p)) for p in (hit, false))
    return float((np.outer(one, other) * (tail <= error * TIES)).sum())
