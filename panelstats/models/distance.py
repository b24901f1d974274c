"""How far a lot lies from the standard over all descriptors together, what its own errors add taken off."""

from __future__ import annotations

import numpy as np
from scipy.special import betainc, betaln, chndtr, gammainc, gammaln, ncfdtr, xlog1py, xlogy

# Degrees of freedom beyond which the error counts as known.
KNOWN = 500
# Cells of the grid on which likelihoods are compared, in the observed and in the true distance.
SEEN_CELLS, TRUE_CELLS = 80, 80
# Terms of a Poisson mixture that are summed for all cells at once; of more the library sums the few that count.
TERMS = 4000


def distance(
    difference: np.ndarray,
    se: np.ndarray,
    df: np.ndarray,
    correlation: np.ndarray,
    *,
    level: float,
    correlation_df: float = np.inf,
) -> tuple[float, float, float]:
    """Root mean square difference per descriptor, with its interval.

    Parameters
    ----------
    difference, se, df : ndarray, shape (descriptor,)
        Lot less standard in points, standard errors and their degrees of freedom.
    correlation : ndarray, shape (descriptor, descriptor)
        Of the errors between descriptors.
    level : float in (0, 1)
    correlation_df : float
        Degrees of freedom behind `correlation`; infinite where it is known.

    Returns
    -------
    value, low, high : float
        In points per descriptor; `value` is corrected for the error and 0 where that is all there is. The interval is
        never empty: its upper end is above 0 whatever was seen.

    Notes
    -----
    The squared length of an error-ridden vector is too large by the trace of its covariance V. With g = tr(V^2)/tr(V)
    and h = tr(V)^2/tr(V^2) the squared length over g is about noncentral chi-square on h (Box 1954, Annals of
    Mathematical Statistics 25: 290-302), noncentral F where V is estimated; tr(V^2) is freed of the estimation of the
    correlations (Bai & Saranadasa 1996, Statistica Sinica 6: 311-329). The interval holds every distance under which
    what was seen is not among the least likely, each taken against the distance that fits it best (Feldman & Cousins
    1998, Physical Review D 57: 3873-3889).

    Examples
    --------
    >>> far = distance(np.full(4, 1.0), np.full(4, 0.2), np.full(4, 30.0), np.eye(4), level=0.95)
    >>> [round(x, 2) for x in far]
    [0.98, 0.67, 1.33]
    """
    q = len(difference)
    v = correlation * np.outer(se, se)
    trace = float(np.trace(v))
    h = trace**2 / _square_trace(v, trace, correlation_df)
    g = trace / h
    error_df = float(1 / np.mean(1 / df))  # harmonic: the least known error rules
    seen = float(difference @ difference)
    low, high = _likely(seen / trace, h, error_df, level)
    value = max(0.0, seen - trace)
    return tuple(float(np.sqrt(max(0.0, x) / q)) for x in (value, low * g, high * g))  # type: ignore[return-value]


def _square_trace(v: np.ndarray, trace: float, df: float) -> float:
    """Trace of the squared covariance, freed of its estimation; between equal independent errors and one for all."""
    square = float((v**2).sum())
    if np.isfinite(df) and df > 1:
        square = df**2 / ((df - 1) * (df + 2)) * (square - trace**2 / df)
    return min(max(square, float((np.diag(v) ** 2).sum())), trace**2)


def _likely(seen: float, h: float, error_df: float, level: float) -> tuple[float, float]:
    """Noncentralities under which the ratio `seen`, 1 on average where there is none, is not among the unlikely."""
    top = h * seen + 6.0  # raised until what was seen would hardly ever be so small
    while float(_below(np.array([seen]), h, error_df, np.array([[top]]))[0, 0]) > (1 - level) / 50:
        top *= 1.5
    width = max(seen, 1 / h) / SEEN_CELLS
    under = np.arange(seen, 0.0, -width)[::-1]
    beyond = np.geomspace(width, max(4 * (h + top) / h - seen, 4 * width), 2 * SEEN_CELLS)
    edges = np.concatenate([[0.0], under, seen + beyond])
    asked, best = (np.linspace(0.0, np.sqrt(end), TRUE_CELLS) ** 2 for end in (top, h * edges[-1]))
    chance, fitting = np.split(np.diff(_below(edges, h, error_df, np.append(asked, best)[:, None]), axis=1), 2)
    ratio = chance / np.maximum(np.maximum(chance.max(axis=0), fitting.max(axis=0)), 1e-300)
    better = np.where(ratio > ratio[:, [len(under)]], chance, 0.0).sum(axis=1)
    inside = np.flatnonzero(better < level)
    low = 0.0 if inside[0] == 0 else _crossing(asked, better, inside[0] - 1, level)
    high = top if inside[-1] == TRUE_CELLS - 1 else _crossing(asked, better, inside[-1], level)
    return low, high


def _crossing(true: np.ndarray, better: np.ndarray, at: int, level: float) -> float:
    """Where the chance of the likelier crosses the level between two neighbouring distances."""
    root, (one, two) = np.sqrt(true[at : at + 2]), better[at : at + 2]
    share = (level - one) / (two - one)
    return float((root[0] + share * (root[1] - root[0])) ** 2)


def _below(seen: np.ndarray, h: float, error_df: float, noncentrality: np.ndarray) -> np.ndarray:
    """P(ratio <= seen) for rows of noncentralities: noncentral F, or chi-square where the error is known.

    Both are Poisson mixtures of central ones, which all rows share.
    """
    half = noncentrality / 2
    terms = int(half.max() + 10 * np.sqrt(half.max()) + 40)  # what is left out is below 1e-20
    if terms > TERMS:
        return _far_below(seen, h, error_df, noncentrality)
    j = np.arange(terms)
    return np.exp(xlogy(j, half) - half - gammaln(j + 1)) @ _central(seen, h / 2 + j, h, error_df)


def _central(seen: np.ndarray, a: np.ndarray, h: float, error_df: float) -> np.ndarray:
    """P(ratio <= seen) of central ratios on 2a degrees of freedom, a rising by 1: each from the one above it."""
    up = a[:, None]
    if error_df >= KNOWN:
        x = h * seen / 2
        step, last = xlogy(up, x) - x - gammaln(up + 1), gammainc(a[-1] + 1, x)
    else:
        x, b = h * seen / (h * seen + error_df), error_df / 2
        step, last = xlogy(up, x) + xlog1py(b, -x) - np.log(up) - betaln(up, b), betainc(a[-1] + 1, b, x)
    return np.asarray(last + np.exp(step)[::-1].cumsum(axis=0)[::-1])


def _far_below(seen: np.ndarray, h: float, error_df: float, noncentrality: np.ndarray) -> np.ndarray:
    """The same by the library; noncentral chi-square where it loses noncentral F."""
    known = chndtr(h * seen, h, noncentrality)
    if error_df >= KNOWN:
        return np.asarray(known)
    found = ncfdtr(h, error_df, noncentrality, seen)
    return np.where(np.isfinite(found), found, known)
