"""Root mean square of several means, their error taken off, with its interval from the noncentral F."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import special

from panelstats.models.meansquares import ratio

BISECTIONS = 40


@dataclass(frozen=True, eq=False)
class RootMeanSquare:
    """Estimate (0 where the error is all there is), interval, and the chance of as much at the bound."""

    value: np.ndarray
    low: np.ndarray
    high: np.ndarray
    p: np.ndarray


def root_mean_square(
    squares: np.ndarray, noise: np.ndarray, count: np.ndarray, df: tuple[np.ndarray, np.ndarray], *,
    bound: np.ndarray, tail: float = 0.025,
) -> RootMeanSquare:  # fmt: skip
    """Root mean square of `count` means with correlated errors.

    Parameters
    ----------
    squares : ndarray
        Sum of the squared means.
    noise : ndarray
        Sum of their error variances. Where it is 0 the means stand as they are.
    count : ndarray
        Number of means.
    df : tuple of ndarray
        Effective number h of independent errors, and the degrees of freedom of `noise`.
    bound : ndarray
        Root mean square against which `p` is the chance of `squares` or more.
    tail : float
        Chance on each side outside the interval.

    Notes
    -----
    With g = noise / h, squares / noise is close to a noncentral F of noncentrality count rms^2 / g (Box 1954, Annals
    of Mathematical Statistics 25: 290); the noncentrality is inverted for the interval.

    Examples
    --------
    >>> four = [np.array([x]) for x in (4.0, 0.16, 4.0, 4.0, 120.0, 0.5)]
    >>> found = root_mean_square(*four[:3], (four[3], four[4]), bound=four[5])
    >>> print(found.value.round(2), found.low.round(2), found.high.round(2))
    [0.98] [0.75] [1.22]
    """
    h, dfs = df[0], (df[0], np.maximum(df[1], 1e-9))
    f, g = ratio(squares, noise), ratio(noise, h)
    with np.errstate(invalid="ignore"):
        p = 1 - noncentral_f(dfs, count * bound**2 / g, f)
        low, high = (np.sqrt(noncentrality_at(f, dfs, 1 - t) * g / count) for t in (tail, 1 - tail))
        value = np.sqrt(np.maximum(squares - noise, 0.0) / count)
    nothing = (noise == 0) & (count > 0)
    plain = np.sqrt(ratio(squares, count))
    value, low, high = (np.where(nothing, plain, values) for values in (value, low, high))
    return RootMeanSquare(value, low, high, np.where(nothing, (plain <= bound).astype(float), p))


def noncentrality_at(f: np.ndarray, dfs: tuple[np.ndarray, np.ndarray], cdf: float) -> np.ndarray:
    """The noncentrality at which `f` lies at `cdf`, 0 where it lies below even for none; by bisection."""
    low, high = np.zeros_like(f), 4 * (dfs[0] * f + 10) + 10 * np.sqrt(np.maximum(dfs[0] * f, 0))
    for _ in range(BISECTIONS):
        middle = (low + high) / 2
        above = noncentral_f(dfs, middle, f) > cdf
        low, high = np.where(above, middle, low), np.where(above, high, middle)
    return np.where(noncentral_f(dfs, np.zeros_like(f), f) > cdf, low, np.where(np.isnan(f), np.nan, 0.0))


def noncentral_f(dfs: tuple[np.ndarray, np.ndarray], noncentrality: np.ndarray, f: np.ndarray) -> np.ndarray:
    """Distribution function of a noncentral F.

    Where the series of the library does not converge, far out in a tail of a large noncentrality, the cube-root
    approximation of Severo & Zelen 1960 (Biometrika 47: 411; from memory, within 1e-4 of the series there) stands in.
    """
    d1, d2 = dfs
    exact = special.ncfdtr(d1, d2, noncentrality, f)
    both = d1 + noncentrality
    a, b = 2 * (d1 + 2 * noncentrality) / (9 * both**2), 2 / (9 * d2)
    root = np.cbrt(d1 * f / both)
    near = special.ndtr(((1 - b) * root - (1 - a)) / np.sqrt(a + b * root**2))
    return np.where(np.isnan(exact), near, exact)
