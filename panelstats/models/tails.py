"""Upper tails of the largest |t| of a family: tabulated once for a known variance, then mixed over its estimate."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.polynomial import Chebyshev
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
# A root is found where the tail is so near alpha, as a ratio less 1; fewer than 20 steps get there.
CLOSE, MOST_STEPS = 1e-13, 60

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
    return Table(_cubics(np.log(tail)), logarithm=True)


def _cubics(y: np.ndarray) -> np.ndarray:
    """Coefficients (4, step) of the not-a-knot cubic spline through y at steps of STEP (de Boor 1978, chapter IV).

    scipy.interpolate has it too, and takes longer to load than a session's lots to compare.
    """
    rise = np.diff(y) / STEP
    right = np.r_[(5 * rise[0] + rise[1]) / 2, 3 * (rise[:-1] + rise[1:]), (rise[-2] + 5 * rise[-1]) / 2]
    diagonal = np.r_[1.0, np.full(len(y) - 2, 4.0), 1.0]
    above, below = np.ones(len(y) - 1), np.ones(len(y) - 1)
    above[0] = below[-1] = 2.0
    for at, lower in enumerate(below):  # elimination, then the slopes from the last to the first
        factor = lower / diagonal[at]
        diagonal[at + 1] -= factor * above[at]
        right[at + 1] -= factor * right[at]
    slope = right / diagonal
    for at in range(len(y) - 2, -1, -1):
        slope[at] -= above[at] * slope[at + 1] / diagonal[at]
    first, last = slope[:-1], slope[1:]
    return np.stack([(first + last - 2 * rise) / STEP**2, (3 * rise - 2 * first - last) / STEP, first, y[:-1]])


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

    def excess(t: np.ndarray) -> np.ndarray:
        return np.log(tail(t, df)) - np.log(alpha)

    return np.log(_root(excess, low * (1 - 1e-6), high * (1 + 1e-6)))


def _root(excess: Known, start: np.ndarray, end: np.ndarray) -> np.ndarray:
    """Where a falling function is 0, for each pair of start and end: false position with Illinois' halving."""
    at_start, at_end = excess(start), excess(end)
    for _ in range(MOST_STEPS):
        if np.abs(at_end).max() < CLOSE:
            break
        between = end - at_end * (end - start) / (at_end - at_start)
        there = excess(between)
        crossed = there * at_end < 0
        start, at_start = np.where(crossed, end, start), np.where(crossed, at_end, at_start / 2)
        end, at_end = between, there
    return end
