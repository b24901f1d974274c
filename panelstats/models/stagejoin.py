"""Several tables of the same lots joined so that none wins by its number of columns: multiple factor analysis."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from panelstats.models.principal import cube_signs

if TYPE_CHECKING:
    from collections.abc import Sequence


@dataclass(frozen=True, eq=False)
class Joint:
    """Joint axes of several tables.

    Attributes
    ----------
    first : ndarray, shape (table,)
        First eigenvalue of each table by itself, divisor lots.
    values : ndarray, shape (axis,)
        The first lies between 1 and the number of tables: near it, they tell one story.
    scores : ndarray, shape (lot, axis)
    places : ndarray, shape (table, lot, axis)
        Where each table alone sees each lot; their mean over tables is `scores`.
    """

    first: np.ndarray
    values: np.ndarray
    scores: np.ndarray
    places: np.ndarray


def joint_axes(tables: Sequence[np.ndarray]) -> Joint:
    """Join tables (lot, column) of the same lots, each divided by the root of its first eigenvalue.

    Notes
    -----
    Escofier & Pages 1994, Computational Statistics & Data Analysis 18: 121-140. Lots weigh 1 / lots each.
    """
    centred = [table - table.mean(axis=0) for table in tables]
    lots = len(centred[0])
    first = np.array([np.linalg.svd(x, compute_uv=False)[0] ** 2 / lots for x in centred])
    parts = [x / np.sqrt(value) for x, value in zip(centred, first, strict=True)]
    _, size, right = np.linalg.svd(np.hstack(parts), full_matrices=False)
    keep = size > 1e-10 * size[0]
    axes = right[keep].T
    axes = axes * cube_signs(axes)
    ends = np.cumsum([x.shape[1] for x in parts])[:-1]
    places = [len(parts) * x @ mine for x, mine in zip(parts, np.split(axes, ends), strict=True)]
    return Joint(first, size[keep] ** 2 / lots, np.hstack(parts) @ axes, np.stack(places))


def likeness(one: np.ndarray, other: np.ndarray) -> tuple[float, float]:
    """How alike two tables place the lots: RV, 0 to 1, and L_g, which grows with the dimensions they share."""
    (a, b), lots = (x - x.mean(axis=0) for x in (one, other)), len(one)
    both = float(((a.T @ b) ** 2).sum())
    sizes = [float(((x.T @ x) ** 2).sum()) for x in (a, b)]
    firsts = [np.linalg.svd(x, compute_uv=False)[0] ** 2 / lots for x in (a, b)]
    return both / float(np.sqrt(sizes[0] * sizes[1])), both / (lots**2 * firsts[0] * firsts[1])


def likeness_p(one: np.ndarray, other: np.ndarray, *, resamples: int, rng: np.random.Generator) -> float:
    """Chance of as large an RV with the lots of one table relabelled: with few lots it is large by itself."""
    seen = likeness(one, other)[0]
    drawn = [likeness(one, other[rng.permutation(len(other))])[0] for _ in range(resamples)]
    return (1 + sum(each >= seen * (1 - 1e-9) for each in drawn)) / (1 + resamples)
