"""What is said of difference and match tests from counts: whole sentences whose fields come formatted.

Nothing found is never told as proof of a match.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from panelstats.speech import Phrase, said
from panelstats.words import FROM_TO, capital, limit, number, p_value, percent, percent_limit

if TYPE_CHECKING:
    from collections.abc import Iterable

ASKED, ASKED_BOTH = Phrase("Do the two differ?"), Phrase("Do the two differ, or match within the tolerance?")

# What was counted: fills the field `head`; `who` is one of the first two.
WHO, NOBODY = Phrase("{subject}, {kind} test"), Phrase("{kind} test")
HEAD = Phrase("{who}, {right} of {answers} answers right{blanks}, {guessed} expected from guessing")
HEAD_PAIRED = Phrase("{who}, A named in {right} of {answers} answers{blanks}, {guessed} expected from guessing")
BLANKS = Phrase(", {blanks} blank (held against every claim)")
HEAD_A_NOT_A = Phrase('{who}, "A" said of A {hits} times in {n_a}, of what is not A {false} in {n_not_a}')
HEAD_SAME_DIFFERENT = Phrase(
    '{who}, "different" said of mixed pairs {hits} times in {n_a}, of like pairs {false} in {n_not_a}'
)

DIFFERS = Phrase(
    "{head}: the two differ ({p}; products nobody can tell apart get this verdict in at most {error} of tests). "
    "{size}{no_match}"
)
NO_MATCH = Phrase(" A match within {tolerance} is not shown.")
MATCHES = Phrase(
    "{head}: the two match within the stated tolerance of {tolerance} ({p}; products at the tolerance get this "
    "verdict in at most {error} of tests). {size}{smaller}"
)
SMALLER = Phrase(" A difference was detected, but it is smaller than the tolerance.")
OPEN = Phrase("{head}: cannot tell whether the two differ ({p} for a difference). {too_few}{size}")
OPEN_BOTH = Phrase(
    "{head}: cannot tell whether the two differ or match within {tolerance} ({p} for a difference). {too_few}{size}"
)
TOO_FEW = Phrase("Too few answers to show anything at these error rates. ")
NO_ANSWER = Phrase("{head}: cannot tell: there is no answer to read.")
BELOW = Phrase("{head}: cannot tell: fewer are right than guessing gives.")
TOLERANCE, TOLERANCE_D = (
    Phrase("{share} of the tasters able to tell"),
    Phrase("d' {d}, which is {share} of the tasters able to tell"),
)

# How large: fills the field `size`.
CAN_TELL = Phrase("About {value} of the tasters can tell them apart ({low} to {high}); {d}.")
SOME_MAY = Phrase("Anything from none to {high} of the tasters may be able to tell them apart; {d}.")
ALL = Phrase("all")
NAMED = Phrase("{named} named A: beyond guessing, {favour}; {d}.")
IN_FAVOUR, FOR_NEITHER = Phrase("{value} favour {product} ({between})"), Phrase("neither is favoured ({between})")
EITHER_WAY = Phrase("from {low} for the other to {high} for A")
A, THE_OTHER = "A", Phrase("the other")
D, D_AT_LEAST, D_WITHOUT = Phrase("{d} ({low} to {high})"), Phrase("{d}, at least {low}"), Phrase("{d}, without limits")
D_AT_MOST = Phrase("{d}, at most {high}")
D_VALUE, D_INFINITE, D_NONE = "d' {value}", Phrase("no finite d'"), Phrase("no d' above 0, at most {high}")

# Where each taster draws his own line.
SIGNAL_DIFFERS = Phrase(
    "{head}: the two differ ({p}; products nobody can tell apart get this verdict in at most {error} of tests); {size}."
)
SIGNAL_MATCHES = Phrase(
    "{head}: the two match within the stated tolerance of d' {tolerance} ({p}; products at the tolerance get this "
    "verdict in about {error} of tests); {size}."
)
SIGNAL_OPEN = Phrase("{head}: cannot tell ({p} for a difference); {size}.")
NO_D = Phrase("no d' can be given")
NOTED = "{sentence} {note}"

# What would settle it.
CHECK_KEY = Phrase("Check the answer key, the codes and the serving, then serve a fresh test.")
SETTLE = Phrase(
    "A fresh {kind} test of {most} answers, one a taster, would settle it in {cases} cases of 10: a match takes "
    "{match} if nobody can tell, a difference {differ} if as many can tell as the tolerance allows. Adding answers "
    "to this test would break its error rates."
)
BEYOND = Phrase(
    "More than {most} answers would be needed for {tolerance}: declare a wider tolerance, or compare descriptor scores."
)
NOT_BY_SITTING = Phrase(" {tasters} tasters cannot make up for that by sitting again. {instead}")
NOT_SO_MANY = Phrase(
    " {tasters} tasters are not so many, and answers of one mind about a direction do not add up. {instead}"
)
# What these tasters can do where no number of sittings helps: fills the field `instead`.
BY_ANOTHER = Phrase("{sittings} sittings of a {kind} test, one set for each of them, would.")
BY_POTS = Phrase("Have them score several pots of each and compare these descriptor by descriptor.")
WOULD_FIND = Phrase(
    "{found}A fresh {kind} test of {answers} answers, one a taster, would find one in {cases} cases of 10 where "
    "{share} can tell (d' {d}).{again} This is no proof of a match: that needs a tolerance and its own test."
)
IS_FOUND = Phrase(
    "With {answers} answers a difference is found in {cases} cases of 10 only where {share} of tasters can tell. "
)
SITTINGS_FIND = Phrase(
    "{found}{sittings} fresh sittings of {tasters} tasters, one {kind} set for each of them in every sitting, would "
    "find one in {cases} cases of 10 where {share} can tell (d' {d}), be it that some always can or that all can now "
    "and then. This is no proof of a match: that needs a tolerance and its own test."
)
SITTINGS_SETTLE = Phrase(
    "{sittings} fresh sittings of {tasters} tasters, one {kind} set for each of them in every sitting, would settle "
    "it in {cases} cases of 10, judged taster by taster: a match if nobody can tell, a difference if as many can "
    "tell as the tolerance allows. Adding answers to this test would break its error rates."
)
TOO_FEW_TASTERS = Phrase(
    "{tasters} tasters cannot show a match, however often they sit: were {share} of all tasters able to tell, "
    "{missed} of such panels would hold none of these; {least} tasters are the fewest. {settle} {instead}"
)
SIGNAL_WOULD_FIND = Phrase(
    "A fresh {kind} test of {answers} answers, half of each kind of serving, would find d' {d} in {cases} cases of "
    "10.{people} This is no proof of a match: that needs a tolerance and its own test."
)
SIGNAL_SETTLE = Phrase(
    "A fresh {kind} test of about {answers} answers, half of each kind of serving, would settle it in {cases} cases "
    "of 10.{people}"
)
ONE_OF_EACH = Phrase(" That is {people} tasters, one of each kind to each. With fewer: {instead}")
LOWER_BY_POTS = Phrase("have them score several pots of each and compare these descriptor by descriptor.")

# The method.
METHOD = Phrase(
    "{kind}: an answer is right when {right}. Difference: exact binomial test against {chance} from guessing, "
    "{sided}, error rate {error}.{match} Limits: Clopper and Pearson, the lower at {tail}, the upper at "
    "{match_error}; d' by Thurstone's model with this kind's decision rule, from the limits of the share right.{rule}"
)
ONE_SIDED, TWO_SIDED = Phrase("one-sided"), Phrase("two-sided")
METHOD_MATCH = Phrase(
    " Match: exact test against {share}, the share right at the tolerance; both tests read one set of answers, each "
    "at its own error rate, and need no correction: both hypotheses cannot be true."
)
GROUPING = Phrase(" The taster is taken to choose the grouping with the least spread.")
ONE_EACH = Phrase(" Each answer is taken as independent: one per taster.")
A_NOT_A_RULE = Phrase(
    "A-not-A: probit model of the answers on what was served, d' = z(hits) - z(false), each taster's criterion free"
)
SAME_DIFFERENT_RULE = Phrase(
    "Same-different: pairs are called different when their percepts lie further apart than tau; d' from 0 up"
)
SIGNAL_METHOD = Phrase(
    "{rule}. Difference: Fisher's exact test, one-sided (the sign test where each taster judged one of each kind). "
    "Match: profile likelihood of d' at the tolerance. Limits: profile likelihood, the lower at the error rate of "
    "the difference test, the upper at that of the match test; where any of the four counts is below 10, match and "
    "limits go through every result there can be, at the worst likely line. Answers are taken as independent of each "
    "other: one of each kind from each taster, or few."
)


def p_text(p: float) -> str:
    """A p-value with its letter.

    Examples
    --------
    >>> p_text(0.0469), p_text(1e-9)
    ('p = 0.047', 'p < 0.001')
    """
    value = p_value(p)
    return f"p {value}" if value.startswith("<") else f"p = {value}"


def d_text(value: float, low: float, high: float, *, clear: Iterable[float] = (0.0,)) -> str:
    """Say d' with its limits; an infinite one, and one that is not above chance, in words.

    Parameters
    ----------
    value, low, high : float
        d' and its limits.
    clear : iterable of float
        Lines that no limit may be rounded onto.

    Examples
    --------
    >>> d_text(1.13, 0.2, 1.9), d_text(float("inf"), 2.71, float("inf")), d_text(0.0, 0.0, 0.44)
    ("d' 1.13 (0.20 to 1.90)", "no finite d', at least 2.71", "no d' above 0, at most 0.44")
    """
    least, most = limit(low, 2, up=False, clear=clear), limit(high, 2, up=True, clear=clear)
    if value == low == 0 and math.isfinite(high):
        return D_NONE.format(high=most)
    estimate = D_INFINITE if math.isinf(value) else D_VALUE.format(value=number(value, 2))
    if math.isfinite(high):
        return (D if math.isfinite(low) else D_AT_MOST).format(d=estimate, low=least, high=most)
    return (D_AT_LEAST if math.isfinite(low) else D_WITHOUT).format(d=estimate, low=least)


def favour_text(value: float, low: float, high: float, *, clear: Iterable[float] = (0.0,)) -> str:
    """Say the share beyond guessing that favours one product, whichever it is, with its limits.

    Parameters
    ----------
    value, low, high : float
        Share in favour of A; below 0 it is in favour of the other.
    clear : iterable of float
        Lines that no limit may be rounded onto.

    Examples
    --------
    >>> favour_text(0.62, 0.21, 0.87), favour_text(-0.05, -0.37, 0.28)
    ('62 % favour A (21 % to 87 %)', '5 % favour the other (from 37 % for the other to 28 % for A)')
    """
    product = A if value > 0 else THE_OTHER
    if high <= 0:
        low, high = -high, -low
    one_way = low >= 0
    between = (FROM_TO if one_way else EITHER_WAY).format(
        low=percent_limit(abs(low), up=not one_way, clear=clear), high=percent_limit(high, up=True, clear=clear)
    )
    template = IN_FAVOUR if value else FOR_NEITHER
    return template.format(value=percent(abs(value)), product=product, between=between)


def who_said(kind: str, subject: str) -> str:
    """Whose test it is, at the head of its sentence."""
    return WHO.format(subject=subject, kind=said(kind)) if subject else NOBODY.format(kind=capital(said(kind)))
