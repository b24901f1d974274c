"""Units with readings in each: variance between and within, and pivots for what a new reading of a new unit will be."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import ndtr, ndtri


@dataclass(frozen=True, eq=False)
class Nested:
    """Readings of several units, reduced.

    Attributes
    ----------
    means : ndarray, shape (unit,)
    counts : ndarray of int, shape (unit,)
    ss_within : float
        Sum of squares of readings about the mean of their unit.
    """

    means: np.ndarray
    counts: np.ndarray
    ss_within: float

    @staticmethod
    def of(values: np.ndarray, unit: np.ndarray) -> Nested:
        """From readings and the number of the unit of each, from 0."""
        counts = np.bincount(unit)
        means = np.bincount(unit, values) / counts
        return Nested(means, counts, float(((values - means[unit]) ** 2).sum()))

    @property
    def units(self) -> int:
        """Number of units."""
        return len(self.counts)

    @property
    def each(self) -> float:
        """Readings of a unit: their number, or its harmonic mean where it is not the same in all."""
        return float(self.units / (1 / self.counts).sum())

    @property
    def df_within(self) -> int:
        """Readings less units."""
        return int(self.counts.sum() - self.units)

    @property
    def ss_between(self) -> float:
        """Sum of squares of the units' means, times the readings of a unit."""
        return float(self.each * ((self.means - self.means.mean()) ** 2).sum())

    @property
    def mean(self) -> float:
        """Mean of the units' means."""
        return float(self.means.mean())

    @property
    def within(self) -> float:
        """Variance of readings within a unit; NaN where each has one."""
        return self.ss_within / self.df_within if self.df_within else np.nan

    @property
    def between(self) -> float:
        """Variance between units, the readings' own part taken off, 0 or more; NaN for one unit."""
        if self.units < 2:
            return np.nan
        own = 0.0 if not self.df_within else self.within / self.each
        return max(self.ss_between / self.each / (self.units - 1) - own, 0.0)


@dataclass(frozen=True, eq=False)
class Pivots:
    """Draws of what the population may be; shape (draw,) each.

    Attributes
    ----------
    mean : ndarray
    between, within : ndarray
        Variances; `between` is 0 or more. `within` is 0 where each unit has one reading.
    total : ndarray
        Variance of a new reading of a new unit; always positive.
    """

    mean: np.ndarray
    between: np.ndarray
    within: np.ndarray
    total: np.ndarray

    def share_below(self, line: float) -> np.ndarray:
        """Share of new readings of new units below a line."""
        return ndtr((line - self.mean) / np.sqrt(np.maximum(self.total, 1e-300)))

    def limit(self, coverage: float, confidence: float) -> float:
        """Below all but `coverage` of new readings of new units, with this confidence."""
        return float(np.quantile(self.mean - ndtri(coverage) * np.sqrt(self.total), 1 - confidence))


def pivots(found: Nested, rng: np.random.Generator, draws: int) -> Pivots:
    """Generalised pivots of mean and variances, two units or more.

    Notes
    -----
    Krishnamoorthy & Mathew 2004, Technometrics 46: 44: with U_b ~ chi2(a - 1), U_w ~ chi2(a (n - 1)), Z ~ N(0, 1):
    mean* = mean + Z sqrt(SS_b / (a n U_b)), total* = SS_b / (n U_b) + (1 - 1/n) SS_w / U_w. With unequal readings n is
    their harmonic mean (ours).

    Examples
    --------
    >>> values = np.array([1545.0, 1440, 1520, 1580, 1540, 1555])
    >>> found = pivots(Nested.of(values, np.repeat([0, 1], 3)), np.random.default_rng(0), 1000)
    >>> found.total.shape, bool((found.total > 0).all())
    ((1000,), True)
    """
    a, n = found.units, found.each
    u = rng.chisquare(a - 1, draws)
    seen = found.ss_between / (n * u)  # variance of a unit's mean
    mean = found.mean + rng.standard_normal(draws) * np.sqrt(seen / a)
    within = found.ss_within / rng.chisquare(found.df_within, draws) if found.df_within else np.zeros(draws)
    return Pivots(mean, np.maximum(seen - within / n, 0.0), within, seen + (1 - 1 / n) * within)
