"""The pots of a room: brewed for all or for each, alike or not, one or several a lot."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

OWN, SHARED, SAME = "own", "shared", "same"


@dataclass(frozen=True)
class Pots:
    """How the lots were brewed.

    Attributes
    ----------
    count : int
        Pots of a lot: servings of it to each taster.
    brews : {"own", "shared", "same"}
        Whether each taster had a brew of his own, all drank from one, or all servings came from a single one.
    sd : float or tuple of float
        Between brews of one lot; one for each descriptor where they are several.
    common : float
        Share of it that moves all descriptors: a long brew.
    uneven : bool
        Whether some lots were brewed fewer times than others.
    """

    count: int = 2
    brews: str = OWN
    sd: float | tuple[float, ...] = 0.25
    common: float = 0.5
    uneven: bool = False

    def draw(self, lots: int, tasters: int, descriptors: int, rng: np.random.Generator) -> np.ndarray:
        """What the brews add, (lot, taster or 1, pot or 1, descriptor)."""
        shape = (lots, tasters if self.brews == OWN else 1, 1 if self.brews == SAME else self.count)
        own, common = rng.normal(size=(*shape, descriptors)), rng.normal(size=(*shape, 1))
        return np.asarray(self.sd) * (np.sqrt(1 - self.common) * own + np.sqrt(self.common) * common)

    def served(self, lots: int) -> np.ndarray:
        """Which pots there were, (lot, pot)."""
        brewed = 1 + np.arange(lots) % self.count if self.uneven else np.full(lots, self.count)
        return np.arange(self.count) < brewed[:, None]
