"""Comparing and pooling tests against a second system and enumeration; the same tasters twice against McNemar.

Sources of each file stand in tests/published/difference/README.md.
"""

from itertools import product
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from scipy.stats import binom, binomtest, chi2, fisher_exact

import panelstats as pst
from panelstats.difference.comparison.fit import compare_same_tasters, compare_tests
from panelstats.errors import DesignError
from panelstats.models.kinds import share_correct
from panelstats.models.kinds.unlike import exact_unlike_p

PUBLISHED = Path(__file__).parents[1] / "published" / "difference"


def cases_of(text):
    parts = [part.replace(":", "/").split("/") for part in text.split()]
    return [(kind, int(correct), int(answers)) for kind, correct, answers in parts]


def test_likelihood_ratio_agrees_with_a_second_system():
    for row in pd.read_csv(PUBLISHED / "compare_tests.csv").itertuples():
        found = compare_tests(cases_of(row[2]))
        assert found.statistic == pytest.approx(row.chi_square_likelihood_ratio, abs=1e-6)
        assert chi2.sf(found.statistic, found.df) == pytest.approx(row.p_value, abs=1e-6)
        assert found.verdicts[0].numbers["d"] == pytest.approx(row.d_common, abs=1e-6)
        np.testing.assert_allclose(found.table["d'"], np.array(row.d_each.split(), float), atol=1e-6)


def test_true_size_by_enumeration_of_every_result():
    row = pd.read_csv(PUBLISHED / "compare_tests_size.csv").query("method == 'triangle' and n_each == 24").iloc[2]
    n, p = 24, float(share_correct("triangle", row["d_prime_both"]))
    chance = binom.pmf(np.arange(n + 1), n, p)
    likely = np.flatnonzero(chance > 2e-3)
    size = sum(
        chance[x] * chance[y]
        for x, y in product(likely, likely)
        if x < y and chi2.sf(compare_tests([("triangle", int(x), n), ("triangle", int(y), n)]).statistic, 1) <= 0.05
    )
    assert 2 * size == pytest.approx(row["lr_rejects_at_5pct"], abs=4e-3)


def test_p_is_the_enumerated_chance_of_a_ratio_as_large():
    # every result of both tests, each with its own ratio by the public call, weighed by the library's binomial
    n, m, seen = 6, 5, (6, 1)
    ratio = np.array(
        [[compare_tests([("2-afc", x, n), ("3-afc", y, m)]).statistic for y in range(m + 1)] for x in range(n + 1)]
    )
    extreme = ratio >= ratio[seen] - 1e-6
    worst = max(
        binom.pmf(np.arange(n + 1), n, share_correct("2-afc", d))
        @ extreme
        @ binom.pmf(np.arange(m + 1), m, share_correct("3-afc", d))
        for d in np.linspace(0, 8, 161)
    )
    found = compare_tests([("2-afc", 6, n), ("3-afc", 1, m)])
    assert "exact over all results" in found.method
    assert worst / 2 < found.p <= worst + 0.001 + 1e-9
    assert compare_tests([("2-afc", 4, 6), ("2-afc", 4, 6)]).p == 1  # no result differs less


@pytest.mark.parametrize("tests", [(("2-afc", 16), ("3-afc", 16)), (("2-afc", 20), ("2-afc", 20))])
def test_true_size_of_the_quoted_p_at_few_answers(tests):
    (one, n), (other, m) = tests
    rejected = np.array(
        [[exact_unlike_p([(one, x, n), (other, y, m)]) <= 0.05 for y in range(m + 1)] for x in range(n + 1)]
    )
    for d in np.linspace(0, 4, 17):
        chances = [binom.pmf(np.arange(k + 1), k, float(share_correct(kind, d))) for kind, k in tests]
        assert chances[0] @ rejected @ chances[1] <= 0.05


def test_more_power_than_fishers_exact_test_where_one_kind_is_served_twice():
    n, d = 16, (0.3, 2.0)
    results = [(x, y) for x in range(n + 1) for y in range(n + 1)]
    ours = np.array([exact_unlike_p([("2-afc", x, n), ("2-afc", y, n)]) <= 0.05 for x, y in results])
    fisher = np.array([fisher_exact([[x, n - x], [y, n - y]]).pvalue <= 0.05 for x, y in results])
    p = [float(share_correct("2-afc", each)) for each in d]
    chances = np.array([binom.pmf(x, n, p[0]) * binom.pmf(y, n, p[1]) for x, y in results])
    assert chances @ ours >= chances @ fisher


def test_many_answers_are_judged_by_chi_square():
    found = compare_tests([("triangle", 100, 240), ("triangle", 130, 240)])
    assert "chi-square on 1 df" in found.method
    assert found.p == pytest.approx(chi2.sf(found.statistic, 1), abs=1e-12)


def test_tests_that_differ_are_not_pooled():
    found = compare_tests([("triangle", 10, 40), ("triangle", 24, 40)])
    assert found.call == "differ"
    assert np.isnan(found.d_prime.value)
    assert "not pooled" in str(found)


def test_pooling_two_halves_gives_the_whole():
    found = compare_tests([("triangle", 12, 20), ("triangle", 12, 20)])
    whole = pst.difference_test("triangle", correct=24, answers=40)
    assert found.d_prime.value == pytest.approx(whole.d_prime.value, abs=1e-6)


def test_same_tasters_with_one_answer_each_are_mcnemars_test():
    rng = np.random.default_rng(8)
    first, second = (rng.random(40) < 0.7).astype(int), (rng.random(40) < 0.4).astype(int)
    better, worse = ((first > second).sum(), (second > first).sum())
    library = binomtest(better, better + worse).pvalue
    assert compare_same_tasters(first, second).p == pytest.approx(library, abs=1e-12)


def test_same_tasters_with_several_answers_by_all_swaps():
    first, second = np.array([3, 4, 2, 4]), np.array([1, 2, 2, 1])
    sums = [np.dot(signs, first - second) for signs in product([1, -1], repeat=4)]
    p = np.mean(np.abs(sums) >= abs((first - second).sum()))
    assert compare_same_tasters(first, second, answers=4).p == pytest.approx(p)


def test_shared_pots_are_told():
    found = compare_same_tasters([1, 1, 0], [0, 1, 0], shared_pots=True)
    assert "share pots" in str(found)


@pytest.mark.parametrize("tests", [[("triangle", 3, 9)], [("paired", 3, 9), ("triangle", 3, 9)]])
def test_impossible_comparisons_are_refused(tests):
    with pytest.raises(DesignError):
        compare_tests(tests)


def test_different_tasters_are_refused():
    with pytest.raises(DesignError, match="different tasters"):
        compare_same_tasters([1, 0], [1, 0, 1])
