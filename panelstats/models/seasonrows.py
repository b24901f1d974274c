"""What the season model needs of the scores: a row per descriptor, session and lot.

Of a row only the sums of each taster and of each pot enter, so nothing grows with the looks; rows of one descriptor
with the same looks share all matrices.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from panelstats.models.estimable import ROUNDING
from panelstats.models.seasongroups import SeasonGroups, season_groups

# With more lots that recur than this times the tasters, only controls have a term for lot:taster of their own.
MOST_TERMS = 300


@dataclass(frozen=True, eq=False)
class SeasonRows:
    """Sums of D descriptors, S sessions, L lots and T tasters, rows in the order of descriptors, sessions and lots.

    Attributes
    ----------
    descriptor, session, lot : ndarray of int, shape (R,)
    taster_sum : ndarray, shape (R, T)
        Sum of a taster's looks, each less `centre` of its descriptor and lot.
    pot_sum : ndarray, shape (R, P)
        The same by pot; P is 0 where pots are not a factor of the model.
    squares : ndarray, shape (R,)
        Sum of the squared looks, centred alike.
    block : ndarray of int, shape (R,)
    counts : ndarray, shape (B, T, P), or (B, T, 1) where pots are no factor
        Looks of each distinct block.
    block_descriptor : ndarray of int, shape (B,)
    block_met : ndarray of bool, shape (B,)
        Whether the lots of the block recur.
    block_own : ndarray of bool, shape (B,)
        Whether they have a term for lot:taster of their own besides.
    recurring : ndarray of int, shape (K,)
        Lots met in several sessions, by their place among the L.
    own : ndarray of int, shape (O,)
        Those of `recurring`, by place, that have a term for lot:taster of their own.
    centre : ndarray, shape (D, L)
        What was taken off the scores of each lot; NaN where it was not scored.
    sizes : tuple of int
        D, S, L.
    pots : bool
    """

    descriptor: np.ndarray
    session: np.ndarray
    lot: np.ndarray
    taster_sum: np.ndarray
    pot_sum: np.ndarray
    squares: np.ndarray
    block: np.ndarray
    counts: np.ndarray
    block_descriptor: np.ndarray
    block_met: np.ndarray
    block_own: np.ndarray
    recurring: np.ndarray
    own: np.ndarray
    centre: np.ndarray
    sizes: tuple[int, int, int]
    pots: bool

    @property
    def tasters(self) -> int:
        """Number of tasters, T."""
        return self.taster_sum.shape[1]

    @property
    def place(self) -> np.ndarray:
        """Place of each row's lot among those that recur; -1 where it does not."""
        at = np.full(self.sizes[2], -1)
        at[self.recurring] = np.arange(len(self.recurring))
        return at[self.lot]

    @property
    def scores(self) -> np.ndarray:
        """Looks of each descriptor, shape (D,)."""
        return np.bincount(self.descriptor, self.counts.sum(axis=(1, 2))[self.block], self.sizes[0])

    @property
    def lots(self) -> np.ndarray:
        """Lots of each descriptor that were scored, shape (D,)."""
        return np.isfinite(self.centre).sum(axis=1)

    @cached_property
    def groups(self) -> SeasonGroups:
        """Rows that differ in their scores alone, taken as one."""
        return season_groups(self)

    def take(self, keep: np.ndarray) -> SeasonRows:
        """The rows of some descriptors (ascending), renumbered from 0."""
        if len(keep) == self.sizes[0]:
            return self
        new = np.full(self.sizes[0], -1)
        new[keep] = np.arange(len(keep))
        rows, blocks = new[self.descriptor] >= 0, new[self.block_descriptor] >= 0
        number = np.cumsum(blocks) - 1
        return replace(
            self,
            **{name: getattr(self, name)[rows] for name in ("session", "lot", "taster_sum", "pot_sum", "squares")},
            descriptor=new[self.descriptor[rows]],
            block=number[self.block[rows]],
            counts=self.counts[blocks],
            block_descriptor=new[self.block_descriptor[blocks]],
            block_met=self.block_met[blocks],
            block_own=self.block_own[blocks],
            centre=self.centre[keep],
            sizes=(len(keep), *self.sizes[1:]),
        )


@dataclass(frozen=True, eq=False)
class SeasonCells:
    """Cells in long form: codes from 0 of descriptor, session, lot, taster and pot, each with looks and their mean."""

    descriptor: np.ndarray
    session: np.ndarray
    lot: np.ndarray
    taster: np.ndarray
    pot: np.ndarray
    looks: np.ndarray
    mean: np.ndarray
    within_ss: np.ndarray

    def take(self, keep: np.ndarray) -> SeasonCells:
        """The cells of a mask or index."""
        return SeasonCells(**{name: value[keep] for name, value in vars(self).items()})

    @property
    def spread(self) -> np.ndarray:
        """Largest less smallest mean of each descriptor, and more where looks behind one mean differed."""
        d = int(self.descriptor.max(initial=-1)) + 1
        high, low, within = np.full(d, -np.inf), np.full(d, np.inf), np.zeros(d)
        np.maximum.at(high, self.descriptor, self.mean)
        np.minimum.at(low, self.descriptor, self.mean)
        np.maximum.at(within, self.descriptor, self.within_ss)
        return np.maximum(high - low, np.sqrt(within))

    @property
    def never_differ_within(self) -> np.ndarray:
        """Whether a lot was looked at more than once by one taster of a session, and never with another score.

        A mask over the cells, alike for all of a descriptor.
        """
        one, at = self._one_look_each()
        within = self.within_ss + self.looks * (self.mean - one.mean[at]) ** 2
        d = int(self.descriptor.max(initial=-1)) + 1
        total, looks = np.bincount(self.descriptor, within, d), np.bincount(self.descriptor, self.looks, d)
        cells = np.bincount(one.descriptor, minlength=d)
        spread = np.where(cells > 0, self.spread, 0.0)
        return ((total <= ROUNDING * looks * spread**2) & (looks > cells) & (spread > 0))[self.descriptor]

    def one_look_each(self) -> SeasonCells:
        """Cell means over pots as single looks."""
        return self._one_look_each()[0]

    def _one_look_each(self) -> tuple[SeasonCells, np.ndarray]:
        """The same, and where each cell went."""
        keys = self.descriptor, self.session, self.lot, self.taster
        shape = tuple(int(key.max(initial=0)) + 1 for key in keys)
        cell, at = np.unique(np.ravel_multi_index(keys, shape), return_inverse=True)
        looks = np.bincount(at, self.looks)
        one, zero = np.ones(len(cell)), np.zeros(len(cell))
        mean = np.bincount(at, self.looks * self.mean) / looks
        descriptor, session, lot, taster = np.unravel_index(cell, shape)
        return SeasonCells(descriptor, session, lot, taster, zero.astype(int), one, mean, zero), at


def season_rows(
    cells: SeasonCells, sizes: tuple[int, int, int, int], *, pots: bool, controls: np.ndarray | None = None
) -> SeasonRows:
    """Reduce cells to the rows of the season model.

    Parameters
    ----------
    cells : SeasonCells
        Looks of at least 1; a pot's code needs to mean nothing beyond its session and lot.
    sizes : tuple of int
        Numbers of descriptors, sessions, lots, tasters.
    pots : bool
        Whether pots are shared by the tasters, and so a factor of the model.
    controls : ndarray of int, optional
        Lots that keep a term for lot:taster of their own where too many lots recur for all to have one.
    """
    d, s, lots, t = sizes
    centre = _centre(cells, d, lots)
    score = cells.mean - centre[cells.descriptor, cells.lot]
    key, row = np.unique(
        np.ravel_multi_index((cells.descriptor, cells.session, cells.lot), (d, s, lots)), return_inverse=True
    )
    descriptor, session, lot = np.unravel_index(key, (d, s, lots))
    pot = _from_0(row, cells.pot) if pots else np.zeros_like(row)
    width = int(pot.max(initial=0)) + 1
    flat = (row * t + cells.taster) * width + pot
    shape = (len(key), t, width)
    looks = np.bincount(flat, cells.looks, np.prod(shape)).reshape(shape)
    total = np.bincount(flat, cells.looks * score, np.prod(shape)).reshape(shape)
    recurring = _recurring(session, lot, s)
    own = np.arange(len(recurring))
    if len(recurring) * t > MOST_TERMS:
        own = np.flatnonzero(np.isin(recurring, controls if controls is not None else recurring[: MOST_TERMS // t]))
    met, has_own = np.isin(lot, recurring), np.isin(lot, recurring[own])
    kinds = np.concatenate([descriptor[:, None], met[:, None], has_own[:, None], looks.reshape(len(key), -1)], axis=1)
    _, first, block = np.unique(kinds, axis=0, return_index=True, return_inverse=True)
    return SeasonRows(
        descriptor=descriptor,
        session=session,
        lot=lot,
        taster_sum=total.sum(axis=2),
        pot_sum=total.sum(axis=1) if pots else np.zeros((len(key), 0)),
        squares=np.bincount(row, cells.within_ss + cells.looks * score**2),
        block=block,
        counts=looks[first],
        block_descriptor=descriptor[first],
        block_met=met[first],
        block_own=has_own[first],
        recurring=recurring,
        own=own,
        centre=centre,
        sizes=(d, s, lots),
        pots=pots,
    )


def _from_0(row: np.ndarray, pot: np.ndarray) -> np.ndarray:
    """Number the pots of each row from 0."""
    low = int(pot.min(initial=0))
    width = int(pot.max(initial=0)) - low + 1
    pairs, at = np.unique(row * width + (pot - low), return_inverse=True)
    of = pairs // width
    return (np.arange(len(pairs)) - np.searchsorted(of, of))[at]


def _centre(cells: SeasonCells, d: int, lots: int) -> np.ndarray:
    """Plain mean of the cells of each descriptor and lot; NaN where there is none."""
    at = cells.descriptor * lots + cells.lot
    number = np.bincount(at, minlength=d * lots)
    with np.errstate(invalid="ignore"):
        return (np.bincount(at, cells.mean, d * lots) / np.where(number > 0, number, np.nan)).reshape(d, lots)


def _recurring(session: np.ndarray, lot: np.ndarray, sessions: int) -> np.ndarray:
    """Lots that some descriptor met in two sessions or more."""
    met = np.unique(lot * sessions + session) // sessions
    found, times = np.unique(met, return_counts=True)
    return found[times > 1]
