"""Calls, estimates and limits of forced-choice tests against exact enumeration; edges, blanks, arrays.

Sources of each file stand in tests/published/difference/README.md.
"""

import time
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import binom

import panelstats as pst
from panelstats.difference.comparison.likelihood import best_d, limits
from panelstats.difference.counts.forced import ask, counts_of, read_counts
from panelstats.errors import DesignError
from panelstats.models.kinds import FORCED, d_prime, share_correct

PUBLISHED = Path(__file__).parents[1] / "published" / "difference"
ONE_SIDED = [kind for kind in FORCED if kind != "paired"]


def published(file):
    return pd.read_csv(PUBLISHED / file, keep_default_na=False)


def as_number(text):
    return {"undefined": np.nan, "inf": np.inf, "": np.nan}.get(str(text)) if str(text) in (
        "undefined", "inf", "") else float(text)  # fmt: skip


def test_verdicts_agree_with_exact_limits_and_p_values():
    for row in published("verdicts.csv").itertuples():
        found = pst.match_test(
            row.method, correct=row.correct, answers=row.n, within_share=row.pd_tolerance,
            error=row.alpha_difference, match_error=row.alpha_match,
        )  # fmt: skip
        assert found.p_difference == pytest.approx(row.p_difference, abs=1e-10)
        assert found.p_match == pytest.approx(row.p_match, abs=1e-10)
        assert found.share_who_can_tell.low == pytest.approx(row.pd_lower_one_sided, abs=1e-10)
        assert found.share_who_can_tell.high == pytest.approx(row.pd_upper_one_sided, abs=1e-10)
        assert row.verdict.startswith(found.call)
        assert ("smaller than the tolerance" in str(found)) == bool(row.note)


def test_edges_have_defined_answers():
    for row in published("edge_cases.csv").itertuples(index=False):
        n, correct = int(row[1]), int(row[2])
        found = pst.match_test(row[0], correct=correct, answers=n, within_share=0.3)
        wide = pst.difference_test(row[0], correct=correct, answers=n, error=0.025, match_error=0.025)
        got = [
            found.p_difference, found.p_match, wide.d_prime.value, wide.d_prime.low, wide.d_prime.high,
            wide.share_who_can_tell.value, wide.share_who_can_tell.low, wide.share_who_can_tell.high,
        ]  # fmt: skip
        np.testing.assert_allclose(got, [as_number(text) for text in row[3:11]], atol=1e-9)
        assert str(row[12]).startswith(found.call)
        assert ("fewer are right than guessing" in str(found)) == ("worse" in row[13])


def test_blanks_are_held_against_every_claim():
    for row in published("blanks.csv").itertuples():
        found = pst.match_test(
            row.method, correct=int(row.correct), answers=int(row.served), blanks=int(row.blank),
            within_share=float(row.tolerance_pd),
        )  # fmt: skip
        assert found.p_difference == pytest.approx(float(row.p_difference_blanks_wrong), abs=1e-9)
        assert found.p_match == pytest.approx(float(row.p_match_blanks_correct), abs=1e-9)
        assert found.share_correct.value == pytest.approx(as_number(row.p_hat_answered), abs=1e-9, nan_ok=True)


def test_dropping_blanks_would_have_flipped_a_claim():
    rows = published("blanks.csv")
    row = rows[rows["method"] == "duo-trio"].iloc[0]
    dropped = pst.difference_test("duo-trio", correct=int(row["correct"]), answers=32)
    assert dropped.p == pytest.approx(float(row["p_difference_if_dropped"]), abs=1e-9)
    kept = pst.difference_test("duo-trio", correct=int(row["correct"]), answers=36, blanks=4)
    assert kept.p > 2 * dropped.p


def test_exact_and_likelihood_intervals():
    for row in published("interval_examples.csv").itertuples():
        tail = (1 - row.confidence) / 2
        found = pst.difference_test(row.method, correct=row.correct, answers=row.n, error=tail, match_error=tail)
        got = [found.share_correct.low, found.share_correct.high, found.share_who_can_tell.low,
               found.share_who_can_tell.high, found.d_prime.low, found.d_prime.high]  # fmt: skip
        wanted = [row.p_low_exact, row.p_high_exact, row.pd_low, row.pd_high, row.d_low_exact, row.d_high_exact]
        np.testing.assert_allclose(got, [as_number(text) for text in wanted], atol=1e-8)
        assert found.d_prime.value == pytest.approx(as_number(row.d_hat), abs=1e-8)
        test = (row.method, row.correct, row.n)
        likely = limits([test], best_d(test), row.confidence)
        wanted = [as_number(row.d_low_likelihood), as_number(row.d_high_likelihood)]
        np.testing.assert_allclose(likely, wanted, atol=1e-6)


def test_coverage_of_the_exact_interval_by_enumeration():
    for row in published("interval_coverage.csv").itertuples():
        x = np.arange(row.n + 1)
        chance = binom.pmf(x, row.n, float(share_correct(row.method, row.d_prime)))
        wide = read_counts(counts_of(x, row.n), ask(row.method, error=0.025, match_error=0.025)).d
        covered = (wide.low <= row.d_prime + 1e-12) & (wide.high >= row.d_prime - 1e-12)
        assert chance[covered].sum() == pytest.approx(row.clopper_pearson, abs=1e-5)
        sides = read_counts(counts_of(x, row.n), ask(row.method, error=0.05, match_error=0.05)).d
        assert chance[sides.low > row.d_prime + 1e-12].sum() == pytest.approx(row.cp_lower_miss_at_5pct, abs=1e-5)
        if row.d_prime > 0:  # at 0 an upper limit of 0 does not miss
            assert chance[sides.high < row.d_prime - 1e-12].sum() == pytest.approx(row.cp_upper_miss_at_5pct, abs=1e-5)


counts = st.integers(0, 80).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n)))


@settings(deadline=None)
@given(st.sampled_from(ONE_SIDED), counts, st.floats(0.05, 0.9), st.sampled_from([0.01, 0.05, 0.1]))
def test_calls_and_limits_never_contradict_each_other(kind, xn, share, error):
    found = pst.match_test(kind, correct=xn[0], answers=xn[1], within_share=share, error=error, match_error=error)
    told = found.share_who_can_tell
    if found.call == "differ":
        assert told.low > 0
        assert told.high > share - 1e-9
    if found.call == "match":
        assert told.high < share + 1e-9
    if found.call == "cannot tell" and "guessing gives" not in str(found):
        assert told.low <= 1e-9
        assert told.high >= share - 1e-9
    assert not told.value < told.low - 1e-9
    assert not told.value > told.high + 1e-9 or told.high == 0


@settings(deadline=None)
@given(counts, st.floats(0.05, 0.9))
def test_paired_calls_and_limits_never_contradict_each_other(xn, share):
    found = pst.match_test("paired", correct=xn[0], answers=xn[1], within_share=share)
    low, high = found.share_who_can_tell.low, found.share_who_can_tell.high
    if found.call == "differ":
        assert low > 0 or high < 0
    if found.call == "match":
        assert -share - 1e-9 < low <= high < share + 1e-9
    if found.call == "cannot tell":
        assert low <= 1e-9
        assert high >= -1e-9


@settings(deadline=None)
@given(counts)
def test_paired_does_not_care_which_product_is_called_a(xn):
    one = pst.difference_test("paired", correct=xn[0], answers=xn[1])
    other = pst.difference_test("paired", correct=xn[1] - xn[0], answers=xn[1])
    assert one.p == pytest.approx(other.p)
    assert one.d_prime.low == pytest.approx(-other.d_prime.high, abs=1e-9)


def test_without_a_tolerance_no_match_is_ever_called():
    for kind in FORCED:
        found = pst.difference_test(kind, correct=np.arange(61), answers=60)
        assert set(found.call) <= {"differ", "cannot tell"}


def test_detected_but_smaller_first_becomes_possible_where_published():
    # triangle, both rates 5 %: n = 163, 79, 45, 30 for 20, 30, 40, 50 % who can tell
    for share, first in [(0.2, 163), (0.3, 79), (0.4, 45), (0.5, 30)]:
        question = ask("triangle", error=0.05, match_error=0.05, within_share=share)
        for n, possible in [(first - 1, False), (first, True)]:
            found = read_counts(counts_of(np.arange(n + 1), n), question)
            assert ((found.call == "match") & (found.p_difference <= 0.05)).any() == possible


def test_arrays_give_what_single_calls_give():
    x, n = np.array([[8, 12], [0, 30]]), np.array([[12, 12], [20, 30]])
    many = pst.match_test("triangle", correct=x, answers=n, within_share=0.3)
    assert many.p.shape == many.call.shape == many.d_prime.low.shape == (2, 2)
    for at in np.ndindex(2, 2):
        one = pst.match_test("triangle", correct=x[at], answers=n[at], within_share=0.3)
        assert one.call == many.call[at]
        assert one.p == many.p[at]
        assert one.d_prime.high == many.d_prime.high[at]
    assert many.table["test"].tolist() == [0, 0, 0, 1, 1, 1, 2, 2, 2, 3, 3, 3]
    assert len(many.verdicts) == 4


def test_ten_thousand_answers_take_well_under_a_second():
    started = time.process_time()
    found = pst.match_test("triangle", correct=3_500, answers=10_000, within_share=0.05)
    assert time.process_time() - started < 0.5
    assert found.call == "match"


def test_two_out_of_five_says_where_its_curve_ends():
    found = pst.difference_test("two-out-of-five", correct=40_000_000, answers=40_000_000)
    assert found.d_prime.low <= 12
    assert found.d_prime.high == np.inf
    assert "grouping with the least spread" in found.method


def test_two_by_two_panels_have_no_finite_substitute_for_all_right():
    found = pst.difference_test("triangle", correct=12, answers=12, error=0.025)
    assert found.d_prime.value == np.inf
    assert found.d_prime.low == pytest.approx(2.70827927176, abs=1e-8)  # edge_cases.csv
    assert "no finite d'" in str(found)


def test_cannot_tell_comes_with_a_number_of_answers_that_settles_it():
    found = pst.match_test("triangle", correct=14, answers=36, within_share=0.3)
    assert found.call == "cannot tell"
    needed = pst.answers_needed("triangle", within_share=0.3)
    most = max(needed.difference.served, needed.match.served)
    assert "2 fresh sittings of 36 tasters" in found.verdicts[0].next_step
    alone = pst.match_test("triangle", correct=0, answers=0, within_share=0.3)
    assert f"{most} answers, one a taster" in alone.verdicts[0].next_step


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ({"correct": 13, "answers": 12}, "more right"),
        ({"correct": -1, "answers": 12}, "no count"),
        ({"correct": 1.5, "answers": 12}, "no count"),
        ({"correct": "many", "answers": 12}, "no count"),
        ({"correct": 3, "answers": 12, "blanks": 10}, "more right and blank"),
        ({"correct": 3, "answers": 12, "error": 0}, "not a probability"),
        ({"correct": 3, "answers": 12, "match_error": 1}, "not a probability"),
        ({"correct": 3}, "no counts"),
        ({"hits": 3, "correct": 3, "answers": 12}, "hits and false"),
    ],
)
def test_impossible_counts_are_refused_in_words(arguments, words):
    with pytest.raises(DesignError, match=words):
        pst.difference_test("triangle", **arguments)


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ({}, "needs a tolerance"),
        ({"within_share": 0.3, "within_d": 1.0}, "two tolerances"),
        ({"within_share": 0}, "no share"),
        ({"within_share": 1.1}, "no share"),
        ({"within_d": np.inf}, "no size"),
    ],
)
def test_impossible_tolerances_are_refused_in_words(arguments, words):
    with pytest.raises(DesignError, match=words):
        pst.match_test("triangle", correct=3, answers=12, **arguments)


@pytest.mark.parametrize("kind", ONE_SIDED)
def test_d_prime_of_the_public_call_is_the_root_of_the_curve(kind):
    found = pst.difference_test(kind, correct=27, answers=36)
    assert share_correct(kind, found.d_prime.value) == pytest.approx(27 / 36, abs=1e-12)
    assert found.d_prime.value == pytest.approx(float(d_prime(kind, wrong=9 / 36)))
