"""Weekly differences from the master: errors pooled over weeks, smoothed, with a limit for all charts together."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import stdtrit

from panelstats.models.charts import between_sessions, family_limit, planned, weighted_ewma
from panelstats.models.lending import LEAST_DESCRIPTORS
from panelstats.models.steadying import moderated_variance, variance_prior

# Weeks of a season for which the limit is set unless more were tasted (common practice: 40 sale weeks).
WEEKS = 40
# So many of the newest weeks must lie inside the tolerance by themselves before the blend is on the standard (ours).
NEWEST = 3
# Correlation of neighbouring weeks for which the limit is set: what a cellar, a crop or a mood carries over (ours).
# Simulated, 40 weeks of six descriptors, error 0.25 or 0.45, a wander of 0.2 or 0.3 point: independent weeks alarm in 0
# to 2 of 100 quiet seasons, those of a correlation of 0.3 in 6 to 14 (a limit for independent weeks: 11 to 43), of 0.5
# in 28 to 51 (43 to 82). A jump of 0.5 point beside an error of 0.45 is found in 68 of 100 (75), one of 1 point in 99.
RESEMBLANCE = 0.3


@dataclass(frozen=True, eq=False)
class WeeklyErrors:
    """Standard errors of the weekly differences, shape (week, descriptor), pooled over weeks; and their df."""

    se: np.ndarray
    df: np.ndarray


def pooled_errors(se: np.ndarray, df: np.ndarray, size: np.ndarray) -> WeeklyErrors:
    """Errors of all weeks taken together, and steadied over four descriptors or more.

    Parameters
    ----------
    se, df : ndarray, shape (week, descriptor)
        As each week's own model has them; NaN where not tasted.
    size : ndarray, same shape
        Looks behind each difference (harmonic over blend and master): the squared error times this is one look's.

    Returns
    -------
    WeeklyErrors
        df by descriptor, the same in every week.

    Notes
    -----
    Pooled variance, then Smyth's moderated variance (2004, Statistical Applications in Genetics and Molecular Biology
    3: 3) over the descriptors.

    Examples
    --------
    >>> se, df = np.array([[0.1], [0.3]]), np.full((2, 1), 4.0)
    >>> found = pooled_errors(se, df, np.full((2, 1), 8.0))
    >>> print(found.se.round(3).ravel(), found.df)
    [0.224 0.224] [8.]
    """
    known = np.isfinite(se) & np.isfinite(df) & (df > 0)
    weight = np.where(known, df, 0.0)
    total = weight.sum(axis=0)
    variance = (weight * np.where(known, se**2 * size, 0.0)).sum(axis=0) / np.maximum(total, 1e-300)
    if (total > 0).sum() >= LEAST_DESCRIPTORS:
        variance, total = moderated_variance(variance, total, variance_prior(variance, total))
    return WeeklyErrors(np.where(np.isfinite(se), np.sqrt(variance / size), np.nan), total)


@dataclass(frozen=True, eq=False)
class WeeklyChart:
    """Smoothed differences; arrays (week, descriptor), NaN where a week is missing.

    Attributes
    ----------
    smoothed, sd : ndarray
    between : ndarray, shape (descriptor,)
        Variance between weeks beyond the standard errors.
    limit : float
    """

    smoothed: np.ndarray
    sd: np.ndarray
    between: np.ndarray
    limit: float


def chart_weeks(
    difference: np.ndarray, se: np.ndarray, *, df: np.ndarray | None = None, weeks: int = WEEKS,
    false_alarm: float = 0.05, seed: int = 0,
) -> WeeklyChart:  # fmt: skip
    """Smooth weekly differences from the master and find the limit for their timetable.

    Parameters
    ----------
    difference, se : ndarray, shape (week, descriptor)
        NaN where not tasted.
    df : ndarray, shape (descriptor,), optional
        Degrees of freedom behind the standard errors, whose own error is then part of the limit; known by default.
    weeks, false_alarm, seed
        As for `track_standard`.

    Examples
    --------
    >>> chart = chart_weeks(np.array([[0.2], [0.4], [0.3]]), np.full((3, 1), 0.2))
    >>> print(chart.smoothed.ravel().round(3))
    [0.2   0.311 0.307]
    """
    between = np.nan_to_num(between_sessions(difference, se))
    chart = weighted_ewma(difference, se**2 + between, baseline=0)
    limit = family_limit(planned(se, max(weeks, len(se))), between, alpha=false_alarm, baseline=0, seed=seed, df=df,
                         alike=RESEMBLANCE)  # fmt: skip
    return WeeklyChart(chart.level, chart.sd, between, limit)


def newest_inside(
    difference: np.ndarray, se: np.ndarray, df: float, between: float, tolerance: float, level: float
) -> bool:
    """Whether the newest weeks alone lie inside the tolerance: two one-sided tests, each at 1 - level.

    Parameters
    ----------
    difference, se : ndarray, shape (week,)
        Of one descriptor, oldest first.
    df, between : float
        Degrees of freedom of the errors, and the variance between weeks.
    tolerance : float
    level : float in (0, 1)

    Notes
    -----
    Schuirmann (1987), Journal of Pharmacokinetics and Biopharmaceutics 15: 657-680. The smoothed level lags: after a
    jump it is made mostly of older weeks.

    Examples
    --------
    >>> newest_inside(np.array([0.0, 0.0, 0.9, 0.8, 1.0]), np.full(5, 0.2), 40.0, 0.0, 0.5, 0.95)
    False
    """
    weight = 1 / (se[-NEWEST:] ** 2 + between)
    mean, error = float(weight @ difference[-NEWEST:] / weight.sum()), float(weight.sum() ** -0.5)
    return bool(abs(mean) + stdtrit(max(df, 1.0), level) * error < tolerance)
