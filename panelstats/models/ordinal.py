"""d' from ordered categories of the distance between two percepts, a blind control beside the sample."""

from __future__ import annotations

from typing import Any

import numpy as np
from scipy.optimize import brentq, minimize
from scipy.special import chdtrc, chdtri, ndtr, ndtri

# d' beyond which ratings have nothing left to say.
FAR = 20.0
# d' are this far apart at most when thresholds are followed from one to the next.
STRIDE = 1.0
_TIGHT: Any = {"gtol": 1e-9}


def merged(control: np.ndarray, sample: np.ndarray) -> tuple[np.ndarray, np.ndarray, int]:
    """Counts with every category empty in both merged into its lower neighbour, and how many were merged.

    Examples
    --------
    >>> merged(np.array([5, 0, 2]), np.array([3, 0, 4]))
    (array([5, 2]), array([3, 4]), 1)
    """
    used = (control + sample) > 0
    return control[used], sample[used], int((~used).sum())


def _chances(thresholds: np.ndarray, d: float) -> np.ndarray:
    """Chance of each category for percepts d' apart, whose distance is held against the thresholds."""
    below = ndtr((thresholds - d) / np.sqrt(2)) - ndtr((-thresholds - d) / np.sqrt(2))
    return np.maximum(np.diff(np.concatenate([[0.0], below, [1.0]])), 1e-300)


def _loglik(steps: np.ndarray, d: float, control: np.ndarray, sample: np.ndarray) -> float:
    thresholds = np.cumsum(np.exp(steps))
    return float(control @ np.log(_chances(thresholds, 0.0)) + sample @ np.log(_chances(thresholds, d)))


def _start(control: np.ndarray, sample: np.ndarray) -> np.ndarray:
    """Thresholds of the pooled ratings, as logarithms of their steps."""
    pooled = np.cumsum(control + sample)[:-1] / (control + sample).sum()
    thresholds = np.sqrt(2) * ndtri((np.clip(pooled, 0.01, 0.99) + 1) / 2)
    return np.log(np.maximum(np.diff(np.concatenate([[0.0], thresholds])), 0.05))


class Profile:
    """Log-likelihood at a d', the thresholds maximised away; found step by step from the nearest d' known before.

    Parameters
    ----------
    control, sample : ndarray of int, shape (category,)
    """

    def __init__(self, control: np.ndarray, sample: np.ndarray) -> None:
        self.control, self.sample = control, sample
        self._known: dict[float, np.ndarray] = {}
        self.zero = self._solved(0.0, _start(control, sample))

    def __call__(self, d: float) -> float:
        """Log-likelihood at this d'."""
        near = min(self._known, key=lambda known: abs(known - d))
        value, steps = self.zero, self._known[near]
        for at in np.linspace(near, d, 1 + max(int(np.ceil(abs(d - near) / STRIDE)), 1))[1:]:
            value = self._solved(float(at), steps)
            steps = self._known[float(at)]
        return value

    @property
    def steps(self) -> np.ndarray:
        """Logarithms of the steps between thresholds at d' = 0."""
        return self._known[0.0]

    def _solved(self, d: float, start: np.ndarray) -> float:
        found = minimize(
            lambda steps, *_: -_loglik(steps, d, self.control, self.sample), start, method="BFGS", options=_TIGHT
        )
        self._known[d] = found.x
        return -float(found.fun)


def ordinal_fit(control: np.ndarray, sample: np.ndarray, *, level: float = 0.95) -> dict[str, float]:
    """Maximum-likelihood d' of a sample from the blind control, with a profile-likelihood interval.

    Parameters
    ----------
    control, sample : ndarray of int, shape (category,)
        How often each rating 0, 1, ... was given to the blind control and to the sample.
    level : float in (0, 1)
        Coverage of the interval.

    Returns
    -------
    dict
        d, low, high, loglik, loglik_zero (at d' = 0), statistic, p (d' = 0 lies on the boundary: half a chi-square on
        1 df), merged (empty categories). NaN where all ratings fall in one category.

    Notes
    -----
    P(rating < j) = Phi((tau_j - d')/sqrt 2) - Phi((-tau_j - d')/sqrt 2), d' = 0 for the blind control; boundary test:
    Self & Liang (1987), JASA 82.

    Examples
    --------
    >>> fit = ordinal_fit(np.array([18, 14, 6, 2, 0]), np.array([9, 13, 10, 6, 2]))
    >>> round(fit["d"], 3), round(fit["low"], 2), round(fit["high"], 2)
    (1.673, 0.87, 2.35)
    """
    control, sample, empty = merged(np.asarray(control), np.asarray(sample))
    if len(control) < 2 or not control.sum() or not sample.sum():
        return dict.fromkeys(("d", "low", "high", "loglik", "loglik_zero", "statistic", "p"), float("nan")) | {
            "merged": empty
        }
    at = Profile(control, sample)
    zero, far = at.zero, at(FAR)
    best = minimize(
        lambda x, *_: -_loglik(x[:-1], abs(x[-1]), control, sample), np.append(at.steps, 1.0), method="BFGS",
        options=_TIGHT,
    )  # fmt: skip
    d, top = (abs(float(best.x[-1])), -float(best.fun)) if -best.fun > zero + 1e-9 else (0.0, zero)
    if far > top - 1e-6:  # the likelihood rises for ever
        d, top = float("inf"), max(far, top)
    statistic = max(0.0, 2 * (top - zero))
    drop = float(chdtri(1, 1 - level)) / 2
    low = float(brentq(lambda x: at(x) - top + drop, 0.0, min(d, FAR), xtol=1e-7)) if zero < top - drop else 0.0
    high = float(brentq(lambda x: at(x) - top + drop, d, FAR, xtol=1e-7)) if far < top - drop else float("inf")
    p = 0.5 * float(chdtrc(1, statistic)) if statistic > 0 else 1.0
    return {"d": d, "low": low, "high": high, "loglik": top, "loglik_zero": zero, "statistic": statistic, "p": p,
            "merged": empty}  # fmt: skip
