"""Do trends differ from one another beyond their errors? A mixed model with a random slope for each series.

Each series has a line of its own, weighted by known variances; given those, the lines' slopes and their variances hold
all that restricted likelihood asks of the whole data, so that the rest is done on the slopes.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.special import chdtri, fdtrc

from panelstats.models.meansquares import ratio

Excess = Callable[[np.ndarray, np.ndarray], np.ndarray]
# Halvings of the bracket of a variance: to the last digits.
HALVINGS = 100


@dataclass(frozen=True, eq=False)
class Slopes:
    """Slope of each series on its sessions; arrays (chart...), NaN where there are too few.

    Attributes
    ----------
    slope, variance : ndarray
    rss : ndarray
        Weighted residual sum of squares.
    df : ndarray
        Sessions less two; 0 where there is no line.
    """

    slope: np.ndarray
    variance: np.ndarray
    rss: np.ndarray
    df: np.ndarray


@dataclass(frozen=True, eq=False)
class SlopeSpread:
    """How far the slopes of a column differ beyond their errors; shape (column,) unless said.

    Attributes
    ----------
    sd, low, high : ndarray
        Standard deviation of the slopes, restricted maximum likelihood, and its interval.
    p : ndarray
        Of slopes that are all one.
    count : ndarray
        Slopes behind it.
    mean : ndarray
        Of the slopes.
    shrunken, shrunken_sd : ndarray, shape (series, column)
        Each slope drawn to the mean by what its error leaves of it, and the standard deviation it is known to.
    """

    sd: np.ndarray
    low: np.ndarray
    high: np.ndarray
    p: np.ndarray
    count: np.ndarray
    mean: np.ndarray
    shrunken: np.ndarray
    shrunken_sd: np.ndarray


def slopes(value: np.ndarray, variance: np.ndarray, *, least: int) -> Slopes:
    """Weighted straight line of each series, shape (session, chart...), with known variances; NaN is absent.

    Examples
    --------
    >>> found = slopes(np.array([0.0, 1.0, np.nan, 3.0]), np.ones(4), least=3)
    >>> print(found.slope, found.variance.round(3))
    1.0 0.214
    """
    there = np.isfinite(value) & (variance > 0)
    w = np.where(there, 1 / np.where(there, variance, 1.0), 0.0)
    y = np.where(there, value, 0.0)
    at = np.arange(len(value), dtype=float).reshape(-1, *[1] * (value.ndim - 1))
    total = w.sum(axis=0)
    x, off = (part - np.nan_to_num(ratio((w * part).sum(axis=0), total)) for part in (at, y))
    squares = (w * x**2).sum(axis=0)
    kept = (there.sum(axis=0) >= least) & (squares > 0)
    slope = np.where(kept, ratio((w * x * off).sum(axis=0), squares), np.nan)
    rss = (w * off**2).sum(axis=0) - np.nan_to_num(slope) ** 2 * squares
    return Slopes(slope, np.where(kept, ratio(1.0, squares), np.nan), np.maximum(rss, 0.0),
                  np.where(kept, there.sum(axis=0) - 2, 0))  # fmt: skip


def slope_spread(slope: np.ndarray, variance: np.ndarray, df: np.ndarray, *, level: float = 0.95) -> SlopeSpread:
    """Spread of slopes, shape (series, column), beyond their variances.

    Parameters
    ----------
    slope, variance : ndarray, shape (series, column)
        NaN where there is none.
    df : ndarray, shape (column,)
        Degrees of freedom behind the variances; infinite where they are known.
    level : float in (0, 1)

    Notes
    -----
    Test: the weighted sum of squares about the mean, by F. Interval: the variances at which that sum, with each slope's
    weight as it would be then, is just what chance allows (Viechtbauer 2007, Statistics in Medicine 26: 37-52).
    """
    there = np.isfinite(slope) & (variance > 0)
    d, v = np.where(there, slope, 0.0), np.where(there, variance, 1.0)
    count = there.sum(axis=0)
    told = count > 1
    free, tail = np.maximum(count - 1, 1), (1 - level) / 2
    top = 4 * count * (d**2).max(axis=0) / chdtri(free, 1 - tail) + v.max(axis=0)  # no root lies above
    sd, low, high = (
        np.where(told, np.sqrt(_root(excess, there, d, v, top)), np.nan)
        for excess in (_restricted, _beyond(chdtri(free, tail)), _beyond(chdtri(free, 1 - tail)))
    )
    w = _weights(there, v, np.zeros(len(count)))
    q = (w * (d - _mean(w, d)) ** 2).sum(axis=0)
    variance_of = np.nan_to_num(sd) ** 2
    w = _weights(there, v, variance_of)
    mean = np.where(told, _mean(w, d), np.nan)
    share = variance_of / (variance_of + v)
    shrunken_sd = np.sqrt(share * v + (1 - share) ** 2 * ratio(1.0, w.sum(axis=0)))
    return SlopeSpread(
        sd, low, high, p=np.where(told, fdtrc(free, np.minimum(df, 1e9), q / free), np.nan), count=count, mean=mean,
        shrunken=np.where(there & told, mean + share * (d - mean), np.nan),
        shrunken_sd=np.where(there & told, shrunken_sd, np.nan),
    )  # fmt: skip


def _weights(there: np.ndarray, v: np.ndarray, between: np.ndarray) -> np.ndarray:
    return np.where(there, 1 / (v + between), 0.0)


def _mean(w: np.ndarray, d: np.ndarray) -> np.ndarray:
    return np.nan_to_num(ratio((w * d).sum(axis=0), w.sum(axis=0)))


def _restricted(w: np.ndarray, d: np.ndarray) -> np.ndarray:
    """Twice the slope of the restricted log likelihood in the variance of the slopes."""
    squares = (w**2).sum(axis=0)
    return (w**2 * (d - _mean(w, d)) ** 2).sum(axis=0) - w.sum(axis=0) + np.nan_to_num(ratio(squares, w.sum(axis=0)))


def _beyond(bound: np.ndarray) -> Excess:
    """The sum of squares about the mean less what chance allows."""
    return lambda w, d: (w * (d - _mean(w, d)) ** 2).sum(axis=0) - bound


def _root(excess: Excess, there: np.ndarray, d: np.ndarray, v: np.ndarray, top: np.ndarray) -> np.ndarray:
    """Where an excess that falls with the variance of the slopes crosses 0; 0 where it never lies above."""
    low, high = np.zeros_like(top), top.copy()
    above = excess(_weights(there, v, low), d) > 0
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        up = excess(_weights(there, v, middle), d) > 0
        low, high = np.where(up, middle, low), np.where(up, high, middle)
    return np.where(above, (low + high) / 2, 0.0)
