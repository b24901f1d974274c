"""Invented trainees beside ordinary seniors, over sessions, straight as arrays."""

from dataclasses import dataclass

import numpy as np

from panelstats.panel.tasters.reference import Pool
from tests.panel.invented import ERROR_CORRELATION, ERROR_SD, LEVEL_RANGE, LOG_RANGE, TASTER_BY_LOT_SD, pool

WANDER = 0.15


@dataclass(frozen=True)
class Trainee:
    """A trainee to invent: off by `off` on one descriptor or on all, blind on one, or noisy."""

    seniors: int = 3
    descriptors: int = 16
    pots: int = 2
    lots: int = 24
    sessions: int = 2
    off: float = 0.0
    everywhere: bool = False
    own_levels: float = 0.0
    blind: bool = False
    noise: float = 1.0


def invent_trainee(case: Trainee, rng: np.random.Generator) -> Pool:
    """One trainee (first) and the seniors; biases are against these seniors' own mean level."""
    a, n, r, d = case.seniors + 1, case.lots, case.pots, case.descriptors
    level = rng.uniform(-LEVEL_RANGE, LEVEL_RANGE, (a, d))
    slope, noise = np.exp(rng.uniform(-LOG_RANGE, LOG_RANGE, (2, a, d)))
    at = slice(None) if case.everywhere else d // 2
    level[0] = level[1:].mean(axis=0) + case.own_levels * rng.normal(size=d)
    level[0, at] += case.off
    slope[0], noise[0] = 1.0, case.noise
    if case.blind:
        slope[0, d // 2] = 0.0
    session = np.arange(n) * case.sessions // n
    wander = WANDER * rng.normal(size=(case.sessions, a, d))
    lot = rng.normal(size=(n, 1, d)) * np.linspace(0.4, 1.8, d)
    mean = 5 + level + wander[session] + slope * lot + TASTER_BY_LOT_SD * rng.normal(size=(n, a, d))
    common, own = rng.normal(size=(n, a, r, 1)), rng.normal(size=(n, a, r, d))
    error = np.sqrt(ERROR_CORRELATION) * common + np.sqrt(1 - ERROR_CORRELATION) * own
    return pool(mean[:, :, None] + ERROR_SD * noise[:, None] * error, shared=False, session=session)
