"""How an assessment of tasters was made, and what the scale itself limits."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from panelstats.panel.tasters.finding import ASPECTS, SCATTER
from panelstats.panel.tasters.scaleends import declared
from panelstats.scores.cells import Cells
from panelstats.words import count, listing

if TYPE_CHECKING:
    from panelstats.panel.tasters.assessed import Assessed

# Rounding to a step shifts the mean of many lots by less than .002 steps once the error is half a step (computed).
RESOLVED = 0.5
YOURS, ROOMS = "as you asked", "the register's, or else a twentieth of the range in use"
TOLERANCE = (
    "Tolerance on level {points} ({whose}), wider against few others; where it is to reassure, a tenth of the scale at "
    "most."
)
TESTS = (
    "Tests against the tolerance in {families} families, at most 5 % of names expected to be false (Benjamini & "
    "Hochberg 1995)."
)


def finer_step(a: Assessed, cells: Cells) -> str:
    """Where the tolerance is a whole step of the scale and the scores could resolve half of it: say so."""
    step, own = declared(cells, a.bench.pool, "step"), a.bench.own
    if step is None or not own.error_df.sum():
        return ""
    sd = np.sqrt(own.error_ss.sum(axis=0) / np.maximum(own.error_df.sum(axis=0), 1))
    coarse = (a.bench.tolerance == step) & (sd >= RESOLVED * step)
    if not coarse.any():
        return ""
    return f"One step is generous on {listing(a.descriptors[coarse])}: half a step can be asked for and tested here."


def method_of(a: Assessed, cells: Cells) -> str:
    """The paragraph on model, tests and tolerance."""
    pool, judged = a.bench.pool, a.names.judgement.judged
    sat = "" if a.size >= len(a.tasters) else f", {a.size} together on four lots in five"
    shared = (~np.isnan(pool.brews)).sum(axis=2).max(initial=0) > 1
    pots = "pots were shared and are taken out of repeatability" if shared else "each taster's pots were his own or one"
    left_out = [k for k in ASPECTS if k not in judged and k != SCATTER]
    sat_down = (
        f"{count(len(a.tasters), 'taster')}{sat}, {count(len(pool.lots), 'lot')} in "
        f"{count(len(pool.sessions), 'session')}; {pots}. Each taster against the mean of the others on the same lots, "
        f"within session and class for order, scale use and scatter; {a.level:.0%} intervals."
    )
    parts = [
        sat_down,
        TOLERANCE.format(points=_points(a.bench.tolerance), whose=YOURS if a.asked else ROOMS),
        finer_step(a, cells),
        TESTS.format(families=2 * len(judged)) if judged else "",
        f"Not tested: {', '.join(left_out)}." * bool(left_out),
        _few(a.size),
    ]
    return " ".join(part for part in parts if part)


def _points(tolerance: np.ndarray) -> str:
    least, most = tolerance.min(initial=np.inf), tolerance.max(initial=-np.inf)
    return f"{least:g} points" if least == most else f"{least:g} to {most:g} points"


def _few(size: int) -> str:
    if size >= 7:
        return f"At most {(size - 1) // 3} tasters can be named."
    if size >= 4:
        return "At most one taster can be named over all descriptors, and one on each."
    if size == 3:
        return "Of three tasters at most one can be named, as apart from the other two, and only if these agree."
    return "With fewer than three tasters nobody can be named."
