"""What must be shown before a taster is called with the panel: that marks follow the lots, and whose.

A level like the others' says nothing of people who tell nothing apart: their marks lie level too.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from panelstats.models.multiplicity import holm
from panelstats.panel.tasters.finding import LEVEL
from panelstats.panel.tasters.judgement import Bench, Judgement
from panelstats.panel.tasters.level import level_over_descriptors, widened
from panelstats.panel.tasters.naming import Names
from panelstats.panel.tasters.reference import Pool, reference
from panelstats.panel.tasters.scaleends import declared
from panelstats.panel.tasters.shuffles import Standardised, shuffled, standardised
from panelstats.scores.cells import Cells

# Order is shown when shuffled marks reach as far in fewer than this share of the shuffles (ours).
SHOWN = 0.01
# On one descriptor, after Holm over the descriptors (ours).
SHOWN_ON_ONE = 0.05
# A tolerance on level reassures nobody beyond this share of the scale (ours).
MOST_TOLERANCE = 0.1
# Marks that spread this much of what marks drawn evenly over the scale would spread are called that (ours).
AS_BLIND = 0.85


@dataclass(frozen=True, eq=False)
class Orders:
    """Whether the marks follow the lots.

    Attributes
    ----------
    panel_p : float
        Of the panel: variance over lots of the tasters' summed marks, mean over descriptors, against shuffles.
    descriptor_p : ndarray, shape (descriptor,)
        The same on each descriptor, after Holm.
    own_p : ndarray, shape (taster,)
        Of each taster: correlation with the others' marks, summed over descriptors, his rows alone shuffled.
    level_held : ndarray of bool, shape (taster,)
        Upper one-sided limit of the level over all descriptors below the tolerance held to a tenth of the scale.
    spread : ndarray, shape (taster,)
        Mean standard deviation of the marks over that of marks drawn evenly over the scale.
    """

    panel_p: float
    descriptor_p: np.ndarray
    own_p: np.ndarray
    level_held: np.ndarray
    spread: np.ndarray

    @property
    def panel_shown(self) -> bool:
        """Whether the panel's marks follow the lots."""
        return self.panel_p < SHOWN

    @property
    def on(self) -> np.ndarray:
        """Descriptors on which the panel's marks follow the lots."""
        return (self.descriptor_p < SHOWN_ON_ONE) & self.panel_shown

    @property
    def own_shown(self) -> np.ndarray:
        """Tasters whose marks follow the others'."""
        return (self.own_p < SHOWN) & self.panel_shown

    @property
    def reassures(self) -> np.ndarray:
        """Tasters of whom it may be said that they are with the panel, as far as this goes."""
        return self.own_shown & self.level_held

    @property
    def as_blind(self) -> np.ndarray:
        """Tasters whose marks spread as widely as marks drawn over the scale."""
        return self.spread >= AS_BLIND


def orders(bench: Bench, names: Names, place: np.ndarray, scale: np.ndarray) -> Orders:
    """Test what reassurance needs.

    Parameters
    ----------
    bench : Bench
    names : Names
        Who was named over all descriptors, or left the references, stands in nobody's.
    place : ndarray, shape (row,)
        Serving order where all met the lots in one; NaN elsewhere.
    scale : ndarray, shape (descriptor,)
        Length of each scale.
    """
    named = np.any([names.tasters[a] for a in names.judgement.judged] or [np.zeros(len(names.dropped), bool)], axis=0)
    active = ~names.dropped & ~named[:, None]
    found = standardised(bench.pool, reference(bench.pool, active, least=1), place)
    panel, descriptor, own = _against_shuffles(found, active)
    return Orders(panel, holm(descriptor), own, _level_held(bench, names.judgement, scale), _spread(bench.pool, scale))


def scales(cells: Cells, pool: Pool) -> np.ndarray:
    """Length of each scale as declared, else the range seen."""
    flat = pool.mean.reshape(-1, len(pool.descriptors))
    low, high = (np.where(np.isnan(flat), fill, flat) for fill in (np.inf, -np.inf))
    seen = np.maximum(high.max(axis=0, initial=-np.inf) - low.min(axis=0, initial=np.inf), 0.0)
    ends = [declared(cells, pool, column) for column in ("low", "high")]
    if ends[0] is None or ends[1] is None:
        return seen
    return np.where(np.isnan(ends[1] - ends[0]), seen, ends[1] - ends[0])


def _against_shuffles(found: Standardised, active: np.ndarray) -> tuple[float, np.ndarray, np.ndarray]:
    """Chances of as much order in shuffled marks: of the panel, by descriptor, by taster."""

    def statistics(own: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        together = np.where(active, own, 0.0).sum(axis=1)  # (row, descriptor)
        return (together**2).sum(axis=0), np.einsum("nad,nad->a", own, found.others)

    by_descriptor, by_taster = statistics(found.own)
    tally = np.zeros(1), np.zeros(len(by_descriptor)), np.zeros(len(by_taster))
    count = 0
    for own in shuffled(found):
        drawn = statistics(own)
        tally[0][0] += drawn[0].sum() >= by_descriptor.sum() * (1 - 1e-12)
        tally[1][:] += drawn[0] >= by_descriptor * (1 - 1e-12)
        tally[2][:] += drawn[1] >= by_taster - 1e-12
        count += 1
    panel, descriptor, taster = ((1 + more) / (1 + count) for more in tally)
    scored = found.own.any(axis=(0, 2))
    return float(panel[0]), np.where(by_descriptor > 0, descriptor, 1.0), np.where(scored, taster, 1.0)


def _level_held(bench: Bench, judgement: Judgement, scale: np.ndarray) -> np.ndarray:
    held = np.minimum(bench.tolerance, MOST_TOLERANCE * scale)
    tolerance = widened(np.broadcast_to(held, judgement.levels.bias.shape), judgement.levels.others)
    over = level_over_descriptors(judgement.levels, tolerance, judgement.cells[LEVEL].why, tail=0.05)
    return np.nan_to_num(over.high, nan=np.inf) <= over.ceiling


def _spread(pool: Pool, scale: np.ndarray) -> np.ndarray:
    share = np.ma.masked_invalid(pool.mean).std(axis=0, ddof=1) / np.where(scale > 0, scale / np.sqrt(12), np.nan)
    return np.ma.filled(np.ma.masked_invalid(share).mean(axis=1).astype(float), np.nan)
