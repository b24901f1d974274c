"""The largest of several one-sided comparisons with one control (Dunnett 1955, JASA 50), by two quadratures."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from scipy.optimize import brentq
from scipy.special import gammaincinv, ndtr, stdtr, stdtrit

# Nodes over the control's error and over the estimated error.
_POINTS, _SLICES = 64, 128


def one_sided_p(t: float, df: int, comparisons: int) -> float:
    """P(the largest of so many standardised differences from one control reaches t); 1 where t is unknown.

    Parameters
    ----------
    t : float
        Difference over its standard error, NaN where there is no error.
    df : int
        Degrees of freedom of the error, in equal groups.
    comparisons : int
        Means held against the control.

    Examples
    --------
    >>> round(one_sided_p(2.15, 10, 2), 3)
    0.05
    """
    if np.isnan(t) or df < 1:
        return 1.0
    if comparisons == 1:
        return float(stdtr(df, -t))
    z, weight, scale, share = _nodes(df)
    inside = ndtr(np.sqrt(2) * t * scale[:, None] + z) ** comparisons
    return float(max(0.0, 1 - share @ inside @ weight))


@lru_cache(maxsize=32)
def _nodes(df: int) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Nodes and weights over the control's error (normal) and the estimated error (chi over root df)."""
    z, weight = np.polynomial.hermite_e.hermegauss(_POINTS)
    chance, share = np.polynomial.legendre.leggauss(_SLICES)
    scale = np.sqrt(2 * gammaincinv(df / 2, (chance + 1) / 2) / df)
    return z, weight / weight.sum(), scale, share / 2


@lru_cache(maxsize=128)
def one_sided_t(error: float, df: int, comparisons: int) -> float:
    """The t that the largest reaches with this probability; NaN without degrees of freedom.

    Examples
    --------
    >>> round(one_sided_t(0.05, 20, 4), 2)
    2.3
    """
    if df < 1:
        return float("nan")
    if comparisons == 1:
        return float(-stdtrit(df, error))
    most = float(-stdtrit(df, error / comparisons)) + 5
    return float(brentq(lambda t: one_sided_p(t, df, comparisons) - error, -10, most, xtol=1e-8))
