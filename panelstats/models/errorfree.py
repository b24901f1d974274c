"""Slopes on columns that are known with error only: the error taken out of their spread, rows left out by turns."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import stdtr, stdtrit

if TYPE_CHECKING:
    from collections.abc import Sequence

# What the error leaves of a column's variance is never taken to be less than this share of it (ours).
LEAST_LEFT = 0.2
# Of several columns together, no direction less than this share of their mean variance (ours).
LEAST_AXIS = 0.05


@dataclass(frozen=True, eq=False)
class ErrorPart:
    """One source of error of the columns.

    Attributes
    ----------
    squares : ndarray, shape (row, column, column)
        What leaving the row out takes from the sums of squares and products; their sum over rows times `kept` is the
        whole.
    df : ndarray, shape (row,)
        Degrees of freedom that go with it.
    whole : ndarray, shape (column, column)
    whole_df : float
    share : float
        What one of its variance counts in a row's value.
    """

    squares: np.ndarray
    df: np.ndarray
    whole: np.ndarray
    whole_df: float
    share: float

    def covariance(self) -> np.ndarray:
        """Its part of the error covariance of a row, shape (column, column)."""
        return self.share * self.whole / max(self.whole_df, 1.0)

    def without_each(self) -> np.ndarray:
        """The same without each row by turns, shape (row, column, column)."""
        df = np.maximum(self.whole_df - self.df, 1.0)
        return self.share * (self.whole - self.squares) / df[:, None, None]


@dataclass(frozen=True, eq=False)
class Slopes:
    """Slopes with their jackknife error, shape (column,) each.

    Attributes
    ----------
    slope, se, low, high, p : ndarray
    df : float
    """

    slope: np.ndarray
    se: np.ndarray
    df: float
    low: np.ndarray
    high: np.ndarray
    p: np.ndarray


def slopes_alone(
    x: np.ndarray, y: np.ndarray, stratum: np.ndarray, error: Sequence[ErrorPart], *, level: float
) -> Slopes:
    """Slope on each column alone, its error taken out of its spread.

    Parameters
    ----------
    x : ndarray, shape (row, column)
        Within strata.
    y : ndarray, shape (row,)
        Within strata.
    stratum : ndarray of int, shape (row,)
    error : sequence of ErrorPart
    level : float in (0, 1)

    Notes
    -----
    b = S_xy / (S_xx - U), S_xx - U not below a fifth of S_xx; interval from leaving each row out, U formed again
    without it (Fuller 1987, *Measurement Error Models*; jackknife: Miller 1974, Biometrika 61: 1, from memory).
    """
    moments = _Moments.of(x, y, stratum)
    spread, spread_out = _error(error, x.shape)

    def slope(sxx: np.ndarray, sxy: np.ndarray, u: np.ndarray) -> np.ndarray:
        return sxy / np.maximum(np.maximum(sxx - u, LEAST_LEFT * sxx), 1e-300)

    def variances(of: np.ndarray) -> np.ndarray:
        return np.diagonal(of, axis1=-2, axis2=-1)

    whole = slope(variances(moments.sxx), moments.sxy, variances(spread))
    out = slope(variances(moments.sxx_out), moments.sxy_out, variances(spread_out))
    return _jackknifed(whole, out, moments.df - 1, level)


def slopes_together(
    x: np.ndarray, y: np.ndarray, stratum: np.ndarray, error: Sequence[ErrorPart], *, level: float
) -> Slopes:
    """Slopes on all columns at once, the full covariance of their error taken out of their spread.

    Parameters
    ----------
    x, y, stratum, error, level
        As for `slopes_alone`.

    Notes
    -----
    b = (S - U)^-1 s, eigenvalues of S - U not below a twentieth of the mean variance of the columns.
    """
    moments = _Moments.of(x, y, stratum)
    spread, spread_out = _error(error, x.shape)

    def slope(sxx: np.ndarray, sxy: np.ndarray, u: np.ndarray) -> np.ndarray:
        values, vectors = np.linalg.eigh(sxx - u)
        least = LEAST_AXIS * np.trace(sxx, axis1=-2, axis2=-1)[..., None] / sxx.shape[-1]
        turned = np.einsum("...ji,...j->...i", vectors, sxy)
        return np.einsum("...ij,...j->...i", vectors, turned / np.maximum(np.maximum(values, least), 1e-300))

    whole = slope(moments.sxx, moments.sxy, spread)
    out = slope(moments.sxx_out, moments.sxy_out, spread_out)
    return _jackknifed(whole, out, moments.df - 1, level)


def error_free_correlations(x: np.ndarray, stratum: np.ndarray, error: Sequence[ErrorPart]) -> np.ndarray:
    """Correlations of the columns within strata with the error taken out, between -1 and 1."""
    df = max(len(x) - len(np.unique(stratum)), 1)
    s = x.T @ x / df
    left = s - _error(error, x.shape)[0]
    sd = np.sqrt(np.maximum(np.diagonal(left), LEAST_LEFT * np.diagonal(s)))
    return np.clip(left / np.maximum(np.outer(sd, sd), 1e-300), -1, 1)


@dataclass(frozen=True, eq=False)
class _Moments:
    """Variances and covariances within strata, whole and without each row by turns."""

    sxx: np.ndarray  # (column, column)
    sxy: np.ndarray  # (column,)
    sxx_out: np.ndarray  # (row, column, column)
    sxy_out: np.ndarray  # (row, column)
    df: int

    @staticmethod
    def of(x: np.ndarray, y: np.ndarray, stratum: np.ndarray) -> _Moments:
        n = np.bincount(stratum)[stratum].astype(float)
        df = len(y) - len(np.unique(stratum))
        weight = n / np.maximum(n - 1, 1)  # what a row adds to sums about its stratum's mean
        xx, xy = x.T @ x, x.T @ y
        xx_out = xx - weight[:, None, None] * x[:, :, None] * x[:, None, :]
        xy_out = xy - (weight * y)[:, None] * x
        return _Moments(xx / df, xy / df, xx_out / (df - 1), xy_out / (df - 1), df)


def _error(error: Sequence[ErrorPart], shape: tuple[int, ...]) -> tuple[np.ndarray, np.ndarray]:
    rows, columns = shape
    whole, out = np.zeros((columns, columns)), np.zeros((rows, columns, columns))
    for part in error:
        whole, out = whole + part.covariance(), out + part.without_each()
    return whole, out


def _jackknifed(whole: np.ndarray, out: np.ndarray, df: int, level: float) -> Slopes:
    n = len(out)
    se = np.sqrt((n - 1) / n * ((out - out.mean(axis=0)) ** 2).sum(axis=0))
    reach = stdtrit(df, (1 + level) / 2) * se
    p = 2 * stdtr(df, -np.abs(whole) / np.maximum(se, 1e-300))
    return Slopes(whole, se, float(df), whole - reach, whole + reach, p)
