"""Upper tails of the largest |t| of a family: tabulated once for a known variance, then mixed over its estimate."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.polynomial import Chebyshev
from scipy.interpolate import CubicSpline
from scipy.optimize.elementwise import find_root
from scipy.special import gammainccinv, gammaincinv, stdtrit

# The table runs to 12 standard errors: what lies beyond has a probability below 1e-25 in any family of lots.
STEP, WIDEST = 0.02, 12.0
# Nodes of the trapezoidal rule over log s, by degrees of freedom (from, to): error below 1e-8 in families of 200 lots.
NODES = ((1.0, 3.0, 1200), (3.0, 5.0, 256), (5.0, 8.0, 160), (8.0, 30.0, 96), (30.0, np.inf, 48))
# Share of the distribution of s that may lie beyond either end of the rule.
CUT = 1e-18
# Values worked at once, so that the arrays stay in the processor's cache.
AT_ONCE = 400_000
# Beyond this the rule over s has shrunk to one point.
MOST_DF = 1e8
# Critical values for more distinct df than this come from a polynomial through so many of them.
SOLVED = 48

Known = Callable[[np.ndarray], np.ndarray]
Tail = Callable[[np.ndarray, np.ndarray], np.ndarray]


@dataclass(frozen=True, eq=False)
class Table:
    """A function of w >= 0 as cubics over steps of STEP up to WIDEST and constant beyond.

    Attributes
    ----------
    coefficients : ndarray, shape (4, step)
        Highest power first.
    logarithm : bool
        Whether the cubics follow the function's logarithm.
    """

    coefficients: np.ndarray
    logarithm: bool

    def __call__(self, w: np.ndarray) -> np.ndarray:
        """The function at `w`, any shape."""
        scaled = np.minimum(w * (1 / STEP), self.coefficients.shape[1] - 1e-9)
        step = scaled.astype(np.intp)
        rest = (scaled - step) * STEP
        value = self.coefficients[0][step]
        for power in self.coefficients[1:]:
            value *= rest
            value += power[step]
        return np.exp(value, out=value) if self.logarithm else value


def grid() -> np.ndarray:
    """The points w at which a table is given its values."""
    return np.arange(round(WIDEST / STEP) + 1) * STEP


def tabulate(tail: np.ndarray) -> Table:
    """Table of an upper tail known at `grid()`; its logarithm is interpolated, so small tails keep their digits."""
    return Table(np.ascontiguousarray(CubicSpline(grid(), np.log(tail)).c), logarithm=True)


def mix_over_s(known: Known, t: np.ndarray, df: np.ndarray) -> np.ndarray:
    """Average of known(|t| s) over s, where df s^2 is chi-square on df; each t has its own df.

    Parameters
    ----------
    known : callable
        A probability as a function of |t| were the variance known; any shape in, the same shape out.
    t, df : array_like of float, broadcastable
        NaN gives NaN; df below 1 counts as 1.

    Returns
    -------
    ndarray
        Broadcast shape of `t` and `df`.

    Examples
    --------
    >>> from scipy.special import erfc
    >>> two_sided = mix_over_s(lambda w: erfc(w / np.sqrt(2)), np.array(2.228138851986549), np.array(10.0))
    >>> print(two_sided.round(12))
    0.05
    """
    t, df = np.broadcast_arrays(np.abs(np.asarray(t, float)), np.asarray(df, float))
    flat_t, flat_df = np.minimum(t.ravel(), 1e300), np.clip(df.ravel(), 1.0, MOST_DF)
    answer = np.full(flat_t.shape, np.nan)
    for low, high, nodes in NODES:
        (rows,) = np.nonzero((flat_df >= low) & (flat_df < high) & ~np.isnan(flat_t))
        for some in np.array_split(rows, 1 + rows.size * nodes // AT_ONCE) if rows.size else ():
            s, weight = _rule_over_s(flat_df[some], nodes)
            answer[some] = np.einsum("ij,ij->i", weight, known(flat_t[some, None] * s))
    return answer.reshape(t.shape)


def _rule_over_s(df: np.ndarray, nodes: int) -> tuple[np.ndarray, np.ndarray]:
    """Nodes s and weights, both (df, node), for averages over the estimated by the true standard deviation.

    The trapezoidal rule over log s: the integrand is smooth and vanishes at both ends, so the error falls faster than
    any power of the step. Weights are scaled to add up to 1, which spares the constant of the density.
    """
    distinct, where = np.unique(df, return_inverse=True)
    half = distinct[:, None] / 2
    low, high = (np.log(inverse(half, CUT) / half) / 2 for inverse in (gammaincinv, gammainccinv))
    x = low + (high - low) * np.linspace(0, 1, nodes)
    weight = np.exp(2 * half * (x - np.expm1(2 * x) / 2))
    weight /= weight.sum(axis=1, keepdims=True)
    return np.exp(x)[where], weight[where]


def critical_t(tail: Tail, alpha: float, df: np.ndarray, count: int) -> np.ndarray:
    """The |t| that a family's largest exceeds with probability alpha, for each df.

    Parameters
    ----------
    tail : callable
        tail(t, df): probability that the largest of the family's |t| exceeds t.
    alpha : float in (0, 1)
    df : array_like of float
        NaN gives NaN; df below 1 counts as 1.
    count : int
        Comparisons in the family. The root lies between the points of one comparison and of Bonferroni's inequality.

    Returns
    -------
    ndarray
        Shape of `df`, to a relative 1e-8.

    Notes
    -----
    The logarithm of the root is smooth in 1 / df: with many distinct df it is solved at Chebyshev's points only.
    """
    df = np.asarray(df, float)
    inverse = 1 / np.clip(df, 1.0, MOST_DF)
    known = ~np.isnan(inverse)
    distinct = np.unique(inverse[known])
    answer = np.full(df.shape, np.nan)
    if distinct.size > SOLVED:
        curve = Chebyshev.interpolate(
            _log_root, SOLVED - 1, domain=[distinct[0], distinct[-1]], args=(tail, alpha, count)
        )
        answer[known] = np.exp(curve(inverse[known]))
    elif distinct.size:
        root = np.exp(_log_root(distinct, tail, alpha, count))
        answer[known] = root[np.searchsorted(distinct, inverse[known])]
    return answer


def _log_root(inverse_df: np.ndarray, tail: Tail, alpha: float, count: int) -> np.ndarray:
    """Logarithm of the |t| at which the tail is alpha."""
    df = 1 / inverse_df
    low, high = -stdtrit(df, alpha / 2), -stdtrit(df, alpha / 2 / count)

    def excess(t: np.ndarray, df: np.ndarray) -> np.ndarray:
        return np.log(tail(t, df)) - np.log(alpha)

    found = find_root(excess, (low * (1 - 1e-6), high * (1 + 1e-6)), args=(df,))
    return np.log(found.x)
