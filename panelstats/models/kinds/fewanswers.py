"""Limits of d' where the line drawn is the taster's own and answers are few: every result enumerated.

The profile likelihood takes its chi-square for granted. With few answers of a kind it is far off: of a d' of 2 the
lower limit of 12 + 12 answers lay above it in 16 of 100 tests instead of 5.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from scipy.optimize import brentq
from scipy.special import chdtri, xlogy

from panelstats.models.binomial import log_ways
from panelstats.models.kinds import criterion
from panelstats.models.kinds.criterion import A_NOT_A, FAR, MODELS, SignalCounts, fit
from panelstats.models.kinds.unlike import LEFT_OUT

# Where any of the four counts is smaller, the limits are enumerated; beyond, the likelihood's are good (ours).
FEW = 10
# Results enumerated at most: 100 answers of each kind take a second.
MOST_RESULTS = 101**2
# Lines drawn that are gone through, as far beyond either percept as any is drawn, in SD of a percept.
LINES, REACH = 241, 4.0


def d_limits(kind: str, counts: SignalCounts, d: float, *, below: float, above: float) -> tuple[float, float]:
    """Limits about the fitted d', each at its own one-sided error rate; infinite where none is.

    Notes
    -----
    All d' that a test of "d' is this" does not refuse: results ordered by the signed root of the likelihood ratio, the
    worst line among the likely ones (Berger & Boos 1994, JASA 89: 1012). Where every count is 10 or more, or the
    results are too many to enumerate, the profile likelihood's.

    Examples
    --------
    >>> d_limits("a-not-a", SignalCounts(12, 12, 0, 12), np.inf, below=0.05, above=0.05)[0].__round__(2)
    2.37
    """
    if np.isnan(d) or not _enumerated(counts):
        return criterion.profile_limits(kind, counts, d, below=below, above=above)
    least = MODELS[kind].least_d
    start = float(np.clip(d, least, FAR))

    def beyond(at: float, side: int, rate: float) -> float:
        return _p(kind, counts, at, side) - rate

    low, high = (least if least == 0 else -np.inf), np.inf
    if start > least and beyond(least, 1, below) < 0:
        low = float(brentq(beyond, least, start, args=(1, below), xtol=1e-7))
    if start < FAR and beyond(FAR, -1, above) < 0:
        high = float(brentq(beyond, start, FAR, args=(-1, above), xtol=1e-7))
    return low, high


def p_within(kind: str, counts: SignalCounts, d: float, tolerance: float) -> float:
    """One-sided p of "d' reaches the tolerance", on the same grounds as the limits; the larger of both sides.

    Examples
    --------
    >>> round(p_within("a-not-a", SignalCounts(6, 12, 6, 12), 0.0, 1.5), 3)
    0.003
    """
    if np.isnan(d) or not _enumerated(counts):
        return criterion.p_within(kind, counts, d, tolerance)
    if not abs(d) < tolerance:
        return 1.0
    other = _p(kind, counts, -tolerance, 1) if MODELS[kind].least_d < 0 else 0.0
    return max(_p(kind, counts, tolerance, -1), other)


def _enumerated(counts: SignalCounts) -> bool:
    of_each = counts.hits, counts.n_a - counts.hits, counts.false, counts.n_not_a - counts.false
    return min(of_each) < FEW and (counts.n_a + 1) * (counts.n_not_a + 1) <= MOST_RESULTS


def _p(kind: str, counts: SignalCounts, d: float, side: int) -> float:
    """Chance of a result as far to a side of d' as this one, at the worst likely line; what that leaves out added."""
    logs = MODELS[kind].logs(d, _lines(kind, d))  # (answer, line)
    of_a, of_other = _logs(counts.n_a, *logs[:2]), _logs(counts.n_not_a, *logs[2:])  # (said, line)
    most = np.array([(row + of_other).max(axis=1) for row in of_a])
    best, fitted = _fits(kind, counts.n_a, counts.n_not_a)
    root = side * np.sign(fitted - d) * np.sqrt(np.maximum(2 * (best - most), 0.0))  # (hits, false)
    far = root >= root[counts.hits, counts.false] - 1e-6
    seen = of_a[counts.hits] + of_other[counts.false]
    likely = seen >= seen.max() - chdtri(1, LEFT_OUT) / 2
    chance, other = (np.exp(each[:, likely] + log_ways(len(each) - 1)[:, None]) for each in (of_a, of_other))
    return float(min(1.0, ((far.T.astype(float) @ chance) * other).sum(axis=0).max() + LEFT_OUT))


def _lines(kind: str, d: float) -> np.ndarray:
    if kind == A_NOT_A:
        return np.linspace(-REACH - abs(d) / 2, REACH + abs(d) / 2, LINES)
    return np.linspace(0, 1.5 * REACH + d, LINES + 1)[1:]


def _logs(answers: int, said: np.ndarray, unsaid: np.ndarray) -> np.ndarray:
    """Log-likelihood of every number said at every line, binomial coefficients left out."""
    count = np.arange(answers + 1)[:, None]
    return count * said + (answers - count) * unsaid


@lru_cache(maxsize=16)
def _fits(kind: str, n_a: int, n_other: int) -> tuple[np.ndarray, np.ndarray]:
    """Log-likelihood of the best fit of every result, and its d' (0 where there is none): (hits, false)."""
    hits, false = np.arange(n_a + 1)[:, None], np.arange(n_other + 1)
    apart = _own(hits, n_a) + _own(false, n_other)
    fitted = np.array(
        [[fit(kind, SignalCounts(h, n_a, f, n_other))[0] for f in range(n_other + 1)] for h in range(n_a + 1)]
    )
    best = apart if kind == A_NOT_A else np.where(fitted > 0, apart, _own(hits + false, n_a + n_other))
    return best, np.nan_to_num(fitted, nan=0.0, posinf=np.inf, neginf=-np.inf)


def _own(said: np.ndarray, answers: int) -> np.ndarray:
    return np.asarray(xlogy(said, said / answers) + xlogy(answers - said, 1 - said / answers))
