"""Difference and match tests where tasters answered several times each."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from scipy.special import ndtr, stdtr, stdtrit

from panelstats.arguments import checked
from panelstats.difference.counts.forced import (
    CANNOT_TELL,
    DIFFER,
    MATCH,
    Counts,
    Interval,
    Question,
    Reading,
    ask,
    can_tell_of,
    counts_of,
    d_of,
    read_counts,
)
from panelstats.difference.counts.tables import HIGH, LOW, DifferenceTest, answered
from panelstats.difference.counts.words import p_text
from panelstats.difference.repeated import words
from panelstats.errors import DesignError
from panelstats.models.betabinomial import (
    Fit,
    Replicates,
    abilities,
    few_people_limit,
    few_people_p,
    fit,
    profile,
    profile_limits,
)
from panelstats.models.binomial import TIES, at_least, limits
from panelstats.models.multiplicity import holm
from panelstats.words import stated

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import ArrayLike

TASTER, CORRECT, ANSWERS = "taster", "correct", "answers"
P, P_ADJUSTED, ABILITY = "p", "p_adjusted", "ability"


@dataclass(frozen=True, eq=False, repr=False, kw_only=True)
class RepeatedTest(DifferenceTest):
    """As `DifferenceTest`, for tasters who answered several times.

    Attributes
    ----------
    tasters : DataFrame
        taster, correct, answers, p (exact, alone), p_adjusted (Holm), low, high (exact limits of the share right),
        ability (share truly detected, drawn towards the panel's mean; NaN for one taster and for paired).
    correlation : float
        Correlation of ability within tasters, 0 where all are alike; NaN where it cannot be known.
    p_alike : float
        p-value of the test that all tasters are alike; cautious, so a large one does not show that they are.
    """

    tasters: pd.DataFrame
    correlation: float
    p_alike: float


@checked()
def repeated_test(
    kind: str,
    *,
    correct: ArrayLike,
    answers: ArrayLike,
    blanks: ArrayLike = 0,
    tasters: Sequence[str] | None = None,
    within_share: float | None = None,
    within_d: float | None = None,
    error: float = 0.05,
    match_error: float = 0.05,
    subject: str = "",
) -> RepeatedTest:
    """Do two products differ or match, when each taster answered several times?

    Parameters
    ----------
    kind : str
        A forced choice.
    correct, answers, blanks : array_like of int, shape (taster,)
        Right answers, sets served (blank ones among them), and blank sets, of each taster.
    tasters : sequence of str, optional
        Their names; "1", "2", ... if not given.
    within_share, within_d, error, match_error, subject
        As for `match_test`; without a tolerance only "differ" and "cannot tell" are called.

    Returns
    -------
    RepeatedTest
        Limits are of the mean over tasters, the widest of profile likelihood, pooled exact limits, and an upper one
        that holds for few tasters.

    Raises
    ------
    DesignError
        As for `match_test`; or nobody answered twice.

    Notes
    -----
    Difference: all answers pooled, which is exact: if nobody can tell, every answer is an independent guess whoever
    gives it (Kunert & Meyners 1999, Food Quality and Preference 10). Match and limits: tasters differ away from
    chance, so pooling would claim too many matches; a beta-binomial with guessing taken apart is fitted instead. A
    panel of few may hold nobody of those who can tell, however often it sits: a match must also survive an exact test
    at several correlations of ability within tasters, up to all or none.

    Examples
    --------
    >>> found = repeated_test("triangle", correct=[1, 2, 4, 1, 0, 2, 3, 4, 1, 1, 2, 4], answers=[4] * 12)
    >>> found.call, round(found.share_who_can_tell.value, 2), round(found.correlation, 2)
    ('differ', 0.26, 0.93)
    """
    question = ask(kind, error=error, match_error=match_error, within_share=within_share, within_d=within_d)
    counts = counts_of(*(np.atleast_1d(np.asarray(part)) for part in (correct, answers, blanks)))
    names = [str(i + 1) for i in range(len(counts.answers))] if tasters is None else [str(name) for name in tasters]
    if len(names) != len(counts.answers) or len(set(names)) != len(names):
        raise DesignError("names and counts of tasters do not fit", where=f"tasters={names!r}", do="one name each")
    return from_tasters(question, counts, names, subject=subject)


def from_tasters(question: Question, counts: Counts, names: Sequence[str], *, subject: str = "") -> RepeatedTest:
    """The result for checked counts of one test, a taster each."""
    served = counts.answers > 0
    counts = counts.map(lambda part: part[served])
    pooled = read_counts(counts.map(lambda part: part.sum(keepdims=True)), question)
    names = [name for name, kept in zip(names, served, strict=True) if kept]
    fitted = _fit(question, counts)
    reading = pooled if len(names) < 2 else _reading(question, counts, pooled, fitted)
    note = _note(names, counts, fitted)
    fields = answered(reading, question, (), subject=subject, note=note, tasters=len(names))
    return RepeatedTest(
        **fields | {"method": words.METHOD.format(method=fields["method"])},
        tasters=_each(question, counts, names, fitted),
        correlation=fitted.gamma if fitted else float("nan"),
        p_alike=fitted.p_alike if fitted else float("nan"),
    )


def _fit(question: Question, counts: Counts) -> Fit | None:
    """The fit of answered sets; None for one taster, and for paired, where ability has two directions."""
    if len(counts.answers) < 2 or question.kind.two_sided:
        return None
    data = Replicates.of(counts.correct, counts.answers - counts.blanks, question.chance)
    if len(data.answers) and not (data.answers > 1).any():
        raise DesignError(
            "no taster answered twice",
            where=f"answers per taster: {sorted(set(data.answers.tolist()))}",
            do="use difference_test or match_test: one answer from each taster needs no model of tasters",
        )
    return fit(data) if len(data.answers) else None


def _reading(question: Question, counts: Counts, pooled: Reading, fitted: Fit | None) -> Reading:
    """The pooled reading with limits and match test that allow for tasters who differ."""
    careful = _by_mean if fitted is None else _by_profile
    low, high, p = careful(question, counts)
    p_match = np.maximum(pooled.p_match, p)
    matched = (p_match <= question.match_error * TIES) & ~pooled.below
    differs = pooled.p_difference <= question.error * TIES
    if question.kind.two_sided:  # tasters who disagree on the direction are no evidence for one
        differs = differs & ((low > question.chance) | (high < question.chance))
    elif low <= question.chance and differs[0]:  # the exact test of "nobody can tell" goes beyond the likelihood
        low = float(pooled.share.low[0])
    value = pooled.share.value
    if fitted is not None and value[0] > question.chance:  # no more right than guessing gives: nobody is seen to tell
        value = np.array([question.chance + (1 - question.chance) * fitted.mu])
    share = Interval(value, np.minimum(low, pooled.share.low), np.maximum(high, pooled.share.high))
    return replace(
        pooled,
        p_match=p_match,
        call=np.where(matched, MATCH, np.where(differs, DIFFER, CANNOT_TELL)),
        share=share,
        can_tell=can_tell_of(share, question),
        d=d_of(Interval(1 - share.value, 1 - share.low, 1 - share.high), question),
    )


def _by_profile(question: Question, counts: Counts) -> tuple[float, float, float]:
    """Limits of the mean share right and p of the match test; blanks are held against each claim."""
    wrong_blanks = Replicates.of(counts.correct, counts.answers, question.chance)
    least = profile_limits(wrong_blanks, fit(wrong_blanks), below=question.error)[0]
    right_blanks = Replicates.of(counts.correct + counts.blanks, counts.answers, question.chance)
    fitted = fit(right_blanks)
    most = profile_limits(right_blanks, fitted, above=question.match_error)[1]
    p = float("nan") if question.share is None else 1.0
    if question.share is not None and fitted.mu < question.share:
        fall = fitted.loglik - float(profile(right_blanks, question.share)[0])
        p = max(float(ndtr(-np.sqrt(2 * max(0.0, fall)))), few_people_p(right_blanks, question.share))
    most = max(most, few_people_limit(right_blanks, question.match_error))
    if question.share is not None:  # both are found by search: they must not contradict each other in the last digit
        most = min(most, question.share) if p <= question.match_error * TIES else max(most, question.share)
    low, high = (question.chance + (1 - question.chance) * mu for mu in (least, most))
    return low, high, p


def _by_mean(question: Question, counts: Counts) -> tuple[float, float, float]:
    """The same from the tasters' own shares by t, for paired tests."""
    n = len(counts.answers)
    least, most = counts.correct / counts.answers, (counts.correct + counts.blanks) / counts.answers
    t = stdtrit(n - 1, question.tail)
    low = max(0.0, float(least.mean() + t * least.std(ddof=1) / np.sqrt(n)))
    high = min(1.0, float(most.mean() - t * most.std(ddof=1) / np.sqrt(n)))
    p = float("nan")
    if question.share is not None:
        p = max(_p_beyond(most, question.at_tolerance), _p_beyond(1 - least, question.at_tolerance))
    return low, high, p


def _p_beyond(shares: np.ndarray, tolerance: float) -> float:
    """One-sided t test that the mean share reaches the tolerance."""
    error = shares.std(ddof=1) / np.sqrt(len(shares))
    gap = shares.mean() - tolerance
    return float(stdtr(len(shares) - 1, gap / error)) if error > 0 else float(gap >= 0)


def _each(question: Question, counts: Counts, names: Sequence[str], fitted: Fit | None) -> pd.DataFrame:
    low, high = limits(counts.correct, counts.answers, below=0.025, above=0.025)
    p = at_least(counts.correct, counts.answers, question.chance)
    data = Replicates.of(counts.correct, counts.answers, question.chance)
    ability = abilities(data, fitted, counts.correct, counts.answers) if fitted else np.full(len(names), np.nan)
    columns = {TASTER: names, CORRECT: counts.correct.astype(int), ANSWERS: counts.answers.astype(int), P: p}
    return pd.DataFrame(columns | {P_ADJUSTED: holm(p), LOW: low, HIGH: high, ABILITY: ability})


def _note(names: Sequence[str], counts: Counts, fitted: Fit | None) -> str:
    if len(names) == 1:
        return words.ONE_TASTER.format(taster=names[0])
    fewest, most = int(counts.answers.min()), int(counts.answers.max())
    template = words.EACH if fewest == most else words.BETWEEN
    each = template.format(tasters=len(names), times=fewest, fewest=fewest, most=most)
    if fitted is None:
        return words.NO_FIT.format(each=each)
    if np.isnan(fitted.gamma):
        return words.ALL_GUESS.format(each=each)
    template = words.THEY_DIFFER if fitted.p_alike <= 0.05 else words.NOT_SHOWN
    return template.format(each=each, correlation=stated(fitted.gamma, ".2f"), p=p_text(fitted.p_alike))
