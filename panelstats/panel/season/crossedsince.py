"""Words that a taster has come to swap or confuse, and since when."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from panelstats.models.charts import between_sessions
from panelstats.panel.season.moved import PLACES, steps
from panelstats.panel.tasters.crossedwords import SWAPPED, Crossed, crossed_words
from panelstats.panel.tasters.moments import beside, over_lots
from panelstats.panel.tasters.reference import Pool, centred, reference
from panelstats.panel.tasters.shuffles import standardised
from panelstats.scores.cells import DESCRIPTOR, STAGE, Cells

if TYPE_CHECKING:
    from panelstats.panel.tasters.reference import Reference

# The newest sessions in which crossed words are looked for (ours).
RECENT = 8
# Fewest lots of a session whose correlations are followed (ours).
LEAST_LOTS = 4


@dataclass(frozen=True)
class CrossedSince:
    """A word that goes with another word of the others, and the first session of it, by index."""

    found: Crossed
    since: int
    since_low: int
    since_high: int


def crossed_since(pool: Pool, active: np.ndarray, cells: Cells, *, least: int) -> list[CrossedSince]:
    """Crossed words of the newest sessions, each dated by the step in its correlations.

    Notes
    -----
    What is crossed is found on the lots of the newest sessions alone, by Williams' t with limits from shuffles over all
    words and tasters. The session is that of the best step in the difference of Fisher's z between the crossed and the
    own correlations, or the first where no step shows.
    """
    newest = pool.rows(pool.session >= len(pool.sessions) - RECENT)
    ref = reference(newest, active, least=least)
    stages = dict(zip(cells.descriptors[DESCRIPTOR].astype(str), cells.descriptors[STAGE].astype(str), strict=True))
    stage = np.array([stages[name] for name in pool.descriptors])
    standard = standardised(newest, ref, np.full(len(newest.lots), np.nan))
    calls = crossed_words(standard, stage, over_lots(newest, ref, *beside(newest, ref)).open)
    if not calls:
        return []
    whole = reference(pool, active, least=least)
    return [CrossedSince(call, *_since(pool, whole, call)) for call in calls]


def _since(pool: Pool, ref: Reference, call: Crossed) -> tuple[int, int, int]:
    crossing = _session_z(pool, ref, call.taster, call.word, call.other)
    crossing = crossing - _session_z(pool, ref, call.taster, call.word, call.word)
    if call.kind == SWAPPED:
        crossing = crossing + _session_z(pool, ref, call.taster, call.other, call.word)
        crossing = crossing - _session_z(pool, ref, call.taster, call.other, call.other)
    at = np.flatnonzero(np.isfinite(crossing))
    y = crossing[at]
    spread = float(between_sessions(y, np.zeros(len(y)))) if len(y) > 4 else 0.0
    if not spread > 0:
        return int(at[0]), int(at[0]), int(at[0])
    fit = steps(y, np.full(len(y), 1 / spread), at)
    constant = ((y - y.mean()) ** 2).sum() / spread
    if constant - fit.rss[fit.best] < 2 * np.log(len(y)) or fit.size[fit.best] < 0:
        return int(at[0]), int(at[0]), int(at[0])
    near = fit.places[fit.rss <= fit.rss[fit.best] + PLACES]
    return int(fit.places[fit.best]), int(near.min()), int(near.max())


def _session_z(pool: Pool, ref: Reference, taster: int, own: int, other: int) -> np.ndarray:
    """Fisher's z between a taster's word and a word of the others, session by session."""
    both = ~np.isnan(pool.mean[:, taster, own]) & ~np.isnan(ref.score[:, taster, other])
    x, y = (
        centred(np.where(both, values, np.nan)[:, None], pool.block)[:, 0]
        for values in (pool.mean[:, taster, own], ref.score[:, taster, other])
    )
    out = np.full(len(pool.sessions), np.nan)
    for s in range(len(out)):
        here = both & (pool.session == s)
        squares = (x[here] ** 2).sum() * (y[here] ** 2).sum()
        if here.sum() >= LEAST_LOTS and squares > 0:
            out[s] = np.arctanh(np.clip((x[here] * y[here]).sum() / np.sqrt(squares), -0.99, 0.99))
    return out
