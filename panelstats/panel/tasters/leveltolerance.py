"""The smallest difference of level that matters, descriptor by descriptor."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

import numpy as np

from panelstats.scores.cells import DESCRIPTOR

if TYPE_CHECKING:
    from panelstats.panel.tasters.reference import Pool
    from panelstats.scores.cells import Cells

# Where nothing is declared or inferred: a twentieth of the range seen (ours).
SHARE_OF_RANGE = 0.05


def tolerances(cells: Cells, pool: Pool, asked: float | Mapping[str, float] | None) -> np.ndarray:
    """Tolerance of each descriptor of `pool` in points: as asked, else the register's, else from the range seen."""
    known = dict(zip(cells.descriptors[DESCRIPTOR].astype(str), _column(cells), strict=True))
    values = np.array([known.get(name, np.nan) for name in pool.descriptors], float)
    flat = pool.mean.reshape(-1, len(pool.descriptors))
    low, high = (np.where(np.isnan(flat), fill, flat) for fill in (np.inf, -np.inf))
    seen = SHARE_OF_RANGE * (high.max(axis=0, initial=-np.inf) - low.min(axis=0, initial=np.inf))
    values = np.where(values > 0, values, np.where(seen > 0, seen, 1.0))
    if asked is None:
        return values
    wanted = dict.fromkeys(pool.descriptors, asked) if not isinstance(asked, Mapping) else asked
    return np.array([wanted.get(name, now) for name, now in zip(pool.descriptors, values, strict=True)], float)


def _column(cells: Cells) -> np.ndarray:
    register = cells.descriptors
    return register["tolerance"].to_numpy(float) if "tolerance" in register else np.full(len(register), np.nan)
