"""The lots of a room: how far they lie apart, how skewed they are, in what classes they come."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class Lots:
    """So many lots in each of some classes.

    Attributes
    ----------
    count, classes : int
        Lots of each class; classes.
    sd : float or tuple of float
        Between the lots of a class; one for each descriptor where they are several.
    class_sd : float
        Between classes.
    apart : float
        Added to the first lot (of each class).
    everywhere : bool
        Whether it is added on all descriptors or on the first only.
    skew : float
        Spread on the log scale of log-normal lots, shifted and scaled to mean 0 and `sd`; 0 for normal ones.
    common : float
        Correlation between descriptors over the lots: how far all words tell the same.
    """

    count: int = 4
    classes: int = 1
    sd: float | tuple[float, ...] = 0.0
    class_sd: float = 0.0
    apart: float = 0.0
    everywhere: bool = False
    skew: float = 0.0
    common: float = 0.0

    @property
    def all(self) -> int:
        """Lots of all classes."""
        return self.count * self.classes

    def draw(self, descriptors: int, rng: np.random.Generator) -> np.ndarray:
        """What the lots are, less the middle of the room, (lot, descriptor)."""
        z = rng.normal(size=(self.all, descriptors))
        if self.common:
            z = np.sqrt(1 - self.common) * z + np.sqrt(self.common) * rng.normal(size=(self.all, 1))
        if self.skew:
            z = np.exp(self.skew * z)
            z = (z - np.exp(self.skew**2 / 2)) / np.sqrt(np.expm1(self.skew**2) * np.exp(self.skew**2))
        classes = self.class_sd * rng.normal(size=(self.classes, descriptors))
        lot = np.asarray(self.sd) * z + np.repeat(classes, self.count, axis=0)
        lot[:: self.count, slice(None) if self.everywhere else slice(1)] += self.apart
        return lot
