"""Marks at the ends of the scale: where they squeeze slope and spread, and where only noticing can be judged.

A taster who puts most lots at 0 has no slope and no spread there to speak of; how often he notices something has.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from panelstats.models.meansquares import ratio
from panelstats.panel.tasters.finding import NOT_TESTED, Finding
from panelstats.panel.tasters.level import level, levels, widened
from panelstats.panel.tasters.reference import Pool, reference
from panelstats.scores.cells import DESCRIPTOR, Cells

# Beyond this share of marks at one end, a taster's or the others', slope and spread say nothing (ours).
MOSTLY = 0.5
# Share of the lots by which one may notice something more or less often than the others (ours).
NOTICED_TOLERANCE = 0.25


def declared(cells: Cells, pool: Pool, column: str) -> np.ndarray | None:
    """A number of the descriptors register in the order of the pool, None where it has no such column."""
    register = cells.descriptors.set_index(cells.descriptors[DESCRIPTOR].astype(str))
    return register[column].reindex(pool.descriptors).to_numpy(float) if column in register else None


def at_ends(cells: Cells, pool: Pool) -> np.ndarray:
    """Share of each taster's marks that lie at the declared ends of the scale; 0 where none are declared."""
    ends = [column for column in (declared(cells, pool, k) for k in ("low", "high")) if column is not None]
    scored = ~np.isnan(pool.mean)
    at = np.any([pool.mean == end for end in ends], axis=0) if ends else np.zeros(scored.shape, bool)
    return at.sum(axis=0) / np.maximum(scored.sum(axis=0), 1)


def busy_end(cells: Cells, pool: Pool) -> np.ndarray:
    """The end of each scale at which more marks lie; without a declared scale 0 where it was used, else NaN."""
    least = np.where(np.isnan(pool.mean), np.inf, pool.mean).min(axis=(0, 1), initial=np.inf)
    low, high = (declared(cells, pool, k) for k in ("low", "high"))
    unknown = np.full(len(pool.descriptors), np.nan)
    low, high = (unknown if values is None else values for values in (low, high))
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
    return cells, _more_often(whole, everywhere, some, least=least, tail=tail).first_column()


def _more_often(part: Pool, active: np.ndarray, judged: np.ndarray, *, least: int, tail: float) -> Finding:
    found = levels(part, reference(part, active, least=least), moderated=False, wander=0.0)
    lots = np.maximum(found.lots, 1)
    within = np.where(found.plain_df > 0, np.maximum(np.nan_to_num(found.within), (1 - 1 / lots) / lots), np.nan)
    tolerance = widened(np.full(found.bias.shape, NOTICED_TOLERANCE), found.others)
    return level(replace(found, within=within), tolerance, np.where(judged, "", NOT_TESTED).astype(object), tail=tail)
