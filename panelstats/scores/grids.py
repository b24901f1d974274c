"""Cells of one session and class as dense arrays, which is how the models take them."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from panelstats.scores.columns import BREW, DESCRIPTOR, LOOKS, LOT, MEAN, REST, TASTER, WITHIN_SS

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True, eq=False)
class Grid:
    """One session and class as dense arrays, axes (lot, taster, brew, descriptor).

    Attributes
    ----------
    session, lot_class : str
        What the grid holds; `lot_class` is "" where no class is known.
    lots, tasters, descriptors : ndarray of str
        Labels of the axes. The brew axis has no label: pots are numbered from 0 inside each lot.
    pots : ndarray of str, shape (descriptor,)
        shared, own or same: what a brew is for each descriptor.
    looks : ndarray of int, shape (lot, taster, brew, descriptor)
        Number of looks, 0 where not scored.
    mean, within_ss : ndarray of float, same shape
        Mean of the looks and their sum of squares about it; 0 where not scored.
    rest : ndarray of float, same shape
        What rounding took off the mean.
    """

    session: str
    lot_class: str
    lots: np.ndarray
    tasters: np.ndarray
    descriptors: np.ndarray
    pots: np.ndarray
    looks: np.ndarray
    mean: np.ndarray
    within_ss: np.ndarray
    rest: np.ndarray

    @property
    def offset(self) -> np.ndarray:
        """One score of each descriptor, shape (descriptor,): differences from it are free of rounding."""
        first = self.looks.reshape(-1, len(self.descriptors)).argmax(axis=0)
        return self.mean.reshape(-1, len(self.descriptors))[first, np.arange(len(self.descriptors))]

    @property
    def centred(self) -> np.ndarray:
        """Means less `offset`, to the last digit of the scores; 0 where not scored."""
        return np.where(self.looks > 0, (self.mean - self.offset) + self.rest, 0.0)

    def take_descriptors(self, keep: np.ndarray) -> Grid:
        """The grid of some descriptors only; `keep` is an index or a mask over the descriptor axis."""
        return replace(
            self,
            descriptors=self.descriptors[keep],
            pots=self.pots[keep],
            looks=self.looks[..., keep],
            mean=self.mean[..., keep],
            within_ss=self.within_ss[..., keep],
            rest=self.rest[..., keep],
        )

    def over_brews(self) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Looks, mean and within-cell SS by (lot, taster, descriptor), all brews of a cell taken together."""
        looks = self.looks.sum(axis=2)
        mean = (self.looks * self.mean).sum(axis=2) / np.maximum(looks, 1)
        spread = self.looks * (self.mean - mean[:, :, None]) ** 2
        return looks, mean, (self.within_ss + np.where(self.looks > 0, spread, 0.0)).sum(axis=2)


def _axis(column: pd.Series) -> tuple[np.ndarray, np.ndarray]:
    """Labels in use, in their categories' order, and the code of each row among them."""
    used = column.cat.remove_unused_categories()
    return used.cat.categories.to_numpy().astype(str), used.cat.codes.to_numpy()


def grid_of(frame: pd.DataFrame, session: str, lot_class: str, words: dict[str, str]) -> Grid:
    """The grid of the cells of one session and class; `words` tells what a brew is, by descriptor."""
    (lots, lot), (tasters, taster), (descriptors, descriptor) = (_axis(frame[k]) for k in (LOT, TASTER, DESCRIPTOR))
    brew = rank_within(lot, frame[BREW].to_numpy())
    shape = (len(lots), len(tasters), int(brew.max(initial=0)) + 1, len(descriptors))
    where = np.ravel_multi_index((lot, taster, brew, descriptor), shape)
    arrays = {}
    for name, kind in ((LOOKS, np.int64), (MEAN, float), (WITHIN_SS, float), (REST, float)):
        flat = np.zeros(int(np.prod(shape)), kind)
        flat[where] = frame[name].to_numpy()
        arrays[name] = flat.reshape(shape)
    pots = np.array([words[d] for d in descriptors], dtype=str)
    return Grid(session, lot_class, lots, tasters, descriptors, pots, **arrays)


def rank_within(lot: np.ndarray, brew: np.ndarray) -> np.ndarray:
    """Number the brews of each lot from 0, in the order of their labels: these mean nothing beyond their lot."""
    labels, code = np.unique(brew, return_inverse=True)
    key = lot.astype(np.int64) * len(labels) + code
    pairs, at = np.unique(key, return_inverse=True)
    first = np.searchsorted(pairs // len(labels), pairs // len(labels))
    return (np.arange(len(pairs)) - first)[at]
