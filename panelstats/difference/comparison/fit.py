"""Comparing and pooling tests: do several tests, perhaps of different kinds, show differences of one size?"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from scipy.special import chdtrc

from panelstats.arguments import checked
from panelstats.difference.comparison import words
from panelstats.difference.comparison.likelihood import best_d, common_d, limits, log_likelihood, together
from panelstats.difference.counts.forced import CANNOT_TELL, DIFFER, ask, counts_of, read_counts
from panelstats.difference.counts.tables import D_PRIME, HIGH, LOW
from panelstats.difference.counts.words import d_text, p_text
from panelstats.errors import DesignError
from panelstats.models.kinds import forced_kind
from panelstats.models.kinds.unlike import enumerable, exact_unlike_p
from panelstats.result import Act, Chart, Estimate, Result, Verdict, chart_rows, of_descriptor
from panelstats.speech import Phrase
from panelstats.words import number, stated, stated_percent

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import ArrayLike

LABEL, KIND, CORRECT, ANSWERS = "label", "kind", "correct", "answers"


@dataclass(frozen=True, eq=False, repr=False, kw_only=True)
class Comparison(Result):
    """Whether several tests show differences of one size.

    Attributes
    ----------
    call : str
        differ, or cannot tell.
    p : float
        p-value quoted: likelihood ratio, enumerated where answers are few, or the exact paired test.
    statistic, df : float
        Likelihood-ratio statistic and its degrees of freedom; NaN for the paired test.
    d_prime : Estimate
        Common d' with its likelihood interval; NaN where the tests differ, or where tasters are shared.
    table : DataFrame
        label, kind, correct, answers, d', low, high.
    """

    call: str
    p: float
    statistic: float
    df: float
    d_prime: Estimate
    table: pd.DataFrame

    def chart(self, descriptor: str | None = None) -> Chart:
        """A row for each test: its d', or the share of right answers where the same tasters took both."""
        table = of_descriptor(self.table, descriptor)
        if D_PRIME not in table:
            share = table[CORRECT] / table[ANSWERS]
            notes = [Phrase("{n} right").format(n=int(n)) for n in table[CORRECT]]
            rows = chart_rows(table[LABEL], value=share, notes=notes)
            axis = Phrase("share of right answers (%)")
            alone = Phrase("a test: the share of right answers of the same tasters")
            return Chart(Phrase("Tests of the same tasters"), axis, rows, alone, ends=(0.0, 1.0), percent=True)
        numbers = {"value": table[D_PRIME], "low": table[LOW], "high": table[HIGH]}
        told = Phrase("d' of a test, with its {level} % interval; the dotted line: what all have in common").format(
            level=stated(100 * self.d_prime.level)
        )
        rows = chart_rows(table[LABEL], notes=table[KIND], **numbers)
        axis = Phrase("d' (standard deviations of what is perceived)")
        return Chart(Phrase("Tests beside one another"), axis, rows, told, self.d_prime.value)


@checked()
def compare_tests(
    tests: Sequence[tuple[str, int, int]],
    *,
    labels: Sequence[str] | None = None,
    error: float = 0.05,
    level: float = 0.95,
) -> Comparison:
    """Do several independent tests show differences of one size, and which size is it?

    Parameters
    ----------
    tests : sequence of (kind, correct, answers)
        Two or more forced choices, one-sided, answered by different tasters (or one answer a taster in all).
    labels : sequence of str, optional
        Names of the tests.
    error : float in (0, 1)
        Error rate of "differ".

    Returns
    -------
    Comparison
        Tests that are shown to differ are not pooled: `d_prime` is NaN.

    Raises
    ------
    DesignError
        Fewer than two tests, impossible counts, or a two-sided kind.

    Notes
    -----
    Likelihood ratio of one d' for all against a d' for each, chi-square on (tests - 1) df; it takes all right, and
    fewer right than guessing gives, without patches. Where all results together number no more than 40,000, p is exact:
    the chance of a ratio as large, at the likely common d' where it is largest (Berger & Boos 1994, JASA 89).

    Examples
    --------
    >>> found = compare_tests([("triangle", 20, 40), ("tetrad", 25, 40), ("2-afc", 28, 40)])
    >>> found.call, round(found.p, 3), round(found.d_prime.value, 2)
    ('cannot tell', 0.164, 1.19)
    """
    if len(tests) < 2:
        raise DesignError("one test has nothing to be compared with", where=f"tests={tests!r}", do="give two or more")
    if any(forced_kind(kind).two_sided for kind, _, _ in tests):
        raise DesignError("paired tests have two directions", where=f"tests={tests!r}", do="give them as 2-afc")
    names = [Phrase("test {i}").format(i=i + 1) for i in range(len(tests))] if labels is None else list(labels)
    table = _table(tests, names, level)
    best = sum(log_likelihood(test, best_d(test)) for test in tests)
    common = common_d(tests)
    statistic = max(0.0, 2 * (best - together(tests, common)))
    p, by = _quoted(tests, statistic)
    call = DIFFER if p <= error else CANNOT_TELL
    pooled = Estimate(common, *limits(tests, common, level), level=level)
    return Comparison(
        call=call, p=p, statistic=statistic, df=len(tests) - 1, table=table,
        d_prime=pooled if call == CANNOT_TELL else Estimate(level=level),
        verdicts=(_verdict(call, p, pooled, table, error),), method=words.METHOD.format(by=by),
    )  # fmt: skip


@checked()
def compare_same_tasters(
    first: ArrayLike, second: ArrayLike, *, answers: ArrayLike = 1, labels: tuple[str, str] = ("first", "second"),
    error: float = 0.05, shared_pots: bool = False,
) -> Comparison:  # fmt: skip
    """Do two tests of one kind, answered by the same tasters, come out differently?

    Parameters
    ----------
    first, second : array_like of int, shape (taster,)
        Right answers of each taster in either test.
    answers : int or array_like of int
        Sets each taster answered, as many in one test as in the other.
    labels : pair of str
        Names of the tests.
    error : float in (0, 1)
        Error rate of "differ".
    shared_pots : bool
        Both tests were poured from the same pots of their common product.

    Returns
    -------
    Comparison
        Without a common d': the answers are not independent.

    Raises
    ------
    DesignError
        Counts that are impossible or of different lengths.

    Notes
    -----
    Exact: were the tests alike for every taster, each taster's two counts could be swapped. With one answer each this
    is McNemar's exact test on the tasters right in one test only.

    Examples
    --------
    >>> compare_same_tasters([1, 1, 1, 1, 1, 1, 0, 1], [0, 0, 0, 0, 0, 0, 1, 1]).p
    0.125
    """
    one, two = counts_of(first, answers), counts_of(second, answers)
    if one.correct.shape != two.correct.shape or one.correct.ndim != 1:
        raise DesignError("the tests have different tasters", where=f"{one.correct.shape} and {two.correct.shape}",
                          do="give both counts for each taster")  # fmt: skip
    p = _swapped(one.correct - two.correct)
    call = DIFFER if p <= error else CANNOT_TELL
    rows = [(label, c.correct.sum(), c.answers.sum()) for label, c in zip(labels, (one, two), strict=True)]
    table = pd.DataFrame(rows, columns=[LABEL, CORRECT, ANSWERS])
    return Comparison(
        call=call, p=p, statistic=float("nan"), df=float("nan"), d_prime=Estimate(), table=table,
        verdicts=(_paired_verdict(call, p, table, shared_pots),), method=words.METHOD_SAME,
    )  # fmt: skip


def _quoted(tests: Sequence[tuple[str, int, int]], statistic: float) -> tuple[float, str]:
    """The p-value to quote, and by which distribution."""
    if enumerable([(kind, answers) for kind, _, answers in tests]):
        return exact_unlike_p(list(tests)), words.BY_RESULTS
    return float(chdtrc(len(tests) - 1, statistic)), words.BY_RATIO.format(df=len(tests) - 1)


def _table(tests: Sequence[tuple[str, int, int]], names: Sequence[str], level: float) -> pd.DataFrame:
    rows, tail = [], (1 - level) / 2
    for name, (kind, correct, answers) in zip(names, tests, strict=True):
        d = read_counts(counts_of([correct], [answers]), ask(kind, error=tail, match_error=tail)).d
        rows.append((name, kind, correct, answers, *d.at(0)))
    return pd.DataFrame(rows, columns=[LABEL, KIND, CORRECT, ANSWERS, D_PRIME, LOW, HIGH])


def _verdict(call: str, p: float, pooled: Estimate, table: pd.DataFrame, error: float) -> Verdict:
    each = ", ".join(words.D_OF.format(label=row[LABEL], d=number(row[D_PRIME], 2)) for _, row in table.iterrows())
    size = d_text(pooled.value, pooled.low, pooled.high)
    fields = {"each": each, "p": p_text(p), "error": stated_percent(error), "d": size}
    numbers = {"p": p, "d": pooled.value, "d_low": pooled.low, "d_high": pooled.high}
    if call == DIFFER:
        return Verdict(words.ASKED, "", call, words.SIZES_DIFFER.format(**fields), numbers, "", Act.DECIDE)
    told = words.SIZES_OPEN.format(**fields)
    return Verdict(words.ASKED, "", call, told, numbers, words.SERVE_MORE, Act.TASTE_AGAIN)


def _paired_verdict(call: str, p: float, table: pd.DataFrame, shared_pots: bool) -> Verdict:
    counts = zip(table[LABEL], table[CORRECT], table[ANSWERS], strict=True)
    each = ", ".join(
        words.RIGHT_OF.format(label=name, right=stated(x, ".0f"), answers=stated(n, ".0f")) for name, x, n in counts
    )
    fields = {"each": each, "p": p_text(p), "pots": words.SHARED_POTS if shared_pots else ""}
    if call == DIFFER:
        return Verdict(words.ASKED_SAME, "", call, words.BETTER.format(**fields), {"p": p}, "", Act.DECIDE)
    told = words.BETTER_OPEN.format(**fields)
    return Verdict(words.ASKED_SAME, "", call, told, {"p": p}, words.ONLY_ONE_RIGHT, Act.TASTE_AGAIN)


def _swapped(difference: np.ndarray) -> float:
    """Two-sided p of the sum of differences when each sign is a coin toss: exact, by convolution."""
    steps = np.abs(difference[difference != 0]).astype(int)
    chances = np.ones(1)
    for step in steps:
        toss = np.zeros(2 * step + 1)
        toss[[0, -1]] = 0.5
        chances = np.convolve(chances, toss)
    sums = np.arange(len(chances)) - steps.sum()
    return float(min(1.0, chances[np.abs(sums) >= abs(difference.sum())].sum()))
