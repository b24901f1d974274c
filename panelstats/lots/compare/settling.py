"""How many pots or tasters would settle what the data cannot tell."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy.stats import t as t_distribution

from panelstats.models.fewpots import PLANNING_POT_SD, pots_needed
from panelstats.models.reml import LOT_POT, LOT_TASTER, RESIDUAL
from panelstats.words import count

if TYPE_CHECKING:
    from panelstats.lots.compare.fitted import Fitted

# More tasters than this do not sit at one bench (common practice).
MOST_TASTERS = 40
POWER = 0.80


def next_step(group: Fitted, d: int) -> str:
    """What would find a difference of the tolerance (or of one point) in 8 cases of 10."""
    part = group.part(d)
    if part.effects is None or d not in part.slot or group.count < 2:
        return "Taste the lots again, by more tasters."
    wanted = group.tolerance[d] * 2 if np.isfinite(group.tolerance[d]) else 1.0
    variance = part.effects.fit.variances[part.slot[d]]
    tasters = len(group.grid.tasters)
    target = f"a difference of {wanted:g} {'point' if wanted == 1 else 'points'} would be found in 8 cases of 10"
    if part.shared and tasters > 1:
        pots = _pots(group, d, variance, wanted)
        if pots:
            two = "Two pots a lot leave pot-to-pot differences uncertain. " if _brews(group, d) == 2 else ""
            return f"{two}With {pots} a lot and {count(tasters, 'taster')} {target}."
    looks = max(int(group.grid.looks[..., d].sum(axis=2).max()), 1)
    more = tasters_needed(variance, looks=looks, lots=group.count, difference=wanted, level=group.level)
    if more is not None:
        return f"With {count(max(more, tasters + 1), 'taster')} {target}."
    return f"No number of tasters up to {MOST_TASTERS} would make sure of {wanted:g} points here: widen the question."


def _pots(group: Fitted, d: int, variance: np.ndarray, wanted: float) -> str:
    """Shared pots a lot that would do, with what was assumed; "" where no number does."""
    pot = variance[LOT_POT] or PLANNING_POT_SD**2
    enough = float(
        pots_needed(
            np.array(pot),
            variance[LOT_TASTER],
            variance[RESIDUAL],
            tasters=len(group.grid.tasters),
            lots=group.count,
            difference=wanted,
            level=group.level,
        )
    )
    if not np.isfinite(enough):
        return ""
    assumed = "" if variance[LOT_POT] else f" (if pots differ by an SD of {PLANNING_POT_SD})"
    return count(max(int(enough), _brews(group, d) + 1), "pot") + assumed


def _brews(group: Fitted, d: int) -> int:
    """Most pots that one lot was tasted from."""
    return int((group.grid.looks[..., d].sum(axis=1) > 0).sum(axis=1).max())


def tasters_needed(variance: np.ndarray, *, looks: int, lots: int, difference: float, level: float) -> int | None:
    """Least number of tasters that finds `difference` with power 0.8; None beyond MOST_TASTERS."""
    for tasters in range(2, MOST_TASTERS + 1):
        v = 2 * (variance[LOT_TASTER] + variance[RESIDUAL] / looks) / tasters
        if _found(v, (lots - 1) * (tasters - 1), difference, level):
            return tasters
    return None


def _found(variance: float, df: float, difference: float, level: float) -> bool:
    reach = t_distribution.isf((1 - level) / 2, df) + t_distribution.ppf(POWER, df)
    return bool(reach * np.sqrt(variance) <= difference)
