import json
from itertools import permutations, product
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import f as f_distribution
from scipy.stats import friedmanchisquare, spearmanr

from panelstats.models.ranks import concordance

VALUES = json.loads((Path(__file__).parents[1] / "published" / "models" / "kendall_w.json").read_text())

halves = st.integers(0, 20).map(lambda n: n / 2)


def one(scores):
    """The answer for one descriptor; `scores` is (lot, taster)."""
    return concordance(np.asarray(scores, float)[:, :, None])


@pytest.mark.parametrize("case", ["no_ties", "with_ties"])
def test_w_and_its_f_agree_with_the_published_values(case):
    published = VALUES[case]
    found = one(np.transpose(published["data"]))
    assert found.w[0] == pytest.approx(published["W"], abs=1e-12)
    assert found.f[0] == pytest.approx(published["F"], rel=1e-10)
    np.testing.assert_allclose([found.df[0], found.df_error[0]], published["F_df"], rtol=1e-12)
    assert f_distribution.sf(found.f[0], found.df[0], found.df_error[0]) == pytest.approx(published["F_p"], rel=1e-10)


# Siegel 1956, Nonparametric Statistics, chapter 9: three judges, six applicants, W printed as .16 (from memory).
def test_p_counts_every_order_of_small_tables():
    found = one(np.transpose(VALUES["no_ties"]["data"]))
    assert found.w[0] == pytest.approx(0.16, abs=0.005)
    assert found.exact[0]
    assert found.p[0] == pytest.approx(VALUES["no_ties"]["exact_p"], abs=1e-12)  # all 720^2 rankings


@pytest.mark.parametrize("lots", [2, 3, 4])
def test_exact_p_agrees_with_plain_enumeration_with_ties(lots):
    scores = np.random.default_rng(lots).integers(3, 6, (lots, 3)) + np.eye(lots, 3)
    found = one(scores)
    orders = [list(order) for order in permutations(range(lots))]
    w = [
        one(np.column_stack([scores[:, 0], scores[left, 1], scores[right, 2]])).w[0]
        for left, right in product(orders, orders)
    ]
    assert found.p[0] == pytest.approx(np.mean(np.array(w) >= found.w[0] - 1e-12), abs=1e-12)


@settings(max_examples=40)
@given(st.lists(st.lists(halves, min_size=5, max_size=5), min_size=3, max_size=8))
def test_w_agrees_with_scipy_and_with_the_mean_rank_correlation(rows):
    scores = np.array(rows)  # (lot, taster)
    ranked = scores[:, scores.max(axis=0) > scores.min(axis=0)]
    lots, tasters = ranked.shape
    found = one(scores)
    assert found.tasters[0] == tasters
    np.testing.assert_array_equal(found.all_tied[:, 0], scores.max(axis=0) == scores.min(axis=0))
    if tasters < 2:
        assert np.isnan([found.w[0], found.p[0], found.spearman[0]]).all()
        return
    if tasters > 2:
        chi2 = friedmanchisquare(*ranked).statistic
        assert found.w[0] == pytest.approx(chi2 / (tasters * (lots - 1)), abs=1e-12)
    correlation = [spearmanr(ranked[:, i], ranked[:, j])[0] for i in range(tasters) for j in range(i)]
    assert found.spearman[0] == pytest.approx(np.mean(correlation), abs=1e-12)


@settings(max_examples=40)
@given(st.lists(st.lists(halves, min_size=3, max_size=3), min_size=4, max_size=8), st.integers(-3, 3))
def test_only_the_order_counts(rows, shift):
    scores = np.array(rows)
    stretched = scores**3 + shift
    np.testing.assert_array_equal(one(scores).w, one(stretched).w)
    np.testing.assert_array_equal(one(scores).p, one(stretched[::-1]).p)


def test_descriptors_are_answered_together_as_alone():
    scores = np.random.default_rng(2).integers(0, 21, (9, 5, 4)) / 2
    scores[:, 2, 1] = 4.0
    scores[3, 0, 3] = np.nan
    found = concordance(scores)
    np.testing.assert_array_equal(found.tasters, [5, 4, 5, 0])
    assert found.all_tied[2, 1]
    assert found.all_tied.sum() == 1
    assert np.isnan([found.w[3], found.p[3], found.spearman[3], found.f[3]]).all()
    for d in range(3):
        alone = one(scores[:, :, d])
        assert found.w[d] == alone.w[0]
        assert found.p[d] == alone.p[0]


def test_full_agreement_is_one_and_its_chance_is_counted():
    order = np.arange(6.0)
    found = one(np.column_stack([order] * 4))
    assert found.w[0] == 1
    assert found.p[0] == pytest.approx(720.0**-3, rel=1e-12)
    assert np.isinf(found.f[0])
    many = one(np.column_stack([order] * 8))
    assert not many.exact[0]
    assert many.p[0] == 0


@pytest.mark.parametrize("shape", [(1, 3), (4, 1), (2, 2)])
def test_small_tables_have_defined_answers(shape):
    found = one(np.arange(np.prod(shape), dtype=float).reshape(shape))
    assert np.isnan(found.w[0]) == (shape != (2, 2))
    assert found.p[0] == 0.5 if shape == (2, 2) else np.isnan(found.p[0])


@pytest.mark.parametrize(("tasters", "lots"), [(8, 12), (5, 8)])
def test_f_holds_its_size(tasters, lots):
    scores = np.random.default_rng(6).random((lots, tasters, 4000))
    rejected = (concordance(scores).p < 0.05).mean()
    assert abs(rejected - 0.05) < 4 * np.sqrt(0.05 * 0.95 / 4000)
