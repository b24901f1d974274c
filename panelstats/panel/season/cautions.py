"""What to hold beside the charts: whose level wanders more than theirs, and sessions that had no error."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from panelstats.panel.season import words
from panelstats.panel.season.tables import LEVEL_CHART, NOISE
from panelstats.panel.season.words import CANNOT_TELL, WANDERING
from panelstats.result import Act, Verdict
from panelstats.words import count, decimals, interval, listing, number

if TYPE_CHECKING:
    from collections.abc import Iterator

    from panelstats.panel.season.tables import Judged
    from panelstats.panel.season.wander import Wander

# More charts with sessions left out than this are counted, not listed.
LISTED = 5


def caution_verdicts(judged: dict[str, Judged], wanders: Wander | None) -> list[Verdict]:
    """Whoever wanders far more than the others, one by one, and all sessions left out together."""
    out = [] if wanders is None else list(_wanders(wanders, judged[LEVEL_CHART].tasters))
    which = [each for kind in (LEVEL_CHART, NOISE) if kind in judged for each in _left_out(judged[kind])]
    if which:
        rest = len(which) - LISTED
        told = which[:LISTED] + ([words.LEFT_OUT_OTHERS.format(charts=count(rest, "chart"))] if rest > 0 else [])
        sentence = words.LEFT_OUT.format(which=listing(told))
        out.append(Verdict(words.CAUTION_QUESTION, "", CANNOT_TELL, sentence, {}, words.MORE_LOTS, Act.KNOW))
    return out


def _wanders(found: Wander, tasters: list[str]) -> Iterator[Verdict]:
    for i in np.flatnonzero(found.far):
        own, low, high, others = (float(x[i]) for x in (found.sd, found.low, found.high, found.others))
        places = decimals((high - low) / 4)
        sentence = words.WANDERS.format(
            taster=tasters[i], own=number(own, places), interval=interval(low, high, places),
            others=number(others, places),
        )  # fmt: skip
        numbers = {"wander": own, "low": low, "high": high, "others": others, "p": float(found.p[i])}
        step = words.SAME_DAY.format(taster=tasters[i])
        yield Verdict(words.CAUTION_QUESTION, tasters[i], WANDERING, sentence, numbers, step, Act.KNOW)


def _left_out(judged: Judged) -> Iterator[str]:
    """Every chart that had to do without some sessions, and how many."""
    left_out = judged.charts.series.left_out
    if left_out is None:
        return
    for i, c in np.argwhere(left_out.any(axis=0)):
        what = judged.columns[c] or words.NOISE_NAMES[judged.kind]
        sessions = count(int(left_out[:, i, c].sum()), "session")
        yield words.LEFT_OUT_ON.format(taster=judged.tasters[i], what=what, sessions=sessions)
