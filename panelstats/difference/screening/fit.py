"""Sequential screening of trainees (Wald 1947; ISO 16820): trial after trial, until one passes or fails."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from panelstats.arguments import checked
from panelstats.difference.counts.forced import CANNOT_TELL, tolerated_share
from panelstats.difference.screening import words
from panelstats.errors import DesignError
from panelstats.models.kinds import forced_kind
from panelstats.models.sequential import MOST_TRIALS, Lines, course, shortest
from panelstats.result import Act, Chart, Mark, Result, Verdict, chart_rows, of_descriptor
from panelstats.speech import Phrase, said
from panelstats.words import percent, stated

if TYPE_CHECKING:
    from collections.abc import Sequence

PASS, FAIL = "pass", "fail"
TRIAL, RIGHT, RIGHT_SO_FAR = "trial", "right", "right_so_far"
FAIL_AT, PASS_AT = "fail_at_or_below", "pass_at_or_above"


@dataclass(frozen=True, eq=False, repr=False, kw_only=True)
class Screening(Result):
    """Where a trainee stands.

    Attributes
    ----------
    call : str
        pass, fail, or cannot tell (go on).
    lines : Lines
        The two lines.
    stop_after : int
        Last trial; there the nearer line decides.
    table : DataFrame
        trial, right, right_so_far, fail_at_or_below, pass_at_or_above (NaN where not reachable yet); a row per trial
        up to the decision.
    risks : DataFrame
        share_right, passes, expected_trials: exact, at the share of a fail, midway, and of a pass.
    """

    call: str
    lines: Lines
    stop_after: int
    table: pd.DataFrame
    risks: pd.DataFrame

    def chart(self, descriptor: str | None = None) -> Chart:
        """Right answers, trial by trial, between the line that passes and the line that fails."""
        table = of_descriptor(self.table, descriptor)
        if not len(table):
            raise DesignError("nothing to draw", where="no trial was given", do="give its outcomes")
        marks: list[Mark | None] = [None] * len(table)
        marks[-1] = {PASS: Mark.HIGHER, FAIL: Mark.LOWER}.get(self.call, Mark.WITHIN)
        limits = {"floor": table[FAIL_AT].fillna(-np.inf), "ceiling": table[PASS_AT].fillna(np.inf)}
        so_far = table[RIGHT_SO_FAR]
        rows = chart_rows(table[TRIAL], marks=marks, value=so_far, level=so_far, **limits)
        band = Phrase("not settled: go on; above it: pass, below it: fail")
        axis, words = Phrase("right answers so far (number)"), Phrase("right answers so far")
        return Chart(Phrase("Screening: {call}").format(call=self.call), axis, rows, words, along=TRIAL, band=band)


@checked()
def screen_trainee(
    kind: str,
    outcomes: Sequence[bool | int | None],
    *,
    pass_share: float | None = None,
    pass_d: float | None = None,
    fail_share: float = 0.0,
    wrong_pass: float = 0.05,
    wrong_fail: float = 0.10,
    stop_after: int | None = None,
    trainee: str = Phrase("the trainee"),
) -> Screening:
    """Screen a trainee by a row of difference tests that stops as soon as the question is settled.

    Parameters
    ----------
    kind : str
        A forced choice, one-sided.
    outcomes : sequence of True, False or None
        Answers in the order given: right, wrong, blank. A blank is a wrong answer; no trial may be left out.
    pass_share, pass_d : float, optional
        Who should pass: share of servings truly detected (default one half), or d'.
    fail_share : float in [0, 1)
        Who should fail: share truly detected; 0 is a trainee who guesses.
    wrong_pass, wrong_fail : float in (0, 1)
        Risk of passing who should fail, and of failing who should pass.
    stop_after : int, optional
        Last trial; if not given, the least that keeps both risks. The nearer line decides there.
    trainee : str
        Name, for the sentence.

    Raises
    ------
    DesignError
        Impossible shares or risks, outcomes that are neither right, wrong nor blank, or answers after the decision.

    Notes
    -----
    Wald (1947), Sequential Analysis; ISO 16820. Answers in sequence are taken as independent.

    Examples
    --------
    >>> found = screen_trainee("triangle", [True, True, False, True, True, True, True])
    >>> found.call, found.stop_after
    ('pass', 22)
    """
    this = forced_kind(kind)
    if this.two_sided:
        raise DesignError("a preference has no right answer", where=f"kind={kind!r}", do="screen by 2-afc or triangle")
    lines = _lines(this.guess, tolerated_share(this, pass_share, pass_d), fail_share, wrong_pass, wrong_fail)
    last = stop_after or shortest(lines)
    if last is None:
        raise DesignError(
            f"no screening of up to {MOST_TRIALS} trials keeps both risks",
            where=f"p0={lines.p0:g}, p1={lines.p1:g}, risks {wrong_pass:g} and {wrong_fail:g}",
            do="ask more of a pass, or accept higher risks",
        )
    table, risks = _path(_right(outcomes), lines, last), _risks(lines, last)
    call = _call(table, lines, last)
    return Screening(
        call=call, lines=lines, stop_after=last, table=table, risks=risks,
        verdicts=(_verdict(call, table, lines, risks, last=last, trainee=trainee),),
        method=_method(this.name, lines, risks, last),
    )  # fmt: skip


def _lines(chance: float, asked: float | None, fail_share: float, wrong_pass: float, wrong_fail: float) -> Lines:
    p0, p1 = (chance + (1 - chance) * share for share in (fail_share, 0.5 if asked is None else asked))
    p1 = min(p1, 1 - 1e-9)
    if not p0 < p1:
        raise DesignError(
            "a trainee who should pass must be right more often than one who should fail",
            where=f"p0={p0:g}, p1={p1:g}", do="raise the share asked of a pass",
        )  # fmt: skip
    if wrong_pass + wrong_fail >= 1:
        raise DesignError(
            "the two risks add up to 1 or more", where=f"{wrong_pass:g} and {wrong_fail:g}", do="lower them"
        )
    return Lines(p0, p1, wrong_pass, wrong_fail)


def _right(outcomes: Sequence[bool | int | None]) -> np.ndarray:
    for at, outcome in enumerate(outcomes):
        if outcome not in (True, False, None):
            raise DesignError(
                "an outcome is neither right, wrong nor blank", where=f"outcomes[{at}]={outcome!r}",
                do="give True, False or None for each trial",
            )  # fmt: skip
    return np.array([bool(outcome) for outcome in outcomes], bool)


def _path(right: np.ndarray, lines: Lines, last: int) -> pd.DataFrame:
    trial = np.arange(1, len(right) + 1)
    so_far = right.cumsum()
    upper, lower = lines.passes(trial), lines.fails(trial)
    decided = np.flatnonzero((so_far >= upper) | (so_far <= lower) | (trial == last))
    if len(decided) and decided[0] + 1 < len(right):
        raise DesignError(
            "answers after the screening was over", where=f"trial {decided[0] + 2} of {len(right)}",
            do=f"give the outcomes up to trial {decided[0] + 1}: going on after a decision breaks its risks",
        )  # fmt: skip
    reachable = {FAIL_AT: np.where(lower >= 0, lower, np.nan), PASS_AT: np.where(upper <= trial, upper, np.nan)}
    return pd.DataFrame({TRIAL: trial, RIGHT: right, RIGHT_SO_FAR: so_far, **reachable})


def _call(table: pd.DataFrame, lines: Lines, last: int) -> str:
    if table.empty:
        return CANNOT_TELL
    end = table.iloc[-1]
    if end[RIGHT_SO_FAR] >= end[PASS_AT]:
        return PASS
    if end[RIGHT_SO_FAR] <= end[FAIL_AT]:
        return FAIL
    if end[TRIAL] < last:
        return CANNOT_TELL
    return PASS if end[RIGHT_SO_FAR] >= lines.passes_at_the_end(last) else FAIL


def _risks(lines: Lines, last: int) -> pd.DataFrame:
    shares = [lines.p0, (lines.p0 + lines.p1) / 2, lines.p1]
    runs = [course(lines, p, last) for p in shares]
    passes, trials = [run.closing[-1] for run in runs], [run.trials[-1] for run in runs]
    return pd.DataFrame({"share_right": shares, "passes": passes, "expected_trials": trials})


def _verdict(call: str, table: pd.DataFrame, lines: Lines, risks: pd.DataFrame, *, last: int, trainee: str) -> Verdict:
    n = len(table)
    right = int(table[RIGHT_SO_FAR].iloc[-1]) if n else 0
    sentence = {PASS: words.PASSES, FAIL: words.FAILS, CANNOT_TELL: words.GO_ON}[call].format(
        right=right, trials=n, trainee=trainee, unfit=percent(lines.p0), fit=percent(lines.p1),
        wrong_pass=percent(risks["passes"].iloc[0]), wrong_fail=percent(1 - risks["passes"].iloc[-1]),
    )  # fmt: skip
    numbers = {RIGHT: right, "trials": n}
    if call != CANNOT_TELL:
        return Verdict(words.ASKED, trainee, call, sentence, numbers, "", Act.DECIDE)
    step = words.ANOTHER.format(more=last - n, last=last)
    return Verdict(words.ASKED, trainee, call, sentence, numbers, step, Act.TASTE_AGAIN)


def _method(kind: str, lines: Lines, risks: pd.DataFrame, last: int) -> str:
    unfit, fit = risks.iloc[0], risks.iloc[-1]
    return words.METHOD.format(
        kind=said(kind),
        slope=stated(lines.slope, ".3f"),
        above=stated(lines.above, ".3f"),
        below=stated(lines.below, ".3f"),
        last=last,
        unfit=percent(lines.p0),
        unfit_passes=percent(unfit["passes"]),
        unfit_trials=stated(unfit["expected_trials"], ".1f"),
        fit=percent(lines.p1),
        fit_passes=percent(fit["passes"]),
        fit_trials=stated(fit["expected_trials"], ".1f"),
    )
