"""Smoothed charts of a level over sessions: weighted for unequal precision, with a limit for all charts together.

Arrays have the session first; the axes behind it, (taster, descriptor) for instance, are charts. NaN means absent.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Iterator

# Weight of the newest of equally precise sessions (common practice: 0.05 to 0.4).
WEIGHT = 0.2
# Sessions of the baseline (ours; 12 are better, 5 are few).
BASELINE = 8
# Most that neighbouring sessions are taken to resemble each other: a limit for more would find nobody (ours).
MOST_ALIKE = 0.3
# Simulated seasons behind a limit, and how many are held in memory at once.
DRAWS, AT_ONCE = 2000, 200

Side = Literal["both", "up", "down"]


@dataclass(frozen=True, eq=False)
class Chart:
    """Smoothed levels; shape (session, chart...) unless said, NaN in baseline sessions and where absent.

    Attributes
    ----------
    level : ndarray
        Present level less the baseline (or the target), in the unit of the values.
    sd : ndarray
        Its standard deviation, the baseline's own included.
    baseline, baseline_variance : ndarray, shape (chart...)
        Weighted mean of the baseline sessions and its variance; 0 with a target. NaN where there were too few.
    """

    level: np.ndarray
    sd: np.ndarray
    baseline: np.ndarray
    baseline_variance: np.ndarray

    @property
    def z(self) -> np.ndarray:
        """Levels in standard deviations."""
        return self.level / self.sd


def between_sessions(
    value: np.ndarray, se: np.ndarray, *, pooled: tuple[int, ...] = (), scale: np.ndarray | float = 1.0
) -> np.ndarray:
    """Variance between sessions beyond the standard errors, from differences of successive attended sessions.

    Parameters
    ----------
    value, se : ndarray, shape (session, chart...)
        Values and their standard errors; 0 where the whole variance is to be estimated.
    pooled : tuple of int
        Axes, counted with the session as 0, whose charts share one variance: they stay with length 1.
    scale : array_like, broadcastable
        Factor of the variance in each session, for instance 2/df for logarithms of variances.

    Returns
    -------
    ndarray, shape (chart...)
        0 or more; NaN without two attended sessions.

    Notes
    -----
    Half the mean squared successive difference (von Neumann 1941, Annals of Mathematical Statistics 12: 367-395) less
    the sampling variances: a jump costs one pair and a slow drift nearly nothing.

    Examples
    --------
    >>> print(between_sessions(np.array([0.0, 1.0, np.nan, 0.0, 1.0]), np.full(5, 0.5)))
    0.25
    """
    value, se, scale = np.broadcast_arrays(value, se, scale)
    excess, weight = np.zeros(value.shape[1:]), np.zeros(value.shape[1:])
    for pair, difference, variance, scales in _pairs(value, se, scale):
        excess += np.where(pair, difference**2 - variance[0] - variance[1], 0.0)
        weight += np.where(pair, sum(scales), 0.0)
    axes = tuple(axis - 1 for axis in pooled)
    excess, weight = (part.sum(axis=axes, keepdims=True) if axes else part for part in (excess, weight))
    return np.where(weight > 0, np.maximum(0, excess / np.where(weight > 0, weight, 1.0)), np.nan)


def resemblance(value: np.ndarray, se: np.ndarray) -> float:
    """Correlation of what the levels of neighbouring sessions wander beyond their errors, all charts together.

    Parameters
    ----------
    value, se : ndarray, shape (session, chart...)

    Returns
    -------
    float
        From 0 to 0.3; 0 where nothing wanders.

    Notes
    -----
    For an autoregression of the first order the mean squared difference two sessions apart, less the sampling
    variances, is 1 + correlation times that of one session apart.

    Examples
    --------
    >>> rng = np.random.default_rng(1)
    >>> print(round(resemblance(rng.standard_normal((400, 20)), np.zeros((400, 20))), 1))
    0.0
    """
    value, se = np.broadcast_arrays(value, se)
    apart = []
    for lag in (1, 2):
        excess = (value[lag:] - value[:-lag]) ** 2 - se[lag:] ** 2 - se[:-lag] ** 2
        apart.append(np.nanmean(excess) if np.isfinite(excess).any() else 0.0)
    return float(np.clip(apart[1] / apart[0] - 1, 0.0, MOST_ALIKE)) if apart[0] > 0 else 0.0


def successive(value: np.ndarray, se: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Differences of successive attended sessions, and the sampling variance of each.

    Parameters
    ----------
    value, se : ndarray, shape (session, chart...)

    Returns
    -------
    tuple of ndarray, shape (session - 1, chart...)
        By the later session; NaN where it was missed or was the first.

    Examples
    --------
    >>> print(*successive(np.array([0.0, 1.0, np.nan, 0.5]), np.full(4, 0.5)))
    [ 1.   nan -0.5] [0.5 nan 0.5]
    """
    value, se = np.broadcast_arrays(value, se)
    found = [
        (np.where(pair, difference, np.nan), np.where(pair, variance[0] + variance[1], np.nan))
        for pair, difference, variance, _ in _pairs(value, se, np.ones_like(value))
    ]
    differences, variances = zip(*found, strict=True) if found else ((), ())
    shape = (len(found), *value.shape[1:])
    return np.reshape(differences, shape), np.reshape(variances, shape)


_Two = tuple[np.ndarray, np.ndarray]


def _pairs(value: np.ndarray, se: np.ndarray, scale: np.ndarray) -> Iterator[tuple[np.ndarray, np.ndarray, _Two, _Two]]:
    """Session by session: where it and an earlier one were attended, the difference, and both variances and scales."""
    attended = np.isfinite(value) & np.isfinite(se)
    variance, value = np.where(attended, se**2, 0.0), np.where(attended, value, 0.0)
    last, last_variance, last_scale, seen = value[0], variance[0], scale[0], attended[0]
    for now in range(1, len(value)):
        here = attended[now]
        yield here & seen, value[now] - last, (variance[now], last_variance), (scale[now], last_scale)
        last, last_variance = np.where(here, value[now], last), np.where(here, variance[now], last_variance)
        last_scale, seen = np.where(here, scale[now], last_scale), seen | here


def weighted_ewma(
    value: np.ndarray, variance: np.ndarray, *, baseline: int | np.ndarray = BASELINE, weight: float = WEIGHT
) -> Chart:
    """Exponentially weighted mean of each chart against its own baseline, or against 0.

    Parameters
    ----------
    value : ndarray, shape (session, chart...)
    variance : array_like, broadcastable
        Of each value. A session whose variance is not above 0 is left out like an absence: never infinite weight.
    baseline : int or array_like, shape (chart...), broadcastable
        Attended sessions that make the baseline; 0 for all charts: against 0.
    weight : float in (0, 1]
        Of the newest session, were all equally precise.

    Returns
    -------
    Chart

    Notes
    -----
    Each session weighs 1/variance, faded by 1 - weight per attended session since; the standard deviation is exact for
    any pattern of variances and absences. With equal variances and no baseline, level / sd is the textbook chart
    (NIST/SEMATECH e-Handbook, section 6.3.2.4) with limits exact at every session.

    Examples
    --------
    >>> chart = weighted_ewma(np.array([1.0, 1.0, np.nan, 2.0]), 1.0, baseline=0)
    >>> print(chart.level.round(3), chart.sd.round(3))
    [1.   1.    nan 1.41] [1.    0.711   nan 0.587]
    """
    value, variance = np.broadcast_arrays(np.asarray(value, float), np.asarray(variance, float))
    attended = np.isfinite(value) & (variance > 0)
    precision = np.where(attended, 1 / np.where(attended, variance, 1.0), 0.0)
    turn = attended.cumsum(axis=0)
    first = np.where(turn <= baseline, precision, 0.0)
    value = np.where(attended, value, 0.0)
    center, spread = np.zeros(value.shape[1:]), np.zeros(value.shape[1:])
    if np.any(baseline):
        held = np.where(turn[-1] >= baseline, first.sum(axis=0), np.nan)
        center, spread = (first * value).sum(axis=0) / held, 1 / held
    level, sd = np.full(value.shape, np.nan), np.full(value.shape, np.nan)
    pull, mass, noise = (np.zeros(value.shape[1:]) for _ in range(3))
    for now, charted in enumerate(attended & (turn > baseline)):
        fade = np.where(charted, 1 - weight, 1.0)
        new = np.where(charted, precision[now], 0.0)
        pull, mass, noise = fade * pull + new * (value[now] - center), fade * mass + new, fade**2 * noise + new
        np.divide(pull, mass, out=level[now, ...], where=charted)
        np.divide(noise, mass**2, out=sd[now, ...], where=charted)
        sd[now] = np.sqrt(sd[now] + spread)
    return Chart(level, sd, center, spread)


def planned(se: np.ndarray, sessions: int) -> np.ndarray:
    """Standard errors to the planned end of the season: sessions to come get each chart's median."""
    to_come = sessions - len(se)
    if to_come <= 0:
        return se
    median = np.ma.median(np.ma.masked_invalid(se), axis=0, keepdims=True)
    return np.concatenate([se, np.repeat(np.ma.filled(median, np.nan), to_come, axis=0)])


def family_limit(
    se: np.ndarray,
    between: np.ndarray | float | None,
    *,
    alpha: float,
    side: Side = "both",
    baseline: int | np.ndarray = BASELINE,
    weight: float = WEIGHT,
    pooled: tuple[int, ...] = (),
    scale: np.ndarray | float = 1.0,
    df: np.ndarray | float | None = None,
    alike: float = 0.0,
    draws: int = DRAWS,
    seed: int = 0,
) -> float:
    """The limit on level / sd that any chart passes in any session with probability alpha, if nothing moves.

    Parameters
    ----------
    se : ndarray, shape (session, chart...)
        The timetable: standard errors, NaN where absent, to the planned end (see `planned`).
    between : array_like, shape (chart...), broadcastable, or None
        Variance between sessions, as estimated; None where `se` is all the variance there is, and known.
    alpha : float in (0, 1)
        For all charts and sessions together.
    side : "both", "up" or "down"
        Which moves would be an alarm.
    baseline, weight, pooled, scale
        As for `weighted_ewma` and `between_sessions`.
    df : array_like, shape (chart...), broadcastable, optional
        Degrees of freedom behind each chart's standard errors, estimated together; without, they are known.
    alike : float in [0, 1)
        Correlation of neighbouring sessions beyond their errors (see `resemblance`), which `between` misses.
    draws, seed : int

    Returns
    -------
    float
        NaN where nothing can be charted.

    Notes
    -----
    Seasons are drawn from normal values, independent over charts (the cautious choice: Sidak 1967, Journal of the
    American Statistical Association 62: 626-633), and the variance between sessions is estimated anew in each: its
    error is part of the limit.

    Examples
    --------
    >>> print(round(family_limit(np.full((40, 4), 0.2), None, alpha=0.05, baseline=0), 1))
    3.5
    """
    rng = np.random.default_rng(seed)
    se, scale = (each[:, None] for each in np.broadcast_arrays(np.asarray(se, float), np.asarray(scale, float)))
    wander = 0.0 if between is None else np.sqrt(scale * between)
    axes = tuple(axis + 1 for axis in pooled)
    largest = []
    for start in range(0, draws, AT_ONCE):
        now = min(AT_ONCE, draws - start)
        drawn = rng.standard_normal((len(se), now, *se.shape[2:]))
        value = np.sqrt(se**2 + wander**2) * drawn
        if alike:
            value = se * rng.standard_normal(drawn.shape) + wander * _resembling(drawn, alike)
        shown = se
        if df is not None:
            freedom = np.broadcast_to(np.maximum(df, 1.0), se.shape[2:])
            shown = se * np.sqrt(rng.chisquare(freedom, (now, *se.shape[2:])) / freedom)
        variance = shown**2
        if between is not None:
            variance = variance + scale * between_sessions(value, shown, pooled=axes, scale=scale)
        z = weighted_ewma(value, variance, baseline=baseline, weight=weight).z
        z = {"both": np.abs(z), "up": z, "down": -z}[side]
        largest.append(np.nan_to_num(z, nan=-np.inf).max(axis=(0, *range(2, z.ndim))))
    limit = float(np.quantile(np.concatenate(largest), 1 - alpha, method="higher"))
    return limit if np.isfinite(limit) else np.nan


def _resembling(drawn: np.ndarray, correlation: float) -> np.ndarray:
    """Independent normal values made an autoregression of the first order along the sessions."""
    out = drawn.copy()
    for now in range(1, len(out)):
        out[now] = correlation * out[now - 1] + np.sqrt(1 - correlation**2) * drawn[now]
    return out
