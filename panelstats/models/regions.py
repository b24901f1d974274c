"""Regions and distances on the plane of a map: Hotelling's T-squared, ellipses, noncentral F turned about."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import chndtr, fdtrc, fdtri, ncfdtr

if TYPE_CHECKING:
    from collections.abc import Callable

# Halvings of a bracket: more than a double tells apart.
_HALVINGS = 200


def radius_squared(q: int, df: float, level: float) -> float:
    """Squared radius of a region, in units of the covariance of its centre: q df / (df - q + 1) F.

    Parameters
    ----------
    q : int
        Axes.
    df : float
        Degrees of freedom of the covariance.
    level : float in (0, 1)

    Returns
    -------
    float
        Infinite where the degrees of freedom do not suffice.

    Notes
    -----
    Hotelling's T-squared (Mardia, Kent & Bibby 1979, sec. 3.5).

    Examples
    --------
    >>> round(17 / 19 / 3 * radius_squared(3, 19, 0.90), 3)  # F of 10 % on 3 and 17
    2.437
    """
    rest = df - q + 1
    return math.inf if rest <= 0 else float(q * df / rest * fdtri(q, rest, level))


@dataclass(frozen=True)
class TSquared:
    """A distance in units of its error: T-squared, its F, degrees of freedom and p."""

    t_squared: float
    f: float
    df: float
    df_error: float
    p: float


def t_squared(difference: np.ndarray, covariance: np.ndarray, df: float) -> TSquared:
    """Test that a vector is 0.

    Parameters
    ----------
    difference : ndarray, shape (axis,)
    covariance : ndarray, shape (axis, axis)
        Of `difference`, estimated on `df` degrees of freedom.
    df : float

    Notes
    -----
    F = (df - q + 1) / (df q) T-squared on q and df - q + 1 (Mardia, Kent & Bibby 1979, sec. 3.5).
    """
    q, rest = len(difference), df - len(difference) + 1
    size = float(difference @ np.linalg.solve(covariance, difference))
    if rest <= 0:
        return TSquared(size, math.nan, q, rest, math.nan)
    f = rest / (df * q) * size
    return TSquared(size, f, q, rest, float(fdtrc(q, rest, f)))


def noncentrality(f: float, df: float, df_error: float) -> float:
    """Unbiased noncentrality of an F, 0 where it would be negative."""
    return max(0.0, df * (df_error - 2) / df_error * f - df) if df_error > 2 else math.nan


def noncentral_limits(f: float, df: float, df_error: float, level: float) -> tuple[float, float]:
    """Limits of the noncentrality of an F, each tail half of what is left of the level.

    Parameters
    ----------
    f, df, df_error : float
    level : float in (0, 1)

    Returns
    -------
    low, high : float
        Low is 0 where what was seen is no rarer than the tail if there is none.

    Notes
    -----
    The bracket grows from what was seen, since the distribution is lost at noncentralities far beyond it; where it is
    lost all the same, the noncentral chi-square stands in.

    Examples
    --------
    >>> [round(limit, 4) for limit in noncentral_limits(5.0, 4, 74, 0.95)]
    [3.3773, 39.3041]
    """
    if not math.isfinite(f):
        return math.nan, math.nan
    tail = (1 - level) / 2

    def below(nc: float) -> float:
        found = float(ncfdtr(df, df_error, nc, f))
        return found if math.isfinite(found) else float(chndtr(df * f, df, nc))

    return _where(below, 1 - tail, f * df), _where(below, tail, f * df)


def _where(below: Callable[[float], float], share: float, start: float) -> float:
    """Where a falling function takes a value; 0 where it starts below it."""
    if below(0.0) <= share:
        return 0.0
    low, high = 0.0, max(start, 1.0)
    while below(high) > share:
        low, high = high, 2 * high
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        low, high = (middle, high) if below(middle) > share else (low, middle)
        if high - low <= 1e-12 * high:
            break
    return (low + high) / 2


@dataclass(frozen=True, eq=False)
class Ellipses:
    """Half axes of ellipses and where the long one points, all of shape (lot,)."""

    long: np.ndarray
    short: np.ndarray
    degrees: np.ndarray  # from the first axis towards the second, -90 to 90


def ellipses(covariance: np.ndarray, radius: float) -> Ellipses:
    """Ellipses of radius squared `radius`; `covariance` is (lot, 2, 2).

    Examples
    --------
    >>> found = ellipses(np.array([[[4.0, 0.0], [0.0, 1.0]]]), 1.0)
    >>> found.long.tolist(), found.short.tolist(), found.degrees.tolist()
    ([2.0], [1.0], [0.0])
    """
    values, vectors = np.linalg.eigh(covariance)
    half = np.sqrt(np.maximum(values, 0.0) * radius)
    way = vectors[:, :, 1]
    angle = np.degrees(np.arctan2(way[:, 1], way[:, 0]))
    return Ellipses(half[:, 1], half[:, 0], (angle + 90) % 180 - 90 + 0.0)
