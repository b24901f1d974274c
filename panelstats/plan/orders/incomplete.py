"""Blocks for lots that outnumber what a taster may take: balanced, cyclic, alpha, or dealt at random and improved."""

from __future__ import annotations

from itertools import combinations, islice
from math import comb
from typing import TYPE_CHECKING

import numpy as np

from panelstats.plan.orders.efficiency import efficiency_of, incidence_of, resolvable_bound
from panelstats.plan.orders.swaps import dealt_blocks, improved_blocks

if TYPE_CHECKING:
    from numpy.random import Generator

    Blocks = list[np.ndarray]

TRIES = 60  # columns tried for a replicate, and starting blocks of a cyclic plan (ours)
MANY_BLOCKS, FEW_TRIES = 150, 6
CLOSE = 0.985  # share of the bound at which the search stops (ours)
SWAPS = 20_000  # exchanges tried where blocks were dealt at random (ours)


def cyclic_blocks(lots: int, size: int, rng: Generator) -> Blocks:
    """As many blocks as lots, each the one before moved on by one; every lot once in each position.

    Among starting blocks the one whose differences occur most evenly is kept: a difference set, where one is met, gives
    a balanced plan (Bose 1939, from memory).

    Examples
    --------
    >>> [block.tolist() for block in cyclic_blocks(7, 3, np.random.default_rng(0))][:2]
    [[0, 1, 3], [1, 2, 4]]
    """
    few = comb(lots - 1, size - 1) <= 5000
    others = np.arange(1, lots)
    drawn = combinations(others, size - 1) if few else (rng.permutation(others)[: size - 1] for _ in range(20 * TRIES))
    starts = np.array([[0, *rest] for rest in islice(drawn, 5000)])
    differences = ((starts[:, :, None] - starts[:, None, :]) % lots).reshape(len(starts), -1)
    counts = np.stack([(differences == each).sum(axis=1) for each in range(1, lots)], axis=1)
    start = starts[np.argmin((counts**2).sum(axis=1))]
    return [(start + moved) % lots for moved in range(lots)]


def plane_blocks(size: int) -> Blocks:
    """Lots size x size in all blocks of an affine plane, every pair once; `size` is a prime number.

    Examples
    --------
    >>> len(plane_blocks(3)), plane_blocks(3)[0].tolist()
    (12, [0, 3, 6])
    """
    row = np.arange(size)
    slopes = [row * size + (block + slope * row) % size for slope in range(size) for block in range(size)]
    return [*slopes, *(block * size + row for block in range(size))]


def alpha_blocks(lots: int, blocks: int, columns: np.ndarray) -> list[Blocks]:
    """Complete replicates of so many blocks each from an array of columns, one a replicate.

    Block j of a replicate with column a holds, for each i, lot i s + (a_i + j) mod s, s blocks a replicate. Lots from
    `lots` on are dummies and left out: at most one in a block.

    Notes
    -----
    Patterson & Williams 1976, Biometrika 63: 83.
    """
    row = np.arange(columns.shape[1])
    whole = [[row * blocks + (column + each) % blocks for each in range(blocks)] for column in columns]
    return [[block[block < lots] for block in replicate] for replicate in whole]


def alpha_columns(lots: int, blocks: int, replicates: int, rng: Generator) -> np.ndarray:
    """Columns of a good alpha array: (replicates, size); each is the best of those tried beside the ones before it.

    One more replicate leaves the others as they were.
    """
    size = -(-lots // blocks)
    columns = np.zeros((1, size), np.int64)
    for replicate in range(1, replicates):
        found, best = 0.0, columns
        bound = resolvable_bound(lots, blocks, replicate + 1)
        # A try takes the cube of the number of blocks.
        most = TRIES if blocks * (replicate + 1) <= MANY_BLOCKS else FEW_TRIES
        for _ in range(min(most, 1 + blocks ** (size - 1))):
            tried = np.vstack([columns, [0, *rng.integers(0, blocks, size - 1)]])
            flat = [block for each in alpha_blocks(lots, blocks, tried) for block in each]
            reached = _reached(flat, lots)
            if reached > found:
                found, best = reached, tried
            if found >= CLOSE * bound:
                break
        columns = best
    return columns


def replicates_of(lots: int, blocks: int, replicates: int, rng: Generator) -> list[Blocks]:
    """Complete replicates, each cut into so many blocks whose sizes differ by one at most; names of lots at random."""
    names = rng.permutation(lots)
    if blocks == 1:
        return [[names.copy()] for _ in range(replicates)]
    found = alpha_blocks(lots, blocks, alpha_columns(lots, blocks, replicates, rng))
    return [[names[block] for block in replicate] for replicate in found]


def sheets_of(lots: int, tasters: int, per_taster: int, looks: int, rng: Generator) -> tuple[list[Blocks], str]:
    """Blocks by taster, `per_taster` each, in which every lot comes to `looks` different tasters.

    Of the ways that fit these numbers the most efficient is taken; sizes of blocks differ by one at most.

    Returns
    -------
    blocks : list of list of ndarray
        By taster.
    way : str
        balanced, cyclic, replicates, or random.
    """
    total = tasters * per_taster
    names = rng.permutation(lots)
    found: list[tuple[list[Blocks], str]] = []
    size = lots * looks // total
    if per_taster == 1 and lots * looks == total * size and size >= 2:
        if total == lots:
            found.append(([[names[b]] for b in cyclic_blocks(lots, size, rng)], "cyclic"))
        if lots == size * size and total == size * (size + 1) and _is_prime(size):
            found.append(([[names[b]] for b in plane_blocks(size)], "balanced"))
    if total % looks == 0 and (total // looks) % per_taster == 0 and lots >= total // looks:
        flat = [block for each in replicates_of(lots, total // looks, looks, rng) for block in each]
        found.append(([flat[at : at + per_taster] for at in range(0, total, per_taster)], "replicates"))
    whole = looks == tasters  # each taster's blocks are a replicate of their own, whoever else joins
    if not whole and not any(way in ("balanced", "cyclic") for _, way in found):
        dealt, owner = dealt_blocks(lots, tasters, per_taster, looks, rng)
        flat = improved_blocks(dealt, owner, lots, rng, SWAPS)
        found.append(([flat[at : at + per_taster] for at in range(0, total, per_taster)], "random"))
    blocks, way = max(found, key=lambda each: _reached([block for mine in each[0] for block in mine], lots))
    return blocks, "balanced" if way == "cyclic" and _is_balanced(blocks, lots) else way


def _reached(blocks: Blocks, lots: int) -> float:
    """Efficiency to nine digits: of plans as good as each other the same is taken on every processor."""
    return round(efficiency_of(incidence_of(blocks, lots), worst=False).efficiency, 9)


def _is_balanced(blocks: list[Blocks], lots: int) -> bool:
    """Whether every pair of lots meets equally often."""
    counts = incidence_of([b for each in blocks for b in each], lots)
    met = (counts @ counts.T)[~np.eye(lots, dtype=bool)]
    return bool(met.min() == met.max())


def _is_prime(n: int) -> bool:
    return n > 1 and all(n % each for each in range(2, int(n**0.5) + 1))
