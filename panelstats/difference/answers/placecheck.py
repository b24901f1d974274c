"""Whether the places of servings swayed the answers: one check a test, its row and its verdict."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from panelstats.difference.answers import words
from panelstats.difference.answers.words import CANNOT_TELL, NOT_CHECKED, SHOWN
from panelstats.difference.answers.writtenanswers import BLANK, KIND, ORDER, PLACE, RIGHT_PLACE
from panelstats.difference.counts.words import p_text
from panelstats.models.kinds import KINDS, SIGNAL
from panelstats.models.position import PositionTest, position_test
from panelstats.result import Act, Verdict
from panelstats.speech import said
from panelstats.words import count

if TYPE_CHECKING:
    import pandas as pd

# Error rate of the check: common practice.
PLACE_ERROR = 0.05


class PlaceCheck(NamedTuple):
    """The check of one test: answers with a place and without, whether orders were balanced, the test, the call."""

    answers: int
    unrecorded: int
    balanced: bool
    statistic: float
    df: int
    p: float
    call: str


def place_check(answers: pd.DataFrame) -> PlaceCheck:
    """The check of the answers of one test."""
    kind = KINDS[answers[KIND].iloc[0]]
    given = answers[~answers[BLANK]]
    placed = given[given[PLACE] >= 0]
    served = answers.loc[answers[ORDER] != "", ORDER].str.upper().value_counts()
    balanced = len(served) == len(kind.orders) and served.max() == served.min()
    found = PositionTest(float("nan"), 0, float("nan"), len(placed))
    if kind.name not in SIGNAL:
        ways = _ways(kind.positions, kind.picks)
        found = position_test(placed[RIGHT_PLACE].to_numpy(), placed[PLACE].to_numpy(), ways)
    call = NOT_CHECKED if np.isnan(found.p) else SHOWN if found.p <= PLACE_ERROR else CANNOT_TELL
    unrecorded = len(given) - len(placed)
    return PlaceCheck(found.answers, unrecorded, bool(balanced), found.statistic, found.df, found.p, call)


def _ways(positions: int, picks: int) -> int:
    """Answers to choose among: places, pairs of five, or the three splits of a tetrad."""
    return {(4, 2): 3, (5, 2): 10}.get((positions, picks), positions)


def place_verdicts(subject: str, kind: str, check: PlaceCheck) -> list[Verdict]:
    """What is to be said of places; nothing where the kind has none to name."""
    if kind in SIGNAL:
        return []
    template = {SHOWN: words.IS_SHOWN, CANNOT_TELL: words.IS_OPEN, NOT_CHECKED: words.UNCHECKED}[check.call]
    unrecorded = words.UNRECORDED.format(answers=count(check.unrecorded, "answer")) if check.unrecorded else ""
    sentence = template.format(
        who=(words.OF_TEST if subject else words.OF_KIND).format(subject=subject, kind=said(kind)),
        p=p_text(check.p),
        answers=count(check.answers, "answer"),
        orders=words.BALANCED if check.balanced else words.UNBALANCED,
        unrecorded=unrecorded,
    )
    call = CANNOT_TELL if check.call == NOT_CHECKED else check.call
    numbers = {"statistic": check.statistic, "df": float(check.df), "p": check.p}
    step = words.MORE if check.balanced and not check.unrecorded else words.SERVE_EQUALLY
    act = Act.DECIDE if call == SHOWN else Act.KNOW
    return [Verdict(words.ASKED, subject, call, sentence, numbers, step, act)]


def open_in_all(verdicts: list[Verdict]) -> list[Verdict]:
    """Places that cannot be told to sway are one verdict for all tests served in balance."""
    quiet = [one for one in verdicts if one.call != SHOWN and one.next_step == str(words.MORE)]
    if len(quiet) < 2:
        return verdicts
    least = min(one.numbers["p"] for one in quiet)
    sentence = words.OPEN_IN_ALL.format(tests=len(quiet), p=p_text(least), orders=words.BALANCED)
    merged = Verdict(words.ASKED, "", CANNOT_TELL, sentence, {"p": least}, words.MORE, Act.KNOW)
    return [*(one for one in verdicts if one not in quiet), merged]
