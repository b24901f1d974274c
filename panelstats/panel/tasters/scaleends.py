"""Marks at the ends of the scale: where they squeeze slope and spread, and where only noticing can be judged.

A taster who puts most lots at 0 has no slope and no spread there to speak of; how often he notices something has.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from panelstats.models.meansquares import ratio
from panelstats.panel.tasters.declared import declared
from panelstats.panel.tasters.finding import NOT_TESTED, Finding
from panelstats.panel.tasters.level import level, levels, widened
from panelstats.panel.tasters.reference import Pool, reference

if TYPE_CHECKING:
    from panelstats.scores.cells import Cells

# Beyond this share of marks at one end, a taster's or the others', slope and spread say nothing (ours).
MOSTLY = 0.5
# Share of the lots by which one may notice something more or less often than the others (ours).
NOTICED_TOLERANCE = 0.25


def at_ends(cells: Cells, pool: Pool) -> np.ndarray:
    """Share of each taster's marks that lie at the declared ends of the scale; 0 where none are declared."""
    at = (pool.mean == declared(cells, pool, "low")) | (pool.mean == declared(cells, pool, "high"))
    return at.sum(axis=0) / np.maximum((~np.isnan(pool.mean)).sum(axis=0), 1)


def busy_end(cells: Cells, pool: Pool) -> np.ndarray:
    """The end of each scale at which more marks lie; without a declared scale 0 where it was used, else NaN."""
    least = np.where(np.isnan(pool.mean), np.inf, pool.mean).min(axis=(0, 1), initial=np.inf)
    low, high = (declared(cells, pool, end) for end in ("low", "high"))
    low = np.where(np.isnan(low) & (least == 0), 0.0, low)
    counts = [(pool.mean == end).sum(axis=(0, 1)) for end in (low, high)]
    return np.where(counts[1] > counts[0], high, low)


def floored(pool: Pool, end: np.ndarray) -> np.ndarray:
    """Where more than half of a taster's marks, or of the others', stand at `end`; shape (taster, descriptor)."""
    scored, at = (~np.isnan(pool.mean)).sum(axis=0), (pool.mean == end).sum(axis=0)
    others = ratio(at.sum(axis=0) - at, scored.sum(axis=0) - scored)
    some = at.sum(axis=0) < scored.sum(axis=0)  # where nobody ever left the end there is nothing to compare
    return ((ratio(at, scored) > MOSTLY) | (others > MOSTLY)) & some


def noticed(
    pool: Pool, active: np.ndarray, end: np.ndarray, judged: np.ndarray, *, least: int, tail: float
) -> tuple[Finding, Finding]:
    """How much more often than the others a taster leaves `end`, as a share of the lots: where `judged`, and over all.

    Notes
    -----
    Differences lot by lot with a Student t; their variance is never taken below that of one lot in all, since a few
    lots without any difference are no proof that there is none.
    """
    away = np.where(np.isnan(pool.mean) | np.isnan(end), np.nan, pool.mean != end)
    cells = _more_often(replace(pool, mean=away), active, judged, least=least, tail=tail)
    columns = judged.any(axis=0)
    whole = replace(pool, mean=away[..., columns].mean(axis=2, keepdims=True) if columns.any() else away[..., :1])
    everywhere, some = (np.asarray(x)[:, None] for x in (active[:, columns].all(axis=1), judged.any(axis=1)))
    return cells, _more_often(whole, everywhere, some, least=least, tail=tail)[:, 0]


def _more_often(part: Pool, active: np.ndarray, judged: np.ndarray, *, least: int, tail: float) -> Finding:
    found = levels(part, reference(part, active, least=least), moderated=False, wander=0.0)
    lots = np.maximum(found.lots, 1)
    within = np.where(found.plain_df > 0, np.maximum(np.nan_to_num(found.within), (1 - 1 / lots) / lots), np.nan)
    tolerance = widened(np.full(found.bias.shape, NOTICED_TOLERANCE), found.others)
    return level(replace(found, within=within), tolerance, np.where(judged, "", NOT_TESTED).astype(object), tail=tail)
