"""Strong lots kept away from the controls of a row that all walk along."""

from __future__ import annotations

import numpy as np


def parted(
    item: np.ndarray, rounds: np.ndarray, strong: np.ndarray, controls: np.ndarray, rng: np.random.Generator
) -> np.ndarray:
    """Places of a row in a new order: a strong lot beside a control changes places with a mild one that is not.

    Parameters
    ----------
    item : ndarray of int
        What stands in each place.
    rounds : ndarray of int
        Round of each place; a round is a ring, since tasters set out anywhere.
    strong, controls : ndarray of int
        Numbers of lots.
    rng : Generator

    Returns
    -------
    ndarray of int
        `item[parted(...)]` is the row; as it was where no strong lot stands beside a control.

    Examples
    --------
    >>> row = np.array([9, 1, 2, 3, 4, 5])  # 9 is the control, 1 is strong
    >>> found = row[parted(row, np.zeros(6, int), np.array([1]), np.array([9]), np.random.default_rng(0))]
    >>> beside_controls(found, np.zeros(6, int), np.array([1]), np.array([9]))
    0
    """
    order = np.arange(len(item))
    for places in (np.flatnonzero(rounds == each) for each in np.unique(rounds)):
        for at in places:
            if not (np.isin(item[order[at]], strong) and _touched(item[order], places, controls)[places == at][0]):
                continue
            row = item[order[places]]
            free = places[~_touched(item[order], places, controls) & ~np.isin(row, [*strong, *controls])]
            # Not beside another pot of its own lot.
            twin = _touched(item[order], places, item[order[at : at + 1]])
            free = free[~twin[np.isin(places, free)]]
            if len(free):
                other = rng.choice(free)
                order[[at, other]] = order[[other, at]]
    return order


def beside_controls(item: np.ndarray, rounds: np.ndarray, strong: np.ndarray, controls: np.ndarray) -> int:
    """How many pots of strong lots stand beside a control."""
    touched = np.zeros(len(item), bool)
    for places in (np.flatnonzero(rounds == each) for each in np.unique(rounds)):
        touched[places] = _touched(item, places, controls)
    return int((touched & np.isin(item, strong)).sum())


def _touched(item: np.ndarray, places: np.ndarray, which: np.ndarray) -> np.ndarray:
    """Which places of one ring have one of these beside them."""
    here = np.isin(item[places], which)
    return (np.roll(here, 1) | np.roll(here, -1)) & (len(places) > 1)
