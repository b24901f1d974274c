"""Critical numbers, power and numbers of answers against exact enumeration and printed tables.

Sources of each file stand in tests/published/difference/README.md.
"""

import time
from fractions import Fraction
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import binom, binomtest

from panelstats.difference.counts.forced import ask
from panelstats.difference.counts.sizes import (
    difference_needs,
    difference_power,
    fisher_power,
    match_needs,
    match_power,
)
from panelstats.difference.planning.fit import answers_needed
from panelstats.errors import DesignError
from panelstats.models.binomial import at_least, at_most, least_correct, limits, most_correct, p_two_sided
from panelstats.models.kinds import share_correct

PUBLISHED = Path(__file__).parents[1] / "published" / "difference"
NAMES = {"two_out_of_five_least_within_group_squares": "two-out-of-five"}


def published(file):
    table = pd.read_csv(PUBLISHED / file)
    if "method" in table:
        table["method"] = table["method"].replace(NAMES)
    if "chance" in table:
        table["chance"] = [float(Fraction(str(chance))) for chance in table["chance"]]
    return table


def test_least_correct_for_a_difference_is_the_exact_integer():
    rows = published("critical_difference.csv")
    for chance, group in rows.groupby("chance"):
        found = least_correct(group["n"], chance, group["alpha"])
        reachable = group["minimum_correct"].notna().to_numpy()
        np.testing.assert_array_equal(found[reachable], group["minimum_correct"].dropna())
        assert (found[~reachable] > group["n"][~reachable]).all()
        attained = at_least(found, group["n"], chance)[reachable]
        np.testing.assert_allclose(attained, group["attained_p"].dropna(), atol=1e-12)


def test_an_exact_tie_with_the_error_rate_counts():
    assert least_correct(2, 0.1, 0.01) == 2  # P(2 of 2 right) is 1/100 exactly
    assert least_correct(3, 0.1, 0.001) == 3


def test_most_correct_for_a_match_is_the_exact_integer():
    rows = published("critical_similarity.csv")
    share = rows["chance"] + (1 - rows["chance"]) * rows["pd_limit"]
    found = most_correct(rows["n"], share, rows["error_rate"])
    np.testing.assert_array_equal(found, rows["maximum_correct"].fillna(-1))


def test_two_sided_paired_numbers_are_the_exact_integers():
    rows = published("critical_two_sided_paired.csv")
    found = least_correct(rows["n"], 0.5, rows["alpha"] / 2)
    reachable = rows["minimum_agreeing"].notna()
    np.testing.assert_array_equal(found[reachable], rows["minimum_agreeing"].dropna())
    assert (found[~reachable] > rows["n"][~reachable]).all()
    attained = p_two_sided(found, rows["n"])[reachable]
    np.testing.assert_allclose(attained, rows["attained_p"].dropna(), atol=1e-12)


@settings(deadline=None)
@given(st.integers(0, 300), st.integers(0, 300), st.floats(0.01, 0.99))
def test_tails_agree_with_the_library(x, more, p):
    n = x + more
    if n:
        assert at_least(x, n, p) == pytest.approx(binom.sf(x - 1, n, p), rel=1e-9, abs=1e-300)
        assert at_most(x, n, p) == pytest.approx(binom.cdf(x, n, p), rel=1e-9, abs=1e-300)


@settings(deadline=None)
@given(st.integers(1, 200), st.data())
def test_limits_agree_with_the_library(n, data):
    x = data.draw(st.integers(0, n))
    library = binomtest(x, n).proportion_ci(0.9, method="exact")
    low, high = limits(x, n, below=0.05, above=0.05)
    assert (low, high) == (pytest.approx(library.low, abs=1e-9), pytest.approx(library.high, abs=1e-9))


def test_power_is_exact():
    rows = published("power.csv")
    for row in rows.itertuples():
        question = ask(row.method, error=row.alpha, match_error=0.05)
        limit, power = difference_power(question, np.array([row.n]), float(share_correct(row.method, row.d_prime)))
        assert limit[0] == row.critical
        assert power[0] == pytest.approx(row.power, abs=1e-10)
        assert at_least(limit, row.n, question.chance)[0] == pytest.approx(row.attained_alpha, abs=1e-10)


def test_first_and_settled_numbers_for_a_share():
    for row in published("sample_size.csv").itertuples():
        question = ask(row.method, error=row.alpha, match_error=0.05, within_share=row.pd)
        needed = difference_needs(question, 1 - row.beta)
        assert (needed.first, needed.settled) == (row.first_n, row.settled_n)
        limit, power = difference_power(question, np.array([row.first_n, row.settled_n]), question.at_tolerance)
        assert limit[0] == row.critical_at_first_n
        np.testing.assert_allclose(power, [row.power_at_first_n, row.power_at_settled_n], atol=1e-9)


def test_first_and_settled_numbers_for_a_d_prime():
    for row in published("sample_size_dprime.csv").itertuples():
        question = ask(row.method, error=row.alpha, match_error=0.05, within_d=row.d_prime)
        needed = difference_needs(question, 1 - row.beta)
        assert (needed.first, needed.settled) == (row.first_n, row.settled_n)


def test_first_and_settled_numbers_for_a_match():
    for row in published("sample_size_match.csv").itertuples():
        question = ask(row.method, error=0.05, match_error=row.error_rate_match, within_d=row.tolerance_d_prime)
        needed = match_needs(question, row.power, float(share_correct(row.method, row.true_d_prime)))
        assert (needed.first, needed.settled) == (row.first_n, row.settled_n)


def test_printed_first_numbers_through_the_public_call():
    # ISO 4120 Table A.3 (from memory): triangle, both risks 5 %
    for share, first, settled in [(0.5, 23, 29), (0.4, 40, 42), (0.3, 66, 73), (0.2, 147, 154), (0.1, 572, 591)]:
        found = answers_needed("triangle", within_share=share, power=0.95)
        assert (found.difference.first, found.difference.settled) == (first, settled)
        assert found.match.first == first  # both risks alike: one table serves both claims


@pytest.mark.parametrize("kind", ["triangle", "duo-trio", "paired", "2-afc", "3-afc", "tetrad", "two-out-of-five"])
def test_served_number_keeps_its_power_and_its_orders(kind):
    found = answers_needed(kind, within_share=0.35)
    question = ask(kind, error=0.05, match_error=0.05, within_share=0.35)
    n = np.arange(found.difference.settled, found.difference.settled + 400)
    assert (difference_power(question, n, question.at_tolerance)[1] >= 0.8).all()
    n = np.arange(found.match.settled, found.match.settled + 400)
    assert (match_power(question, n, question.chance)[1] >= 0.8).all()
    for needed in (found.difference, found.match):
        assert needed.first <= needed.settled <= needed.served
        assert needed.served % len(question.kind.orders) == 0


def test_two_sided_power_by_simulation():
    question = ask("paired", error=0.05, match_error=0.05, within_share=0.3)
    needed = difference_needs(question, 0.8)
    x = np.random.default_rng(3).binomial(needed.settled, question.at_tolerance, 40_000)
    power = (p_two_sided(x, needed.settled) <= 0.05).mean()
    exact = difference_power(question, np.array([needed.settled]), question.at_tolerance)[1][0]
    assert power == pytest.approx(exact, abs=4 * 0.002)


def test_fisher_power_agrees_with_the_library_test():
    from scipy.stats import fisher_exact

    n, total = 12, 0.0
    for hits in range(n + 1):
        for false in range(n + 1):
            p = fisher_exact([[hits, n - hits], [false, n - false]], alternative="greater").pvalue
            total += (p <= 0.05) * binom.pmf(hits, n, 0.8) * binom.pmf(false, n, 0.3)
    assert fisher_power(n, 0.8, 0.3, error=0.05) == pytest.approx(total, abs=1e-10)


def test_numbers_for_tests_without_a_fixed_chance():
    found = answers_needed("a-not-a", within_d=1.0, answers=20)
    assert found.difference.power >= 0.8
    assert "cannot settle" in found.verdicts[0].sentence
    assert answers_needed("same-different", within_d=2.0).difference.settled > found.difference.settled


def test_a_panel_too_small_is_told_first():
    found = answers_needed("triangle", within_d=1.0, answers=12)
    assert found.verdicts[0].call == "no"
    assert "descriptor scores" in found.verdicts[0].next_step
    assert answers_needed("triangle", within_d=1.0, answers=400).verdicts[0].call == "yes"


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ({}, "no size"),
        ({"within_share": 0.0005}, "more than 200,000"),
        ({"within_share": 0.3, "within_d": 1.0}, "two tolerances"),
        ({"within_share": 1.2}, "no share"),
        ({"within_d": -1.0}, "no size"),
        ({"within_d": 1.0, "power": 1.0}, "not a probability"),
        ({"within_d": 1.0, "true_d": 1.5}, "no match"),
    ],
)
def test_impossible_plans_are_refused_in_words(arguments, words):
    with pytest.raises(DesignError, match=words):
        answers_needed("triangle", **arguments)


def test_ten_thousand_numbers_at_once_take_well_under_a_second():
    n = np.arange(1, 10_001)
    started = time.process_time()
    least_correct(n, 1 / 3, 0.05)
    most_correct(n, 0.5, 0.05)
    assert time.process_time() - started < 1
