"""How far a lot lies from the standard over all descriptors together, what its own errors add taken off."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy.optimize import brentq
from scipy.special import chndtr, ncfdtr

if TYPE_CHECKING:
    from collections.abc import Callable

# Degrees of freedom beyond which the error counts as known.
KNOWN = 500


def distance(
    difference: np.ndarray, se: np.ndarray, df: np.ndarray, correlation: np.ndarray, *, level: float
) -> tuple[float, float, float]:
    """Root mean square difference per descriptor, with its interval.

    Parameters
    ----------
    difference, se, df : ndarray, shape (descriptor,)
        Lot less standard in points, standard errors and their degrees of freedom.
    correlation : ndarray, shape (descriptor, descriptor)
        Of the errors between descriptors.
    level : float in (0, 1)

    Returns
    -------
    value, low, high : float
        In points per descriptor; `value` is corrected for the error and 0 where that is all there is.

    Notes
    -----
    The squared length of an error-ridden vector is too large by the trace of its covariance V. With g = tr(V^2)/tr(V)
    and h = tr(V)^2/tr(V^2) the squared length over g is about noncentral chi-square on h (Box 1954, Annals of
    Mathematical Statistics 25: 290-302), noncentral F where V is estimated; its noncentrality is inverted.

    Examples
    --------
    >>> far = distance(np.full(4, 1.0), np.full(4, 0.2), np.full(4, 30.0), np.eye(4), level=0.95)
    >>> [round(x, 2) for x in far]
    [0.98, 0.66, 1.3]
    """
    q = len(difference)
    v = correlation * np.outer(se, se)
    trace, square = float(np.trace(v)), float((v**2).sum())
    g, h = square / trace, trace**2 / square
    error_df = float(1 / np.mean(1 / df))  # harmonic: the least known error rules
    seen = float(difference @ difference)
    tail = (1 - level) / 2
    low, high = (_noncentrality(seen / g, h, error_df, share) * g for share in (1 - tail, tail))
    value = max(0.0, seen - trace)
    return tuple(float(np.sqrt(max(0.0, x) / q)) for x in (value, low, high))  # type: ignore[return-value]


def _noncentrality(seen: float, h: float, error_df: float, below: float) -> float:
    """Noncentrality at which a value of `seen` or less has probability `below`; 0 where even that is too much."""
    share = _below(seen, h, error_df)
    if share(0.0) <= below:
        return 0.0
    top = max(seen, 1.0)
    while share(top) > below:
        top *= 1.5  # upward from small: the library loses the noncentral F far out
    return float(brentq(lambda nc: share(nc) - below, 0.0, top, xtol=1e-8))


def _below(seen: float, h: float, error_df: float) -> Callable[[float], float]:
    """P(value <= seen) as a function of the noncentrality."""

    def share(nc: float) -> float:
        p = float(ncfdtr(h, error_df, nc, seen / h)) if error_df < KNOWN else float("nan")
        return p if np.isfinite(p) else float(chndtr(seen, h, nc))

    return share
