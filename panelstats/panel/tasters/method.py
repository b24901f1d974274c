"""How an assessment of tasters was made, and what the scale itself limits."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from panelstats.panel.tasters.declared import declared
from panelstats.panel.tasters.finding import ASPECTS, SCATTER
from panelstats.panel.tasters.words import SAID
from panelstats.scores.cells import Cells
from panelstats.speech import Phrase
from panelstats.words import count, listing, stated, stated_percent

if TYPE_CHECKING:
    from panelstats.panel.tasters.assessed import Assessed

# Rounding to a step shifts the mean of many lots by less than .002 steps once the error is half a step (computed).
RESOLVED = 0.5
SAT = Phrase(
    "{tasters}{sat}, {lots} in {sessions}; {pots}. Each taster against the mean of the others on the same lots, within "
    "session and class for order, scale use and scatter; {level} intervals."
)
YOURS, ROOMS = Phrase("as you asked"), Phrase("the register's, or else a twentieth of the range in use")
TOLERANCE = Phrase(
    "Tolerance on level {points} ({whose}), wider against few others; where it is to reassure, a tenth of the scale at "
    "most."
)
TESTS = Phrase(
    "Tests against the tolerance in {families} families, at most 5 % of names expected to be false (Benjamini & "
    "Hochberg 1995)."
)


def finer_step(a: Assessed, cells: Cells) -> str:
    """Where the tolerance is a whole step of the scale and the scores could resolve half of it: say so."""
    step, own = declared(cells, a.bench.pool, "step"), a.bench.own
    if not own.error_df.sum():
        return ""
    sd = np.sqrt(own.error_ss.sum(axis=0) / np.maximum(own.error_df.sum(axis=0), 1))
    coarse = (a.bench.tolerance == step) & (sd >= RESOLVED * step)
    if not coarse.any():
        return ""
    return Phrase("One step is generous on {coarse}: half a step can be asked for and tested here.").format(
        coarse=listing(a.descriptors[coarse])
    )


def method_of(a: Assessed, cells: Cells) -> str:
    """The paragraph on model, tests and tolerance."""
    pool, judged = a.bench.pool, a.names.judgement.judged
    sat = "" if a.size >= len(a.tasters) else Phrase(", {size} together on four lots in five").format(size=a.size)
    shared = (~np.isnan(pool.brews)).sum(axis=2).max(initial=0) > 1
    pots = Phrase("each taster's pots were his own or one")
    pots = Phrase("pots were shared and are taken out of repeatability") if shared else pots
    left_out = [k for k in ASPECTS if k not in judged and k != SCATTER]
    sat_down = SAT.format(
        tasters=count(len(a.tasters), "taster"), sat=sat, lots=count(len(pool.lots), "lot"),
        sessions=count(len(pool.sessions), "session"), pots=pots, level=stated_percent(a.level),
    )  # fmt: skip
    parts = [
        sat_down,
        TOLERANCE.format(points=_points(a.bench.tolerance), whose=YOURS if a.asked else ROOMS),
        finer_step(a, cells),
        TESTS.format(families=2 * len(judged)) if judged else "",
        Phrase("Not tested: {left_out}.").format(left_out=", ".join(str(SAID[name]) for name in left_out))
        * bool(left_out),
        _few(a.size),
    ]
    return " ".join(str(part) for part in parts if part)


def _points(tolerance: np.ndarray) -> str:
    least, most = tolerance.min(initial=np.inf), tolerance.max(initial=-np.inf)
    template = Phrase("{least} points") if least == most else Phrase("{least} to {most} points")
    return template.format(least=stated(least), most=stated(most))


def _few(size: int) -> str:
    if size >= 7:
        return Phrase("At most {size} tasters can be named.").format(size=(size - 1) // 3)
    if size >= 4:
        return Phrase("At most one taster can be named over all descriptors, and one on each.")
    if size == 3:
        return Phrase(
            "Of three tasters at most one can be named, as apart from the other two, and only if these agree."
        )
    return Phrase("With fewer than three tasters nobody can be named.")
