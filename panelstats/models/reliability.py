"""Agreement of several tasters on the same lots: intraclass correlations with their intervals.

Shrout & Fleiss 1979, Psychological Bulletin 86:420; McGraw & Wong 1996, Psychological Methods 1:30. From mean squares
of a complete table, or from variance components where cells are missing.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import special

from panelstats.models.reml import LOT, LOT_POT, LOT_TASTER, RESIDUAL, TASTER
from panelstats.models.rootmeansquare import noncentrality_at


@dataclass(frozen=True, eq=False)
class Intraclass:
    """Intraclass correlations by descriptor, shape (D,) each; NaN where undefined.

    Attributes
    ----------
    single, single_low, single_high : ndarray
        One taster's agreement with another on a lot, levels included: ICC(2,1).
    mean, mean_low, mean_high : ndarray
        The same for the mean of the panel as it sat: ICC(2,k); -inf where one taster's reaches down to
        -1 / (k - 1), the least there can be.
    consistency_mean : ndarray
        ICC(3,k): levels left aside.
    """

    single: np.ndarray
    single_low: np.ndarray
    single_high: np.ndarray
    mean: np.ndarray
    mean_low: np.ndarray
    mean_high: np.ndarray
    consistency_mean: np.ndarray


def from_mean_squares(
    lots: np.ndarray,
    tasters: np.ndarray,
    rest: np.ndarray,
    *,
    n: float,
    k: int,
    groups: int = 1,
    level: float = 0.95,
) -> Intraclass:
    """Intraclass correlations of a complete table of cell means.

    Parameters
    ----------
    lots, tasters, rest : ndarray, shape (D,)
        Mean squares between lots, between tasters and of the rest, on one value per cell.
    n : float
        Lots (of each group, on average).
    k : int
        Tasters.
    groups : int
        Groups of lots whose means, and whose tasters' levels, were taken out.
    level : float in (0, 1)

    Returns
    -------
    Intraclass
        An estimate below 0 is shown as it is. Where tasters are identical (`rest` 0) there is no interval.

    Examples
    --------
    >>> found = from_mean_squares(np.array([11.2417]), np.array([32.4861]), np.array([1.0194]), n=6, k=4)
    >>> print(found.single.round(2), found.mean.round(2), found.consistency_mean.round(2))  # Shrout & Fleiss, table 4
    [0.29] [0.62] [0.91]
    """
    tail = (1 - level) / 2
    df_lots = groups * (n - 1)
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        single = (lots - rest) / (lots + (k - 1) * rest + k * (tasters - rest) / n)
        consistency = (lots - rest) / lots
        fj = tasters / rest
        a = k * single * fj
        b = n * (1 + (k - 1) * single) - k * single
        v = groups * (k - 1) * (n - 1) * (a + b) ** 2 / ((n - 1) * a**2 + b**2)
        v = np.maximum(v, 1.0)  # far below 0 the two parts cancel, and no interval has less than one degree of freedom
        f1, f2 = special.fdtri(df_lots, v, 1 - tail), special.fdtri(v, df_lots, 1 - tail)
        inner = k * tasters + (k * n - k - n) * rest
        low = n * (lots - f1 * rest) / (f1 * inner + n * lots)
        high = n * (f2 * lots - rest) / (inner + n * f2 * lots)
    bad = ~(rest > 0)
    low, high = np.where(bad, np.nan, low), np.where(bad, np.nan, high)
    mean, mean_low, mean_high = (_spearman_brown(each, k) for each in (single, low, high))
    return Intraclass(single, low, high, mean, mean_low, mean_high, consistency)


def _spearman_brown(single: np.ndarray, k: int) -> np.ndarray:
    """Correlation of the mean of k; without limit where that of one falls to -1 / (k - 1), the least there can be."""
    rest = 1 + (k - 1) * single
    return np.where(rest > 0, k * single / np.where(rest > 0, rest, 1.0), np.where(np.isnan(rest), np.nan, -np.inf))


def from_components(
    theta: np.ndarray,
    covariance: np.ndarray,
    *,
    k: np.ndarray,
    looks: np.ndarray,
    pots: np.ndarray,
    level: float = 0.95,
) -> Intraclass:
    """Intraclass correlations from variance components, interval by the delta method on the logit.

    Parameters
    ----------
    theta : ndarray, shape (D, 5)
        Variances in the order of `reml.SOURCES`.
    covariance : ndarray, shape (D, 5, 5)
    k, looks, pots : ndarray, shape (D,)
        Tasters, looks and pots behind one mean (harmonic means where they differ).
    level : float in (0, 1)

    Returns
    -------
    Intraclass
        Agreement on these pots: their differences count with the lots'. Where no lot variance is shown the
        correlation is 0 and has no interval.
    """
    one = np.ones(len(theta))
    signal = _weights({LOT: one, LOT_POT: 1 / pots})
    single = _ratio(theta, covariance, signal, _weights({TASTER: one, LOT_TASTER: one, RESIDUAL: 1 / looks}), level)
    noise = _weights({TASTER: 1 / k, LOT_TASTER: 1 / k, RESIDUAL: 1 / (k * looks)})
    mean = _ratio(theta, covariance, signal, noise, level)
    order = _ratio(theta, covariance, signal, _weights({LOT_TASTER: 1 / k, RESIDUAL: 1 / (k * looks)}), level)
    return Intraclass(*single, *mean, order[0])


def limits_of_these_lots(
    lots: np.ndarray, df: tuple[np.ndarray, np.ndarray], levels: np.ndarray, levels_df: np.ndarray, *,
    level: float = 0.95,
) -> tuple[np.ndarray, np.ndarray]:  # fmt: skip
    """Interval of the agreement of the panel's mean marks on the very lots that were tasted.

    Parameters
    ----------
    lots : ndarray, shape (D,)
        Mean square of the lots over that of the rest.
    df : tuple of ndarray
        Degrees of freedom of the two.
    levels : ndarray
        Variance of one taster's mark of a lot, level included, over that without: 1 or more.
    levels_df : ndarray
        Degrees of freedom of the former.
    level : float in (0, 1)

    Returns
    -------
    low, high : ndarray
        Of the share that the lots' own spread has of the spread of the means; estimate: ICC(2,k).

    Notes
    -----
    Of lots that are what they are, whatever they were drawn from, `lots` is a noncentral F; its noncentrality a degree
    of freedom is the lots' spread over the rest. The tasters' levels join with a chi-square, the two on the logarithm
    (Zou & Donner 2008, Stat. Med. 27: 1693, from memory). No law of the lots is asked for.

    Examples
    --------
    >>> one = [np.array([x]) for x in (11.0274, 5.0, 15.0, 6.1447, 4.03)]  # Shrout & Fleiss 1979, table 2
    >>> low, high = limits_of_these_lots(one[0], (one[1], one[2]), one[3], one[4])
    >>> print(low.round(2), high.round(2))
    [0.12] [0.86]
    """
    tail = (1 - level) / 2
    free, df_levels = (df[0].astype(float), np.maximum(df[1], 1.0)), np.maximum(levels_df, 1.0)
    with np.errstate(divide="ignore", invalid="ignore"):
        spread = [noncentrality_at(lots, free, 1 - t) / df[0] for t in (tail, 1 - tail)]
        q = [np.log(np.maximum(levels * df_levels / special.chdtri(df_levels, t), 1.0)) for t in (tail, 1 - tail)]
        middle, own = np.log(np.maximum(lots - 1, 1e-12)), np.log(np.maximum(levels, 1.0))
        below = np.hypot(middle - np.log(spread[0]), q[1] - own)
        above = np.hypot(np.log(spread[1]) - middle, own - q[0])
        low, high = (1 / (1 + np.exp(own - middle + d)) for d in (below, -above))
        high = np.where(lots > 1, high, spread[1] / (spread[1] + np.exp(q[0])))
    known = np.isfinite(lots) & (df[0] > 0) & np.isfinite(levels)
    low = np.where(lots > 1, np.nan_to_num(low), 0.0)
    return np.where(known, low, np.nan), np.where(known, high, np.nan)


def trust_in_mean(theta: np.ndarray, *, k: np.ndarray, looks: np.ndarray, pots: np.ndarray) -> np.ndarray:
    """Reliability of the lot mean, pots counted as error: how far it speaks of the lot, shape (D,)."""
    lot = theta[:, LOT]
    rest = theta[:, LOT_POT] / pots + (theta[:, TASTER] + theta[:, LOT_TASTER] + theta[:, RESIDUAL] / looks) / k
    with np.errstate(invalid="ignore"):
        return lot / (lot + rest)


def _weights(parts: dict[int, np.ndarray]) -> np.ndarray:
    out = np.zeros((len(next(iter(parts.values()))), 5))
    for source, weight in parts.items():
        out[:, source] = weight
    return out


def _ratio(
    theta: np.ndarray, covariance: np.ndarray, signal: np.ndarray, noise: np.ndarray, level: float
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Share of the signal with its interval; the logit is log signal - log noise."""
    s, e = (signal * theta).sum(axis=1), (noise * theta).sum(axis=1)
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        gradient = signal / s[:, None] - noise / e[:, None]
        se = np.sqrt(np.einsum("df,dfg,dg->d", gradient, covariance, gradient))
        half = special.ndtri((1 + level) / 2) * se
        logit = np.log(s / e)
        low, high = 1 / (1 + np.exp(half - logit)), 1 / (1 + np.exp(-half - logit))
        shown = (s > 0) & (e > 0)
        return s / (s + e), np.where(shown, low, np.nan), np.where(shown, high, np.nan)
