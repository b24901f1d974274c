"""Who takes which order: everybody wants own ones, so that somebody more moves as few others as balance allows."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.random import Generator


def seated(people: Sequence[Generator], joined: Sequence[Generator], seats: int) -> list[int]:
    """A seat for everybody, none taken twice: seats 0 to `seats` - 1 are filled before those after them.

    Everybody draws an order of wishes, and for every seat a number by which it chooses. Wishes are heard until each
    seat holds the smallest number that asked for it (Gale & Shapley 1962, American Mathematical Monthly 69: 9), which
    comes out the same in whatever order people are named. One more moves those along one chain of wishes alone; those
    who `joined` later move nobody.

    Parameters
    ----------
    people, joined : sequence of Generator
        A source of draws for each, of nobody else's making.
    seats : int

    Returns
    -------
    list of int
        Of `people`, then of `joined`.

    Examples
    --------
    >>> def own(*names):
    ...     return [np.random.default_rng(name) for name in names]
    >>> few, more = seated(own(1, 2, 3), [], 8), seated(own(1, 2, 3), own(4), 8)
    >>> few == more[:3], len(set(more))
    (True, 4)
    """
    everybody = [*people, *joined]
    wishes = np.array([rng.permutation(seats) for rng in everybody])
    numbers = np.array([rng.random(seats) for rng in everybody])
    seat = [-1] * len(everybody)
    left, block = list(range(len(people))), 0
    while left:
        holds = _heard(left, wishes, numbers)
        for place, who in holds.items():
            seat[who] = block * seats + place
        left = [who for who in left if seat[who] < 0]
        block += 1
    taken = set(seat)
    for who in range(len(people), len(everybody)):
        block = 0
        while all(block * seats + place in taken for place in range(seats)):
            block += 1
        seat[who] = next(block * seats + int(p) for p in wishes[who] if block * seats + int(p) not in taken)
        taken.add(seat[who])
    return seat


def _heard(left: list[int], wishes: np.ndarray, numbers: np.ndarray) -> dict[int, int]:
    """Who holds each seat of one block once all wishes are heard."""
    holds: dict[int, int] = {}
    asked = dict.fromkeys(left, 0)
    waiting = list(left)
    while waiting:
        who = waiting.pop()
        if asked[who] == wishes.shape[1]:
            continue
        place = int(wishes[who, asked[who]])
        asked[who] += 1
        before = holds.get(place)
        if before is None or numbers[who, place] < numbers[before, place]:
            holds[place] = who
            who = before  # type: ignore[assignment]
        if who is not None:
            waiting.append(who)
    return holds
