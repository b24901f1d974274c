"""A-not-A and same-different: tests in which each taster draws his own line, so that guessing has no fixed share.

A-not-A is a probit regression on what was served (Macmillan & Creelman, Detection Theory); same-different follows the
rule "different when the percepts lie further apart than tau". d' has a profile-likelihood interval, the line drawn
being maximised away.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.optimize import brentq, minimize_scalar
from scipy.special import log_ndtr, ndtr, ndtri

if TYPE_CHECKING:
    from collections.abc import Callable

A_NOT_A = "a-not-a"
# d' beyond which a normal model has nothing left to say: Phi(-20 / 2) is 1e-23.
FAR = 20.0


@dataclass(frozen=True)
class SignalCounts:
    """Answers of one test without a fixed chance level.

    Attributes
    ----------
    hits, n_a : int
        "A" said of A, of how many A; or "different" said of mixed pairs, of how many mixed pairs.
    false, n_not_a : int
        "A" said of what is not A; or "different" said of pairs of one product.
    """

    hits: int
    n_a: int
    false: int
    n_not_a: int


@dataclass(frozen=True)
class Model:
    """One decision rule: its fit, and log-likelihood of d' and the line drawn."""

    fit: Callable[[SignalCounts], tuple[float, float]]
    logs: Callable[[float, float | np.ndarray], np.ndarray]
    least_d: float
    lines: tuple[float, float]

    def loglik(self, counts: SignalCounts, d: float, line: float) -> float:
        """Log-likelihood of d' and the line drawn; `logs` are those of the four answers, in the order counted here."""
        missed, refused = counts.n_a - counts.hits, counts.n_not_a - counts.false
        return float(np.dot([counts.hits, missed, counts.false, refused], self.logs(d, line)))

    def profile(self, counts: SignalCounts, d: float) -> float:
        """Log-likelihood at d', the line maximised away."""
        found = minimize_scalar(
            lambda line: -self.loglik(counts, d, line), bounds=self.lines, method="bounded", options={"xatol": 1e-10}
        )
        return -float(found.fun)


def _fit_a_not_a(counts: SignalCounts) -> tuple[float, float]:
    """Find d' and criterion in closed form; infinite where one rate is 0 or 1, NaN where both are and agree."""
    if not (counts.n_a and counts.n_not_a):
        return float("nan"), float("nan")
    z_hit, z_false = (float(z) for z in ndtri([counts.hits / counts.n_a, counts.false / counts.n_not_a]))
    if np.isinf([z_hit, z_false]).any():
        return float("nan") if z_hit == z_false else z_hit - z_false, float("nan")
    return z_hit - z_false, -(z_hit + z_false) / 2 + 0.0


def _logs_a_not_a(d: float, line: float | np.ndarray) -> np.ndarray:
    hit, false = d / 2 - line, -d / 2 - line
    return np.asarray(log_ndtr([hit, -hit, false, -false]))


def _fit_same_different(counts: SignalCounts) -> tuple[float, float]:
    """Find d' of 0 or more and tau: saturated where pairs of one product are called different less often."""
    if not (counts.n_a and counts.n_not_a):
        return float("nan"), float("nan")
    same_pairs, mixed_pairs = 1 - counts.false / counts.n_not_a, 1 - counts.hits / counts.n_a
    if same_pairs == mixed_pairs and same_pairs in (0.0, 1.0):
        return float("nan"), float("nan")
    if same_pairs <= mixed_pairs:
        pooled = 1 - (counts.hits + counts.false) / (counts.n_a + counts.n_not_a)
        return 0.0, tau_of(pooled)
    if same_pairs == 1 or mixed_pairs == 0:
        return float("inf"), tau_of(same_pairs)
    tau = tau_of(same_pairs)
    return float(brentq(lambda d: said_same(tau, d) - mixed_pairs, 0, 2 * FAR, xtol=1e-12)), tau


def tau_of(share: float) -> float:
    """Find the line tau from the share of like pairs called alike."""
    return float(np.sqrt(2) * ndtri((share + 1) / 2))


def said_same(tau: float, d: float) -> float:
    """P("same") for a pair d' apart whose percepts are called different beyond tau."""
    return float(ndtr((tau - d) / np.sqrt(2)) - ndtr((-tau - d) / np.sqrt(2)))


def _logs_same_different(d: float, line: float | np.ndarray) -> np.ndarray:
    return np.array([*_log_answers(line, d), *_log_answers(line, 0.0)])


def _log_answers(tau: float | np.ndarray, d: float) -> tuple[np.ndarray, np.ndarray]:
    """Logarithms of P("different") and P("same") for a pair d' apart, finite however far apart or close the line is."""
    within, beyond = (tau - d) / np.sqrt(2), (-tau - d) / np.sqrt(2)
    same = log_ndtr(within) + np.log1p(-np.exp(log_ndtr(beyond) - log_ndtr(within)))
    return np.logaddexp(log_ndtr(-within), log_ndtr(beyond)), same


MODELS = {
    A_NOT_A: Model(_fit_a_not_a, _logs_a_not_a, least_d=-FAR, lines=(-FAR, FAR)),
    "same-different": Model(_fit_same_different, _logs_same_different, least_d=0.0, lines=(1e-9, 2 * FAR)),
}


def fit(kind: str, counts: SignalCounts) -> tuple[float, float]:
    """Maximum-likelihood d' and the line drawn (criterion, or tau); infinite or NaN where the rates are 0 or 1.

    Examples
    --------
    >>> d, criterion = fit("a-not-a", SignalCounts(hits=8, n_a=10, false=3, n_not_a=10))
    >>> round(d, 3), round(criterion, 3)
    (1.366, -0.159)
    """
    return MODELS[kind].fit(counts)


def profile_limits(kind: str, counts: SignalCounts, d: float, *, below: float, above: float) -> tuple[float, float]:
    """Profile-likelihood limits about the fitted d', each at its own one-sided error rate; infinite where none is."""
    model = MODELS[kind]
    if np.isnan(d):
        return (0.0 if model.least_d == 0 else -np.inf), np.inf
    start = float(np.clip(d, model.least_d, FAR))
    best = model.profile(counts, start)

    def beyond(at: float, rate: float) -> float:
        return model.profile(counts, at) - best + ndtri(rate) ** 2 / 2

    low, high = (model.least_d if model.least_d == 0 else -np.inf), np.inf
    if beyond(model.least_d, below) < 0:
        low = float(brentq(beyond, model.least_d, start, args=(below,), xtol=1e-9))
    if beyond(FAR, above) < 0:
        high = float(brentq(beyond, start, FAR, args=(above,), xtol=1e-9))
    return low, high


def p_within(kind: str, counts: SignalCounts, d: float, tolerance: float) -> float:
    """One-sided p of "d' reaches the tolerance", by the signed root of the likelihood ratio.

    The larger of both sides where d' has a sign; 1 where the fitted d' is no smaller than the tolerance.
    """
    model = MODELS[kind]
    if np.isnan(d) or not abs(d) < tolerance:
        return 1.0
    best = model.profile(counts, d)
    sides = [tolerance] if model.least_d == 0 else [tolerance, -tolerance]
    return max(float(ndtr(-np.sqrt(max(0.0, 2 * (best - model.profile(counts, side)))))) for side in sides)


def unbiased_rates(kind: str, d: float) -> tuple[float, float]:
    """Shares called A of A and of what is not A (or "different" of mixed and of like pairs), by an unbiased taster.

    Examples
    --------
    >>> [round(rate, 3) for rate in unbiased_rates("a-not-a", 1.0)]
    [0.691, 0.309]
    """
    if kind == A_NOT_A:
        return float(ndtr(d / 2)), float(ndtr(-d / 2))
    tau = tau_of(0.5)  # like pairs are called different as often as not
    return 1 - said_same(tau, d), 1 - said_same(tau, 0.0)
