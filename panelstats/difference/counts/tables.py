"""The result of a difference or match test: one for counts of any kind, scalar or arrays, with its table and chart."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from panelstats.difference.counts.countcalls import method, signal_method, signal_verdict, verdict
from panelstats.difference.counts.forced import DIFFER, MATCH, Counts, Interval, Question, Reading, read_counts
from panelstats.difference.counts.signal import read_signal
from panelstats.difference.counts.words import ONE_EACH
from panelstats.models.kinds import KINDS, SIGNAL
from panelstats.models.kinds.criterion import SignalCounts
from panelstats.result import Chart, Estimate, Result, chart_rows, in_order, mark_by_call, of_descriptor
from panelstats.speech import Phrase, said

TEST, QUANTITY, ESTIMATE, LOW, HIGH = "test", "quantity", "estimate", "low", "high"
SHARE_CORRECT, SHARE_WHO_CAN_TELL, D_PRIME = "share correct", "share who can tell", "d'"
SHARE = Phrase("share of tasters who can tell (%)")
FAVOUR = Phrase("share in favour (%): of A to the right, of the other to the left")
SIZE = Phrase("d′ (standard deviations of what is perceived)")
MATCHED = Phrase("the tolerance declared: a match lies here with its whole interval")
LIMITS = Phrase("the interval: its limits hold at the error rates of “differ” and of “match”")


@dataclass(frozen=True, eq=False, repr=False, kw_only=True)
class DifferenceTest(Result):
    """Answer to "do they differ, do they match?".

    Scalar counts give scalars; arrays of counts give arrays of their shape, a verdict per test, and a `test` column.

    Attributes
    ----------
    kind : str
        Kind of test.
    call : str or ndarray of str
        differ, match or cannot tell.
    p : float or ndarray
        Exact p-value of the question asked: of the difference test, or of the match test where a tolerance was given.
    p_difference, p_match : float or ndarray
        Both p-values; `p_match` is NaN without a tolerance.
    share_correct, share_who_can_tell, d_prime : Estimate
        Readings of one number, with the exact limits of the two error rates: the lower one misses in at most `error`,
        the upper one in at most `match_error` of tests. The share who can tell holds for this kind of test alone.
    table : DataFrame
        quantity, estimate, low, high; before them `test` (numbered from 0) for arrays.
    """

    kind: str
    call: Any
    p: Any
    p_difference: Any
    p_match: Any
    share_correct: Estimate
    share_who_can_tell: Estimate
    d_prime: Estimate
    table: pd.DataFrame

    def chart(self, descriptor: str | None = None) -> Chart:
        """A row for each test: who can tell, or d′ where the kind of test has no chance level."""
        of_descriptor(self.table, descriptor)
        kind, signal = KINDS[self.kind], self.kind in SIGNAL
        estimate = self.d_prime if signal else self.share_who_can_tell
        columns = {name: np.ravel(getattr(estimate, name)) for name in ("value", LOW, HIGH)}
        calls = np.ravel(self.call)
        tolerance = self.verdicts[0].numbers.get("tolerance", float("nan"))
        both_ways = kind.two_sided or self.kind == "a-not-a"
        name = next((verdict.subject for verdict in self.verdicts), "")
        named = name or ("test" if calls.size > 1 else Phrase("The two"))
        rows = chart_rows(
            [f"{named} {at + 1}" for at in range(calls.size)] if calls.size > 1 else [named],
            marks=[mark_by_call(*each, within={MATCH}, outside={DIFFER})
                   for each in zip(calls, columns["value"], strict=True)],
            notes=calls, floor=-tolerance if both_ways else 0.0 * tolerance, ceiling=tolerance, **columns,
        )  # fmt: skip
        axis, ends = (SIZE, None) if signal else (FAVOUR, (-1.0, 1.0)) if kind.two_sided else (SHARE, (0.0, 1.0))
        title = Phrase("{kind} test").format(kind=said(self.kind))
        return Chart(title, axis, rows, LIMITS, zero=0.0, ends=ends, percent=not signal, band=MATCHED)


def from_counts(question: Question, counts: Counts, *, subject: str = "") -> DifferenceTest:
    """The result for checked counts of a forced choice, of any shape."""
    fields = answered(read_counts(counts.map(np.ravel), question), question, counts.answers.shape, subject=subject)
    return DifferenceTest(**fields | {"method": fields["method"] + ONE_EACH})


def answered(
    reading: Reading, question: Question, shape: tuple[int, ...], *, subject: str, note: str = "",
    tasters: int | None = None,
) -> dict[str, Any]:  # fmt: skip
    """The fields of a result from a one-dimensional reading, in the shape the counts came in."""
    told = {"subject": subject, "note": note}
    verdicts = [verdict(reading, question, at, tasters=tasters, **told) for at in range(reading.call.size)]
    level = 1 - question.error - (0.0 if question.kind.two_sided else question.match_error)
    return {
        "kind": question.kind.name,
        "call": _plain(reading.call, shape),
        "p": _plain(reading.p_difference if question.share is None else reading.p_match, shape),
        "p_difference": _plain(reading.p_difference, shape),
        "p_match": _plain(reading.p_match, shape),
        "share_correct": _estimate(reading.share, shape, level),
        "share_who_can_tell": _estimate(reading.can_tell, shape, level),
        "d_prime": _estimate(reading.d, shape, level),
        "table": _table(reading) if shape else _table(reading).drop(columns=TEST),
        "verdicts": in_order(verdicts),
        "method": method(question),
    }


def from_signal(
    kind: str, counts: SignalCounts, *, error: float, match_error: float, within_d: float | None, subject: str = "",
    generous: SignalCounts | None = None, discordant: tuple[int, int] | None = None, note: str = "",
) -> DifferenceTest:  # fmt: skip
    """The result for counts of a test without a fixed chance level."""
    reading = read_signal(
        kind, counts, error=error, match_error=match_error, within_d=within_d, generous=generous, discordant=discordant
    )
    nothing, right = Estimate(level=reading.d.level), Estimate(reading.share_correct, level=reading.d.level)
    rows = [(SHARE_CORRECT, right), (SHARE_WHO_CAN_TELL, nothing), (D_PRIME, reading.d)]
    table = pd.DataFrame([(name, e.value, e.low, e.high) for name, e in rows], columns=[QUANTITY, ESTIMATE, LOW, HIGH])
    told = signal_verdict(
        kind, counts, reading, error=error, match_error=match_error, within_d=within_d, subject=subject, note=note
    )
    return DifferenceTest(
        kind=kind, call=reading.call, p=reading.p if within_d is None else reading.p_match, p_difference=reading.p,
        p_match=reading.p_match, share_correct=right, share_who_can_tell=nothing, d_prime=reading.d, table=table,
        verdicts=(told,), method=signal_method(kind),
    )  # fmt: skip


def _plain(array: np.ndarray, shape: tuple[int, ...]) -> Any:
    """A number for one test, the array for several."""
    return array.reshape(shape) if shape else array.item()


def _estimate(interval: Interval, shape: tuple[int, ...], level: float) -> Estimate:
    value, low, high = (_plain(part, shape) for part in (interval.value, interval.low, interval.high))
    return Estimate(value, low, high, level=level)


def _table(reading: Reading) -> pd.DataFrame:
    """A row per test and quantity."""
    parts = {SHARE_CORRECT: reading.share, SHARE_WHO_CAN_TELL: reading.can_tell, D_PRIME: reading.d}
    tests = np.arange(reading.call.size)
    frames = [
        pd.DataFrame({TEST: tests, QUANTITY: name, ESTIMATE: part.value, LOW: part.low, HIGH: part.high})
        for name, part in parts.items()
    ]
    return pd.concat(frames).sort_values(TEST, kind="stable", ignore_index=True)
