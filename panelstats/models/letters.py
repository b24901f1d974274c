"""Letters for means: two share a letter exactly when they were not found different."""

from __future__ import annotations

from string import ascii_letters

import numpy as np

from panelstats.errors import DesignError

# More letters than lots can be read (common practice), and the number of columns can grow beyond all bounds.
MOST_LOTS = 20


def letter_columns(different: np.ndarray, means: np.ndarray) -> np.ndarray:
    """Groups of means not found different from one another, as columns.

    Parameters
    ----------
    different : ndarray of bool, shape (lot, lot)
        Whether the pair was found different, by the pair's own test; read from either triangle.
    means : ndarray of float, shape (lot,)
        Columns run from the one with the highest mean down. A lot whose mean is NaN is in no column.

    Returns
    -------
    ndarray of bool, shape (lot, column)
        Two lots share a column exactly when they are not different; no column lies within another.

    Raises
    ------
    DesignError
        More than 20 lots.

    Notes
    -----
    Insert and absorb (Piepho 2004, Journal of Computational and Graphical Statistics 13: 456-466). With unequal
    standard errors a group need not be a run of neighbours.

    Examples
    --------
    >>> far = np.array([[False, False, True], [False, False, False], [True, False, False]])
    >>> print(letter_columns(far, np.array([7.0, 6.0, 5.0])).astype(int))
    [[1 0]
     [1 1]
     [0 1]]
    """
    if len(means) > MOST_LOTS:
        raise DesignError(
            f"letters cannot be read for {len(means)} lots",
            where="letters",
            do=f"compare at most {MOST_LOTS} lots, or each lot with one control",
        )
    highest_first = [int(lot) for lot in np.argsort(-means, kind="stable") if not np.isnan(means[lot])]
    pairs = np.asarray(different) | np.asarray(different).T
    columns = [(1 << len(highest_first)) - 1] if highest_first else []  # bit i stands for the i-th highest mean
    for i, lot in enumerate(highest_first):
        for j in range(i):
            if pairs[lot, highest_first[j]]:
                columns = _split(columns, 1 << i, 1 << j)
    held = np.zeros((len(means), len(columns)), dtype=bool)
    for place, lot in enumerate(highest_first):
        held[lot] = [bool(column >> place & 1) for column in columns]
    by_best = sorted(range(len(columns)), key=lambda c: tuple(~held[highest_first, c]))
    return held[:, by_best]


def _split(columns: list[int], one: int, other: int) -> list[int]:
    """Replace each column that holds both by two, each without one of them; drop what lies within another."""
    both = one | other
    kept = [column for column in columns if column & both != both]
    halves = [column & ~lot for column in columns if column & both == both for lot in (one, other)]
    # no column lay within another, so no half lies within another half: only the columns kept can absorb one
    return kept + [half for half in halves if all(half & ~column for column in kept)]


def letters(different: np.ndarray, means: np.ndarray) -> list[str]:
    """Letters of each lot, from the highest mean down: lots that share one were not found different.

    Parameters
    ----------
    different, means
        As for `letter_columns`.

    Returns
    -------
    list of str
        Empty for a lot whose mean is NaN; empty for all where 52 letters do not suffice.

    Examples
    --------
    >>> far = np.array([[False, False, True], [False, False, False], [True, False, False]])
    >>> letters(far, np.array([5.0, 6.0, 7.0]))
    ['b', 'ab', 'a']
    """
    columns = letter_columns(different, means)
    if columns.shape[1] > len(ascii_letters):
        return [""] * len(columns)
    return ["".join(letter for letter, held in zip(ascii_letters, row, strict=False) if held) for row in columns]
