"""How well a plan tells lots apart: which of them can be compared at all, and with what variance."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.sparse import csr_array
from scipy.sparse.csgraph import connected_components

WORST_PAIR_UP_TO = 3000  # lots among which the worst pair is looked for: the search takes their square


@dataclass(frozen=True)
class Efficiency:
    """What a plan makes of its servings.

    Attributes
    ----------
    parts : int
        Groups of lots that nothing connects; 1 where all can be compared.
    looks : float
        Servings of a lot, harmonic mean.
    efficiency : float
        Variance of a difference without blocks as a share of that with them; 0 where lots are not connected.
    variance : float
        Mean variance of a difference of two lots, in units of that of a look.
    worst : float
        The same of the pair that is known worst; NaN where that was not looked for.
    """

    parts: int
    looks: float
    efficiency: float
    variance: float
    worst: float


def connected_parts(incidence: np.ndarray) -> int:
    """Number of connected groups of lots and blocks, from the counts (lots, blocks)."""
    lots, blocks = incidence.shape
    lot, block = np.nonzero(incidence)
    graph = csr_array((np.ones(len(lot)), (lot, lots + block)), shape=(lots + blocks, lots + blocks))
    parts, _ = connected_components(graph, directed=False)
    return int(parts)


def efficiency_of(incidence: np.ndarray, *, compared: np.ndarray | None = None, worst: bool = True) -> Efficiency:
    """Efficiency of a plan with blocks fixed.

    Parameters
    ----------
    incidence : ndarray of int, (lots, blocks)
        How often a lot is served in a block.
    compared : ndarray of bool, (lots,), optional
        Lots among which differences are asked for; controls join the others but are left out here.
    worst : bool
        Look for the worst pair too.

    Notes
    -----
    Lots are eliminated, so the work is that of a blocks x blocks matrix: with R servings of lots, K of blocks and N
    the incidence, the covariance of lots is R^-1 + R^-1 N (K - N' R^-1 N)^- N' R^-1 (John & Williams 1995, Cyclic and
    Computer Generated Designs; from memory).

    Examples
    --------
    >>> fano = np.array([[0, 1, 3], [1, 2, 4], [2, 3, 5], [3, 4, 6], [4, 5, 0], [5, 6, 1], [6, 0, 2]])
    >>> round(efficiency_of(incidence_of(list(fano), 7)).efficiency, 4)
    0.7778
    """
    N = incidence.astype(float)
    mine = np.ones(len(N), bool) if compared is None else compared
    looks = float(1 / np.mean(1 / N.sum(axis=1)[mine]))
    parts = connected_parts(incidence)
    if parts > 1:
        return Efficiency(parts, looks, 0.0, np.inf, np.inf)
    if mine.sum() < 2:
        return Efficiency(1, looks, 1.0, np.nan, np.nan)
    A, inverse, own = _covariance(N, mine)
    lots, whole = len(A), A.sum(axis=0)
    spread = float(np.sum(own) + np.sum((A @ inverse) * A))
    common = float(np.sum(own) + whole @ inverse @ whole) / lots
    variance = 2 * (spread - common) / (lots - 1)
    far = _worst(A, inverse, own) if worst and lots <= WORST_PAIR_UP_TO else np.nan
    return Efficiency(1, looks, min(2 / (looks * variance), 1.0), variance, far)


def _covariance(N: np.ndarray, mine: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Factors of the covariance of the lots asked about: A, the inverse in the middle, and what each lot has alone."""
    served = N.sum(axis=1)
    blocks = np.diag(N.sum(axis=0)) - N.T @ (N / served[:, None])
    # Blocks all alike are no contrast: filled in, the matrix of connected blocks has an inverse.
    filled = blocks + np.trace(blocks) / len(blocks) ** 2 + (len(blocks) == 1)
    return (N / served[:, None])[mine], np.linalg.inv(filled), 1 / served[mine]


def _worst(A: np.ndarray, inverse: np.ndarray, own: np.ndarray) -> float:
    """Largest variance of a difference of two lots."""
    shared = A @ inverse @ A.T
    alone = own + np.diag(shared)
    pairs = alone[:, None] + alone[None, :] - 2 * shared
    np.fill_diagonal(pairs, 0)
    return float(pairs.max())


def incidence_of(blocks: list[np.ndarray], lots: int) -> np.ndarray:
    """How often each lot stands in each block: (lots, blocks)."""
    counts = np.zeros((lots, len(blocks)), np.int64)
    for at, block in enumerate(blocks):
        np.add.at(counts[:, at], block, 1)
    return counts


def resolvable_bound(lots: int, blocks: int, replicates: int) -> float:
    """Largest efficiency of `replicates` complete replicates of so many blocks each.

    Notes
    -----
    Patterson & Williams 1976, Biometrika 63: 83 (method).

    Examples
    --------
    >>> resolvable_bound(20, 5, 3)
    0.76
    """
    free = (lots - 1) * (replicates - 1)
    return free / (free + replicates * (blocks - 1))
