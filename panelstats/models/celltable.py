"""Cells of one table of scores as arrays, and what a model must know of them before it is fitted."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from panelstats.models.blocks import Blocks, blocks
from panelstats.models.estimable import ROUNDING


@dataclass(frozen=True, eq=False)
class CellTable:
    """Looks, their mean and sum of squares about it: arrays (lot, taster, brew, descriptor)."""

    looks: np.ndarray
    mean: np.ndarray
    within_ss: np.ndarray

    def take(self, keep: np.ndarray) -> CellTable:
        """The cells of some descriptors."""
        return CellTable(self.looks[..., keep], self.mean[..., keep], self.within_ss[..., keep])

    def one_look_each(self) -> CellTable:
        """Cell means as single looks."""
        looks = self.looks.sum(axis=2, keepdims=True)
        mean = (self.looks * self.mean).sum(axis=2, keepdims=True) / np.maximum(looks, 1)
        return CellTable((looks > 0).astype(looks.dtype), mean, np.zeros_like(mean))

    @property
    def spread(self) -> np.ndarray:
        """Largest less smallest mean, and more where looks behind one mean differed, shape (D,)."""
        high = np.where(self.looks > 0, self.mean, -np.inf).max(axis=(0, 1, 2))
        low = np.where(self.looks > 0, self.mean, np.inf).min(axis=(0, 1, 2))
        return np.maximum(high - low, np.sqrt(self.within_ss.max(axis=(0, 1, 2))))

    @property
    def never_differ_within(self) -> np.ndarray:
        """Whether cells were looked at more than once and never with another score, shape (D,)."""
        looks = self.looks.sum(axis=2, keepdims=True)
        mean = (self.looks * self.mean).sum(axis=2, keepdims=True) / np.maximum(looks, 1)
        within = (self.within_ss + self.looks * (self.mean - mean) ** 2).sum(axis=(0, 1, 2))
        scores, cells, spread = looks.sum(axis=(0, 1, 2)), (looks > 0).sum(axis=(0, 1, 2)), self.spread
        return (within <= ROUNDING * scores * spread**2) & (scores > cells) & (spread > 0)

    def blocks(self, *, pots: bool) -> Blocks:
        """The blocks of these cells; `pots` as there."""
        return blocks(self.looks, self.mean, self.within_ss, pots=pots)
