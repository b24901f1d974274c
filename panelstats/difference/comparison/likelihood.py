"""The likelihood of one d' for several tests: its best value and its limits."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from scipy.optimize import brentq, minimize_scalar
from scipy.special import chdtri, xlogy

from panelstats.models.kinds import d_prime, share_wrong

FAR = 40.0


def log_likelihood(test: tuple[str, int, int], d: float) -> float:
    """Of one test, without constants."""
    kind, correct, answers = test
    wrong = float(share_wrong(kind, d)) if np.isfinite(d) else 0.0
    return float(xlogy(correct, 1 - wrong) + xlogy(answers - correct, wrong))


def best_d(test: tuple[str, int, int]) -> float:
    """The d' of one test."""
    kind, correct, answers = test
    return float(d_prime(kind, wrong=(answers - correct) / answers)) if answers else 0.0


def together(tests: Sequence[tuple[str, int, int]], d: float) -> float:
    """The log-likelihood of one d' for all."""
    return sum(log_likelihood(test, d) for test in tests)


def common_d(tests: Sequence[tuple[str, int, int]]) -> float:
    """One d' for all, between the smallest and the largest of the single ones."""
    each = [best_d(test) for test in tests]
    low, high = min(each), min(max(each), FAR)
    if low == high or np.isinf(low):
        return low
    found = minimize_scalar(
        lambda d: -together(tests, d), bounds=(low, high), method="bounded", options={"xatol": 1e-10}
    )
    return max((low, high, float(found.x)), key=lambda d: together(tests, d))


def limits(tests: Sequence[tuple[str, int, int]], best: float, level: float) -> tuple[float, float]:
    """Every d' of 0 or more whose likelihood is not too far below the best.

    Of one test alone it is not used: its true coverage falls to 82 % at nominal 95 % where nearly all are right, and it
    does not agree with the exact tests.
    """
    drop = float(chdtri(1, 1 - level)) / 2
    top = together(tests, best)

    def beyond(d: float) -> float:
        return together(tests, d) - top + drop

    start = min(best, FAR)
    low = float(brentq(beyond, 0.0, start, xtol=1e-10)) if beyond(0.0) < 0 else 0.0
    high = float(brentq(beyond, start, FAR, xtol=1e-10)) if np.isfinite(best) and beyond(FAR) < 0 else float("inf")
    return low, high
