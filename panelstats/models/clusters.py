"""Groups of points, and first of all whether there are any."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Iterable

# Most groups that are looked for (ours).
MOST_GROUPS = 6


@dataclass(frozen=True, eq=False)
class Groups:
    """The best division of some points and whether it is more than a cloud gives.

    Attributes
    ----------
    count : int
    label : ndarray of int, shape (point,)
        From 0, in the order in which points first show them.
    mean : float
        Mean silhouette.
    p : float
        Chance of as large a mean silhouette in a cloud without groups.
    """

    count: int
    label: np.ndarray
    mean: float
    p: float


def ward(points: np.ndarray) -> np.ndarray:
    """Joins of Ward's criterion on unsquared distances, as scipy's linkage gives them."""
    from scipy.cluster.hierarchy import linkage  # noqa: PLC0415 - loaded where groups are looked for

    return np.asarray(linkage(points, "ward"))


def divided(tree: np.ndarray, count: int) -> np.ndarray:
    """The group of each point, numbered from 0 in the order in which points first show them."""
    n = len(tree) + 1
    root = np.arange(n + len(tree))
    for at in range(n - count - 1, -1, -1):
        root[tree[at, :2].astype(int)] = root[n + at]
    _, first, code = np.unique(root[:n], return_index=True, return_inverse=True)
    return np.asarray(np.argsort(np.argsort(first))[code])


def silhouettes(distance: np.ndarray, label: np.ndarray) -> np.ndarray:
    """How much nearer each point is to its own group than to the next; 0 for a group of one.

    Notes
    -----
    Rousseeuw 1987, Journal of Computational and Applied Mathematics 20: 53-65.
    """
    member = np.equal.outer(label, np.arange(label.max() + 1)).astype(float)
    sums, size = distance @ member, member.sum(axis=0)
    own = size[label]
    inside = sums[np.arange(len(label)), label] / np.maximum(own - 1, 1)
    others = np.where(member > 0, np.inf, sums / size).min(axis=1)
    widest = np.maximum(inside, others)
    return np.asarray(np.where((own > 1) & (widest > 0), (others - inside) / np.where(widest > 0, widest, 1.0), 0.0))


def best_division(points: np.ndarray) -> tuple[float, np.ndarray]:
    """Largest mean silhouette over 2 groups and more, and the groups that give it."""
    distance = np.sqrt(((points[:, None] - points[None]) ** 2).sum(axis=2))
    tree, best = ward(points), (-np.inf, np.zeros(len(points), int))
    for count in range(2, min(MOST_GROUPS, len(points) // 2) + 1):
        label = divided(tree, count)
        mean = float(silhouettes(distance, label).mean())
        if mean > best[0] + 1e-12:
            best = (mean, label)
    return best


def find_groups(points: np.ndarray, *, resamples: int, rng: np.random.Generator) -> Groups:
    """The best division of points, shape (point, axis), against clouds that have none.

    Parameters
    ----------
    points : ndarray
        Four or more.
    resamples : int
        Clouds of each kind: one normal with the points' covariance, one uniform in the box of their principal axes.
        The larger p counts.
    rng : Generator
    """
    mean, label = best_division(points)
    centred = points - points.mean(axis=0)
    values, vectors = np.linalg.eigh(centred.T @ centred / (len(points) - 1))
    turned = centred @ vectors
    low, high, spread = turned.min(axis=0), turned.max(axis=0), np.sqrt(np.maximum(values, 0.0))
    p = 0.0
    for normal in (True, False):
        clouds = (
            rng.normal(size=points.shape) * spread if normal else rng.uniform(low, high, points.shape)
            for _ in range(resamples)
        )
        p = max(p, (1 + sum(best_division(cloud)[0] >= mean for cloud in clouds)) / (1 + resamples))
    return Groups(int(label.max()) + 1, label, mean, p)


def stability(label: np.ndarray, again: Iterable[np.ndarray]) -> np.ndarray:
    """Mean overlap of each group with the group most like it when points were placed again, shape (group,).

    Notes
    -----
    Jaccard's coefficient (Hennig 2007, Computational Statistics & Data Analysis 52: 258-271): below 0.6 hardly a group,
    above 0.75 stable (limits from memory).
    """
    mine = np.equal.outer(np.arange(label.max() + 1), label)
    found = []
    for drawn in again:
        theirs = np.equal.outer(np.arange(drawn.max() + 1), drawn)
        both = mine.astype(int) @ theirs.T.astype(int)
        found.append((both / (mine.sum(axis=1)[:, None] + theirs.sum(axis=1) - both)).max(axis=1))
    return np.asarray(np.mean(found, axis=0))
