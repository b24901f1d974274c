"""The sentences of difference and match tests, and what to do next; nothing found is never told as proof of a match."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from panelstats.difference.counts.reading import CANNOT_TELL, DIFFER, MATCH
from panelstats.difference.counts.sizes import MOST_ANSWERS, difference_needs, least_share_found, match_needs
from panelstats.models.kinds import d_prime
from panelstats.result import Act, Verdict
from panelstats.words import interval, number, p_value, percent

if TYPE_CHECKING:
    from panelstats.difference.counts.question import Question
    from panelstats.difference.counts.reading import Interval, Reading

# Power of the tests that a next step proposes: common practice.
POWER = 0.8
IN_TEN = f"{POWER * 10:.0f} cases of 10"
# Where no tolerance is declared, the next step is worked out for this share of tasters who can tell (our choice).
SHARE_IF_NONE = 0.3
ONE_EACH = " Each answer is taken as independent: one per taster."


def rate(error: float) -> str:
    """An error rate as it was asked for.

    Examples
    --------
    >>> rate(0.05), rate(0.001)
    ('5 %', '0.1 %')
    """
    return f"{100 * error:g} %"


def p_text(p: float) -> str:
    """A p-value with its letter.

    Examples
    --------
    >>> p_text(0.0469), p_text(1e-9)
    ('p = 0.047', 'p < 0.001')
    """
    value = p_value(p)
    return f"p {value}" if value.startswith("<") else f"p = {value}"


def d_text(d: Interval, at: int) -> str:
    """Say d' with its limits; an infinite one in words."""
    value, low, high = d.value[at], d.low[at], d.high[at]
    estimate = "no finite d'" if np.isinf(value) else f"d' {number(value, 2)}"
    if np.isinf(high):
        return f"{estimate}, at least {number(low, 2)}" if np.isfinite(low) else f"{estimate}, without limits"
    return f"{estimate} ({interval(low, high, 2)})"


def verdict(reading: Reading, question: Question, at: int, *, subject: str = "", note: str = "") -> Verdict:
    """The verdict of one test of a reading (its arrays flattened)."""
    call = str(reading.call[at])
    says = {DIFFER: _differ, MATCH: _match, CANNOT_TELL: _open}[call]
    sentence = f"{_head(reading, question, at, subject)}: {says(reading, question, at)}"
    return Verdict(
        question=asked(question),
        subject=subject,
        call=call,
        sentence=" ".join(part for part in (sentence, note) if part),
        numbers=_numbers(reading, question, at),
        next_step=_next(reading, question, at) if call == CANNOT_TELL else "",
        act={DIFFER: Act.DECIDE, MATCH: Act.KNOW, CANNOT_TELL: Act.TASTE_AGAIN}[call],
    )


def asked(question: Question) -> str:
    """The question in the reader's words."""
    return "Do the two differ?" if question.share is None else "Do the two differ, or match within the tolerance?"


def tolerance_text(question: Question) -> str:
    """The tolerance as it was declared, and as a share."""
    share = f"{percent(question.share or 0.0)} of the tasters able to tell"
    return share if question.d is None else f"d' {question.d:g}, which is {share}"


def _head(reading: Reading, question: Question, at: int, subject: str) -> str:
    x, n, blanks = (int(a[at]) for a in (reading.counts.correct, reading.counts.answers, reading.counts.blanks))
    who = f"{subject}, {question.kind.name} test" if subject else f"{question.kind.name.capitalize()} test"
    right = f"A named in {x} of {n} answers" if question.kind.two_sided else f"{x} of {n} answers right"
    guessed = f"{n * question.chance:.3g} expected from guessing"
    blank = f", {blanks} blank (held against every claim)" if blanks else ""
    return f"{who}, {right}{blank}, {guessed}"


def _differ(reading: Reading, question: Question, at: int) -> str:
    risk = f"products nobody can tell apart get this verdict in at most {rate(question.error)} of tests"
    only = "" if question.share is None else f" A match within {tolerance_text(question)} is not shown."
    return f"the two differ ({p_text(reading.p_difference[at])}; {risk}). {_size(reading, question, at)}{only}"


def _match(reading: Reading, question: Question, at: int) -> str:
    found = reading.p_difference[at] <= question.error
    seen = " A difference was detected, but it is smaller than the tolerance." if found else ""
    risk = f"products at the tolerance get this verdict in at most {rate(question.match_error)} of tests"
    return (
        f"the two match within the stated tolerance of {tolerance_text(question)} "
        f"({p_text(reading.p_match[at])}; {risk}). {_size(reading, question, at)}{seen}"
    )


def _open(reading: Reading, question: Question, at: int) -> str:
    if reading.counts.answers[at] == reading.counts.blanks[at]:
        return "cannot tell: there is no answer to read."
    if reading.below[at]:
        return "cannot tell: fewer are right than guessing gives."
    why = "" if reading.possible[at] else "Too few answers to show anything at these error rates. "
    tested = p_text(reading.p_difference[at])
    claims = "differ" if question.share is None else f"differ or match within {tolerance_text(question)}"
    return f"cannot tell whether the two {claims} ({tested} for a difference). {why}{_size(reading, question, at)}"


def _size(reading: Reading, question: Question, at: int) -> str:
    told = reading.can_tell
    low, high, value = percent(told.low[at]), percent(told.high[at]), percent(told.value[at])
    if question.kind.two_sided:
        return f"In favour of A: {value} of the tasters ({low} to {high}); {d_text(reading.d, at)}."
    if told.low[at] <= 0:
        most = f"Anything from none to {high}" if told.high[at] < 1 else "Anything from none to all"
        return f"{most} of the tasters may be able to tell them apart; {d_text(reading.d, at)}."
    return f"About {value} of the tasters can tell them apart ({low} to {high}); {d_text(reading.d, at)}."


def _numbers(reading: Reading, question: Question, at: int) -> dict[str, float]:
    numbers = {"p_difference": reading.p_difference, "p_match": reading.p_match}
    for name, part in (("share", reading.share), ("can_tell", reading.can_tell), ("d", reading.d)):
        numbers |= {name: part.value, f"{name}_low": part.low, f"{name}_high": part.high}
    tolerance = {} if question.share is None else {"tolerance": question.share}
    return {name: float(values[at]) for name, values in numbers.items() if not np.isnan(values[at])} | tolerance


def _next(reading: Reading, question: Question, at: int) -> str:
    n = int(reading.counts.answers[at])
    if reading.below[at] and reading.counts.answers[at] > reading.counts.blanks[at]:
        return "Check the answer key, the codes and the serving, then serve a fresh test."
    return settle_text(question, n)


def settle_text(question: Question, answers: int) -> str:
    """How many answers would settle it, and that they belong to a fresh test."""
    if question.share is None:
        return _settle_difference(question, answers)
    differ = difference_needs(question, POWER)
    match = match_needs(question, POWER, question.chance)
    if differ is None or match is None:
        return _beyond(question)
    most = max(differ.served, match.served)
    return (
        f"A fresh {question.kind.name} test of {most} answers, one a taster, would settle it in {IN_TEN}: "
        f"a match takes {match.served} if "
        f"nobody can tell, a difference {differ.served} if as many can tell as the tolerance allows. "
        "Adding answers to this test would break its error rates."
    )


def _beyond(question: Question) -> str:
    return (
        f"More than {MOST_ANSWERS:,} answers would be needed for {tolerance_text(question)}: declare a wider "
        "tolerance, or compare descriptor scores."
    )


def _settle_difference(question: Question, answers: int) -> str:
    planned = replace(question, share=SHARE_IF_NONE)
    needs = difference_needs(planned, POWER)
    if needs is None:
        return _beyond(planned)
    found = least_share_found(question, answers, POWER)
    seen = (
        f"With {answers} answers a difference is found in {IN_TEN} only where {percent(found)} of tasters can tell. "
        if np.isfinite(found)
        else ""
    )
    told = f"{percent(SHARE_IF_NONE)} can tell (d' {_d_at(planned):.1f})"
    return (
        f"{seen}A fresh {question.kind.name} test of {needs.served} answers, one a taster, "
        f"would find one in {IN_TEN} where {told}. "
        "This is no proof of a match: that needs a tolerance and its own test."
    )


def _d_at(question: Question) -> float:
    return float(d_prime(question.kind.name, wrong=1 - question.at_tolerance))


def method(question: Question) -> str:
    """How it was worked out, in a paragraph."""
    kind = question.kind
    sided = "two-sided" if kind.two_sided else "one-sided"
    match = (
        ""
        if question.share is None
        else f" Match: exact test against {question.at_tolerance:.3g}, the share right at the tolerance; both tests "
        "read one set of answers, each at its own error rate, and need no correction: both hypotheses cannot be true."
    )
    rule = (
        " The taster is taken to choose the grouping with the least spread." if kind.name == "two-out-of-five" else ""
    )
    return (
        f"{kind.name}: an answer is right when {kind.right}. Difference: exact binomial test against "
        f"{kind.chance} from guessing, {sided}, error rate {question.error:g}.{match} Limits: Clopper and Pearson, the "
        f"lower at {question.tail:g}, the upper at {question.match_error:g}; d' by Thurstone's model with this kind's "
        f"decision rule, from the limits of the share right.{rule}"
    )
