"""A line through logarithms of expected squares: the generalised linear model of gamma values with the log link."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

# Steps of scoring, halvings of one, and the change of the coefficients that ends them.
STEPS, HALVINGS, SETTLED = 60, 30, 1e-10


@dataclass(frozen=True, eq=False)
class GammaLine:
    """Coefficients with their standard errors; NaN where nothing could be fitted."""

    coefficients: np.ndarray
    se: np.ndarray
    df: int


def gamma_line(y: np.ndarray, x: np.ndarray, weight: np.ndarray) -> GammaLine:
    """Fit log E(y) = x b, the standard deviation of y in proportion to its mean.

    Parameters
    ----------
    y : ndarray, shape (row,)
        0 or more; 0 is no trouble, all of them 0 is.
    x : ndarray, shape (row, column)
    weight : ndarray, shape (row,)
        How many values of one kind stand behind y.

    Returns
    -------
    GammaLine

    Notes
    -----
    Fisher scoring; dispersion by Pearson's statistic on rows less columns (McCullagh & Nelder 1989, Generalized Linear
    Models, chapter 8).

    Examples
    --------
    >>> at = np.arange(6.0)
    >>> print(gamma_line(np.exp(0.5 * at), np.column_stack([np.ones(6), at]), np.ones(6)).coefficients.round(3) + 0.0)
    [0.  0.5]
    """
    rows, columns = x.shape
    df = rows - columns
    if df < 1 or not y.max(initial=0.0) > 0 or np.linalg.matrix_rank(x) < columns:
        return GammaLine(np.full(columns, np.nan), np.full(columns, np.nan), max(df, 0))
    cross = x.T @ (weight[:, None] * x)
    b = np.linalg.solve(cross, x.T @ (weight * np.full(rows, np.log((weight @ y) / weight.sum()))))
    for _ in range(STEPS):
        step = np.linalg.solve(cross, x.T @ (weight * (y * np.exp(-x @ b) - 1)))
        b, before = _forward(y, x, weight, b, step), b
        if np.abs(b - before).max() < SETTLED:
            break
    off = y * np.exp(-x @ b) - 1
    dispersion = (weight @ off**2) / df
    return GammaLine(b, np.sqrt(dispersion * np.diag(np.linalg.inv(cross))), df)


def _forward(y: np.ndarray, x: np.ndarray, weight: np.ndarray, b: np.ndarray, step: np.ndarray) -> np.ndarray:
    """A step that does not go downhill, halved until it is one."""
    now = _likelihood(y, x, weight, b)
    for half in range(HALVINGS):
        ahead = b + step / 2**half
        if _likelihood(y, x, weight, ahead) >= now:
            return ahead
    return b


def _likelihood(y: np.ndarray, x: np.ndarray, weight: np.ndarray, b: np.ndarray) -> float:
    log_mean = np.clip(x @ b, -500.0, 500.0)
    return -float(weight @ (y * np.exp(-log_mean) + log_mean))
