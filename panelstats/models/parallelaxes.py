"""How many axes of one table stand out from a table of random numbers."""

from __future__ import annotations

import numpy as np


def parallel_axes(
    table: np.ndarray, *, resamples: int, rng: np.random.Generator, level: float = 0.95
) -> tuple[int, np.ndarray]:
    """Leading axes of a table that vary more than those of random tables of its size, and the bounds they passed.

    Parameters
    ----------
    table : ndarray, shape (row, column)
        Complete; no column constant.
    resamples : int
        Tables of independent normal numbers.
    rng : Generator
    level : float in (0, 1)
        Quantile of their eigenvalues that must be passed, axis by axis.

    Returns
    -------
    int
        Axes before the first that does not pass.
    ndarray, shape (axis,)
        The bounds, eigenvalues of a correlation matrix.

    Notes
    -----
    Parallel analysis (Horn 1965, Psychometrika 30: 179-185). It knows one table alone: whether others would see the
    same axes it cannot tell.

    Examples
    --------
    >>> rng = np.random.default_rng(0)
    >>> table = rng.normal(size=(30, 1)) + 0.3 * rng.normal(size=(30, 4))
    >>> parallel_axes(table, resamples=99, rng=rng)[0]
    1
    """
    drawn = _eigenvalues(rng.standard_normal((resamples, *table.shape)))
    bounds = np.quantile(drawn, level, axis=0, method="higher")
    passed = _eigenvalues(table) > bounds
    return int(passed.argmin()) if not passed.all() else len(passed), bounds


def _eigenvalues(tables: np.ndarray) -> np.ndarray:
    """Of the correlations of columns, the largest first; shape (..., axis)."""
    z = tables - tables.mean(axis=-2, keepdims=True)
    z = z / np.sqrt((z**2).sum(axis=-2, keepdims=True))
    return np.asarray(np.linalg.eigvalsh(np.swapaxes(z, -1, -2) @ z)[..., ::-1])
