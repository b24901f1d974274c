import mpmath
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq
from scipy.special import polygamma, psi

from panelstats.models.steadying import MOST_DF, Prior, moderated_variance, trigamma_inverse, variance_prior


@pytest.mark.parametrize("y", ["1e-8", "0.003", "0.5", "1", "4", "77.5", "1e6", "1e11"])
def test_trigamma_inverse_agrees_with_thirty_digits(y):
    with mpmath.workdps(30):
        value = float(mpmath.polygamma(1, mpmath.mpf(y)))
    assert trigamma_inverse(value) == pytest.approx(float(y), rel=4e-15)


def test_trigamma_inverse_of_known_constants():
    # Abramowitz & Stegun, Handbook of Mathematical Functions, 6.4.2 and 6.4.5: trigamma(1), trigamma(1/2).
    np.testing.assert_allclose(trigamma_inverse(np.array([np.pi**2 / 6, np.pi**2 / 2])), [1, 0.5], rtol=1e-15)


def test_trigamma_inverse_of_what_is_not_positive_is_nan():
    assert np.isnan(trigamma_inverse(np.array([0.0, -1.0, np.nan]))).all()


# Smyth 2004 (Stat Appl Genet Mol Biol 3: 3), section 6.2, written out anew with a bracketing root finder.
def smyth(variance, df):
    e = np.log(variance) - psi(df / 2) + np.log(df / 2)
    excess = e.var(ddof=1) - polygamma(1, df / 2).mean()
    if excess <= polygamma(1, MOST_DF / 2):
        d0 = MOST_DF
    else:
        d0 = 2 * brentq(lambda y: polygamma(1, y) - excess, 1e-6, 1e4, xtol=1e-14)
    return d0, np.exp(e.mean() + psi(d0 / 2) - np.log(d0 / 2))


positive = st.floats(0.01, 20)


@given(st.lists(st.tuples(positive, st.integers(1, 60)), min_size=3, max_size=12))
def test_prior_agrees_with_the_published_formulas_for_unequal_df(pairs):
    variance, df = np.array(pairs, float).T
    variance = np.maximum(variance, 1e-3 * np.median(variance))
    prior = variance_prior(variance, df)
    d0, s2 = smyth(variance, df)
    assert prior.df[0] == pytest.approx(d0, rel=1e-9)
    assert prior.variance[0] == pytest.approx(s2, rel=1e-9)


@given(st.lists(positive, min_size=3, max_size=8), st.floats(0.01, 100))
def test_another_unit_changes_the_variance_and_not_the_df(variance, unit):
    here = variance_prior(np.array(variance), np.array(9.0))
    there = variance_prior(np.array(variance) * unit, np.array(9.0))
    np.testing.assert_allclose(there.df, here.df, rtol=1e-6)
    np.testing.assert_allclose(there.variance, here.variance * unit, rtol=1e-6)


def test_leading_axes_are_groups_of_their_own():
    variance = np.random.default_rng(3).chisquare(4, (6, 5, 3))
    whole = variance_prior(variance, np.array(8.0), axis=1)
    assert whole.df.shape == (6, 1, 3)
    alone = variance_prior(variance[2, :, 1], np.array(8.0))
    assert whole.df[2, 0, 1] == pytest.approx(alone.df[0], rel=1e-12)
    assert whole.variance[2, 0, 1] == pytest.approx(alone.variance[0], rel=1e-12)


def test_pooled_spread_is_the_pooled_variance_of_the_logs():
    variance, df = np.random.default_rng(4).chisquare(3, (7, 4)), np.array(11.0)
    prior = variance_prior(variance, df, axis=0, pooled=(1,))
    assert prior.df.shape == (1, 1)
    assert prior.variance.shape == (1, 4)
    spread = np.log(variance).var(axis=0, ddof=1).mean()  # equal df: the shift of the logs cancels
    assert polygamma(1, prior.df[0, 0] / 2) == pytest.approx(spread - polygamma(1, 5.5), rel=1e-12)


def test_missing_variances_are_as_if_never_given():
    variance, df = np.array([0.5, np.nan, 2.0, 0.9, 1.4]), np.array([8.0, 8.0, 3.0, 0.0, 5.0])
    with_gaps, without = variance_prior(variance, df), variance_prior(variance[[0, 2, 4]], df[[0, 2, 4]])
    assert with_gaps.df[0] == pytest.approx(without.df[0], rel=1e-13)
    assert with_gaps.variance[0] == pytest.approx(without.variance[0], rel=1e-13)


def test_alike_variances_lend_no_more_than_the_cap():
    prior = variance_prior(np.array([1.0, 1.0, 1.0, 1.0]), np.array(10.0))
    assert prior.df[0] == MOST_DF


@pytest.mark.parametrize("variance", [[], [1.3], [1.3, 0.2], [0.0, 0.0, 0.0], [np.nan, np.nan, np.nan]])
def test_too_few_variances_lend_nothing(variance):
    variance = np.array(variance, float)
    moderated, df = moderated_variance(variance, np.full(len(variance), 6.0), variance_prior(variance, np.array(6.0)))
    np.testing.assert_allclose(moderated, variance, rtol=1e-15)
    np.testing.assert_array_equal(df, np.where(np.isnan(variance), 0, 6))


def test_a_zero_among_others_counts_as_a_thousandth_of_the_median():
    zero = variance_prior(np.array([0.0, 1.0, 2.0, 3.0]), np.array(6.0))
    small = variance_prior(np.array([1.5e-3, 1.0, 2.0, 3.0]), np.array(6.0))
    np.testing.assert_array_equal(zero.df, small.df)


def test_moderated_variance_weighs_by_df_and_keeps_what_is_unknown_unknown():
    prior = Prior(np.array([6.0]), np.array([0.7]))
    variance, df = moderated_variance(np.array([0.2, np.nan]), np.array([4.0, 4.0]), prior)
    np.testing.assert_allclose(variance, [0.5, 0.7])  # (6 * 0.7 + 4 * 0.2) / 10; the prior alone
    np.testing.assert_array_equal(df, [10, 6])
    variance, df = moderated_variance(np.array([np.nan]), np.array([4.0]), Prior(np.array([0.0]), np.array([np.nan])))
    assert np.isnan(variance[0])
    assert df[0] == 0


def test_prior_is_recovered_from_many_variances():
    # Drawn from the model itself, d0 = 12, s0^2 = 0.7; four standard errors over 400 groups of 50.
    rng = np.random.default_rng(5)
    truth = 0.7 * 12 / rng.chisquare(12, (400, 50))
    prior = variance_prior(truth * rng.chisquare(8, (400, 50)) / 8, np.array(8.0))
    for seen, expected in ((1 / prior.df, 1 / 12), (np.log(prior.variance), np.log(0.7))):
        assert abs(np.median(seen) - expected) < 4 * 1.25 * seen.std() / 20
