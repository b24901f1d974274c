"""Gaps of a table filled in from its own principal axes, over and over until nothing moves."""

from __future__ import annotations

import numpy as np

# The filling stands still where nothing moves by more than this share of the spread of the table, and must within so
# many rounds.
STILL, ROUNDS = 1e-9, 20_000


def filled_in(table: np.ndarray, *, axes: int, scale: np.ndarray | None = None) -> np.ndarray | None:
    """Fill the gaps of a table from the principal axes of what it then is.

    Parameters
    ----------
    table : ndarray, shape (row, column)
        NaN in gaps; no row or column of gaps alone.
    axes : int
        Axes a gap is filled from; none: the mean of its column.
    scale : ndarray, shape (column, column), optional
        What the table is multiplied by before its axes are sought, such as a diagonal of 1 / sd. By default nothing.

    Returns
    -------
    ndarray, shape (row, column)
        As the table where it had numbers. None where the filling did not come to a stand.

    Notes
    -----
    Start with the means of the columns; find the axes; put what they say into the gaps; until that changes nothing:
    the least-squares fit of so many axes to the numbers that are there (Kiers 1997, Psychometrika 62: 251-266).

    Examples
    --------
    >>> table = np.array([[1.0, 2.0, 3.0], [2.0, 4.0, 6.0], [3.0, 6.0, 9.0], [4.0, 8.0, np.nan]])
    >>> filled_in(table, axes=1)[3].round(4).tolist()
    [4.0, 8.0, 12.0]
    """
    gap = np.isnan(table)
    now = np.where(gap, np.nanmean(table, axis=0), table)
    if not axes or not gap.any():
        return now
    there = np.eye(table.shape[1]) if scale is None else scale
    back = np.linalg.inv(there)
    step = STILL * float(np.nanstd(table, axis=0).max())
    for _ in range(ROUNDS):
        mean = now.mean(axis=0)
        scaled = (now - mean) @ there
        plane = np.linalg.eigh(scaled.T @ scaled)[1][:, -axes:]
        fitted = mean + scaled @ plane @ plane.T @ back
        moved = np.abs(fitted - now)[gap].max()
        now = np.where(gap, fitted, now)
        if moved <= step:
            return np.asarray(now)
    return None
