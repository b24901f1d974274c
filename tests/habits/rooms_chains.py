"""Rooms whose habits are drawn together by lot."""

from __future__ import annotations

import numpy as np

from tests.habits.chains import chained
from tests.habits.room import Made, room

CHAINS = 40


def drawn(rng: np.random.Generator) -> Made:
    return chained(lambda options: options[int(rng.integers(len(options)))], rng)


for _n in range(1, CHAINS + 1):
    room(f"chain {_n}", 13)(drawn)
