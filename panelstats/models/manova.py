"""Whether rows differ on any of several columns, against the interaction of row and column: a table of each rater."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.special import fdtrc


@dataclass(frozen=True, eq=False)
class Squares:
    """Squares and products between lots and of lot by taster, each of shape (descriptor, descriptor)."""

    between: np.ndarray
    error: np.ndarray
    df: int
    df_error: int


@dataclass(frozen=True)
class Statistic:
    """One of the four statistics with its approximate F."""

    name: str
    value: float
    f: float
    df: float
    df_error: float
    p: float


def squares(marks: np.ndarray) -> Squares:
    """Squares and products of a complete table.

    Parameters
    ----------
    marks : ndarray, shape (taster, lot, descriptor)
        Means over replicates: the error is lot by taster, not the scatter of one taster's own pots.
    """
    tasters, lots, _ = marks.shape
    lot = marks.mean(axis=0) - marks.mean(axis=(0, 1))
    rest = (marks - marks.mean(axis=1, keepdims=True) - lot).reshape(tasters * lots, -1)
    return Squares(tasters * lot.T @ lot, rest.T @ rest, lots - 1, (lots - 1) * (tasters - 1))


def roots(found: Squares) -> tuple[np.ndarray, np.ndarray]:
    """Roots of between against error, largest first, and their coefficients in units of the error's sd.

    Returns
    -------
    values : ndarray, shape (axis,)
    vectors : ndarray, shape (descriptor, axis)
        v' (error / df_error) v = 1.
    """
    lower = np.linalg.cholesky(found.error / found.df_error)
    half = np.linalg.solve(lower, found.between)
    values, vectors = np.linalg.eigh(np.linalg.solve(lower, half.T) / found.df_error)
    return np.maximum(values[::-1], 0.0), np.linalg.solve(lower.T, vectors[:, ::-1])


def manova(found: Squares) -> list[Statistic]:
    """Wilks, Pillai, Hotelling-Lawley and Roy.

    Notes
    -----
    F of Wilks by Rao, exact where either side has two dimensions or fewer; of Roy an upper bound (Mardia, Kent & Bibby
    1979, sec. 12.3; Krzanowski 2000). Pillai's is least hurt by unequal scatter.
    """
    p, h, e = len(found.between), found.df, found.df_error
    values, _ = roots(found)
    s, m, n = min(p, h), (abs(p - h) - 1) / 2, (e - p - 1) / 2
    spread = p**2 + h**2 - 5
    a = math.sqrt((p**2 * h**2 - 4) / spread) if spread > 0 else 1.0
    wilks, df2 = float(np.prod(1 / (1 + values))), a * (e + h - (p + h + 1) / 2) - (p * h - 2) / 2
    root = wilks ** (1 / a)
    pillai, trace, largest = float((values / (1 + values)).sum()), float(values.sum()), float(values[0])
    wide = max(p, h)
    lines = (
        ("Wilks", wilks, (1 - root) / root * df2 / (p * h), p * h, df2),
        ("Pillai", pillai, (2 * n + s + 1) / (2 * m + s + 1) * pillai / (s - pillai), s * (2 * m + s + 1),
         s * (2 * n + s + 1)),
        ("Hotelling-Lawley", trace, 2 * (s * n + 1) * trace / (s**2 * (2 * m + s + 1)), s * (2 * m + s + 1),
         2 * (s * n + 1)),
        ("Roy", largest, largest * (e - wide + h) / wide, wide, e - wide + h),
    )  # fmt: skip
    return [Statistic(name, value, f, df, rest, float(fdtrc(df, rest, f))) for name, value, f, df, rest in lines]
