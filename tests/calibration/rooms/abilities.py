"""Answers to difference tests by tasters who can tell always, sometimes or never."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class Abilities:
    """Tasters who answer several times each.

    Attributes
    ----------
    tasters, each : int
    mean : float
        Share truly detected, over tasters.
    alike : float
        1 where all detect that share; 0 where some always detect and the others guess; between them beta abilities
        with a correlation of 1 - alike within tasters.
    """

    tasters: int
    each: int
    mean: float
    alike: float = 0.0

    def right(self, chance: float, rng: np.random.Generator) -> np.ndarray:
        """Right answers of each taster."""
        if self.alike == 1 or self.mean in {0.0, 1.0}:
            able = np.full(self.tasters, self.mean)
        elif self.alike == 0:
            able = (rng.random(self.tasters) < self.mean).astype(float)
        else:
            total = 1 / (1 - self.alike) - 1
            able = rng.beta(total * self.mean, total * (1 - self.mean), self.tasters)
        return rng.binomial(self.each, chance + (1 - chance) * able)
