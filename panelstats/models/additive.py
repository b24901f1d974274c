"""Least-squares fits of row + column to tables with gaps, many tables at once."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

# An eigenvalue below this share of the largest is a part that is not linked to the rest.
UNLINKED = 1e-9
# A sum of squares below this share of what it was taken from is rounding.
ROUNDING = 1e-12


@dataclass(frozen=True, eq=False)
class Additive:
    """Least-squares fit of row + column, for many tables at once."""

    row: np.ndarray  # (row, table), at the mean of the linked columns; NaN where the row is empty
    column: np.ndarray  # (column, table), summing to 0 in each linked part
    residual: np.ndarray  # (row, column, table), 0 where not seen
    df: np.ndarray  # (table,)
    parts: np.ndarray  # (table,)
    spread: np.ndarray  # (table, column, column), covariance of `column` for unit error


def fit_additive(y: np.ndarray, seen: np.ndarray) -> Additive:
    """Fit row + column to tables with gaps; `y`, `seen` are (row, column, table), tables along the last axis."""
    w = seen.astype(float)
    filled = np.where(seen, y, 0.0)
    size = np.maximum(w.sum(axis=1, keepdims=True), 1)
    deviation = np.where(seen, filled - filled.sum(axis=1, keepdims=True) / size, 0.0)
    scaled = np.moveaxis(w / np.sqrt(size), 2, 0)  # (table, row, column)
    in_use = w.sum(axis=0).T
    information = in_use[:, :, None] * np.eye(y.shape[1]) - np.swapaxes(scaled, 1, 2) @ scaled
    values, vectors = np.linalg.eigh(information)
    keep = values > UNLINKED * np.maximum(values[:, -1:], 1)
    inverse = np.where(keep, 1 / np.where(keep, values, 1.0), 0.0)
    spread = (vectors * inverse[:, None, :]) @ np.swapaxes(vectors, 1, 2)
    column = np.einsum("tab,bt->at", spread, deviation.sum(axis=0))
    fitted = np.where(seen, column, 0.0)
    row = (filled - fitted).sum(axis=1) / size[:, 0]
    residual = np.where(seen, filled - fitted - row[:, None], 0.0)
    residual[np.abs(residual) <= ROUNDING * np.abs(filled)] = 0.0
    rank = keep.sum(axis=1)
    rows = seen.any(axis=1)
    return Additive(
        row=np.where(rows, row, np.nan),
        column=column,
        residual=residual,
        df=w.sum(axis=(0, 1)) - rows.sum(axis=0) - rank,
        parts=(in_use > 0).sum(axis=1) - rank,
        spread=spread,
    )
