"""The result of judging a sheet of answers: a row a test, a row a taster and test, a row for the check of places."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from panelstats.difference.answers.writtenanswers import BLANK, KIND, RIGHT, SESSION, TASTER, TEST
from panelstats.difference.counts.forced import DIFFER, MATCH
from panelstats.difference.counts.tables import LIMITS, SIZE, DifferenceTest
from panelstats.result import Chart, Result, chart_rows, joined, mark_by_call, of_descriptor
from panelstats.speech import Phrase

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True, eq=False, repr=False, kw_only=True)
class JudgedAnswers(Result):
    """Every test of a sheet of answers.

    Attributes
    ----------
    table : DataFrame
        session, test, kind, tasters, answers, correct, blanks, p_difference, p_match, share_who_can_tell and d with
        their _low and _high, call; a row per test.
    tasters : DataFrame
        session, test, kind, taster, answers, correct, blanks; a row per taster and test. For paired, correct is how
        often A was named.
    places : DataFrame
        session, test, kind, answers and unrecorded (orders not recorded), balanced (each order served equally often),
        statistic, df, p, call (shown, cannot tell, not checked).
    tests : tuple of DifferenceTest
        The tests in the order of `table`.
    """

    table: pd.DataFrame
    tasters: pd.DataFrame
    places: pd.DataFrame
    tests: tuple[DifferenceTest, ...]

    def chart(self, descriptor: str | None = None) -> Chart:
        """A row for each test: who can tell; d′ where the tests are not all told on one scale."""
        table = of_descriptor(self.table, descriptor)
        labels, drawn = joined(table, [SESSION, TEST]), [test.chart() for test in self.tests]
        names = [label or str(test) for label, test in zip(labels, table[TEST], strict=True)]
        if len({chart.axis for chart in drawn}) == 1:
            rows = tuple(replace(chart.rows[0], label=name) for chart, name in zip(drawn, names, strict=True))
            return replace(drawn[0], title=Phrase("Tests of answers"), rows=rows)
        marks = [
            mark_by_call(*row, within={MATCH}, outside={DIFFER}) for row in zip(table["call"], table["d"], strict=True)
        ]
        numbers = {"value": table["d"], "low": table["d_low"], "high": table["d_high"]}
        rows = chart_rows(names, marks=marks, notes=table["call"], groups=table[KIND], **numbers)
        return Chart(Phrase("Tests of answers"), SIZE, rows, LIMITS, zero=0.0)


def test_row(key: tuple[str, str], answers: pd.DataFrame, test: DifferenceTest) -> dict[str, object]:
    """One test as a row of the table."""
    told, d = test.share_who_can_tell, test.d_prime
    return {
        SESSION: key[0],
        TEST: key[1],
        KIND: test.kind,
        "tasters": answers[TASTER].nunique(),
        "answers": len(answers),
        "correct": int(answers[RIGHT].sum()),
        "blanks": int(answers[BLANK].sum()),
        "p_difference": test.p_difference,
        "p_match": test.p_match,
        "share_who_can_tell": told.value,
        "share_who_can_tell_low": told.low,
        "share_who_can_tell_high": told.high,
        "d": d.value,
        "d_low": d.low,
        "d_high": d.high,
        "call": test.call,
    }


def by_taster(read: pd.DataFrame) -> pd.DataFrame:
    """Answers, right ones and blanks of every taster in every test."""
    each = read.groupby([SESSION, TEST, KIND, TASTER], sort=False)
    return each.agg(answers=(RIGHT, "size"), correct=(RIGHT, "sum"), blanks=(BLANK, "sum")).reset_index()
