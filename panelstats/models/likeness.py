"""How like two sets of marks are: limits of agreement for one mark, and Lin's concordance."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import special

from panelstats.models.meansquares import ratio

# Below this many lots the interval of the concordance does not hold (simulated), and none is given.
LEAST_CONCORDANCE = 12
# Share of the differences that the limits are meant to hold.
WIDTH = special.ndtri(0.975)


@dataclass(frozen=True, eq=False)
class Limits:
    """Limits of agreement; every array by descriptor.

    Attributes
    ----------
    low, high : ndarray
        Between them lie 95 % of the differences of one lot.
    low_interval, high_interval : tuple of ndarray
        Exact interval of each limit.
    """

    low: np.ndarray
    high: np.ndarray
    low_interval: tuple[np.ndarray, np.ndarray]
    high_interval: tuple[np.ndarray, np.ndarray]


def limits_of_agreement(bias: np.ndarray, sd: np.ndarray, lots: np.ndarray, *, tail: float = 0.025) -> Limits:
    """Limits b +- 1.96 s with exact intervals.

    Parameters
    ----------
    bias, sd : array_like of float
        Mean and standard deviation of the differences, in points.
    lots : array_like of int
        Number of differences.
    tail : float
        Chance on each side outside the interval of a limit.

    Notes
    -----
    Bland & Altman 1986, Lancet i: 307, and 1999, Stat. Methods Med. Res. 8: 135. (limit - b) sqrt(n) / s follows a
    noncentral t on n - 1 degrees of freedom, noncentrality 1.96 sqrt(n).

    Examples
    --------
    >>> found = limits_of_agreement(0.2, 0.8, 24)
    >>> print(found.low.round(2), found.high.round(2))
    -1.37 1.77
    """
    bias, sd, n = (np.asarray(x, float) for x in (bias, sd, lots))
    n = np.where(n > 1, n, np.nan)
    reach = [sd / np.sqrt(n) * special.nctdtrit(n - 1, WIDTH * np.sqrt(n), p) for p in (tail, 1 - tail)]
    return Limits(
        bias - WIDTH * sd, bias + WIDTH * sd, (bias - reach[1], bias - reach[0]), (bias + reach[0], bias + reach[1])
    )


@dataclass(frozen=True, eq=False)
class Concordance:
    """Lin's concordance by descriptor: value = pearson x accuracy; low because of order, or because of level."""

    value: np.ndarray
    low: np.ndarray
    high: np.ndarray
    pearson: np.ndarray
    accuracy: np.ndarray


def concordance(x: np.ndarray, y: np.ndarray, *, tail: float = 0.025) -> Concordance:
    """Lin's concordance of two sets of marks, interval on Fisher's z.

    Parameters
    ----------
    x, y : ndarray, shape (lot, descriptor)
        NaN where not scored.

    Notes
    -----
    Lin 1989, Biometrics 45: 255, with the corrected variance. From 12 lots on the 95 % interval holds 92 to 95 %; below
    it is NaN.

    Examples
    --------
    >>> marks = np.arange(12.0)[:, None]
    >>> print(concordance(marks, marks + 1).value.round(2))
    [0.96]
    """
    seen = ~np.isnan(x) & ~np.isnan(y)
    n = np.where(seen.sum(axis=0) > 2, seen.sum(axis=0), np.nan)
    (mx, vx), (my, vy) = (_moments(values, seen, n) for values in (x, y))
    product = np.where(seen, (np.nan_to_num(x) - mx) * (np.nan_to_num(y) - my), 0.0).sum(axis=0) / n
    value = ratio(2 * product, vx + vy + (mx - my) ** 2)
    r = np.clip(ratio(product, np.sqrt(vx * vy)), -1, 1)
    u2 = ratio((mx - my) ** 2, np.sqrt(vx * vy))
    reach = special.ndtri(1 - tail) * np.sqrt(np.maximum(_variance_of_z(value, r, u2), 0.0) / (n - 2))
    reach = np.where(n >= LEAST_CONCORDANCE, reach, np.nan)
    with np.errstate(divide="ignore", invalid="ignore"):
        z = np.arctanh(value)
    return Concordance(value, np.tanh(z - reach), np.tanh(z + reach), r, ratio(value * np.sign(r), np.abs(r)))


def _moments(values: np.ndarray, seen: np.ndarray, n: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Mean and variance with divisor n."""
    mean = np.where(seen, values, 0.0).sum(axis=0) / n
    return mean, np.where(seen, (np.nan_to_num(values) - mean) ** 2, 0.0).sum(axis=0) / n


def _variance_of_z(c: np.ndarray, r: np.ndarray, u2: np.ndarray) -> np.ndarray:
    """(n - 2) times the variance of Fisher's z of the concordance."""
    with np.errstate(divide="ignore", invalid="ignore"):
        rest = 1 - c**2
        return (
            (1 - r**2) * c**2 / (rest * r**2)
            + 2 * c**3 * (1 - c) * u2 / (r * rest**2)
            - c**4 * u2**2 / (2 * r**2 * rest**2)
        )
