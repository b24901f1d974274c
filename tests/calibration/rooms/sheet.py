"""What comes to paper: a bounded scale in steps, slips of the pen, sittings missed."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class Scale:
    """The scale: its ends, its step (0: not rounded) and where an ordinary lot stands on it."""

    low: float = 0.0
    high: float = 10.0
    step: float = 0.0
    middle: float | tuple[float, ...] = 5.0

    def written(self, mark: np.ndarray) -> np.ndarray:
        """Marks about the middle as they are written."""
        mark = np.clip(np.asarray(self.middle) + mark, self.low, self.high)
        return self.step * np.round(mark / self.step) if self.step else mark


@dataclass(frozen=True)
class Gaps:
    """Slips and servings not scored.

    Attributes
    ----------
    blunders : float
        Share of marks that have nothing to do with the lot: anywhere on the scale.
    missing : float
        Share of servings not scored.
    at_random : bool
        False: who feels poorly leaves out the weak lots (lowest on the mean of all descriptors) first.
    """

    blunders: float = 0.0
    missing: float = 0.0
    at_random: bool = True

    def slipped(self, mark: np.ndarray, scale: Scale, rng: np.random.Generator) -> np.ndarray:
        """Marks with the blunders among them."""
        return np.where(rng.random(mark.shape) < self.blunders, rng.uniform(scale.low, scale.high, mark.shape), mark)

    def scored(self, mark: np.ndarray, rng: np.random.Generator) -> np.ndarray:
        """Which servings were scored, (lot, taster, pot); every lot by somebody, every taster something."""
        lots, tasters, pots = mark.shape[:3]
        if not self.missing:
            return np.ones((lots, tasters, pots), bool)
        urge = rng.random((lots, tasters, pots))
        if not self.at_random:  # a taster's own weak lots, and twice as many of them for every second taster
            rank = mark.mean(axis=3).argsort(axis=0).argsort(axis=0) / lots
            urge = (urge + rank) / np.where(np.arange(tasters) % 2, 1.0, 0.5)[:, None]
        out = urge > np.quantile(urge, self.missing)
        out[np.arange(lots), rng.integers(tasters, size=lots), 0] = True
        out[rng.integers(lots, size=tasters), np.arange(tasters), 0] = True
        return out
