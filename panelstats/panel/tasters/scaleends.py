"""Marks at the ends of the scale, which squeeze slope and spread."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from panelstats.scores.cells import DESCRIPTOR, Cells

if TYPE_CHECKING:
    from panelstats.panel.tasters.reference import Pool


def at_ends(cells: Cells, pool: Pool) -> np.ndarray:
    """Share of each taster's marks that lie at the declared ends of the scale; 0 where none are declared."""
    ends = [column for column in (declared(cells, pool, k) for k in ("low", "high")) if column is not None]
    scored = ~np.isnan(pool.mean)
    at = np.any([pool.mean == end for end in ends], axis=0) if ends else np.zeros(scored.shape, bool)
    return at.sum(axis=0) / np.maximum(scored.sum(axis=0), 1)


def declared(cells: Cells, pool: Pool, column: str) -> np.ndarray | None:
    """A number of the descriptors register in the order of the pool, None where it has no such column."""
    register = cells.descriptors.set_index(cells.descriptors[DESCRIPTOR].astype(str))
    return register[column].reindex(pool.descriptors).to_numpy(float) if column in register else None
