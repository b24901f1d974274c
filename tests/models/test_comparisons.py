import json
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import multivariate_t, studentized_range
from scipy.stats import t as student

from panelstats.models.comparisons import against_control, all_pairs, pairs_half_width, pairs_p

PUBLISHED = Path(__file__).parents[1] / "published" / "models"
VALUES = json.loads((PUBLISHED / "comparisons.json").read_text())
RANGE = pd.read_csv(PUBLISHED / "studentized_range.csv")
UNBALANCED = json.loads((PUBLISHED / "unbalanced.json").read_text())


def equal_correlation(count):
    return np.full((count, count), 0.5) + np.eye(count) / 2


def family_of(correlation):
    return against_control(correlation, np.zeros(len(correlation)), np.full(len(correlation), 10.0))


def test_range_tail_agrees_with_the_table():
    p = pairs_p(RANGE["q"] / np.sqrt(2), RANGE["df"], RANGE["k"])
    np.testing.assert_allclose(p, RANGE["sf"], atol=1e-8, rtol=0)


@pytest.mark.parametrize("df", [1.0, 1.7, 2.5, 3.2])
@pytest.mark.parametrize("k", [3, 40])
def test_range_tail_at_few_df_agrees_with_scipy(k, df):
    q = np.array([2.0, 8.0, 50.0])
    np.testing.assert_allclose(pairs_p(q / np.sqrt(2), df, k), studentized_range.sf(q, k, df), atol=2e-9, rtol=0)


def test_two_means_are_a_t_test_down_to_small_tails():
    t, df = np.array([0.0, 0.5, 2.0, 6.0, 11.0]), np.array([1.0, 3.0, 9.5, 60.0, 1e7])
    np.testing.assert_allclose(pairs_p(t, df, 2), 2 * student.sf(t, df), rtol=1e-8)


def test_critical_range_agrees_with_published_points():
    for point in VALUES["studentized_range_critical"]:
        q = np.sqrt(2) * all_pairs(point["k"]).critical(np.array(float(point["df"])), 1 - point["alpha"])
        assert q == pytest.approx(point["q"], abs=1e-8)


# NIST/SEMATECH e-Handbook 7.4.7.1: intervals printed to two decimals.
def test_tukey_intervals_agree_with_the_handbook():
    tukey = VALUES["handbook_tukey"]
    means, se = np.mean(tukey["groups"], axis=1), np.sqrt(tukey["mse"] * 2 / 5)
    half = pairs_half_width(se, tukey["df"], 4, level=0.95)
    for pair in tukey["pairs"]:
        a, b = int(pair["a"][-1]) - 1, int(pair["b"][-1]) - 1
        assert means[a] - means[b] - half == pytest.approx(pair["low"], abs=1e-8)
        assert means[a] - means[b] + half == pytest.approx(pair["high"], abs=1e-8)
        assert pairs_p((means[a] - means[b]) / se, tukey["df"], 4) == pytest.approx(pair["p"], abs=1e-8)
    assert half == pytest.approx((4.47 - 0.29) / 2, abs=0.005)


def test_pairs_of_a_mixed_model_agree_with_their_published_p():
    for descriptor in ("briskness", "colour"):
        pairs, lots = pd.DataFrame(UNBALANCED[descriptor]["pairs"]), UNBALANCED[descriptor]["lots"]
        np.testing.assert_allclose(pairs_p(pairs["t"], pairs["df"], len(lots)), pairs["p_range"], atol=1e-8, rtol=0)


@settings(max_examples=40)
@given(st.integers(2, 60), st.lists(st.floats(1, 300), min_size=1, max_size=4), st.sampled_from([0.9, 0.95, 0.99]))
def test_critical_value_is_where_p_is_alpha(k, df, level):
    critical = all_pairs(k).critical(np.array(df), level)
    np.testing.assert_allclose(pairs_p(critical, np.array(df), k), 1 - level, rtol=1e-8)


def test_many_df_share_a_curve_without_loss():
    df = np.random.default_rng(1).uniform(1, 400, (30, 20))
    np.testing.assert_allclose(pairs_p(all_pairs(12).critical(df, 0.95), df, 12), 0.05, rtol=1e-8)


@given(st.lists(st.floats(0, 11), min_size=2, max_size=20), st.integers(2, 100), st.floats(1, 200))
def test_p_falls_with_t_and_lies_between_one_test_and_bonferroni(t, k, df):
    t = np.sort(t)
    p, alone = pairs_p(t, df, k), 2 * student.sf(t, df)
    assert (np.diff(p) <= 1e-9).all()
    assert (p >= alone * (1 - 1e-6) - 1e-9).all()
    assert (p <= np.minimum(alone * k * (k - 1) / 2, 1) * (1 + 1e-6) + 1e-9).all()


def test_each_descriptor_has_its_own_number_of_lots():
    t, df = np.array([[2.0, 2.0, 2.0], [3.0, 3.0, 3.0]]), np.array([10.0, 20.0, 30.0])
    p = pairs_p(t, df, np.array([3, 8, 1]))
    assert p[1, 0] == pytest.approx(float(pairs_p(3.0, 10.0, 3)))
    assert p[0, 1] == pytest.approx(float(pairs_p(2.0, 20.0, 8)))
    assert np.isnan(p[:, 2]).all()


def test_what_is_unknown_stays_unknown():
    t, df = np.array([np.nan, 2.0, np.inf]), np.array([9.0, np.nan, 9.0])
    np.testing.assert_array_equal(np.isnan(pairs_p(t, df, 5)), [True, True, False])
    np.testing.assert_array_equal(np.isnan(pairs_half_width(np.ones(3), df, 5, level=0.95)), [False, True, False])
    assert np.isnan(pairs_half_width(np.ones(2), np.array([np.nan, np.nan]), 5, level=0.95)).all()


# Dunnett 1955 (JASA 50: 1096): blood counts, unequal numbers; p by exact quadrature and multcomp.
def test_many_to_one_agrees_with_the_blood_counts():
    counts = VALUES["dunnett_counts"]
    groups = [np.array(counts[name]) for name in ("control", "A", "B")]
    variance = sum(((g - g.mean()) ** 2).sum() for g in groups) / counts["df"]
    n = np.array([len(g) for g in groups])
    loading = np.sqrt(n[1:] / (n[1:] + n[0]))
    correlation = np.outer(loading, loading) + np.diag(1 - loading**2)
    se = np.sqrt(variance * (1 / n[1:] + 1 / n[0]))
    difference = np.array([g.mean() for g in groups[1:]]) - groups[0].mean()
    family = against_control(correlation, difference / se, np.full(2, 12.0))
    assert family.corrections == ()
    assert family.critical(np.array(12.0), 0.95) == pytest.approx(counts["two_sided_critical"], abs=1e-8)
    p, half = family.p(difference / se, np.full(2, 12.0)), family.half_width(se, np.full(2, 12.0), 0.95)
    for i, expected in enumerate(counts["results"]):
        assert p[i] == pytest.approx(expected["p"], abs=1e-8)
        assert difference[i] - half[i] == pytest.approx(expected["low"], abs=1e-8)
        assert difference[i] + half[i] == pytest.approx(expected["high"], abs=1e-8)


def test_critical_values_against_a_control_agree_with_published_points():
    for point in VALUES["dunnett_critical"]:
        critical = family_of(equal_correlation(point["comparisons"])).critical(np.array(float(point["df"])), 0.95)
        assert critical == pytest.approx(point["critical"], abs=1e-8)


def control_correlation():
    """Correlation of the differences from lot1: the published components in full matrices."""
    scores, expected = pd.read_csv(PUBLISHED / "unbalanced.csv"), UNBALANCED["briskness"]
    scores = scores[scores["descriptor"] == "briskness"]
    lot, taster = (
        pd.get_dummies(scores["lot"], dtype=float)[expected["lots"]].to_numpy(),
        pd.get_dummies(scores["taster"]),
    )
    same_taster = taster.to_numpy(float) @ taster.to_numpy(float).T
    variance = expected["variances"]
    v = variance["residual"] * np.eye(len(scores)) + same_taster * (
        variance["taster"] + variance["lot:taster"] * (lot @ lot.T)
    )
    covariance = np.linalg.inv(lot.T @ np.linalg.solve(v, lot))
    contrast = np.column_stack([np.ones(7), -np.eye(7)])
    differences = contrast @ covariance @ contrast.T
    sd = np.sqrt(np.diag(differences))
    pairs = pd.DataFrame(expected["pairs"])
    pairs = pairs[pairs["a"] == "lot1"]
    np.testing.assert_allclose(sd, pairs["se"], rtol=1e-9)  # the matrices are the published model's
    return differences / np.outer(sd, sd), pairs["t"].to_numpy(), pairs["df"].to_numpy()


def test_control_in_unbalanced_data_agrees_with_mvtnorm():
    correlation, t, df = control_correlation()
    family, published = against_control(correlation, t, df), VALUES["control_unbalanced"]
    p, error = family.p(t, df), family.standard_error(t, df)
    assert 0 < error.max() < published["tolerance"]
    np.testing.assert_allclose(p, list(published["p_single_step"].values()), atol=5e-4, rtol=0)
    critical = family.critical(df, 0.95)
    np.testing.assert_allclose(family.p(critical, df), 0.05, atol=1e-6)


def test_any_correlation_agrees_with_a_direct_integral_within_its_stated_error():
    # Not a product of loadings, and not near one: correlations 0.8 and -0.3.
    correlation = np.array([[1, 0.8, -0.3, 0.1], [0.8, 1, 0.1, 0.0], [-0.3, 0.1, 1, 0.5], [0.1, 0.0, 0.5, 1]])
    t, df = np.array([1.0, 2.0, 2.7, 3.5]), np.full(4, 12.0)
    family = against_control(correlation, t, df)
    p, error = family.p(t, df), family.standard_error(t, df)
    assert error.max() < 1e-3
    direct = multivariate_t(shape=correlation, df=12, seed=1)
    for i in range(4):
        inside = direct.cdf(np.full(4, t[i]), lower_limit=np.full(4, -t[i]), maxpts=400_000)
        assert abs(p[i] - (1 - inside)) < 4 * error[i] + 5e-5  # 5e-5: the direct integral is sampled too


def test_a_p_value_near_the_threshold_is_worth_a_larger_sample():
    correlation, t, df = control_correlation()
    far = against_control(correlation, t, df)
    at = against_control(correlation, far.critical(df, 0.95), df)
    assert at.standard_error(t, df).max() < far.standard_error(t, df).max() / 2


def test_the_seed_fixes_the_answer():
    correlation, t, df = control_correlation()
    here, again, other = (against_control(correlation, t, df, seed=seed).p(t, df) for seed in (1, 1, 2))
    np.testing.assert_array_equal(here, again)
    assert (here != other).any()


@settings(max_examples=40)
@given(st.lists(st.floats(0.05, 0.9), min_size=2, max_size=6), st.permutations(range(3)))
def test_independent_means_need_no_sample(shares, order):
    loading = np.sqrt(shares)
    correlation = np.outer(loading, loading) + np.diag(1 - loading**2)
    family = family_of(correlation)
    assert family.corrections == ()
    turned = np.append(order, np.arange(3, len(shares)))[: len(shares)] if len(shares) >= 3 else np.arange(len(shares))
    again = family_of(correlation[np.ix_(turned, turned)])
    np.testing.assert_allclose(
        again.p(np.array(2.3), np.array(15.0)), family.p(np.array(2.3), np.array(15.0)), rtol=1e-9
    )
