"""Blocks dealt at random, and improved by exchanges of two lots."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.random import Generator


def dealt_blocks(
    lots: int, tasters: int, per_taster: int, looks: int, rng: Generator
) -> tuple[list[np.ndarray], np.ndarray]:
    """Every lot to `looks` different tasters, in blocks whose sizes differ by one at most; and who owns each block.

    Lots go, in random order, to the tasters who have fewest, those first who met least in one lot.
    """
    load, met = np.zeros(tasters), np.zeros((tasters, tasters))
    mine: list[list[int]] = [[] for _ in range(tasters)]
    for lot in rng.permutation(lots):
        chosen: list[int] = []
        for _ in range(looks):
            key = load + 0.01 * met[:, chosen].sum(axis=1) / (1 + met.max()) + 1e-6 * rng.random(tasters)
            key[chosen] = np.inf
            chosen.append(int(np.argmin(key)))
        load[chosen] += 1
        met[np.ix_(chosen, chosen)] += 1
        for taster in chosen:
            mine[taster].append(int(lot))
    blocks = [np.sort(part) for own in mine for part in np.array_split(rng.permutation(own), per_taster)]
    return blocks, np.repeat(np.arange(tasters), per_taster)


def improved_blocks(
    blocks: list[np.ndarray], owner: np.ndarray, lots: int, rng: Generator, tries: int
) -> list[np.ndarray]:
    """Exchange lots of two blocks wherever that lowers the sum of squares of how often two lots meet.

    No lot comes twice to one taster by it. Stops after a fixed number of tries, or where nothing was gained for long.
    """
    blocks = [block.copy() for block in blocks]
    if len(blocks) < 2:
        return blocks
    meet = _meetings(blocks, lots)
    has = np.zeros((owner.max() + 1, lots), bool)
    for block, taster in zip(blocks, owner, strict=True):
        has[taster, block] = True
    idle, patience = 0, 20 * sum(map(len, blocks))
    draws = rng.random((tries, 4))
    for draw in draws:
        a, b = int(draw[0] * len(blocks)), int(draw[1] * len(blocks))
        idle += 1
        if idle > patience:
            break
        if a == b or not len(blocks[a]) or not len(blocks[b]):
            continue
        i, j = int(draw[2] * len(blocks[a])), int(draw[3] * len(blocks[b]))
        if _exchanged((blocks[a], i, int(owner[a])), (blocks[b], j, int(owner[b])), has, meet):
            idle = 0
    return blocks


def _meetings(blocks: list[np.ndarray], lots: int) -> np.ndarray:
    """How often two lots stand in one block: (lots, lots), nothing on the diagonal."""
    meet = np.zeros((lots, lots), np.int32)
    for block in blocks:
        meet[np.ix_(block, block)] += 1
    np.fill_diagonal(meet, 0)
    return meet


def _exchanged(
    first: tuple[np.ndarray, int, int], second: tuple[np.ndarray, int, int], has: np.ndarray, meet: np.ndarray
) -> bool:
    """Exchange a lot of each block where that gains something; whether it was done."""
    (A, i, one), (B, j, other) = first, second
    x, y = A[i], B[j]
    if x == y or (one != other and (has[other, x] or has[one, y])):
        return False
    # Lots of both blocks meet x and y as before.
    rest, there = np.setdiff1d(A, [*B, x], assume_unique=True), np.setdiff1d(B, [*A, y], assume_unique=True)
    gain = (meet[x, rest] - meet[y, rest]).sum() + (meet[y, there] - meet[x, there]).sum()
    # (m - 1)^2 - m^2 = 1 - 2 m for what is parted, (m + 1)^2 - m^2 = 1 + 2 m for what meets anew.
    if gain <= len(rest) + len(there):
        return False
    for lot, left, joined in ((x, rest, there), (y, there, rest)):
        meet[lot, left] -= 1
        meet[left, lot] -= 1
        meet[lot, joined] += 1
        meet[joined, lot] += 1
    A[i], B[j] = y, x
    if one != other:
        has[one, x] = has[other, y] = False
        has[one, y] = has[other, x] = True
    return True
