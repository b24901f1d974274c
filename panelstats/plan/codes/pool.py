"""Which numbers may serve as blind codes, and classes of them in which no slip of the pen leads to another code."""

from __future__ import annotations

from functools import lru_cache

import numpy as np

MODULUS = 11  # a prime above every digit and every weight: what makes the classes safe


@lru_cache(maxsize=8)
def code_pool(digits: int = 3, *, zeros: bool = True) -> np.ndarray:
    """Candidate codes in ascending order: no leading zero (spreadsheets eat it), all digits different, no run as 321.

    Parameters
    ----------
    digits : int
        3 or 4; 5 where a plan needs thousands.
    zeros : bool
        Allow a zero, which by hand may be taken for a letter.

    Examples
    --------
    >>> len(code_pool()), len(code_pool(zeros=False)), len(code_pool(4))
    (633, 490, 4523)
    """
    codes = np.arange(10 ** (digits - 1), 10**digits)
    parts = digits_of(codes, digits)
    ordered = np.sort(parts, axis=1)
    steps = np.diff(parts, axis=1)
    good = (ordered[:, 1:] != ordered[:, :-1]).all(axis=1)
    good &= ~((steps == 1).all(axis=1) | (steps == -1).all(axis=1))
    if not zeros:
        good &= (parts > 0).all(axis=1)
    return codes[good]


def digits_of(codes: np.ndarray, digits: int) -> np.ndarray:
    """Digits of codes, the first one first: (codes, digits)."""
    return codes[:, None] // 10 ** np.arange(digits - 1, -1, -1) % 10


def safe_class(codes: np.ndarray, digits: int) -> np.ndarray:
    """The class of each code: d1 + 2 d2 + 3 d3 (+ 4 d4 ...) modulo 11.

    One wrong digit moves it by a multiple of the weight, two exchanged digits by the product of what they and their
    weights differ by; neither is a multiple of 11. So within a class every such slip leaves the codes of a sheet.

    Examples
    --------
    >>> np.bincount(safe_class(code_pool(), 3)).tolist()
    [56, 59, 59, 59, 58, 52, 56, 59, 59, 58, 58]
    """
    return digits_of(codes, digits) @ np.arange(1, digits + 1) % MODULUS
