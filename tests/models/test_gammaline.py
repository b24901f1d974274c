"""Gamma values with the log link: against statsmodels."""

import numpy as np
import pytest
import statsmodels.api as sm

from panelstats.models.gammaline import gamma_line


@pytest.mark.parametrize("zeros", [0, 9])
def test_it_agrees_with_the_generalised_linear_model_of_statsmodels(zeros):
    rng = np.random.default_rng(1)
    x = np.column_stack([np.ones(40), rng.uniform(1, 20, 40)])
    y = np.exp(-1 + 0.08 * x[:, 1]) * rng.chisquare(1, 40)
    y[:zeros] = 0.0
    weight = rng.integers(1, 4, 40).astype(float)
    found = gamma_line(y, x, weight)
    model = sm.GLM(y, x, family=sm.families.Gamma(sm.families.links.Log()), var_weights=weight)
    fit = model.fit(scale="X2", tol=1e-14, maxiter=200) if not zeros else _from_poles(y, x, weight)
    np.testing.assert_allclose(found.coefficients, fit.params, rtol=1e-7)
    np.testing.assert_allclose(found.se, fit.bse, rtol=1e-6)
    assert found.df == 38


def _from_poles(y, x, weight):
    """Where y is 0 the deviance is infinite: the same estimating equations as a quasi-likelihood."""
    near = np.where(y == 0, 1e-300, y)
    return sm.GLM(near, x, family=sm.families.Gamma(sm.families.links.Log()), var_weights=weight).fit(
        scale="X2", tol=1e-14, tol_criterion="params", maxiter=200
    )


def test_nothing_is_fitted_where_all_are_zero_or_the_place_is_one():
    x = np.column_stack([np.ones(6), np.arange(6.0)])
    assert np.isnan(gamma_line(np.zeros(6), x, np.ones(6)).coefficients).all()
    assert np.isnan(gamma_line(np.ones(6), np.ones((6, 2)), np.ones(6)).coefficients).all()
    assert np.isnan(gamma_line(np.ones(2), x[:2], np.ones(2)).coefficients).all()


def test_a_start_far_off_is_walked_back():
    x = np.column_stack([np.ones(8), np.r_[np.zeros(7), 1.0]])
    y = np.r_[np.full(7, 1e-6), 1e6]
    np.testing.assert_allclose(gamma_line(y, x, np.ones(8)).coefficients, [np.log(1e-6), np.log(1e12)], rtol=1e-6)
