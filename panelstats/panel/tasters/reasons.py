"""Why a call on one taster, descriptor and aspect is what it is, in a few words."""

from __future__ import annotations

import numpy as np

from panelstats.panel.tasters.assessed import Assessed
from panelstats.panel.tasters.finding import (
    ALIKE,
    AT_FLOOR,
    DISCRIMINATION,
    NOT_TESTED,
    REPEATABILITY,
    SCALE_USE,
    Finding,
)
from panelstats.panel.tasters.judgement import TOO_FEW
from panelstats.panel.tasters.naming import CANNOT
from panelstats.panel.tasters.spread import CONSTANT, IDENTICAL
from panelstats.speech import Phrase

# A ratio of spreads below this, with its interval below 1, asks for remembered scores (ours).
UNUSUALLY_STEADY = 0.5
# Share of marks at the ends of the scale from which slope and spread are squeezed (ours).
SQUEEZED = 0.2

WHY = {
    ALIKE: Phrase("the others do not tell the lots apart here: the lots too alike, or the tasters blind to them"),
    NOT_TESTED: Phrase("not tested"),
    CONSTANT: Phrase("gave every lot the same mark"),
    IDENTICAL: Phrase("the others gave identical marks: nothing to compare with"),
    AT_FLOOR: Phrase("not judged: most marks stand at an end of the scale; see how often something was noticed"),
    TOO_FEW: Phrase(
        "fewer than 4 lots scored together with the others (in each of 2 sessions where there are several)"
    ),
}
ALIKE_WITHOUT_ORDER = Phrase(
    "alike, but the marks are not shown to follow the lots here: that alone reassures of nothing"
)
SHOWN_ONLY = Phrase("shown, not judged: repeated servings say it better")
NO_NAME = Phrase("stands out, but the others do not agree among themselves: nobody can be named")
ON_ITS_OWN = Phrase("would stand out on its own, not after allowing for {tests} tests: taste again")
SERVED_ONCE = Phrase("not tested: each lot was served once")
TOO_FEW_TOGETHER = Phrase("not tested: too few others or too few lots scored together")
REACHES_OVER = Phrase("the interval reaches over the tolerance")
AT_TOLERANCE = Phrase("sits at the tolerance: more lots will not settle it soon")
MORE_LOTS = Phrase("about {more} more lots would settle it in 8 cases of 10")
WRONG_WAY_ROUND = Phrase("scored the wrong way round: check the anchor words first")
STEADY = Phrase("unusually steady: check for remembered scores or few scale points")
NO_VARIATION = Phrase("no variation recorded: the steps of the scale hide it")
AT_ENDS = Phrase("{share:.0%} of the marks lie at the ends of the scale and squeeze this")
UNLINKED = Phrase("the others fall into groups that share no lot: levels are compared inside each group only")


def reason_of(a: Assessed, aspect: str, found: Finding, call: str, i: int, d: int) -> str:
    """Why a call is what it is; `found` is by taster and descriptor, or a column over all descriptors."""
    why = found.why[i, d]
    if why:
        return _not_tested(a, aspect) if why == NOT_TESTED else WHY.get(why, why)
    if call == "":
        return SHOWN_ONLY
    note = _note(a, aspect, found, i, d)
    if call != CANNOT or found.inside[i, d]:
        return ALIKE_WITHOUT_ORDER if call == CANNOT else note
    if found.estimate.shape[1] == len(a.descriptors):
        out = a.names.cells_out
    else:
        out = {k: v[:, None] for k, v in a.names.tasters_out.items()}
    if out[aspect][i, d]:
        return NO_NAME
    if found.outside[i, d]:
        return ON_ITS_OWN.format(tests=int((~np.isnan(found.p)).sum()))
    return "; ".join(str(part) for part in (_more_lots(a, found, i, d), note) if part)


def _not_tested(a: Assessed, aspect: str) -> str:
    once = aspect in (REPEATABILITY, DISCRIMINATION) and not (a.bench.pool.looks > 1).any()
    return SERVED_ONCE if once else TOO_FEW_TOGETHER


def _more_lots(a: Assessed, found: Finding, i: int, d: int) -> str:
    lots = found.lots[i, d]
    if np.isnan(lots):
        return REACHES_OVER
    return AT_TOLERANCE if np.isinf(lots) else MORE_LOTS.format(more=max(int(lots) - int(a.lots[i]), 1))


def _note(a: Assessed, aspect: str, found: Finding, i: int, d: int) -> str:
    single = found.estimate.shape[1] == len(a.descriptors)
    repeats = aspect == REPEATABILITY
    at_ends = a.at_ends[i, d] if single and aspect in (REPEATABILITY, SCALE_USE) else 0.0
    cases = (
        (aspect == SCALE_USE and found.high[i, d] < 0, WRONG_WAY_ROUND),
        (repeats and found.estimate[i, d] < UNUSUALLY_STEADY and found.high[i, d] < 1, STEADY),
        (repeats and found.high[i, d] == 0, NO_VARIATION),
        (at_ends > SQUEEZED, AT_ENDS.format(share=at_ends)),
        (single and a.names.judgement.reference.parts[i, d] > 1, UNLINKED),
    )
    return "; ".join(str(said) for applies, said in cases if applies)
