"""A forced choice: the question, its counts, and what they say: p-values, limits, one three-valued call; whole arrays.

The difference test (nobody can tell) and the match test (as many can tell as the tolerance) run on one set of answers,
each at its own error rate. Both hypotheses cannot be true at once, and between them neither statement is false:
whatever the truth, a false statement is no likelier than the larger of the two rates. The same calls are read off the
exact limits: differ where the lower one lies above chance, match where the upper one lies inside the tolerance.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from panelstats.errors import DesignError
from panelstats.models.binomial import (
    TIES,
    at_least,
    at_most,
    least_correct,
    limits,
    most_correct,
    p_two_sided,
    wrong_below,
)
from panelstats.models.kinds import Kind, d_prime, forced_kind, share_correct, share_wrong

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import ArrayLike

DIFFER, MATCH, CANNOT_TELL = "differ", "match", "cannot tell"
# Fewer right answers than one guessing panel in a hundred gives: the key or the serving is in doubt (our choice).
BELOW_GUESSING = 0.01


@dataclass(frozen=True)
class Question:
    """What is asked of one kind of test, with the risks accepted.

    Attributes
    ----------
    kind : Kind
        A forced choice.
    error, match_error : float in (0, 1)
        Chance accepted of calling products different that nobody can tell, and of calling a match at the tolerance.
    share : float or None
        Tolerance as the share of tasters who can tell; None where no match is asked about.
    d : float or None
        The tolerance as d' if it was declared so.
    """

    kind: Kind
    error: float
    match_error: float
    share: float | None = None
    d: float | None = None

    @property
    def chance(self) -> float:
        """Share of right answers when nobody can tell."""
        return self.kind.guess

    @property
    def at_tolerance(self) -> float:
        """Share of right answers when as many can tell as the tolerance allows."""
        return self.chance + (1 - self.chance) * (self.share or 0.0)

    @property
    def tail(self) -> float:
        """Error rate of the difference test in one tail."""
        return self.error / 2 if self.kind.two_sided else self.error


@dataclass(frozen=True, eq=False)
class Counts:
    """Right answers of served sets, blanks among them; float arrays of one shape."""

    correct: np.ndarray
    answers: np.ndarray
    blanks: np.ndarray

    def map(self, change: Callable[[np.ndarray], np.ndarray]) -> Counts:
        """All three changed alike."""
        return Counts(change(self.correct), change(self.answers), change(self.blanks))


def ask(
    kind: str, *, error: float, match_error: float, within_share: float | None = None, within_d: float | None = None
) -> Question:
    """The question with its arguments checked; one tolerance at most.

    Examples
    --------
    >>> round(ask("triangle", error=0.05, match_error=0.05, within_d=1.0).share, 3)
    0.127
    """
    this = forced_kind(kind)
    return Question(this, error, match_error, tolerated_share(this, within_share, within_d), within_d)


def tolerated_share(kind: Kind, within_share: float | None, within_d: float | None) -> float | None:
    """The tolerance as a share of tasters who can tell, from whichever of the two was declared."""
    if within_share is not None and within_d is not None:
        raise DesignError(
            "two tolerances", where=f"within_share={within_share!r}, within_d={within_d!r}", do="declare one of the two"
        )
    if within_d is not None:
        return float((share_correct(kind.name, within_d) - kind.guess) / (1 - kind.guess))
    return within_share


def counts_of(correct: ArrayLike, answers: ArrayLike, blanks: ArrayLike = 0) -> Counts:
    """Counts, checked: whole, not negative, and no more right answers than sets that were answered.

    Examples
    --------
    >>> counts_of([3, 4], 12).answers
    array([12., 12.])
    """
    named = {"correct": correct, "answers": answers, "blanks": blanks}
    arrays = np.broadcast_arrays(*(np.asarray(value, float) for value in named.values()))
    counts = Counts(*arrays)
    if (counts.correct + counts.blanks > counts.answers).any():
        raise DesignError(
            "more right and blank answers than answers",
            where=f"correct={correct!r}, blanks={blanks!r}, answers={answers!r}",
            do="answers counts every set served, right, wrong and blank",
        )
    return counts


@dataclass(frozen=True, eq=False)
class Interval:
    """An estimate and its limits; arrays of one shape."""

    value: np.ndarray
    low: np.ndarray
    high: np.ndarray

    def at(self, place: int) -> tuple[float, float, float]:
        """The estimate and the limits of one of several."""
        return float(self.value[place]), float(self.low[place]), float(self.high[place])


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
    if not question.kind.two_sided:
        return np.full(call.shape, question.error), np.full(call.shape, question.match_error)
    # The two tests read two different intervals: print that of the claim made.
    both = min(question.tail, question.match_error) if question.share is not None else question.tail
    tail = np.where(call == MATCH, question.match_error, np.where(call == DIFFER, question.tail, both))
    return tail, tail


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
    parts = (share.value, share.low, share.high)
    return Interval(*(np.clip((p - question.chance) / (1 - question.chance), floor, 1.0) for p in parts))


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
