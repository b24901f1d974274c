"""The sentences of a-not-a and same-different tests."""

from __future__ import annotations

import numpy as np

from panelstats.difference.reading import CANNOT_TELL, DIFFER, MATCH
from panelstats.difference.signal import A_NOT_A, SignalCounts, SignalReading, about_needed
from panelstats.difference.words import p_text, percent
from panelstats.result import Act, Verdict


def signal_verdict(
    kind: str, counts: SignalCounts, reading: SignalReading, *, error: float, match_error: float,
    within_d: float | None = None, subject: str = "",
) -> Verdict:  # fmt: skip
    """The verdict in a sentence."""
    said, of_a, of_not = ("A", "A", "what is not A") if kind == A_NOT_A else ("different", "mixed pairs", "like pairs")
    who = f"{subject}, {kind} test" if subject else f"{kind.capitalize()} test"
    hits, false = f"{counts.hits} times in {counts.n_a}", f"{counts.false} in {counts.n_not_a}"
    head = f'{who}, "{said}" said of {of_a} {hits}, of {of_not} {false}'
    d = reading.d
    size = "no d' can be given" if np.isnan(d.value) else f"d' {d.value:.2f} ({d.low:.2f} to {d.high:.2f})"
    says = {
        DIFFER: f"the two differ ({p_text(reading.p)}; products nobody can tell apart get this verdict in at most "
        f"{percent(error)} of tests); {size}.",
        MATCH: f"the two match within the stated tolerance of d' {within_d} ({p_text(reading.p_match)}; products at "
        f"the tolerance get this verdict in about {percent(match_error)} of tests); {size}.",
        CANNOT_TELL: f"cannot tell ({p_text(reading.p)} for a difference); {size}.",
    }[reading.call]
    next_step = "" if reading.call != CANNOT_TELL else _settle(kind, within_d, error, match_error, reading.line)
    act = {DIFFER: Act.DECIDE, MATCH: Act.KNOW, CANNOT_TELL: Act.TASTE_AGAIN}[reading.call]
    asked = "Do the two differ?" if within_d is None else "Do the two differ, or match within the tolerance?"
    numbers = {"p_difference": reading.p, "d": d.value, "d_low": d.low, "d_high": d.high}
    return Verdict(asked, subject, reading.call, f"{head}: {says}", numbers, next_step, act)


def _settle(kind: str, within_d: float | None, error: float, match_error: float, line: float) -> str:
    size = within_d or 1.0
    n = about_needed(kind, size, risk=min(error, match_error), line=line)
    return (
        f"A fresh test of about {n} servings of each kind would settle d' {size:g} in 8 cases of 10. "
        "Nothing found here is no proof of a match."
    )


def signal_method(kind: str) -> str:
    """How it was worked out, in a paragraph."""
    rule = (
        "A-not-A: probit model of the answers on what was served, d' = z(hits) - z(false), each taster's criterion free"
        if kind == A_NOT_A
        else "Same-different: pairs are called different when their percepts lie further apart than tau; d' from 0 up"
    )
    return (
        f"{rule}. Difference: Fisher's exact test, one-sided. Match: profile likelihood of d' at the tolerance. "
        "Limits: profile likelihood, the lower at the error rate of the difference test, the upper at that of the "
        "match test. Answers are taken as independent of each other: one of each kind from each taster, or few."
    )
