"""What the register declares of the words of a pool: ends and step of a scale, tolerance; else what the marks show."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

import numpy as np

from panelstats.scores.cells import DESCRIPTOR

if TYPE_CHECKING:
    from panelstats.panel.tasters.reference import Pool
    from panelstats.scores.cells import Cells

# Where nothing is declared or inferred, the tolerance on level: a twentieth of the range seen (ours).
SHARE_OF_RANGE = 0.05


def declared(cells: Cells, pool: Pool, column: str) -> np.ndarray:
    """A number of the descriptors register in the order of the pool, NaN where it says none."""
    register = cells.descriptors.set_index(cells.descriptors[DESCRIPTOR].astype(str))
    return register.reindex(index=pool.descriptors, columns=[column])[column].to_numpy(float)


def scales(cells: Cells, pool: Pool) -> np.ndarray:
    """Length of each scale as declared, else the range seen."""
    length = declared(cells, pool, "high") - declared(cells, pool, "low")
    return np.where(np.isnan(length), np.maximum(_range_seen(pool), 0.0), length)


def tolerances(cells: Cells, pool: Pool, asked: float | Mapping[str, float] | None) -> np.ndarray:
    """Smallest difference of level that matters in points: as asked, else the register's, else from the range seen."""
    values, seen = declared(cells, pool, "tolerance"), SHARE_OF_RANGE * _range_seen(pool)
    values = np.where(values > 0, values, np.where(seen > 0, seen, 1.0))
    if asked is None:
        return values
    wanted = dict.fromkeys(pool.descriptors, asked) if not isinstance(asked, Mapping) else asked
    return np.array([wanted.get(name, now) for name, now in zip(pool.descriptors, values, strict=True)], float)


def _range_seen(pool: Pool) -> np.ndarray:
    """From the lowest to the highest mark; below 0 where there is none."""
    low, high = (np.where(np.isnan(pool.mean), fill, pool.mean) for fill in (np.inf, -np.inf))
    return high.max(axis=(0, 1), initial=-np.inf) - low.min(axis=(0, 1), initial=np.inf)
