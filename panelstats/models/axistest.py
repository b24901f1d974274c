"""How many axes of a map the tasters agree on: lots relabelled within tasters, shared pots dealt out again."""

from __future__ import annotations

import numpy as np

# A statistic this near to the observed one counts as equal to it.
_EQUAL = 1e-9


def relabelled(
    marks: np.ndarray, seen: np.ndarray, block: np.ndarray, *, resamples: int, rng: np.random.Generator
) -> tuple[np.ndarray, np.ndarray]:
    """Squares and products of the panel's means, and of the means with lots relabelled within each taster.

    Parameters
    ----------
    marks : ndarray, shape (taster, lot, descriptor)
        Each taster's marks, his level taken off; whatever stands where not seen.
    seen : ndarray of bool, same shape
    block : ndarray of int, shape (lot,)
        Lots change places with lots of their own block, and what blocks differ by is taken off.
    resamples : int
    rng : Generator

    Returns
    -------
    observed : ndarray, shape (descriptor, descriptor)
    drawn : ndarray, shape (resample, descriptor, descriptor)

    Notes
    -----
    The taster is the unit: his lots change places as whole rows, among the lots he tasted, independently of those of
    the others. His scatter and the correlations of the descriptors stay what they are.
    """
    held = _blocks_off(np.where(seen, marks, 0.0), seen, block)
    parts = [[np.flatnonzero(one.any(axis=1) & (block == b)) for b in np.unique(block)] for one in seen]
    tasted = [np.concatenate(part) for part in parts]
    whole = all(seen[t, rows].all() for t, rows in enumerate(tasted))
    orders = ([np.concatenate([rng.permutation(rows) for rows in part]) for part in parts] for _ in range(resamples))
    count = seen.sum(axis=0)

    def squares(order: list[np.ndarray]) -> np.ndarray:
        total, n = np.zeros(held.shape[1:]), count if whole else np.zeros(count.shape, int)
        for t, (rows, drawn) in enumerate(zip(tasted, order, strict=True)):
            total[rows] += held[t, drawn]
            if not whole:
                n[rows] += seen[t, drawn]
        return products(total / np.maximum(n, 1), n > 0)

    return squares(tasted), np.stack([squares(order) for order in orders])


def _blocks_off(held: np.ndarray, seen: np.ndarray, block: np.ndarray) -> np.ndarray:
    """Marks less each taster's mean of their block, 0 where not seen."""
    member = np.equal.outer(np.unique(block), block).astype(float)  # (block, lot)
    mean = (member @ held) / np.maximum(member @ seen.astype(float), 1)
    return np.where(seen, held - member.T @ mean, 0.0)


def dealt(
    pots: np.ndarray, lot: np.ndarray, opinions: np.ndarray, *, resamples: int, rng: np.random.Generator
) -> tuple[np.ndarray, np.ndarray]:
    """The same of pots that all tasters shared, dealt out to the lots again.

    Parameters
    ----------
    pots : ndarray, shape (pot, descriptor)
        Panel means of the pots, levels of the tasters taken off.
    lot : ndarray of int, shape (pot,)
    opinions : ndarray, shape (taster, lot, descriptor)
        What is left of each taster's marks on a lot, 0 where he gave none.

    Notes
    -----
    A lot's mean carries what its pots differ by and what its tasters think of it. Dealing the pots again draws the
    first; opinions of a lot are common to its pots, so they are relabelled within tasters and added. Scatter of single
    marks stands in both: on the safe side.
    """
    sizes = np.bincount(lot).astype(float)
    member = np.zeros((len(sizes), len(lot)))
    member[lot, np.arange(len(lot))] = 1 / sizes[lot]
    everything = np.ones((len(sizes), pots.shape[1]), bool)

    def drawn() -> np.ndarray:
        thought = sum(one[rng.permutation(len(one))] for one in opinions) / len(opinions)
        return products(member @ pots[rng.permutation(len(lot))] + thought, everything)

    return products(member @ pots, everything), np.stack([drawn() for _ in range(resamples)])


def products(means: np.ndarray, known: np.ndarray) -> np.ndarray:
    """Squares and products of means about their mean by column; unknown ones count nothing."""
    centred = np.where(known, means - (means * known).sum(axis=0) / np.maximum(known.sum(axis=0), 1), 0.0)
    return np.asarray(centred.T @ centred)


def axis_p(observed: np.ndarray, drawn: np.ndarray, *, most: int) -> np.ndarray:
    """Of each axis, the chance of one as large beyond those before it, if the tasters agreed on nothing there.

    Parameters
    ----------
    observed, drawn : ndarray
        As `relabelled` gives them.
    most : int
        Axes to judge.

    Returns
    -------
    ndarray, shape (axis,)
        (1 + draws as large) / (1 + draws). Read them in order, up to the first that is not small.

    Notes
    -----
    Axis by axis the direction found is projected out of what was observed and of every draw, and the largest singular
    values are compared: a projection of columns commutes with a relabelling of rows, so one set of draws does for all.
    """
    p = np.full(most, np.nan)
    rest = np.eye(len(observed))
    floor = _EQUAL * max(float(np.trace(observed)), np.finfo(float).tiny)
    for k in range(most):
        values, vectors = np.linalg.eigh(rest @ observed @ rest)
        if values[-1] <= floor:
            break
        others, least = rest @ drawn @ rest, values[-1] * (1 - _EQUAL)
        unit = np.abs(others).max() or 1.0  # squares of very large numbers would overflow
        others = others[np.linalg.norm(others / unit, axis=(1, 2)) >= least / unit]  # no eigenvalue is larger
        p[k] = (1 + np.count_nonzero(np.linalg.eigvalsh(others)[:, -1] >= least)) / (1 + len(drawn))
        rest = rest - np.outer(vectors[:, -1], vectors[:, -1])
    return p


def trusted(p: np.ndarray, alpha: float) -> int:
    """How many axes come before the first that is not shown.

    Examples
    --------
    >>> trusted(np.array([0.001, 0.01, 0.4, 0.01]), 0.05)
    2
    """
    shown = np.nan_to_num(p, nan=1.0) <= alpha
    return int(np.argmin(shown)) if not shown.all() else len(shown)
