"""The sentences of a-not-a and same-different tests."""

from __future__ import annotations

import numpy as np

from panelstats.difference.counts.reading import CANNOT_TELL, DIFFER, MATCH
from panelstats.difference.counts.signal import A_NOT_A, SignalCounts, SignalReading
from panelstats.difference.counts.signal_sizes import difference_rates_needed, match_rates_needed
from panelstats.difference.counts.words import IN_TEN, POWER, p_text, rate
from panelstats.result import Act, Verdict
from panelstats.words import interval, number

# Where no tolerance is declared, the next step is worked out for this d' (our choice).
SIZE_IF_NONE = 1.0


def signal_verdict(
    kind: str, counts: SignalCounts, reading: SignalReading, *, error: float, match_error: float,
    within_d: float | None = None, subject: str = "", note: str = "",
) -> Verdict:  # fmt: skip
    """The verdict in a sentence."""
    said, of_a, of_not = ("A", "A", "what is not A") if kind == A_NOT_A else ("different", "mixed pairs", "like pairs")
    who = f"{subject}, {kind} test" if subject else f"{kind.capitalize()} test"
    hits, false = f"{counts.hits} times in {counts.n_a}", f"{counts.false} in {counts.n_not_a}"
    head = f'{who}, "{said}" said of {of_a} {hits}, of {of_not} {false}'
    d = reading.d
    size = "no d' can be given" if np.isnan(d.value) else f"d' {number(d.value, 2)} ({interval(d.low, d.high, 2)})"
    says = {
        DIFFER: f"the two differ ({p_text(reading.p)}; products nobody can tell apart get this verdict in at most "
        f"{rate(error)} of tests); {size}.",
        MATCH: f"the two match within the stated tolerance of d' {within_d} ({p_text(reading.p_match)}; products at "
        f"the tolerance get this verdict in about {rate(match_error)} of tests); {size}.",
        CANNOT_TELL: f"cannot tell ({p_text(reading.p)} for a difference); {size}.",
    }[reading.call]
    next_step = "" if reading.call != CANNOT_TELL else _settle(kind, within_d, error, match_error)
    act = {DIFFER: Act.DECIDE, MATCH: Act.KNOW, CANNOT_TELL: Act.TASTE_AGAIN}[reading.call]
    asked = "Do the two differ?" if within_d is None else "Do the two differ, or match within the tolerance?"
    numbers = {"p_difference": reading.p, "d": d.value, "d_low": d.low, "d_high": d.high}
    numbers |= {} if within_d is None else {"tolerance": within_d}
    return Verdict(asked, subject, reading.call, f"{head}: {says} {note}".strip(), numbers, next_step, act)


def _settle(kind: str, within_d: float | None, error: float, match_error: float) -> str:
    d = SIZE_IF_NONE if within_d is None else within_d
    n = difference_rates_needed(kind, d, error=error, power=POWER).served
    if within_d is None:
        return (
            f"A fresh {kind} test of {n} answers, half of each kind of serving, would find d' {d:g} in {IN_TEN}. "
            "This is no proof of a match: that needs a tolerance and its own test."
        )
    n = max(n, match_rates_needed(kind, d, error=match_error, power=POWER).served)
    return f"A fresh {kind} test of about {n} answers, half of each kind of serving, would settle it in {IN_TEN}."


def signal_method(kind: str) -> str:
    """How it was worked out, in a paragraph."""
    rule = (
        "A-not-A: probit model of the answers on what was served, d' = z(hits) - z(false), each taster's criterion free"
        if kind == A_NOT_A
        else "Same-different: pairs are called different when their percepts lie further apart than tau; d' from 0 up"
    )
    return (
        f"{rule}. Difference: Fisher's exact test, one-sided (the sign test where each taster "
        "judged one of each kind). Match: profile likelihood of d' at the tolerance. "
        "Limits: profile likelihood, the lower at the error rate of the difference test, the upper at that of the "
        "match test; with 10 to 14 servings of each kind 90 % limits hold in 82 to "
        "89 % of tests. Answers are taken as independent of each other: one of each kind from each taster, or few."
    )
