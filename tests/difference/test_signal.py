"""A-not-A and same-different against probit regression, a second system, and the library's Fisher test.

Sources of each file stand in tests/published/difference/README.md.
"""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.stats import binom, norm

import panelstats as pst
from panelstats.difference.counts.signal import read_signal
from panelstats.errors import DesignError
from panelstats.models.kinds.criterion import SignalCounts, fit, profile_limits, said_same
from panelstats.models.kinds.fewanswers import FEW, d_limits
from panelstats.models.kinds.unlike import LEFT_OUT

PUBLISHED = Path(__file__).parents[1] / "published" / "difference"


def test_a_not_a_agrees_with_probit_regression():
    for row in pd.read_csv(PUBLISHED / "a_not_a.csv").itertuples():
        counts = SignalCounts(row.hits, row.n_A, row.false_A, row.n_notA)
        found = read_signal("a-not-a", counts, error=0.025, match_error=0.025)
        assert found.d.value == pytest.approx(row.d_hat, abs=1e-5)
        if np.isfinite(row.criterion_c):
            assert found.line == pytest.approx(row.criterion_c, abs=1e-9)
        low, high = profile_limits("a-not-a", counts, found.d.value, below=0.025, above=0.025)
        assert low == pytest.approx(row.d_low_95_profile, abs=1e-5)
        assert high == pytest.approx(row.d_high_95_profile, abs=1e-5)
        if min(row.hits, row.n_A - row.hits, row.false_A, row.n_notA - row.false_A) >= FEW:
            assert (found.d.low, found.d.high) == (low, high)
        else:  # enumerated: the chi-square of the profile does not hold at a rate of 0 or 1
            assert found.d.low < low - 0.1
        assert found.p == pytest.approx(row.fisher_one_sided_p, rel=1e-6, abs=1e-10)


# With everything right only that result lies so far up, and the line halfway makes it likeliest: all 24 answers right,
# each with chance Phi(d' / 2), in 5 tests of 100.
def test_all_right_has_its_limit_where_the_line_lies_halfway():
    low, high = d_limits("a-not-a", SignalCounts(12, 12, 0, 12), np.inf, below=0.05, above=0.05)
    assert low == pytest.approx(2 * norm.ppf((0.05 - LEFT_OUT) ** (1 / 24)), abs=1e-4)
    assert high == np.inf


@pytest.mark.parametrize("kind", ["a-not-a", "same-different"])
@pytest.mark.parametrize("d", [0.0, 1.0, 2.0, 3.0])
def test_limits_of_few_answers_miss_no_more_often_than_said(kind, d):
    n = 6
    rates = norm.cdf([d / 2 - 0.3, -d / 2 - 0.3]) if kind == "a-not-a" else 1 - np.array(
        [said_same(1.2, d), said_same(1.2, 0.0)]
    )  # fmt: skip
    chance = np.outer(*binom.pmf(np.arange(n + 1), n, rates[:, None]))
    for side in (0, 1):
        missed = 0.0
        for hits, false in np.ndindex(n + 1, n + 1):
            counts = SignalCounts(hits, n, false, n)
            limits = d_limits(kind, counts, fit(kind, counts)[0], below=0.05, above=0.05)
            missed += chance[hits, false] * (limits[0] > d + 1e-6 if side == 0 else limits[1] < d - 1e-6)
        assert missed <= 0.05


def test_same_different_agrees_with_a_second_system():
    for row in pd.read_csv(PUBLISHED / "same_different.csv").itertuples():
        counts = SignalCounts(
            row.n_diff - row.diff_said_same, row.n_diff, row.n_same - row.same_said_same, row.n_same
        )  # fmt: skip
        found = read_signal("same-different", counts, error=0.025, match_error=0.025)
        assert found.d.value == pytest.approx(row.d_hat, abs=1e-5)
        assert found.line == pytest.approx(row.tau_hat, abs=1e-5)
        assert found.d.low == pytest.approx(row.d_low_95_profile, abs=1e-5)
        assert found.d.high == pytest.approx(row.d_high_95_profile, abs=1e-5)
        assert found.p == pytest.approx(row.fisher_one_sided_p, rel=1e-6)


def test_same_different_curve():
    for row in pd.read_csv(PUBLISHED / "same_different_curve.csv").itertuples():
        assert said_same(row.tau, 0.0) == pytest.approx(row.p_same_given_same, abs=1e-12)
        assert said_same(row.tau, row.d_prime) == pytest.approx(row.p_same_given_different, abs=1e-12)


def test_same_different_curve_by_integration():
    tau, d = 1.3, 0.9
    whole = quad(lambda x: norm.pdf(x) * (norm.cdf(x + tau, d) - norm.cdf(x - tau, d)), -12, 12)[0]
    assert said_same(tau, d) == pytest.approx(whole, abs=1e-10)


@settings(deadline=None, max_examples=30)
@given(st.integers(0, 12), st.integers(0, 12), st.sampled_from(["a-not-a", "same-different"]))
def test_every_count_has_a_defined_answer(hits, false, kind):
    found = pst.match_test(kind, hits=hits, n_a=12, false=false, n_not_a=12, within_d=1.0)
    assert found.call in ("differ", "match", "cannot tell")
    d = found.d_prime
    assert np.isnan(d.value) or d.low <= d.value + 1e-6 <= d.high + 2e-6
    if found.call == "differ":
        assert d.low > 0
    if found.call == "match":
        assert d.high < 1.0 + 1e-6


def test_both_rates_one_have_no_d_prime():
    found = pst.difference_test("a-not-a", hits=10, n_a=10, false=10, n_not_a=10)
    assert np.isnan(found.d_prime.value)
    assert found.call == "cannot tell"
    assert "no d' can be given" in str(found)


def test_nothing_served_is_no_error():
    found = pst.difference_test("same-different", hits=0, n_a=0, false=0, n_not_a=0)
    assert (found.p, found.call) == (1.0, "cannot tell")


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ({"hits": 3, "n_a": 2, "false": 0, "n_not_a": 2}, "more answers"),
        ({"hits": 3, "n_a": 4}, "counts are missing"),
        ({"hits": -1, "n_a": 4, "false": 0, "n_not_a": 2}, "no whole number"),
    ],
)
def test_impossible_counts_are_refused_in_words(arguments, words):
    with pytest.raises(DesignError, match=words):
        pst.difference_test("a-not-a", **arguments)


def test_a_share_who_can_tell_is_not_offered_where_there_is_none():
    with pytest.raises(DesignError, match="no share who can tell"):
        pst.match_test("a-not-a", hits=1, n_a=4, false=1, n_not_a=4, within_share=0.3)


def test_a_match_within_a_tolerance_looks_both_ways():
    one = pst.match_test("a-not-a", hits=14, n_a=40, false=24, n_not_a=40, within_d=1.0)
    other = pst.match_test("a-not-a", hits=24, n_a=40, false=14, n_not_a=40, within_d=1.0)
    assert one.d_prime.value < 0 < other.d_prime.value
    assert one.p_match == pytest.approx(other.p_match, abs=1e-9)
    assert one.p_match > 0.05
