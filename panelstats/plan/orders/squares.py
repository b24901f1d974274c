"""Orders in which every taster takes every lot: position balanced, and so are the neighbours where that can be had."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.random import Generator


def williams_rows(n: int, which: Sequence[int] | np.ndarray) -> np.ndarray:
    """Rows of the squares for n lots by number: (rows, n); an odd n has a second square, the first one mirrored.

    In rows 0 to n - 1 (odd n: to 2 n - 1) every lot stands once (twice) in every position, every lot once (twice) right
    after every other; from there on they begin again.

    Notes
    -----
    Williams 1949, Australian Journal of Scientific Research A 2: 149.

    Examples
    --------
    >>> williams_rows(4, range(4)).tolist()
    [[0, 1, 3, 2], [1, 2, 0, 3], [2, 3, 1, 0], [3, 0, 2, 1]]
    """
    square, row = np.divmod(np.asarray(which, np.int64), n)
    step = (np.arange(n) + 1) // 2
    zigzag = np.where(np.arange(n) % 2 == 1, step, -step)  # 0, 1, n - 1, 2, n - 2, ...
    rows = (zigzag + row[:, None]) % n
    mirrored = (n % 2 == 1) & (square % 2 == 1)
    return np.where(mirrored[:, None], rows[:, ::-1], rows)


def dealt_rows(n: int, seats: Sequence[int], rng: Generator) -> np.ndarray:
    """Orders for tasters by their seats: (tasters, n); seat n is the first row of the second square.

    Where whole squares are full before the next is begun, position counts differ by 1 at most.

    Parameters
    ----------
    n : int
        Lots.
    seats : sequence of int
        As `seated` gives them.
    rng : Generator
        Names the lots anew, which keeps the balance.
    """
    return rng.permutation(n)[williams_rows(n, seats)]


def starting_places(n: int) -> np.ndarray:
    """Places of a row of n pots from which tasters set out, the next always far from those before it.

    Notes
    -----
    The places by their reversed binary digits (van der Corput 1935, from memory).

    Examples
    --------
    >>> starting_places(8).tolist()
    [0, 4, 2, 6, 1, 5, 3, 7]
    """
    digits = max(n - 1, 1).bit_length()
    reversed_ = [int(f"{place:0{digits}b}"[::-1], 2) for place in range(2**digits)]
    return np.array(list(dict.fromkeys((n * place) >> digits for place in reversed_)))
