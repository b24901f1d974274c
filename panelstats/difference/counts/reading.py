"""What counts say to a question: p-values, estimates with their limits, and one three-valued call, for whole arrays.

The difference test (nobody can tell) and the match test (as many can tell as the tolerance) run on one set of answers,
each at its own error rate. Both hypotheses cannot be true at once, and between them neither statement is false:
whatever the truth, a false statement is no likelier than the larger of the two rates. The same calls are read off the
exact limits: differ where the lower one lies above chance, match where the upper one lies inside the tolerance.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from panelstats.difference.counts.exact import (
    TIES,
    at_least,
    at_most,
    least_correct,
    limits,
    most_correct,
    p_two_sided,
    wrong_below,
)
from panelstats.difference.counts.question import Counts, Question
from panelstats.models.kinds import d_prime, share_wrong

DIFFER, MATCH, CANNOT_TELL = "differ", "match", "cannot tell"
# Fewer right answers than one guessing panel in a hundred gives: the key or the serving is in doubt (our choice).
BELOW_GUESSING = 0.01


@dataclass(frozen=True, eq=False)
class Interval:
    """An estimate and its limits; arrays of one shape."""

    value: np.ndarray
    low: np.ndarray
    high: np.ndarray


@dataclass(frozen=True, eq=False)
class Reading:
    """Everything a verdict says of counts; arrays of one shape.

    Attributes
    ----------
    counts : Counts
        What was read.
    p_difference, p_match : ndarray
        Exact p-values; `p_match` is NaN where no match was asked about.
    below : ndarray of bool
        Fewer right than guessing gives: no match is called.
    possible : ndarray of bool
        Some number of right answers would have been called.
    share, can_tell, d : Interval
        Share of right answers, share of tasters who can tell, d'.
    call : ndarray of str
        differ, match or cannot tell.
    """

    counts: Counts
    p_difference: np.ndarray
    p_match: np.ndarray
    below: np.ndarray
    possible: np.ndarray
    share: Interval
    can_tell: Interval
    d: Interval
    call: np.ndarray


def read_counts(counts: Counts, question: Question) -> Reading:
    """Read counts: blanks are wrong for a difference and right for a match, so that either claim survives them."""
    p_difference, p_match = p_values(counts, question)
    below = _below_guessing(counts, question)
    matched = (p_match <= question.match_error * TIES) & ~below
    call = np.where(matched, MATCH, np.where(p_difference <= question.error * TIES, DIFFER, CANNOT_TELL))
    share = _share(counts, question, call)
    return Reading(
        counts=counts,
        p_difference=p_difference,
        p_match=p_match,
        below=below,
        possible=_possible(counts, question),
        share=share,
        can_tell=can_tell_of(share, question),
        d=_d(share, counts, question, call),
        call=call,
    )


def p_values(counts: Counts, question: Question) -> tuple[np.ndarray, np.ndarray]:
    """Exact p-values of the difference test and of the match test (NaN without a tolerance)."""
    x, n, most = counts.correct, counts.answers, counts.correct + counts.blanks
    if question.kind.two_sided:  # a blank falls where it helps the claim least
        p_difference = p_two_sided(np.clip(np.floor(n / 2), x, most), n)
    else:
        p_difference = at_least(x, n, question.chance)
    if question.share is None:
        return p_difference, np.full(n.shape, np.nan)
    p_match = at_most(most, n, question.at_tolerance)
    if question.kind.two_sided:
        p_match = np.maximum(p_match, at_least(x, n, 1 - question.at_tolerance))
    return p_difference, np.where(n > 0, p_match, 1.0)


def _below_guessing(counts: Counts, question: Question) -> np.ndarray:
    if question.kind.two_sided:
        return np.zeros(counts.answers.shape, bool)
    return at_most(counts.correct + counts.blanks, counts.answers, question.chance) <= BELOW_GUESSING


def _possible(counts: Counts, question: Question) -> np.ndarray:
    """Whether any result at all would have been called."""
    n = counts.answers
    differ = least_correct(n, question.chance, question.tail) <= n
    if question.share is None:
        return differ
    most = most_correct(n, question.at_tolerance, question.match_error)
    return differ | (most >= (n / 2 if question.kind.two_sided else 0))


def tails(question: Question, call: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Error rates of the lower and the upper limit, such that the limits never contradict the call."""
    below, above = np.full(call.shape, question.error), np.full(call.shape, question.match_error)
    if question.kind.two_sided:  # the two tests read two different intervals: print that of the claim made
        both = min(question.tail, question.match_error) if question.share is not None else question.tail
        tail = np.where(call == MATCH, question.match_error, np.where(call == DIFFER, question.tail, both))
        return tail, tail
    return below, above


def _share(counts: Counts, question: Question, call: np.ndarray) -> Interval:
    below, above = tails(question, call)
    with np.errstate(invalid="ignore"):  # nothing answered: no estimate
        value = counts.correct / (counts.answers - counts.blanks)
    low = limits(counts.correct, counts.answers, below=below, above=above)[0]
    high = limits(counts.correct + counts.blanks, counts.answers, below=below, above=above)[1]
    return Interval(value, low, high)


def can_tell_of(share: Interval, question: Question) -> Interval:
    """Turn shares of right answers into shares of tasters who can tell, 0 at or below chance."""
    floor = -1.0 if question.kind.two_sided else 0.0
    read = [
        np.clip((p - question.chance) / (1 - question.chance), floor, 1.0) for p in (share.value, share.low, share.high)
    ]
    return Interval(*read)


def _d(share: Interval, counts: Counts, question: Question, call: np.ndarray) -> Interval:
    answered = counts.answers - counts.blanks
    with np.errstate(invalid="ignore"):
        value = (answered - counts.correct) / answered
    high = wrong_below(counts.correct + counts.blanks, counts.answers, tails(question, call)[1])
    return d_of(Interval(value, 1 - share.low, high), question)


def d_of(wrong: Interval, question: Question) -> Interval:
    """Turn shares of wrong answers into d'; infinite above where the curve cannot tell it from a perfect score."""
    kind = question.kind.name
    beyond = wrong.high < share_wrong(kind, question.kind.most_d)
    high = np.where(beyond, np.inf, d_prime(kind, wrong=wrong.high))
    return Interval(d_prime(kind, wrong=wrong.value), d_prime(kind, wrong=wrong.low), high)
