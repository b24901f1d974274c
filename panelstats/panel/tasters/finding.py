"""One aspect of the tasters, estimated, with its interval and its test against a tolerance."""

from __future__ import annotations

from dataclasses import dataclass, fields
from functools import cached_property
from typing import Any

import numpy as np

LEVEL, REPEATABILITY, DISCRIMINATION = "level", "repeatability", "discrimination"
AGREEMENT, SCALE_USE, SCATTER, NOTICED = "agreement", "scale_use", "scatter", "noticed"
# What is always asked; scatter stands in for repeatability, and "noticed" joins where most marks stand at an end.
ASPECTS = (LEVEL, REPEATABILITY, DISCRIMINATION, AGREEMENT, SCALE_USE, SCATTER)

# Tolerances other than on level (ours, settable nowhere else: they are shares, not points).
SD_RATIO = 1.5  # standard deviation against the others'
SLOPE = (2 / 3, 3 / 2)  # share of the scale used, symmetric on the logarithm
ORDER_SHARE = 0.5  # agreement against the others' median agreement
SIGNAL_SHARE = 0.25  # signal-to-noise against the others' median, half in terms of standard deviations
# The lots differ for the others when this is the level of their lot test: below it order and scale are not judged.
GATE = 0.01

NOT_TESTED, ALIKE = "not tested", "lots too alike"
AT_FLOOR = "most marks stand at an end of the scale"


@dataclass(frozen=True, eq=False)
class Finding:
    """An aspect by taster and descriptor, or by taster alone.

    Attributes
    ----------
    estimate, low, high : ndarray of float
        In the unit of the aspect; NaN where it could not be estimated.
    p : ndarray of float
        Chance of a value as far outside if the true value lay at the edge of the tolerance; NaN where not tested, 1
        where the lots are too alike to ask.
    floor, ceiling : ndarray of float
        Edges of the tolerance in the same unit; infinite where one side has none.
    lots : ndarray of float
        Lots in all with which the interval would be clear of the tolerance in 8 cases of 10; inf beyond MOST_LOTS.
    why : ndarray of str
        Why a value was not tested; "" elsewhere.
    """

    estimate: np.ndarray
    low: np.ndarray
    high: np.ndarray
    p: np.ndarray
    floor: np.ndarray
    ceiling: np.ndarray
    lots: np.ndarray
    why: np.ndarray

    @cached_property
    def inside(self) -> np.ndarray:
        """Whether the interval lies wholly inside the tolerance, and the aspect was tested."""
        return self.tested & (self.low >= self.floor) & (self.high <= self.ceiling)

    @cached_property
    def outside(self) -> np.ndarray:
        """Whether the interval lies wholly outside the tolerance, and the aspect was tested."""
        return self.tested & ((self.high < self.floor) | (self.low > self.ceiling))

    @cached_property
    def tested(self) -> np.ndarray:
        """Where there is a test of the aspect itself."""
        return ~np.isnan(self.p) & (self.why == "")

    def __getitem__(self, at: Any) -> Finding:
        """Part of it, by any index of its arrays: a taster, or with None one descriptor that stands for all."""
        return Finding(**{f.name: getattr(self, f.name)[at] for f in fields(self)})


def finding(
    estimate: np.ndarray,
    interval: tuple[np.ndarray, np.ndarray],
    p: np.ndarray,
    *,
    floor: np.ndarray | float = -np.inf,
    ceiling: np.ndarray | float = np.inf,
    lots: np.ndarray | float = np.nan,
    why: np.ndarray,
) -> Finding:
    """A Finding; `why` "not tested" clears the numbers, "lots too alike" clears them but keeps p = 1 in the family."""
    known = why == ""
    value, low, high = (np.where(known, values, np.nan) for values in (estimate, *interval))
    chance = np.where(known, p, np.where(why == ALIKE, 1.0, np.nan))
    why = np.where(known & np.isnan(chance), NOT_TESTED, why)
    least, most = (np.broadcast_to(np.asarray(edge, float), why.shape) for edge in (floor, ceiling))
    return Finding(value, low, high, chance, least, most, np.where(known, lots, np.nan), why)
