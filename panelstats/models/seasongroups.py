"""Rows of the season model that differ in their scores alone, taken as one: their number, mean and scatter.

A session of three hundred lots tasted alike is one group: of its rows only first and second moments enter the
likelihood.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from panelstats.models.seasonrows import SeasonRows


@dataclass(frozen=True, eq=False)
class SeasonGroups:
    """Groups of rows of one descriptor, session and block; a lot that recurs is a group of its own in each session.

    Attributes
    ----------
    descriptor, session, block, place : ndarray of int, shape (G,)
        In the order of descriptors and sessions; `place` as in the rows.
    number : ndarray, shape (G,)
        Rows of each.
    taster_sum, pot_sum : ndarray, shape (G, T), (G, P)
        Means over its rows.
    scatter : ndarray, shape (B, T + P, T + P)
        Squares and products of the rows of a block about the means of their groups.
    squares : ndarray, shape (B,)
        Sum of all squared looks of a block.
    """

    descriptor: np.ndarray
    session: np.ndarray
    block: np.ndarray
    place: np.ndarray
    number: np.ndarray
    taster_sum: np.ndarray
    pot_sum: np.ndarray
    scatter: np.ndarray
    squares: np.ndarray

    def by_block(self, values: np.ndarray, blocks: int) -> np.ndarray:
        """Sum over the rows of each block, of values alike for the rows of a group: (G,) -> (B,)."""
        return np.bincount(self.block, self.number * values, blocks)


def season_groups(rows: SeasonRows) -> SeasonGroups:
    """Group the rows."""
    d, s, _ = rows.sizes
    blocks, t = len(rows.counts), rows.tasters
    shape = (d, s, blocks, len(rows.recurring) + 1)
    key = np.ravel_multi_index((rows.descriptor, rows.session, rows.block, rows.place + 1), shape)
    keys, group, number = np.unique(key, return_inverse=True, return_counts=True)
    descriptor, session, block, place = np.unravel_index(keys, shape)
    sums = np.concatenate([rows.taster_sum, rows.pot_sum], axis=1)
    mean = np.stack([np.bincount(group, column, len(keys)) for column in sums.T], axis=1) / number[:, None]
    several = np.flatnonzero(number[group] > 1)
    several = several[np.argsort(rows.block[several], kind="stable")]
    rest = (sums - mean[group])[several]
    scatter = np.zeros((blocks, sums.shape[1], sums.shape[1]))
    found, starts, lengths = np.unique(rows.block[several], return_index=True, return_counts=True)
    for b, start, end in zip(found, starts, starts + lengths, strict=True):
        scatter[b] = rest[start:end].T @ rest[start:end]
    squares = np.bincount(rows.block, rows.squares, blocks)
    number = number.astype(float)
    return SeasonGroups(descriptor, session, block, place - 1, number, mean[:, :t], mean[:, t:], scatter, squares)
