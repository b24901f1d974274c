"""Principal axes of a table of means, and the way they point: the same for the same table in any order."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

# A singular value below this share of the largest is rounding.
RANK = 1e-10
# A sum of cubes or a loading as near to 0 as this says nothing of a direction.
TIE = 1e-9


@dataclass(frozen=True, eq=False)
class Principal:
    """Principal axes of a table, largest variance first.

    Attributes
    ----------
    scores : ndarray, shape (row, axis)
    loadings : ndarray, shape (column, axis)
        Orthonormal columns.
    variance, share : ndarray, shape (axis,)
        Divisor rows - 1; share of the whole table's.
    """

    scores: np.ndarray
    loadings: np.ndarray
    variance: np.ndarray
    share: np.ndarray

    def turned(self, rotation: np.ndarray) -> Principal:
        """The first axes turned by an orthogonal matrix, shape (axis, axis), their variance and share with them."""
        q = len(rotation)
        scores = np.hstack([self.scores[:, :q] @ rotation, self.scores[:, q:]])
        variance = (scores**2).sum(axis=0) / max(len(scores) - 1, 1)
        whole = float(self.variance.sum() / self.share.sum()) if self.share.sum() else 1.0
        loadings = np.hstack([self.loadings[:, :q] @ rotation, self.loadings[:, q:]])
        return replace(self, scores=scores, loadings=loadings, variance=variance, share=variance / whole)


def principal_axes(means: np.ndarray) -> Principal:
    """Principal axes of the covariance of a table of means.

    Parameters
    ----------
    means : ndarray, shape (row, column)
        Complete; centred here by column.

    Returns
    -------
    Principal
        At most min(rows - 1, columns) axes; none where no column varies.

    Notes
    -----
    Singular value decomposition of the centred table; variance d^2 / (rows - 1) (Mardia, Kent & Bibby 1979, ch. 8). An
    axis points the way that makes the sum of its cubed loadings positive, at a tie that of its first loading.

    Examples
    --------
    >>> found = principal_axes(np.array([[1.0, 0.0], [3.0, 0.0], [5.0, 0.0]]))
    >>> found.variance.round(6).tolist(), found.scores.ravel().round(6).tolist()
    ([4.0], [-2.0, 0.0, 2.0])
    """
    centred = means - means.mean(axis=0)
    left, size, right = np.linalg.svd(centred, full_matrices=False)
    keep = size > max(RANK * size.max(initial=0.0), RANK * np.abs(means).max(initial=0.0) * np.sqrt(means.size))
    keep &= np.arange(len(size)) < len(means) - 1
    left, size, right = left[:, keep], size[keep], right[keep]
    variance = size**2 / max(len(means) - 1, 1)
    whole = (centred**2).sum() / max(len(means) - 1, 1)
    sign = cube_signs(right.T)
    return Principal(left * size * sign, right.T * sign, variance, variance / whole if len(size) else variance)


def cube_signs(loadings: np.ndarray) -> np.ndarray:
    """The sign of each axis that makes the sum of its cubed loadings positive, shape (axis,).

    Examples
    --------
    >>> cube_signs(np.array([[0.6, -0.6], [0.8, 0.8]])).tolist(), cube_signs(np.array([[-0.7], [0.7]])).tolist()
    ([1.0, 1.0], [-1.0])
    """
    cubes = (loadings**3).sum(axis=0)
    first = np.argmax(np.abs(loadings) > TIE, axis=0)
    fallback = loadings[first, np.arange(loadings.shape[1])] if loadings.size else cubes
    sign = np.sign(np.where(np.abs(cubes) > TIE, cubes, fallback))
    return np.asarray(np.where(sign == 0, 1.0, sign))


def anchored(axes: Principal, anchors: Sequence[int | None]) -> Principal:
    """The axes turned over so that each column of `anchors` points up its axis; None decides nothing."""
    sign = np.ones(axes.loadings.shape[1])
    for at, column in enumerate(anchors[: len(sign)]):
        if column is not None and abs(axes.loadings[column, at]) > TIE:
            sign[at] = np.sign(axes.loadings[column, at])
    return replace(axes, scores=axes.scores * sign, loadings=axes.loadings * sign)


def matched(axes: Principal, stored: np.ndarray, *, count: int, rotate: bool) -> Principal:
    """The first axes in the order and direction of stored ones.

    Parameters
    ----------
    axes : Principal
    stored : ndarray, shape (column, axis)
        Loadings of an earlier map on the same columns; 0 for a column it did not have.
    count : int
        Axes to match, as many as both have.
    rotate : bool
        Turn them within their plane onto the stored ones (orthogonal Procrustes), not only over.
    """
    q = min(count, axes.loadings.shape[1], stored.shape[1])
    if not q:
        return axes
    cosines = axes.loadings[:, :q].T @ stored[:, :q]
    if rotate:
        from scipy.linalg import polar  # noqa: PLC0415 - only a map with a stored one needs it

        return axes.turned(polar(cosines)[0])
    from scipy.optimize import linear_sum_assignment  # noqa: PLC0415 - as above

    mine, theirs = linear_sum_assignment(-np.abs(cosines))
    turn = np.zeros((q, q))
    turn[mine, theirs] = np.where(cosines[mine, theirs] < 0, -1.0, 1.0)
    return axes.turned(turn)
