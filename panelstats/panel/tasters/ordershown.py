"""What must be shown before a taster is called with the panel: that marks follow the lots, and whose.

A level like the others' says nothing of people who tell nothing apart: their marks lie level too.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import fdtrc, gammaln

from panelstats.models.meansquares import ratio
from panelstats.models.multiplicity import holm
from panelstats.panel.tasters.finding import LEVEL
from panelstats.panel.tasters.judgement import Bench, Judgement
from panelstats.panel.tasters.level import level_over_descriptors, widened
from panelstats.panel.tasters.naming import Names
from panelstats.panel.tasters.reference import Pool, reference
from panelstats.panel.tasters.shuffles import Standardised, shuffled, standardised

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
        Of the panel: variance over lots of the tasters' summed marks, mean over descriptors, against shuffles; NaN
        where a class has too few lots for any order to be shown.
    descriptor_p : ndarray, shape (descriptor,)
        On each descriptor: F of lots against the tasters' disagreement, marks standardised, after Holm.
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
    def askable(self) -> bool:
        """Whether there are lots enough to show an order."""
        return not np.isnan(self.panel_p)

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
    panel, own = _against_shuffles(found, active)
    panel = panel if _arrangements(found) * SHOWN > 1 else np.nan
    return Orders(
        panel, holm(_lots_p(found, active)), own, _level_held(bench, names.judgement, scale), _spread(bench.pool, scale)
    )


def _arrangements(found: Standardised) -> float:
    """In how many ways the lots of all tasters but one can change places: 1 over the least p there can be."""
    scored = np.asarray(found.seen.any(axis=2))
    ways = [
        gammaln(np.unique(group[here], return_counts=True)[1] + 1.0).sum()
        for group, here in zip(found.group.T, scored.T, strict=True)
    ]
    return float(np.exp(min(sum(ways) - max(ways, default=0.0), 700.0)))


def _against_shuffles(found: Standardised, active: np.ndarray) -> tuple[float, np.ndarray]:
    """Chances of as much order in shuffled marks: of the panel, and by taster."""

    def statistics(own: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        together = np.where(active, own, 0.0).sum(axis=-2)  # (..., row, descriptor)
        return (together**2).sum(axis=(-2, -1)), np.einsum("...nad,nad->...a", own, found.others)

    of_panel, of_taster = statistics(found.own)
    drawn = [statistics(own) for own in shuffled(found)]
    panel = np.concatenate([values for values, _ in drawn]) >= of_panel * (1 - 1e-12)
    taster = np.concatenate([values for _, values in drawn]) >= of_taster - 1e-12
    own = np.where(found.own.any(axis=(0, 2)), (1 + taster.sum(axis=0)) / (1 + len(panel)), 1.0)
    return float((1 + panel.sum()) / (1 + len(panel))), own


def _lots_p(found: Standardised, active: np.ndarray) -> np.ndarray:
    """P of the lots by descriptor: variance over lots of the mean mark against the disagreement on it."""
    marks, seen = np.where(active, found.own, 0.0), found.seen & active
    lots = ratio(marks.sum(axis=1) ** 2, seen.sum(axis=1))
    between = np.nan_to_num(lots).sum(axis=0)
    rest = np.maximum((marks**2).sum(axis=(0, 1)) - between, 0.0)
    df = np.maximum(found.df.max(axis=0), 0)
    df_rest = np.maximum(np.where(active, found.df, 0).sum(axis=0) - df, 0)
    p = fdtrc(df, df_rest, ratio(ratio(between, df), ratio(rest, df_rest)))
    return np.where(rest > 0, np.nan_to_num(p, nan=1.0), np.where((between > 0) & (df_rest > 0), 0.0, 1.0))


def _level_held(bench: Bench, judgement: Judgement, scale: np.ndarray) -> np.ndarray:
    held = np.minimum(bench.tolerance, MOST_TOLERANCE * scale)
    tolerance = widened(np.broadcast_to(held, judgement.levels.bias.shape), judgement.levels.others)
    over = level_over_descriptors(judgement.levels, tolerance, judgement.cells[LEVEL].why, tail=0.05)
    return np.nan_to_num(over.high, nan=np.inf) <= over.ceiling


def _spread(pool: Pool, scale: np.ndarray) -> np.ndarray:
    share = np.ma.masked_invalid(pool.mean).std(axis=0, ddof=1) / np.where(scale > 0, scale / np.sqrt(12), np.nan)
    return np.ma.filled(np.ma.masked_invalid(share).mean(axis=1).astype(float), np.nan)
