"""Do several forced-choice tests show one d'? The likelihood ratio, its distribution enumerated at small numbers."""

from __future__ import annotations

from functools import lru_cache, reduce
from math import prod

import numpy as np
from scipy.special import chdtri, xlogy

from panelstats.models.binomial import log_ways
from panelstats.models.kinds.curves import share_wrong

# Results enumerated at most; beyond, the chi-square is near enough.
MOST_RESULTS = 40_000
# The common d' at which the distribution is worked out: steps finer than any d' of so few answers is known.
GRID = np.append(np.linspace(0.0, 8.0, 161), 40.0)
# The common d' is looked for where it is likely; what that leaves out is added to p (Berger & Boos 1994, JASA 89).
LEFT_OUT = 0.001


@lru_cache(maxsize=64)
def _loglik(kind: str, answers: int) -> np.ndarray:
    """Log-likelihood of every number right at every d' of the grid, (right, d); binomial coefficients left out."""
    wrong = share_wrong(kind, GRID)
    right = np.arange(answers + 1)[:, None]
    return xlogy(right, 1 - wrong) + xlogy(answers - right, wrong)


@lru_cache(maxsize=64)
def _ratios(tests: tuple[tuple[str, int], ...]) -> tuple[np.ndarray, np.ndarray]:
    """Log-likelihood at every common d', and the statistic, of every result: (result ..., d) and (result ...)."""
    parts = [_loglik(kind, n) for kind, n in tests]
    together = reduce(lambda one, other: one[..., None, :] + other, parts)
    single = reduce(lambda one, other: one[..., None] + other, [part.max(axis=1) for part in parts])
    return together, 2 * (single - together.max(axis=-1))


def enumerable(tests: list[tuple[str, int]]) -> bool:
    """Whether the results of these tests (kind, answers) are few enough to be gone through."""
    return prod(answers + 1 for _, answers in tests) <= MOST_RESULTS


def exact_unlike_p(tests: list[tuple[str, int, int]]) -> float:
    """Exact p of "one d' holds for all": the likelihood ratio over all results, at the least favourable likely d'.

    Parameters
    ----------
    tests : list of (kind, correct, answers)
        Forced choices; `enumerable`.

    Examples
    --------
    >>> round(exact_unlike_p([("triangle", 4, 12), ("triangle", 11, 12)]), 3)
    0.006
    """
    together, statistic = _ratios(tuple((kind, n) for kind, _, n in tests))
    seen = tuple(x for _, x, _ in tests)
    extreme = statistic >= statistic[seen] - 1e-9
    likely = together[seen] >= together[seen].max() - chdtri(1, LEFT_OUT) / 2
    ways = reduce(lambda one, other: one[..., None] + other, [log_ways(n) for _, _, n in tests])
    chances = np.exp(together[extreme][:, likely] + ways[extreme][:, None])
    return float(min(1.0, chances.sum(axis=0).max() + LEFT_OUT))
