"""What counts say where each taster draws his own line: a-not-a and same-different, without a fixed chance level."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from panelstats.difference.counts.forced import CANNOT_TELL, DIFFER, MATCH
from panelstats.models.binomial import TIES, at_least
from panelstats.models.kinds.criterion import SignalCounts, fit
from panelstats.models.kinds.fewanswers import d_limits, p_within
from panelstats.result import Estimate


@dataclass(frozen=True)
class SignalReading:
    """What the counts say: both p-values, share right, d' with limits, the line drawn, the call."""

    p: float
    p_match: float
    share_correct: float
    d: Estimate
    line: float
    call: str


def read_signal(
    kind: str, counts: SignalCounts, *, error: float, match_error: float, within_d: float | None = None,
    generous: SignalCounts | None = None, discordant: tuple[int, int] | None = None,
) -> SignalReading:  # fmt: skip
    """Difference by Fisher's exact test, match by the profile likelihood of d' at the tolerance.

    Parameters
    ----------
    kind, counts, error, match_error, within_d
        As for `match_test`; blanks are wrong answers in `counts`.
    generous : SignalCounts, optional
        The counts with blanks as right answers: the match and the upper limit are read from these.
    discordant : pair of int, optional
        Where each taster judged one serving of each kind: tasters right on both, and wrong on both. The exact sign
        test of these then stands in for Fisher's.
    """
    p = _fisher(counts) if discordant is None else float(at_least(discordant[0], sum(discordant), 0.5))
    d, line = fit(kind, counts)
    low, high = d_limits(kind, counts, d, below=error, above=match_error)
    p_match = float("nan") if within_d is None else p_within(kind, counts, d, within_d)
    if generous is not None and generous != counts:
        best = fit(kind, generous)[0]
        high = d_limits(kind, generous, best, below=error, above=match_error)[1]
        p_match = p_match if within_d is None else max(p_match, p_within(kind, generous, best, within_d))
    matched = p_match <= match_error * TIES
    differs = p <= error * TIES and low > 0
    call = MATCH if matched else DIFFER if differs else CANNOT_TELL
    # Fisher's test is the more careful of the two: a limit above 0 is not shown where the test finds nothing
    shown = low if differs or matched else min(low, 0.0)
    a, b = counts.n_a, counts.n_not_a
    right = (counts.hits + b - counts.false) / (a + b) if a + b else float("nan")
    return SignalReading(p, p_match, right, Estimate(d, shown, high, level=1 - error - match_error), line, call)


def _fisher(counts: SignalCounts) -> float:
    """One-sided p of Fisher's exact test; 1 where one kind was not served."""
    from scipy.stats import fisher_exact  # noqa: PLC0415 - slow to import

    if not (counts.n_a and counts.n_not_a):
        return 1.0
    called = np.array([[counts.hits, counts.n_a - counts.hits], [counts.false, counts.n_not_a - counts.false]])
    return float(fisher_exact(called, alternative="greater").pvalue)
