"""The tasters of a room: levels, slopes, opinions on single lots, steadiness; and one who is at fault."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class Fault:
    """What is wrong with the first taster, on the middle descriptor or on all of them.

    Attributes
    ----------
    off : float, optional
        Level less the mean level of the others, in points.
    slope, noise : float, optional
        Slope and error as multiples of the others': of their mean slope, of the root mean square of their errors.
    everywhere : bool
    """

    off: float | None = None
    slope: float | None = None
    noise: float | None = None
    everywhere: bool = False


@dataclass(frozen=True)
class Palates:
    """Tasters drawn alike.

    Attributes
    ----------
    level_sd, level_range : float
        Between the levels of tasters, on each descriptor: normal, and evenly within plus and minus the range.
    slope_range, error_range : float
        Slopes and errors lie evenly on the log scale within plus and minus this.
    opinion_sd : float or tuple of float
        Of a taster's own opinion of a lot; one for each descriptor where they are several.
    opinion_growth : float
        Added to it for every point by which the lot lies above the lowest.
    error_sd : float or tuple of float
        Of one look; one for each descriptor where they are several.
    common : float
        Share of the variance of one look that is common to all descriptors: a tired palate.
    day_sd : float
        Of a taster's level of the day, on each descriptor.
    first_level, first_ordinary : optional
        SD of the first taster's level about the others' mean in place of his own; whether his slope and error are
        drawn as the others' are, or are exactly 1.
    """

    level_sd: float = 0.5
    level_range: float = 0.0
    slope_range: float = 0.0
    opinion_sd: float | tuple[float, ...] = 0.4
    opinion_growth: float = 0.0
    error_sd: float | tuple[float, ...] = 0.8
    error_range: float = 0.0
    common: float = 0.3
    day_sd: float = 0.0
    first_level: float | None = None
    first_ordinary: bool = True

    @property
    def mean_slope(self) -> float:
        """Of an ordinary taster."""
        return float(np.sinh(self.slope_range) / self.slope_range) if self.slope_range else 1.0

    def marks(
        self, lot: np.ndarray, session: np.ndarray, tasters: int, pots: int, fault: Fault, rng: np.random.Generator
    ) -> np.ndarray:
        """Marks about the middle of the room, before pots, walk and scale: (lot, taster, pot, descriptor).

        Parameters
        ----------
        lot : ndarray, shape (lot, descriptor)
        session : ndarray of int, shape (lot,)
        tasters, pots : int
        fault : Fault
        rng : Generator
        """
        count, words = lot.shape
        level, slope, noise = self._people(tasters, words, fault, rng)
        day = self.day_sd * rng.normal(size=(session.max() + 1, tasters, words))
        opinion = np.asarray(self.opinion_sd) + self.opinion_growth * (lot - lot.min(axis=0))
        habit = level + day[session] + slope * lot[:, None]
        habit = habit + opinion[:, None] * rng.normal(size=(count, tasters, words))
        look, tired = rng.normal(size=(count, tasters, pots, words)), rng.normal(size=(count, tasters, pots, 1))
        look = np.sqrt(1 - self.common) * look + np.sqrt(self.common) * tired
        return habit[:, :, None] + np.asarray(self.error_sd) * noise[:, None] * look

    def _people(
        self, tasters: int, words: int, fault: Fault, rng: np.random.Generator
    ) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Levels, slopes and errors, (taster, descriptor) each."""
        level = self.level_sd * rng.normal(size=(tasters, words))
        level = level + self.level_range * rng.uniform(-1, 1, (tasters, words))
        slope = np.exp(self.slope_range * rng.uniform(-1, 1, (tasters, words)))
        noise = np.exp(self.error_range * rng.uniform(-1, 1, (tasters, words)))
        others = level[1:].mean(axis=0) if tasters > 1 else np.zeros(words)
        if self.first_level is not None:
            level[0] = others + self.first_level * rng.normal(size=words)
        if not self.first_ordinary:
            slope[0] = noise[0] = 1.0
        at = slice(None) if fault.everywhere else slice(words // 2, words // 2 + 1)
        if fault.off is not None:
            level[0, at] = others[at] + fault.off
        if fault.slope is not None:
            slope[0, at] = fault.slope * slope[1:, at].mean(axis=0)
        if fault.noise is not None:
            noise[0, at] = fault.noise * np.sqrt((noise[1:, at] ** 2).mean(axis=0))
        return level, slope, noise
