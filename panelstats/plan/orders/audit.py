"""What is balanced in the orders as served: positions, neighbours, a lot beside itself."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy.optimize import linear_sum_assignment


@dataclass(frozen=True)
class Audit:
    """Counts over all orders of a plan.

    Attributes
    ----------
    lots : DataFrame
        lot, servings, first (how often in the first position), mean_position, position_gap (most often less least often
        in a position).
    position_gap : int
        Most often less least often of any lot in any position.
    neighbours_most, neighbours_least : int
        How often a lot followed another, the most and the least frequent of all ordered pairs.
    beside_itself : int
        How often two pots of one lot stood side by side.
    """

    lots: pd.DataFrame
    position_gap: int
    neighbours_most: int
    neighbours_least: int
    beside_itself: int


def audit(orders: list[np.ndarray], names: list[str]) -> Audit:
    """Count positions and neighbours.

    Parameters
    ----------
    orders : list of ndarray of int
        Lots by number, in the order one taster took them, an array for each taster and round.
    names : list of str
        Name of each lot.

    Examples
    --------
    >>> from panelstats.plan.orders.squares import williams_rows
    >>> found = audit(list(williams_rows(4, range(4))), list("abcd"))
    >>> found.position_gap, found.neighbours_most, found.neighbours_least, found.beside_itself
    (0, 1, 1, 0)
    """
    lots, longest = len(names), max(map(len, orders))
    lot = np.concatenate(orders)
    place = np.concatenate([np.arange(len(order)) for order in orders])
    table = np.zeros((lots, longest), np.int64)
    np.add.at(table, (lot, place), 1)
    most, least, itself = _neighbours(orders, lots)
    served = table.sum(axis=1)
    gap = table.max(axis=1) - table.min(axis=1)
    mean = (table @ np.arange(1, longest + 1)) / np.maximum(served, 1)
    told = {"lot": names, "servings": served, "first": table[:, 0], "mean_position": mean, "position_gap": gap}
    return Audit(pd.DataFrame(told), int(table.max() - table.min()), most, least, itself)


def _neighbours(orders: list[np.ndarray], lots: int) -> tuple[int, int, int]:
    """Most and least frequent ordered pair of different lots, and how often a lot follows itself."""
    before = np.concatenate([order[:-1] for order in orders])
    after = np.concatenate([order[1:] for order in orders])
    same = before == after
    pairs, times = np.unique((before * lots + after)[~same], return_counts=True)
    every = len(pairs) == lots * (lots - 1)
    return int(times.max(initial=0)), int(times.min()) if every and len(times) else 0, int(same.sum())


class Positions:
    """Orders of blocks, one after another, each lot where it stood least often before."""

    def __init__(self, lots: int, longest: int) -> None:
        self._stood = np.zeros((lots, longest))

    def order(self, block: np.ndarray, rng: np.random.Generator) -> np.ndarray:
        """The block in an order that evens out positions; ties are drawn."""
        stood = self._stood[block, : len(block)]
        _, place = linear_sum_assignment(stood**2 + rng.random(stood.shape) * 0.5)
        out = np.empty(len(block), np.int64)
        out[place] = block
        np.add.at(self._stood, (out, np.arange(len(out))), 1)
        return out
