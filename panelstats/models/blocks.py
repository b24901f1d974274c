"""What the mixed model needs of the scores: one block per descriptor and incidence, however many lots share it.

A lot's share of the likelihood depends on which tasters met which of its pots (its incidence) and on T + P numbers: the
cell means and the pot totals of within-cell deviations. Lots of one descriptor with the same incidence share all
matrices, and of their numbers only the first and second moments enter, so the cost of an iteration does not grow with
the number of lots.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from functools import cached_property
from typing import Any

import numpy as np

# Codes of rows are packed into one integer as long as they stay below this.
LARGEST_CODE = 2**62
# Rows whose squares are held at a time.
AT_ONCE = 50_000


@dataclass(frozen=True, eq=False)
class Blocks:
    """Sufficient statistics of the mixed model for D descriptors, T tasters and up to P pots a lot.

    Attributes
    ----------
    counts : ndarray of float, shape (B, T, P)
        Scores per taster and pot in each block.
    lots : ndarray of float, shape (B,)
        Number of lots in the block.
    descriptor : ndarray of int, shape (B,)
        Descriptor of the block; ascending.
    first : ndarray of float, shape (B, T + P)
        Sum over the block's lots of z: cell means (centred, less `shift`) and pot totals of within-cell deviations.
    second : ndarray of float, shape (B, T + P, T + P)
        Sum of the outer products of z.
    shift : ndarray of float, shape (D, T)
        Level taken off each taster's cell means, so that no digits are lost to large differences of level.
    within_ss : ndarray of float, shape (D,)
        Sum of squares within cells.
    scores, cells, p : ndarray of int, shape (D,)
        Numbers of scores, of non-empty cells, and of lots scored.
    row_descriptor, row_lot, row_block : ndarray of int, shape (R,)
        The (descriptor, lot) pairs that were scored, in the order of descriptors and lots.
    z : ndarray of float, shape (R, T + P)
    centre : ndarray of float, shape (R,)
        What was taken off each lot's cell means.
    pots : bool
        Whether pots are a factor of the model (shared), or part of the residual (own: P is 0).
    group : ndarray of int, shape (T,)
        Where lots are random, those met by tasters of one group have one mean; no lot is met by two groups.
    """

    counts: np.ndarray
    lots: np.ndarray
    descriptor: np.ndarray
    first: np.ndarray
    second: np.ndarray
    shift: np.ndarray
    within_ss: np.ndarray
    scores: np.ndarray
    cells: np.ndarray
    p: np.ndarray
    row_descriptor: np.ndarray
    row_lot: np.ndarray
    row_block: np.ndarray
    z: np.ndarray
    centre: np.ndarray
    pots: bool
    group: np.ndarray

    @property
    def tasters(self) -> int:
        """Number of tasters, T."""
        return self.counts.shape[1]

    def per_descriptor(self, values: np.ndarray) -> np.ndarray:
        """Sum over the blocks of each descriptor: (B, ...) -> (D, ...)."""
        return np.add.reduceat(values, self._starts, axis=0)

    @cached_property
    def _starts(self) -> np.ndarray:
        """The first block of each descriptor."""
        return np.searchsorted(self.descriptor, np.arange(len(self.p)))

    def take(self, keep: np.ndarray) -> Blocks:
        """The blocks of some descriptors (ascending index), renumbered from 0; rows are left behind."""
        new = np.full(len(self.p), -1)
        new[keep] = np.arange(len(keep))
        mine = new[self.descriptor] >= 0
        return replace(
            self,
            counts=self.counts[mine],
            lots=self.lots[mine],
            descriptor=new[self.descriptor[mine]],
            first=self.first[mine],
            second=self.second[mine],
            **{name: getattr(self, name)[keep] for name in ("shift", "within_ss", "scores", "cells", "p")},
        )


def blocks(looks: np.ndarray, mean: np.ndarray, within_ss: np.ndarray, *, pots: bool) -> Blocks:
    """Reduce a grid of cells to blocks, lots fixed.

    Parameters
    ----------
    looks, mean, within_ss : ndarray, shape (lot, taster, brew, descriptor)
        Number of looks (0 where not scored), their mean and sum of squares about it; no descriptor without a score.
    pots : bool
        Whether brews are pots shared by the tasters. If not, brews are taken together.
    """
    n = np.moveaxis(looks, -1, 0)  # (descriptor, lot, taster, brew)
    y = np.moveaxis(mean, -1, 0)
    n_cell = n.sum(axis=3)
    cell_mean = (n * y).sum(axis=3) / np.maximum(n_cell, 1)
    deviation = np.where(n > 0, y - cell_mean[..., None], 0.0)
    ss = np.moveaxis(within_ss, -1, 0).sum(axis=(1, 2, 3)) + (n * deviation**2).sum(axis=(1, 2, 3))
    if not pots:
        n, deviation = n_cell[..., None], np.zeros((*n_cell.shape, 0))
    descriptor, lot = np.nonzero(n_cell.any(axis=2))
    row_n, row_m = n[descriptor, lot], cell_mean[descriptor, lot]
    centre, shift, m = _centred(row_m, row_n.sum(axis=2) > 0, descriptor, len(n))
    rho = (row_n[:, :, : deviation.shape[3]] * deviation[descriptor, lot]).sum(axis=1)
    z = np.concatenate([m, rho], axis=1)
    one_of, block = _patterns(descriptor, row_n)
    first, second = _moments(z, block, len(one_of))
    return Blocks(
        counts=row_n[one_of].astype(float),
        lots=np.bincount(block).astype(float),
        descriptor=descriptor[one_of],
        first=first,
        second=second,
        shift=shift,
        within_ss=ss,
        scores=n_cell.sum(axis=(1, 2)),
        cells=(n_cell > 0).sum(axis=(1, 2)),
        p=np.bincount(descriptor, minlength=len(n)),
        row_descriptor=descriptor,
        row_lot=lot,
        row_block=block,
        z=z,
        centre=centre,
        pots=pots,
        group=np.zeros(row_n.shape[1], int),
    )


def for_random_lots(b: Blocks, group: np.ndarray | None = None) -> Blocks:
    """The same blocks with the differences between lots put back: where lots are random these carry information.

    `group` (taster,) are groups of tasters that never meet one lot (a taster in each of several classes), each of which
    has a mean of its own; one group by default.
    """
    group = b.group if group is None else group
    seen = b.counts.sum(axis=2) > 0
    member = group[seen.argmax(axis=1)][b.row_block]
    mean = _group_means(b.centre, b.row_descriptor * (int(group.max()) + 1) + member)
    back = b.centre - mean
    z, pattern = b.z.copy(), np.zeros_like(b.first)
    z[:, : b.tasters] += np.where(seen[b.row_block], back[:, None], 0.0)
    pattern[:, : b.tasters] = seen
    size = len(b.lots)
    cross = _sums(back[:, None] * b.z, b.row_block, size)[:, :, None] * pattern[:, None, :]
    square = np.bincount(b.row_block, back**2, size)[:, None, None] * pattern[:, :, None] * pattern[:, None, :]
    first = b.first + np.bincount(b.row_block, back, size)[:, None] * pattern
    second = b.second + cross + np.swapaxes(cross, 1, 2) + square
    return replace(b, z=z, first=first, second=second, centre=mean, group=group)


def _group_means(values: np.ndarray, group: np.ndarray) -> np.ndarray:
    """Each value's mean over its group."""
    return (np.bincount(group, values) / np.maximum(np.bincount(group), 1))[group]


def _patterns(descriptor: np.ndarray, counts: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """One row of each distinct (descriptor, incidence), in ascending order, and the pattern of each row."""
    code, size = descriptor.astype(np.int64), int(descriptor.max(initial=0)) + 1
    for column in counts.reshape(len(counts), -1).T:
        width = int(column.max(initial=0)) + 1
        if size > LARGEST_CODE // width:
            distinct, code = np.unique(code, return_inverse=True)
            size = len(distinct)
        code, size = code * width + column, size * width
    _, one_of, block = np.unique(code, return_index=True, return_inverse=True)
    return one_of, block


def _centred(
    m: np.ndarray, seen: np.ndarray, descriptor: np.ndarray, d: int
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Take taster levels and lot averages off the cell means."""
    per_lot = np.maximum(seen.sum(axis=1), 1)
    residual = np.where(seen, m - ((m * seen).sum(axis=1) / per_lot)[:, None], 0.0)
    shift = _sums(residual, descriptor, d) / np.maximum(_sums(seen.astype(float), descriptor, d), 1)
    m = np.where(seen, m - shift[descriptor], 0.0)
    centre = m.sum(axis=1) / per_lot
    return centre, shift, np.where(seen, m - centre[:, None], 0.0)


def _sums(values: np.ndarray, group: np.ndarray, groups: int) -> np.ndarray:
    """Column sums by group: (R, K) -> (groups, K)."""
    return np.stack([np.bincount(group, column, minlength=groups) for column in values.T], axis=1)


def _moments(z: np.ndarray, block: np.ndarray, blocks_: int) -> tuple[np.ndarray, np.ndarray]:
    """First and second moments of z by block, in slices of rows so that memory stays flat."""
    width = z.shape[1]
    first, second = np.zeros((blocks_, width)), np.zeros((blocks_, width, width))
    order = np.argsort(block, kind="stable")
    for at in range(0, len(order), AT_ONCE):
        part = order[at : at + AT_ONCE]
        label, starts = np.unique(block[part], return_index=True)
        first[label] += np.add.reduceat(z[part], starts, axis=0)
        second[label] += np.add.reduceat(z[part, :, None] * z[part, None, :], starts, axis=0)
    return first, second


def side_by_side(parts: list[Blocks]) -> Blocks:
    """Blocks of several classes of lots as further descriptors, numbered in turn; all have the same tasters."""
    pots = max(part.counts.shape[2] for part in parts)
    parts = [_wider(part, pots) for part in parts]
    starts = np.cumsum([0, *(len(part.p) for part in parts)])
    block_starts = np.cumsum([0, *(len(part.lots) for part in parts)])
    shifted = {"descriptor": starts, "row_descriptor": starts, "row_block": block_starts}
    joined: dict[str, Any] = {}
    for name in (one.name for one in fields(Blocks)):
        if isinstance(getattr(parts[0], name), np.ndarray) and name != "group":
            moves = shifted.get(name, np.zeros(len(parts), int))
            joined[name] = np.concatenate([getattr(part, name) + moves[k] for k, part in enumerate(parts)])
    return replace(parts[0], **joined)


def _wider(b: Blocks, pots: int) -> Blocks:
    """The same blocks with room for more pots a lot, none of which was tasted."""
    more = pots - b.counts.shape[2]
    if not more:
        return b
    counts = np.pad(b.counts, [(0, 0), (0, 0), (0, more)])
    if not b.pots:
        return replace(b, counts=counts)
    pad = [(0, 0), (0, more)]
    second = np.pad(b.second, [(0, 0), (0, more), (0, more)])
    return replace(b, counts=counts, first=np.pad(b.first, pad), z=np.pad(b.z, pad), second=second)
