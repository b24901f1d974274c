"""Lots without any mark on a descriptor: what may be filled in where that was asked for, and the filling itself."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np

from panelstats.models.filling import filled_in

if TYPE_CHECKING:
    from panelstats.lots.maps.ground import Ground

# A larger share of the table is never filled in, nor a lot of which, or a descriptor on which, half is missing (ours).
MOST, HALF = 0.10, 0.5
OF_ALL, OF_LOTS, OF_WORDS = "all", "lots", "words"


@dataclass(frozen=True, eq=False)
class Gaps:
    """Lots on descriptors without any mark, where these were to be filled in.

    Attributes
    ----------
    at : ndarray of bool, shape (lot, descriptor)
        Those that are; of size 0 where none are.
    share : float
        Of the table that was missing.
    refused, names : str, tuple of str
        Why nothing is filled in ("" where something is, or there was nothing), and of which lots or descriptors.
    axes : int
        Axes they were filled from.
    """

    at: np.ndarray = field(default_factory=lambda: np.zeros((0, 0), bool))
    share: float = 0.0
    refused: str = ""
    names: tuple[str, ...] = ()
    axes: int = 0

    def of(self, words: np.ndarray) -> Gaps:
        """Those of some descriptors."""
        return replace(self, at=self.at[:, words]) if self.at.size else self


def gaps_of(known: np.ndarray, lots: np.ndarray, words: np.ndarray) -> Gaps:
    """The gaps of a table (lot, descriptor), or why they may not be filled in.

    Examples
    --------
    >>> known = np.ones((6, 4), bool)
    >>> known[0, 0] = False
    >>> int(gaps_of(known, np.arange(6), np.arange(4)).at.sum())
    1
    >>> known[0, 1] = False
    >>> gaps_of(known, np.arange(6).astype(str), np.arange(4)).names
    ('0',)
    """
    share = float((~known).mean())
    for refused, names, missing in (
        (OF_LOTS, lots, (~known).mean(axis=1)),
        (OF_WORDS, words, (~known).mean(axis=0)),
    ):
        if (missing >= HALF).any():
            return Gaps(share=share, refused=refused, names=tuple(map(str, names[missing >= HALF])))
    if share > MOST:
        return Gaps(share=share, refused=OF_ALL)
    return Gaps(~known, share) if share else Gaps()


def as_if_scored(seen: np.ndarray, gaps: np.ndarray) -> np.ndarray:
    """Where marks are (lot, taster, descriptor), and where they would be had those who tasted a lot left no gap."""
    return seen | (gaps[:, None] & seen.any(axis=2, keepdims=True)) if gaps.size else seen


def with_gaps_filled(ground: Ground, scale: np.ndarray, axes: int) -> Ground:
    """The ground with its gaps filled in from so many axes, or from as many as every lot and descriptor can tell."""
    gaps = ground.gaps.at
    if not gaps.any():
        return ground
    by_lot, by_word = (int((~gaps).sum(axis=axis).min()) for axis in (1, 0))
    axes = max(min(axes, by_lot - 1, by_word - 2), 0)
    means = filled_in(ground.means, axes=axes, scale=scale)
    if means is None:  # the means of the descriptors, said to be no more
        axes, means = 0, np.nan_to_num(ground.means)
    centre = means.mean(axis=0)
    return replace(ground, means=means - centre, centre=ground.centre + centre, gaps=replace(ground.gaps, axes=axes))
