"""Charts of one kind for all tasters: smoothed, with one limit; who alarms leaves the references, and again."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from panelstats.models.charts import (
    Chart,
    Side,
    between_sessions,
    family_limit,
    planned,
    resemblance,
    weighted_ewma,
)

if TYPE_CHECKING:
    from collections.abc import Callable

    from panelstats.panel.season.series import Series

# Sessions for which a limit holds, unless there were more (common practice: 40 sale weeks a year).
PLANNED = 40
# Attended sessions beyond the baseline before a chart says anything, and the baseline of who came late (ours).
AFTER, SHORT_BASELINE = 3, 5
# Fewest tasters who stay in the references.
LEAST_LEFT = 3


@dataclass(frozen=True, eq=False)
class Charted:
    """Charts of one kind; arrays (session, taster, column) unless said.

    Attributes
    ----------
    series : Series
    chart : Chart
    variance : ndarray
        Of each value, sessions included.
    between : ndarray, shape (1, column)
        Variance between sessions, as scaled in the series.
    limit : float
        On level / sd; NaN where nothing could be charted.
    alike : float
        Correlation of neighbouring sessions that the limit allows for.
    side : "both", "up" or "down"
    baseline : ndarray, shape (taster, 1)
        Attended sessions of each taster's baseline.
    out : ndarray of bool, shape (taster, column)
        Alarmed, and taken from the others' references.
    """

    series: Series
    chart: Chart
    variance: np.ndarray
    between: np.ndarray
    limit: float
    alike: float
    side: Side
    baseline: np.ndarray
    out: np.ndarray

    @property
    def towards(self) -> np.ndarray:
        """Level in standard deviations, the way an alarm goes; NaN where not charted."""
        z = self.chart.z
        return {"both": np.abs(z), "up": z, "down": -z}[self.side]

    @property
    def passed(self) -> np.ndarray:
        """Where the chart lies beyond its limit."""
        return self.towards > self.limit

    @property
    def alarmed(self) -> np.ndarray:
        """Whether it ever did, (taster, column)."""
        return np.asarray(self.passed.any(axis=0))

    @property
    def peak(self) -> np.ndarray:
        """The farthest it came, in limits, (taster, column)."""
        return np.nan_to_num(self.towards, nan=0.0).max(axis=0, initial=0.0) / self.limit

    @property
    def attended(self) -> np.ndarray:
        """Sessions that count, (taster, column)."""
        return (np.isfinite(self.series.value) & (self.variance > 0)).sum(axis=0)


def baselines(pool_seen: np.ndarray, wanted: int) -> np.ndarray:
    """Sessions of each taster's baseline, (taster, 1); `pool_seen` is (session, taster).

    Who attended too few for `wanted` and what must follow has SHORT_BASELINE of them.
    """
    few = pool_seen.sum(axis=0) < wanted + AFTER
    return np.where(few, min(wanted, SHORT_BASELINE), wanted)[:, None]


def charted(
    series_of: Callable[[np.ndarray], Series],
    active: np.ndarray,
    *,
    alpha: float,
    side: Side,
    baseline: np.ndarray,
    most: int,
    seed: int,
) -> Charted:
    """Chart a series; as long as somebody alarms and may be dropped, drop the farthest of each column and chart again.

    Parameters
    ----------
    series_of : callable
        The series for those who stand in the references, bool (taster, column).
    active : ndarray of bool, shape (taster, column)
    alpha : float in (0, 1)
    side : "both", "up" or "down"
    baseline : ndarray, shape (taster, 1)
    most : int
        Tasters who may be dropped from a column.
    seed : int

    Notes
    -----
    The limit is that of the first round: the timetable stays as it is.
    """
    limit, alike, out = np.nan, 0.0, np.zeros(active.shape, bool)
    while True:
        series = series_of(active & ~out)
        between = _between(series)
        if np.isnan(limit):
            alike = resemblance(series.value, series.se) if side == "both" else 0.0
            limit = _limit(series, between, alike, alpha=alpha, side=side, baseline=baseline, seed=seed)
        variance = series.se**2 + series.scale * between
        found = Charted(series, weighted_ewma(series.value, variance, baseline=baseline), variance, between, limit,
                        alike, side, baseline, out)  # fmt: skip
        more = _farthest(found, active & ~out, most)
        if not more.any():
            return found
        out = out | more


def _between(series: Series) -> np.ndarray:
    return np.nan_to_num(between_sessions(series.value, series.se, pooled=(1,), scale=series.scale))


def _limit(
    series: Series, between: np.ndarray, alike: float, *, alpha: float, side: Side, baseline: np.ndarray, seed: int
) -> float:
    sessions = max(PLANNED, len(series.value))
    se = planned(series.se, sessions)
    scale = np.ones(se.shape)
    scale[: len(series.scale)] = np.where(np.isfinite(series.value), series.scale, 1.0)
    if not np.isfinite(se).any() or not ((se > 0).any() or (between > 0).any()):
        return np.nan
    return family_limit(se, between / (1 - alike), alpha=alpha, side=side, baseline=baseline, pooled=(1,), scale=scale,
                        df=series.df, alike=alike, seed=seed)  # fmt: skip


def _farthest(found: Charted, active: np.ndarray, most: int) -> np.ndarray:
    """The farthest alarm of each column whose taster may leave, at most one a column."""
    peak = np.where(found.alarmed & active, found.peak, 0.0)
    may = (found.out.sum(axis=0) < most) & (active.sum(axis=0) > LEAST_LEFT)
    first = np.arange(len(peak))[:, None] == peak.argmax(axis=0)
    return first & (peak > 0) & may
