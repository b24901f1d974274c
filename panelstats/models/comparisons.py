"""Comparing many means at once: all pairs by the studentised range, all with one control by the multivariate t."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from scipy.special import log_ndtr, ndtr, ndtri, stdtr

from panelstats.models.tails import Table, critical_t, grid, mix_over_s, tabulate

# Nodes of the trapezoidal rule over the largest of k normals: more change nothing in families of 200 lots.
RANGE_NODES = 192
# Trapezoidal rule over the part that all comparisons with one control share; even, so one half is enough.
SHARED = np.arange(0, 14.25, 0.25)
# A correlation this near to the product of loadings is taken for one; larger loadings would need a finer rule.
ALIKE, LARGEST_LOADING = 1e-6, 0.97
# Independent scramblings of the quasi-random sample: their spread is its standard error.
SCRAMBLES, POINTS, MORE_POINTS = 8, 2**11, 2**14
# A p-value within this many standard errors of the threshold is worth the larger sample.
NEAR = 3.0


@dataclass(frozen=True, eq=False)
class Family:
    """Comparisons judged together: the distribution of the largest of their |t|.

    Attributes
    ----------
    count : int
        Comparisons in the family.
    base : Table
        Tail of the largest |z|, were the error variance known.
    corrections : tuple of Table
        What to add to `base`, one independent estimate each; empty where `base` is exact.
    """

    count: int
    base: Table
    corrections: tuple[Table, ...] = ()

    def p(self, t: np.ndarray, df: np.ndarray) -> np.ndarray:
        """P-values adjusted for the family, each |t| with its own df (NaN gives NaN, df below 1 counts as 1)."""
        p = mix_over_s(self.base, t, df)
        if not self.corrections:
            return np.minimum(p, 1.0)
        alone = 2 * stdtr(np.maximum(df, 1.0), -np.abs(t))
        # one comparison alone from below, Bonferroni's inequality from above: sampling error cannot leave these
        return np.clip(p + self._corrections(t, df).mean(axis=0), alone, np.minimum(self.count * alone, 1.0))

    def standard_error(self, t: np.ndarray, df: np.ndarray) -> np.ndarray:
        """Sampling standard error of `p`; 0 where no sample was needed."""
        if not self.corrections:
            return np.zeros(np.broadcast_shapes(np.shape(t), np.shape(df)))
        return self._corrections(t, df).std(axis=0, ddof=1) / np.sqrt(len(self.corrections))

    def critical(self, df: np.ndarray, level: float) -> np.ndarray:
        """The |t| at which `p` is 1 - level, for each df."""
        return critical_t(self.p, 1 - level, df, self.count)

    def half_width(self, se: np.ndarray, df: np.ndarray, level: float) -> np.ndarray:
        """Half-width of simultaneous intervals: all of the family's hold together at `level`."""
        return self.critical(df, level) * se

    def _corrections(self, t: np.ndarray, df: np.ndarray) -> np.ndarray:
        return np.stack([mix_over_s(one, t, df) for one in self.corrections])


@lru_cache(maxsize=256)
def all_pairs(lots: int) -> Family:
    """Family of all pairs of `lots` means (Tukey; Kramer's form where standard errors differ).

    Parameters
    ----------
    lots : int >= 2

    Returns
    -------
    Family
        |t| sqrt(2) follows the studentised range. Exact for equal, careful for unequal standard errors of independent
        means (Hayter 1984, Annals of Statistics 12: 61-75), approximate for those of a mixed model.

    Notes
    -----
    Tail of the range: k times the integral of phi(z) Phi(z)^(k-1) [1 - (1 - Phi(z-w)/Phi(z))^(k-1)], z the largest.
    The integrand is positive throughout, so small tails keep their digits.

    Examples
    --------
    >>> q = np.sqrt(2) * all_pairs(4).critical(np.array(16.0), 0.95)
    >>> print(q.round(4))  # what printed tables of the studentised range give
    4.0461
    """
    k, w = lots, np.sqrt(2) * grid()[:, None]
    low, high = np.maximum(-9, w / 2 - 13), np.maximum(9, w / 2 + 13)
    z = low + (high - low) * np.linspace(0, 1, RANGE_NODES)
    with np.errstate(divide="ignore"):  # w = 0: nobody lies within 0 of the largest, the log of 0 is meant
        within = (k - 1) * np.log1p(-np.exp(log_ndtr(z - w) - log_ndtr(z)))
    density = np.exp((k - 1) * log_ndtr(z) - z**2 / 2) * (k / np.sqrt(2 * np.pi))
    tail = (density * -np.expm1(within)).sum(axis=1) * ((high - low) / (RANGE_NODES - 1))[:, 0]
    return Family(k * (k - 1) // 2, tabulate(tail))


def pairs_p(t: np.ndarray, df: np.ndarray, lots: np.ndarray | int) -> np.ndarray:
    """P-values of all pairs, adjusted for the family of all pairs of `lots` means.

    Parameters
    ----------
    t : array_like of float
        Differences in standard errors.
    df : array_like of float, broadcastable
        Degrees of freedom of each.
    lots : array_like of int, broadcastable
        Means compared, for instance per descriptor.

    Returns
    -------
    ndarray
        Broadcast shape; NaN where t or df is NaN or fewer than two means are compared.

    Examples
    --------
    >>> print(pairs_p(np.array([2.0, 4.0]), np.array(16.0), 4).round(4))
    [0.2288 0.0051]
    """
    return _by_size(Family.p, t, df, lots)


def pairs_half_width(se: np.ndarray, df: np.ndarray, lots: np.ndarray | int, *, level: float) -> np.ndarray:
    """Half-widths of intervals for all pairs that hold together at `level`; shapes as in `pairs_p`.

    Examples
    --------
    >>> print(pairs_half_width(np.array(0.4), np.array(16.0), 4, level=0.95).round(4))
    1.1444
    """
    return _by_size(lambda family, se, df: family.half_width(se, df, level), se, df, lots)


def _by_size(
    of: Callable[[Family, np.ndarray, np.ndarray], np.ndarray],
    values: np.ndarray,
    df: np.ndarray,
    lots: np.ndarray | int,
) -> np.ndarray:
    """What `of` answers for the family of each size."""
    values, df, lots = np.broadcast_arrays(np.asarray(values, float), np.asarray(df, float), np.asarray(lots))
    answer = np.full(values.shape, np.nan)
    for size in np.unique(lots[lots > 1]):
        here = lots == size
        answer[here] = of(all_pairs(int(size)), values[here], df[here])
    return answer


def against_control(
    correlation: np.ndarray, t: np.ndarray, df: np.ndarray, *, level: float = 0.95, seed: int = 0
) -> Family:
    """Family of several means against one control (Dunnett 1955, two-sided, single-step).

    Parameters
    ----------
    correlation : ndarray, shape (comparison, comparison)
        Correlation of the differences from the control; no NaN.
    t, df : ndarray, shape (comparison,)
        The differences in standard errors and their degrees of freedom: where a p-value falls near 1 - level the
        sample, if one is needed, is enlarged eightfold.
    level : float in (0, 1)
    seed : int

    Returns
    -------
    Family

    Notes
    -----
    Where the correlation is a product of loadings l_i l_j (complete data, independent means) the tail is a double
    integral: given the shared part z the comparisons are independent. Else the nearest product is integrated and the
    small difference to the true correlation is sampled: both are driven by the same scrambled Sobol points.

    Examples
    --------
    >>> half = np.full((3, 3), 0.5) + np.eye(3) / 2
    >>> family = against_control(half, np.zeros(3), np.full(3, 16.0))
    >>> print(family.critical(np.array(16.0), 0.95).round(3))
    2.592
    """
    loading = _loadings(correlation)
    near = np.outer(loading, loading)
    np.fill_diagonal(near, 1.0)
    base = tabulate(_product_tail(loading))
    if np.abs(correlation - near).max() < ALIKE:
        return Family(len(loading), base)
    for points in (POINTS, MORE_POINTS):
        family = Family(len(loading), base, _sampled(correlation, near, points, seed))
        gap = np.abs(family.p(t, df) - (1 - level))
        if not (gap < NEAR * family.standard_error(t, df)).any():
            break
    return family


def _loadings(correlation: np.ndarray) -> np.ndarray:
    """Loadings l whose products l_i l_j come nearest to the correlations off the diagonal."""
    off = correlation - np.diag(np.diag(correlation))
    value, vector = np.linalg.eigh(correlation)
    loading = vector[:, -1] * np.sqrt(value[-1])
    for _ in range(500):
        fitted = off @ loading / np.maximum(loading @ loading - loading**2, 1e-12)
        step = np.clip((loading + fitted) / 2, -LARGEST_LOADING, LARGEST_LOADING) - loading
        loading = loading + step
        if np.abs(step).max() < 1e-13:
            break
    return loading


def _product_tail(loading: np.ndarray) -> np.ndarray:
    """Tail of max |z_i|, with correlations l_i l_j, at `grid()`."""
    distinct, count = np.unique(np.abs(loading).round(12), return_counts=True)
    w, inside = grid()[:, None], np.zeros((grid().size, SHARED.size))
    for one, times in zip(distinct, count, strict=True):
        own = np.sqrt(1 - one**2)
        beyond = ndtr((one * SHARED - w) / own) + ndtr((-one * SHARED - w) / own)
        inside += times * np.log1p(-np.minimum(beyond, 1 - 1e-16))
    weight = np.exp(-(SHARED**2) / 2) * (SHARED[1] * 2 / np.sqrt(2 * np.pi))
    weight[0] /= 2
    return -np.expm1(inside) @ weight


def _sampled(correlation: np.ndarray, near: np.ndarray, points: int, seed: int) -> tuple[Table, ...]:
    """Tail of max |z| under one correlation less that under another, as tables from independent scramblings."""
    roots, tables = [_square_root(r) for r in (correlation, near)], []
    for child in np.random.SeedSequence(seed).spawn(SCRAMBLES):
        from scipy.stats import qmc  # noqa: PLC0415 - slow to import, and seldom needed

        sobol = qmc.Sobol(len(correlation), rng=np.random.default_rng(child)).random(points)
        normals = ndtri(np.clip(sobol, 1e-12, 1 - 1e-12))
        ours, theirs = (np.sort(np.abs(normals @ root).max(axis=1)) for root in roots)
        fewer = np.searchsorted(theirs, grid(), side="right") - np.searchsorted(ours, grid(), side="right")
        share = fewer / points
        tables.append(Table(np.stack([np.diff(share) / (grid()[1]), share[:-1]]), logarithm=False))
    return tuple(tables)


def _square_root(correlation: np.ndarray) -> np.ndarray:
    """The symmetric square root: like correlations have like roots, so the two samples stay close."""
    value, vector = np.linalg.eigh(correlation)
    return (vector * np.sqrt(np.maximum(value, 0))) @ vector.T
