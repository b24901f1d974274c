"""Difference and match tests from counts: do two products differ, do they match, or can't we tell?"""

from __future__ import annotations

from typing import TYPE_CHECKING

from panelstats.arguments import checked
from panelstats.difference.counts.forced import Counts, ask, counts_of
from panelstats.difference.counts.tables import DifferenceTest, from_counts, from_signal
from panelstats.errors import DesignError
from panelstats.models.kinds import SIGNAL, kind_of
from panelstats.models.kinds.criterion import SignalCounts

if TYPE_CHECKING:
    from numpy.typing import ArrayLike


@checked()
def difference_test(
    kind: str,
    *,
    correct: ArrayLike | None = None,
    answers: ArrayLike | None = None,
    blanks: ArrayLike = 0,
    hits: int | None = None,
    false: int | None = None,
    n_a: int | None = None,
    n_not_a: int | None = None,
    error: float = 0.05,
    match_error: float = 0.05,
    subject: str = "",
) -> DifferenceTest:
    """Do two products differ? Exact test against guessing.

    Parameters
    ----------
    kind : str
        triangle, duo-trio, paired (two-sided), 2-afc (one-sided), 3-afc, tetrad, two-out-of-five, a-not-a,
        same-different.
    correct, answers : int or array_like of int
        Right answers, and all sets served, blank ones among them. For paired: how often A was named.
    blanks : int or array_like of int
        Sets left blank; they count as wrong here.
    hits, false, n_a, n_not_a : int
        For a-not-a: "A" said of A and of what is not A, and how many of each were served. For same-different:
        "different" said of mixed pairs and of pairs of one product, and how many of each.
    error, match_error : float in (0, 1)
        Error rates of "differ" and of "match"; they set the lower and the upper limits.
    subject : str
        What was compared, for the sentence.

    Returns
    -------
    DifferenceTest
        The call is "differ" or "cannot tell"; a match needs a tolerance and `match_test`.

    Raises
    ------
    DesignError
        The kind is unknown, counts are impossible, or an error rate is not between 0 and 1.

    Notes
    -----
    Model: with nobody able to tell, right answers are binomial with the chance of the kind (1/2, 1/3, 1/10).
    ISO 4120 (triangle), ISO 10399 (duo-trio), ISO 5495 (paired). Limits: Clopper & Pearson (1934).

    Examples
    --------
    >>> found = difference_test("triangle", correct=29, answers=66)
    >>> found.call, round(found.p, 4), round(found.d_prime.value, 2)
    ('differ', 0.0469, 1.13)
    >>> difference_test("duo-trio", correct=[8, 12], answers=12).call
    array(['cannot tell', 'differ'], dtype='<U11')
    """
    if kind in SIGNAL:
        counts = _signal_counts(kind, hits, false, n_a, n_not_a)
        return from_signal(kind, counts, error=error, match_error=match_error, within_d=None, subject=subject)
    _no_signal_counts(kind, hits, false, n_a, n_not_a)
    question = ask(kind, error=error, match_error=match_error)
    return from_counts(question, _counts(kind, correct, answers, blanks), subject=subject)


@checked()
def match_test(
    kind: str,
    *,
    correct: ArrayLike | None = None,
    answers: ArrayLike | None = None,
    blanks: ArrayLike = 0,
    hits: int | None = None,
    false: int | None = None,
    n_a: int | None = None,
    n_not_a: int | None = None,
    within_share: float | None = None,
    within_d: float | None = None,
    error: float = 0.05,
    match_error: float = 0.05,
    subject: str = "",
) -> DifferenceTest:
    """Do two products match within a tolerance, do they differ, or can't we tell? Both tests on one set of answers.

    Parameters
    ----------
    kind, correct, answers, hits, false, n_a, n_not_a, error, match_error, subject
        As for `difference_test`.
    blanks : int or array_like of int
        Sets left blank; they count as wrong for "differ" and as right for "match", so that each claim holds whatever
        the blank would have been.
    within_share : float in (0, 1]
        Tolerance: largest share of tasters able to tell that still is a match.
    within_d : float above 0
        The tolerance as d' instead; the only one for a-not-a and same-different.

    Returns
    -------
    DifferenceTest
        Where both a difference and a match are shown the call is "match": the tolerance is the question asked, and the
        sentence says that a smaller difference was detected.

    Raises
    ------
    DesignError
        As for `difference_test`; or no tolerance, two tolerances, or one that is no size.

    Notes
    -----
    Whatever the truth, the chance of a false statement is at most `error` (differ) or `match_error` (match): the two
    hypotheses cannot be true together, and between them neither statement is false. No correction is needed.

    Examples
    --------
    >>> found = match_test("triangle", correct=22, answers=60, within_share=0.3)
    >>> found.call, round(found.p_match, 4), round(found.share_who_can_tell.high, 3)
    ('match', 0.0069, 0.221)
    """
    if within_share is None and within_d is None:
        raise DesignError(
            "a match needs a tolerance", where="within_share=None, within_d=None",
            do="say what still is a match: within_share=0.3 (30 % of the tasters can tell) or within_d=1.0",
        )  # fmt: skip
    if kind in SIGNAL:
        if within_d is None:
            raise DesignError(
                f"{kind} has no share who can tell", where=f"within_share={within_share!r}", do="declare within_d"
            )
        counts = _signal_counts(kind, hits, false, n_a, n_not_a)
        ask("2-afc", error=error, match_error=match_error, within_share=within_share, within_d=within_d)
        return from_signal(kind, counts, error=error, match_error=match_error, within_d=within_d, subject=subject)
    _no_signal_counts(kind, hits, false, n_a, n_not_a)
    question = ask(kind, error=error, match_error=match_error, within_share=within_share, within_d=within_d)
    return from_counts(question, _counts(kind, correct, answers, blanks), subject=subject)


def _counts(kind: str, correct: ArrayLike | None, answers: ArrayLike | None, blanks: ArrayLike) -> Counts:
    if correct is None or answers is None:
        raise DesignError("no counts", where=f"correct={correct!r}, answers={answers!r}", do=f"{kind} takes both")
    return counts_of(correct, answers, blanks)


def _signal_counts(
    kind: str, hits: int | None, false: int | None, n_a: int | None, n_not_a: int | None
) -> SignalCounts:
    if hits is None or false is None or n_a is None or n_not_a is None:
        raise DesignError(
            "counts are missing",
            where=f"hits={hits!r}, false={false!r}, n_a={n_a!r}, n_not_a={n_not_a!r}",
            do=f"{kind} takes all four: hits of n_a, false of n_not_a",
        )
    if hits > n_a or false > n_not_a:
        raise DesignError(
            "more answers of one kind than servings", where=f"{hits=}, {n_a=}, {false=}, {n_not_a=}",
            do="n_a and n_not_a count every serving of their kind",
        )  # fmt: skip
    return SignalCounts(hits, n_a, false, n_not_a)


def _no_signal_counts(kind: str, *counts: int | None) -> None:
    if any(count is not None for count in counts):
        kind_of(kind)
        raise DesignError("hits and false belong to a-not-a and same-different", where=f"kind={kind!r}",
                          do="give correct and answers")  # fmt: skip
