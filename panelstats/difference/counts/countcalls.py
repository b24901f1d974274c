"""What counts prove, as verdicts: the words chosen by the call, and what would settle an open question."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from panelstats.difference.counts import words
from panelstats.difference.counts.forced import CANNOT_TELL, DIFFER, MATCH, ask
from panelstats.difference.counts.sittings import least_tasters, sittings_needed
from panelstats.difference.counts.sizes import (
    MOST_ANSWERS,
    difference_needs,
    difference_rates_needed,
    least_share_found,
    match_needs,
    match_rates_needed,
)
from panelstats.difference.counts.words import d_text, favour_text, p_text, who_said
from panelstats.models.kinds import d_prime
from panelstats.models.kinds.criterion import A_NOT_A, SignalCounts
from panelstats.result import Act, Verdict
from panelstats.speech import said
from panelstats.words import percent, percent_limit, stated, stated_percent

if TYPE_CHECKING:
    from panelstats.difference.counts.forced import Question, Reading
    from panelstats.difference.counts.signal import SignalReading

# Power of the tests that a next step proposes: common practice.
POWER = 0.8
CASES = stated(POWER * 10, ".0f")
# Where no tolerance is declared, the next step is worked out for this share of tasters who can tell, or this d' (ours).
SHARE_IF_NONE, SIZE_IF_NONE = 0.3, 1.0
# A kind with a low chance of guessing right and few servings: common practice.
LEAST_ASKED = "triangle"
ACTS = {DIFFER: Act.DECIDE, MATCH: Act.KNOW, CANNOT_TELL: Act.TASTE_AGAIN}


def verdict(
    reading: Reading, question: Question, at: int, *, subject: str = "", note: str = "", tasters: int | None = None
) -> Verdict:
    """The verdict of one test of a reading (its arrays flattened); tasters answered once each unless `tasters` says."""
    call = str(reading.call[at])
    says = {DIFFER: _differs, MATCH: _matches, CANNOT_TELL: _open}[call]
    fields = {"head": _head(reading, question, at, subject), "size": _size(reading, question, at)}
    return Verdict(
        question=words.ASKED if question.share is None else words.ASKED_BOTH,
        subject=subject,
        call=call,
        sentence=noted(says(reading, question, at, fields), note),
        numbers=_numbers(reading, question, at),
        next_step=_next(reading, question, at, tasters) if call == CANNOT_TELL else "",
        act=ACTS[call],
    )


def noted(sentence: str, note: str) -> str:
    """A sentence with what is to be known beside it."""
    return words.NOTED.format(sentence=sentence, note=note) if note else sentence


def tolerance_text(question: Question) -> str:
    """The tolerance as it was declared, and as a share."""
    template = words.TOLERANCE if question.d is None else words.TOLERANCE_D
    return template.format(share=percent(question.share or 0.0), d=stated(question.d or 0.0))


def _head(reading: Reading, question: Question, at: int, subject: str) -> str:
    x, n, blanks = (int(a[at]) for a in (reading.counts.correct, reading.counts.answers, reading.counts.blanks))
    return (words.HEAD_PAIRED if question.kind.two_sided else words.HEAD).format(
        who=who_said(question.kind.name, subject),
        right=x,
        answers=n,
        blanks=words.BLANKS.format(blanks=blanks) if blanks else "",
        guessed=stated(n * question.chance, ".3g"),
    )


def _differs(reading: Reading, question: Question, at: int, fields: dict[str, str]) -> str:
    no_match = "" if question.share is None else words.NO_MATCH.format(tolerance=tolerance_text(question))
    p = p_text(reading.p_difference[at])
    return words.DIFFERS.format(p=p, error=stated_percent(question.error), no_match=no_match, **fields)


def _matches(reading: Reading, question: Question, at: int, fields: dict[str, str]) -> str:
    smaller = words.SMALLER if reading.p_difference[at] <= question.error else ""
    tolerance, p = tolerance_text(question), p_text(reading.p_match[at])
    return words.MATCHES.format(
        p=p, error=stated_percent(question.match_error), tolerance=tolerance, smaller=smaller, **fields
    )


def _open(reading: Reading, question: Question, at: int, fields: dict[str, str]) -> str:
    if reading.counts.answers[at] == reading.counts.blanks[at]:
        return words.NO_ANSWER.format(**fields)
    if reading.below[at]:
        return words.BELOW.format(**fields)
    template = words.OPEN if question.share is None else words.OPEN_BOTH
    too_few = "" if reading.possible[at] else words.TOO_FEW
    p = p_text(reading.p_difference[at])
    return template.format(p=p, tolerance=tolerance_text(question), too_few=too_few, **fields)


def _size(reading: Reading, question: Question, at: int) -> str:
    """How large it is: the share who can tell, and d'; no limit is rounded onto chance or onto the tolerance."""
    value, least, most = reading.can_tell.at(at)
    d = d_text(*reading.d.at(at), clear=_lines(question.d))
    lines = _lines(question.share)
    if question.kind.two_sided:
        named = percent(float(reading.share.value[at]))
        return words.NAMED.format(named=named, favour=favour_text(value, least, most, clear=lines), d=d)
    low, high = percent_limit(least, up=False, clear=lines), percent_limit(most, up=True, clear=lines)
    if least <= 0:
        return words.SOME_MAY.format(high=high if most < 1 else words.ALL, d=d)
    return words.CAN_TELL.format(value=percent(value), low=low, high=high, d=d)


def _lines(tolerance: float | None) -> tuple[float, ...]:
    """The lines a verdict rests on."""
    return (0.0,) if tolerance is None else (-tolerance, 0.0, tolerance)


def _numbers(reading: Reading, question: Question, at: int) -> dict[str, float]:
    numbers = {"p_difference": reading.p_difference, "p_match": reading.p_match}
    for name, part in (("share", reading.share), ("can_tell", reading.can_tell), ("d", reading.d)):
        numbers |= {name: part.value, f"{name}_low": part.low, f"{name}_high": part.high}
    tolerance = {} if question.share is None else {"tolerance": question.share}
    return {name: float(values[at]) for name, values in numbers.items() if not np.isnan(values[at])} | tolerance


def _next(reading: Reading, question: Question, at: int, tasters: int | None) -> str:
    n = int(reading.counts.answers[at])
    tasters = n if tasters is None else tasters
    if reading.below[at] and n > reading.counts.blanks[at]:
        return words.CHECK_KEY
    return _settle_difference(question, n, tasters) if question.share is None else _settle(question, tasters)


def _settle(question: Question, tasters: int) -> str:
    """How many answers, or sittings of these tasters, would settle it, and that they belong to a fresh test."""
    differ, match = difference_needs(question, POWER), match_needs(question, POWER, question.chance)
    if differ is None or match is None:
        return _beyond(question)
    most, kind = max(differ.served, match.served), question.kind.name
    told = words.SETTLE.format(kind=said(kind), most=most, cases=CASES, match=match.served, differ=differ.served)
    if not 1 <= tasters < most:
        return told
    if question.kind.two_sided:
        return told + _not_by_sitting(question, tasters, match=True)
    least = least_tasters(question, POWER)[1]
    if tasters < least:
        share = question.share or 0.0
        return words.TOO_FEW_TASTERS.format(
            tasters=tasters, share=percent(share), missed=percent((1 - share) ** tasters), least=least, settle=told,
            instead=words.BY_POTS,
        )  # fmt: skip
    sittings = sittings_needed(question, tasters, POWER, match=True)
    if sittings is None:
        return told + _not_by_sitting(question, tasters, match=True)
    return words.SITTINGS_SETTLE.format(sittings=sittings, tasters=tasters, kind=said(kind), cases=CASES)


def _not_by_sitting(question: Question, tasters: int, *, match: bool) -> str:
    """What is left to so few tasters: the kind that asks least of them, else their marks over several pots."""
    easier = ask(
        LEAST_ASKED, error=question.error, match_error=question.match_error, within_d=question.d,
        within_share=question.share if question.d is None else None,
    )  # fmt: skip
    sittings = sittings_needed(easier, tasters, POWER, match=match)
    other = words.BY_POTS if sittings is None else words.BY_ANOTHER.format(sittings=sittings, kind=LEAST_ASKED)
    template = words.NOT_SO_MANY if question.kind.two_sided else words.NOT_BY_SITTING
    return template.format(tasters=tasters, instead=other)


def _beyond(question: Question) -> str:
    return words.BEYOND.format(most=stated(MOST_ANSWERS, ","), tolerance=tolerance_text(question))


def _settle_difference(question: Question, answers: int, tasters: int) -> str:
    planned = replace(question, share=SHARE_IF_NONE)
    needs = difference_needs(planned, POWER)
    if needs is None:
        return _beyond(planned)
    found = least_share_found(question, answers, POWER)
    shown = words.IS_FOUND.format(answers=answers, cases=CASES, share=percent(found)) if np.isfinite(found) else ""
    d = float(d_prime(question.kind.name, wrong=1 - planned.at_tolerance))
    few = 1 <= tasters < needs.served
    sittings = sittings_needed(planned, tasters, POWER, match=False) if few else None
    again = _not_by_sitting(planned, tasters, match=False) if few and sittings is None else ""
    return (words.WOULD_FIND if sittings is None else words.SITTINGS_FIND).format(
        found=shown, kind=said(question.kind.name), answers=needs.served, cases=CASES, share=percent(SHARE_IF_NONE),
        d=stated(d, ".1f"), sittings=sittings, tasters=tasters, again=again,
    )  # fmt: skip


def method(question: Question) -> str:
    """How it was worked out, in a paragraph."""
    kind = question.kind
    share = stated(question.at_tolerance, ".3g")
    return words.METHOD.format(
        kind=said(kind.name),
        right=said(kind.right),
        chance=kind.chance,
        sided=words.TWO_SIDED if kind.two_sided else words.ONE_SIDED,
        error=stated(question.error),
        match="" if question.share is None else words.METHOD_MATCH.format(share=share),
        tail=stated(question.tail),
        match_error=stated(question.match_error),
        rule=words.GROUPING if kind.name == "two-out-of-five" else "",
    )


def signal_verdict(
    kind: str, counts: SignalCounts, reading: SignalReading, *, error: float, match_error: float,
    within_d: float | None = None, subject: str = "", note: str = "",
) -> Verdict:  # fmt: skip
    """The verdict on counts of a test in which each taster draws his own line."""
    head = words.HEAD_A_NOT_A if kind == A_NOT_A else words.HEAD_SAME_DIFFERENT
    d = reading.d
    template, p, risk = {
        DIFFER: (words.SIGNAL_DIFFERS, reading.p, error),
        MATCH: (words.SIGNAL_MATCHES, reading.p_match, match_error),
        CANNOT_TELL: (words.SIGNAL_OPEN, reading.p, error),
    }[reading.call]
    size = d_text(d.value, d.low, d.high, clear=_lines(within_d))
    said = template.format(
        head=head.format(who=who_said(kind, subject), **vars(counts)),
        p=p_text(p),
        error=stated_percent(risk),
        tolerance=within_d,
        size=words.NO_D if np.isnan(d.value) else size,
    )
    numbers = {"p_difference": reading.p, "d": d.value, "d_low": d.low, "d_high": d.high}
    numbers |= {} if within_d is None else {"tolerance": within_d}
    asked = words.ASKED if within_d is None else words.ASKED_BOTH
    next_step = _signal_settle(kind, within_d, error, match_error) if reading.call == CANNOT_TELL else ""
    return Verdict(asked, subject, reading.call, noted(said, note), numbers, next_step, ACTS[reading.call])


def _signal_settle(kind: str, within_d: float | None, error: float, match_error: float) -> str:
    d = SIZE_IF_NONE if within_d is None else within_d
    n = difference_rates_needed(kind, d, error=error, power=POWER).served
    if within_d is None:
        return words.SIGNAL_WOULD_FIND.format(
            kind=said(kind), answers=n, d=stated(d), cases=CASES, people=_one_of_each(n)
        )
    n = max(n, match_rates_needed(kind, d, error=match_error, power=POWER).served)
    return words.SIGNAL_SETTLE.format(kind=said(kind), answers=n, cases=CASES, people=_one_of_each(n))


def _one_of_each(answers: int) -> str:
    """How many people such a test takes, and what fewer can do."""
    return words.ONE_OF_EACH.format(people=-(-answers // 2), instead=words.LOWER_BY_POTS)


def signal_method(kind: str) -> str:
    """How it was worked out, in a paragraph."""
    return words.SIGNAL_METHOD.format(rule=words.A_NOT_A_RULE if kind == A_NOT_A else words.SAME_DIFFERENT_RULE)
