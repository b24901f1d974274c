"""Codes drawn for one sheet: all different, safe from slips where so many can be, none that its lot had before."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from panelstats.plan.codes.pool import MODULUS, code_pool, digits_of, safe_class

if TYPE_CHECKING:
    from collections.abc import Sequence, Set

    from numpy.random import Generator

SAFE_UP_TO = 50  # pots of a sheet that get three safe digits; the smallest class holds 52


def drawn_codes(
    lots: Sequence[str],
    rng: Generator,
    *,
    had: Set[tuple[str, str]] = frozenset(),
    stop: Set[str] = frozenset(),
    zeros: bool = True,
) -> tuple[list[str], bool]:
    """A code for each pot of a sheet.

    Parameters
    ----------
    lots : sequence of str
        The lot of each pot.
    rng : Generator
        Draws the class and the codes in it: a code tells nothing of lot or place.
    had : set of (lot, code)
        What lots were called before: never again, where the codes left allow it.
    stop : set of str
        Numbers that mean something in this place.
    zeros : bool
        Allow the digit 0.

    Returns
    -------
    codes : list of str
    safe : bool
        Whether every slip of a digit, and every exchange of two, leaves the codes of the sheet.
    """
    wanted = len(lots)
    for digits in (3, 4) if wanted <= SAFE_UP_TO else (4,):
        pool = _left(code_pool(digits, zeros=zeros), stop)
        classes = safe_class(pool, digits)
        large = [c for c in range(MODULUS) if np.count_nonzero(classes == c) >= wanted]
        if large:
            chosen = pool[classes == rng.choice(large)]
            return _named(lots, rng.permutation(chosen), had), True
    pools = (_left(code_pool(digits, zeros=zeros), stop) for digits in (4, 5))
    pool = next((left for left in pools if len(left) >= wanted), np.zeros(0, np.int64))
    if len(pool) < wanted:
        long = np.arange(100_000, 1_000_000)
        pool = _left(long if zeros else long[(digits_of(long, 6) > 0).all(axis=1)], stop)
    return _named(lots, rng.permutation(pool), had), False


def more_codes(
    taken: Set[str],
    lots: Sequence[str],
    rng: Generator,
    *,
    had: Set[tuple[str, str]] = frozenset(),
    stop: Set[str] = frozenset(),
    zeros: bool = True,
) -> tuple[list[str], bool]:
    """Codes for pots that join a sheet, of the class of those `taken`, so that slips still show; else plain ones.

    Returns
    -------
    codes : list of str
    safe : bool
        Whether the sheet is as safe as before.
    """
    digits = max(map(len, taken))
    kept = np.array(sorted(int(code) for code in taken if len(code) == digits))
    for size in range(digits, 7):
        pool = _left(code_pool(size, zeros=zeros), stop)
        pool = pool[~np.isin(pool, kept)]
        mine = pool[safe_class(pool, size) == safe_class(kept[:1], digits)]
        if size == digits and len(mine) >= len(lots):
            return _named(lots, rng.permutation(mine), had), True
        if len(pool) >= len(lots):
            break
    return _named(lots, rng.permutation(pool), had), False


def _left(pool: np.ndarray, stop: Set[str]) -> np.ndarray:
    return pool[~np.isin(pool, [int(each) for each in stop if each.isdecimal()])]


def _named(lots: Sequence[str], codes: np.ndarray, had: Set[tuple[str, str]]) -> list[str]:
    """The first codes in turn; where a lot had its code before, it changes places with the next that fits both."""
    spare = [str(code) for code in codes]
    for at, lot in enumerate(lots):
        if (lot, spare[at]) not in had:
            continue
        fits = (
            other for other in range(len(spare))
            if (lot, spare[other]) not in had and (other >= len(lots) or (lots[other], spare[at]) not in had)
        )  # fmt: skip
        other = next(fits, at)
        spare[at], spare[other] = spare[other], spare[at]
    return spare[: len(lots)]
