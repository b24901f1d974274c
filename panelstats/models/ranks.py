"""Kendall's coefficient of concordance: how far tasters put lots in one order."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from itertools import permutations

import numpy as np
import pandas as pd
from scipy.special import fdtrc

# Up to here the F approximation is rough and counting every order is quick.
EXACT_TASTERS, EXACT_LOTS = 4, 6


@dataclass(frozen=True, eq=False)
class Concordance:
    """Agreement in order; arrays of shape (descriptor,) unless said.

    Attributes
    ----------
    w : ndarray
        Kendall's W, 0 to 1; 1 / tasters on average for orders at random. NaN where nothing can be ranked.
    spearman : ndarray
        Mean rank correlation over pairs of tasters.
    p : ndarray
        Chance of as large a W for orders at random.
    exact : ndarray of bool
        Whether `p` counts every order; else it is the F approximation.
    f, df, df_error : ndarray
        The F approximation.
    tasters : ndarray of int
        Tasters whose scores can be ranked.
    all_tied : ndarray of bool, shape (taster, descriptor)
        Tasters who gave every lot the same score: they have no order and are left out.
    """

    w: np.ndarray
    spearman: np.ndarray
    p: np.ndarray
    exact: np.ndarray
    f: np.ndarray
    df: np.ndarray
    df_error: np.ndarray
    tasters: np.ndarray
    all_tied: np.ndarray


def concordance(scores: np.ndarray) -> Concordance:
    """Kendall's W with ties, per descriptor.

    Parameters
    ----------
    scores : ndarray of float, shape (lot, taster, descriptor)
        A NaN makes its whole descriptor NaN: incomplete tables have no W.

    Returns
    -------
    Concordance
        W needs two lots and two tasters who do not tie them all. With up to 4 such tasters and 6 lots `p` counts
        every order, ties kept; elsewhere it is from F = (a - 1) W / (1 - W) on n - 1 - 2/a and (a - 1) times as many
        df, which holds its size where the usual chi-square is too timid.

    Notes
    -----
    Kendall & Babington Smith (1939), Annals of Mathematical Statistics 10: 275-287. With mid-ranks,
    W = 12 S / (a^2 (n^3 - n) - a T), T the sum of t^3 - t over groups of ties, is S over a times the sum of the
    tasters' own sums of squares of ranks: that is how it is computed.

    Examples
    --------
    >>> scores = np.array([[8.0, 7, 9], [6, 7, 8], [5, 6, 8], [3, 4, 2]])[:, :, None]
    >>> found = concordance(scores)
    >>> print(found.w.round(3), found.p.round(4))
    [0.94] [0.0069]
    """
    scores = np.asarray(scores, float)
    lots = len(scores)
    whole = ~np.isnan(scores).any(axis=(0, 1))
    scores = np.where(whole, scores, 0.0)
    tied = scores.max(axis=0) == scores.min(axis=0)
    deviations = np.where(tied, 0.0, mid_ranks(scores) - (lots + 1) / 2)
    squares = (deviations**2).sum(axis=0)
    together = (deviations.sum(axis=1) ** 2).sum(axis=0)
    a = (~tied).sum(axis=0)
    can = whole & (a > 1)
    a_or_two = np.where(can, a, 2)

    w = np.where(can, together / np.where(can, a * squares.sum(axis=0), 1.0), np.nan)
    units = deviations / np.sqrt(np.where(tied, 1.0, squares))
    pairs = ((units.sum(axis=1) ** 2).sum(axis=0) - a) / (a_or_two * (a_or_two - 1))
    df = lots - 1 - 2 / a_or_two
    f = np.divide((a_or_two - 1) * w, 1 - w, out=np.full(w.shape, np.inf), where=~(w >= 1))
    p = np.where(can & (df > 0), fdtrc(np.maximum(df, 1e-9), (a_or_two - 1) * np.maximum(df, 1e-9), f), np.nan)
    exact = can & (a <= EXACT_TASTERS) & (lots <= EXACT_LOTS)
    for d in np.flatnonzero(exact):
        p[d] = _exact_p(deviations[:, ~tied[:, d], d], together[d])
    nan = np.where(can, 0.0, np.nan)
    all_tied = tied & whole
    return Concordance(w, pairs + nan, p, exact, f + nan, df + nan, (a_or_two - 1) * df + nan, a * whole, all_tied)


def mid_ranks(scores: np.ndarray) -> np.ndarray:
    """Ranks along the first axis, ties sharing their mean; NaN keeps its place and takes no rank."""
    return pd.DataFrame(scores.reshape(len(scores), -1)).rank().to_numpy().reshape(scores.shape)


def _exact_p(deviations: np.ndarray, together: float) -> float:
    """Share of all orders with a sum of squares of rank sums of at least `together`."""
    doubled = np.rint(2 * deviations).astype(int)  # mid-ranks and their mean are multiples of a half
    ways = _distribution(tuple(sorted(tuple(sorted(column)) for column in doubled.T.tolist())))
    return float(ways[round(4 * together) :].sum() / ways.sum())


@lru_cache(maxsize=256)
def _distribution(columns: tuple[tuple[int, ...], ...]) -> np.ndarray:
    """How often each sum of squares of the lots' sums occurs over all orders of every column but the first.

    The sum of squares does not depend on which lot has which sum, so after each column sums alike but for their order
    are counted together: few remain.
    """
    orders = np.array(list(permutations(range(len(columns[0])))))
    sums, ways = np.array([columns[0]]), np.array([1.0])
    for column in columns[1:-1]:
        every = np.sort((sums[:, None, :] + np.array(column)[orders]).reshape(-1, orders.shape[1]), axis=1)
        code = (every + 64) @ 128 ** np.arange(orders.shape[1])
        _, first, same = np.unique(code, return_index=True, return_inverse=True)
        sums, ways = every[first], np.bincount(same, np.repeat(ways, len(orders)))
    last = np.array(columns[-1], float)  # small whole numbers: exact, and floats multiply faster
    squares = (sums**2).sum(axis=1, keepdims=True) + (last**2).sum() + 2 * (sums.astype(float) @ last[orders].T)
    return np.bincount(squares.astype(int).ravel(), np.repeat(ways, len(orders)))
