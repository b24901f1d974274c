"""Random slopes with known variances: against the dense restricted likelihood, statsmodels, and drawn anew."""

import numpy as np
import pandas as pd
import pytest
import statsmodels.formula.api as smf
from scipy import optimize, stats

from panelstats.models.randomslopes import slope_spread, slopes


def drawn(rng, *, series=6, sessions=20, sd=0.05, uneven=True):
    """Lines with slopes of a standard deviation, errors of known variances, some sessions missed."""
    variance = 0.09 * (rng.uniform(0.5, 2, (sessions, series)) if uneven else np.ones((sessions, series)))
    value = rng.normal(0, 1, series) + sd * rng.normal(size=series) * np.arange(sessions)[:, None]
    value = value + np.sqrt(variance) * rng.normal(size=value.shape)
    if uneven:
        value[rng.random(value.shape) < 0.15] = np.nan
    return value, variance


def test_the_spread_maximises_the_restricted_likelihood_of_all_sessions():
    """The dense oracle: an intercept for each series, one mean slope, V = diag(v) + tau^2 x x' within a series."""
    value, variance = drawn(np.random.default_rng(1))
    line = slopes(value, variance, least=5)
    found = slope_spread(line.slope[:, None], line.variance[:, None], np.array([np.inf]))
    session, series = np.nonzero(np.isfinite(value))
    y, v = value[session, series], variance[session, series]
    fixed = np.column_stack([series[:, None] == np.arange(6), session]).astype(float)
    random = (series[:, None] == np.arange(6)) * session[:, None]

    def twice(tau2):
        inverse = np.linalg.inv(np.diag(v) + tau2 * random @ random.T)
        normal = fixed.T @ inverse @ fixed
        b = np.linalg.solve(normal, fixed.T @ inverse @ y)
        left = y - fixed @ b
        logs = np.linalg.slogdet(normal)[1] - np.linalg.slogdet(inverse)[1]
        return logs + left @ inverse @ left, b[-1]

    best = optimize.minimize_scalar(lambda t: twice(t)[0], bounds=(0, 0.05), method="bounded", options={"xatol": 1e-10})
    assert found.sd[0] == pytest.approx(np.sqrt(best.x), rel=1e-4)
    assert found.mean[0] == pytest.approx(twice(found.sd[0] ** 2)[1], rel=1e-8)
    inverse = np.linalg.inv(np.diag(v) + found.sd[0] ** 2 * random @ random.T)
    b = np.linalg.solve(fixed.T @ inverse @ fixed, fixed.T @ inverse @ y)
    own = found.sd[0] ** 2 * random.T @ inverse @ (y - fixed @ b)  # best linear unbiased prediction
    np.testing.assert_allclose(found.shrunken[:, 0], b[-1] + own, rtol=1e-8)
    both = np.column_stack([fixed, random]) / np.sqrt(v)[:, None]
    known = np.diag(np.r_[np.zeros(7), np.full(6, found.sd[0] ** -2)])
    error = np.linalg.inv(both.T @ both + known)  # Henderson 1975, Biometrics 31: 423-447
    for who in range(6):
        of_slope = (np.arange(13) == 6) + (np.arange(13) == 7 + who)
        assert found.shrunken_sd[who, 0] == pytest.approx(np.sqrt(of_slope @ error @ of_slope), rel=1e-6)


def test_with_equal_weights_it_is_the_mixed_model_of_statsmodels():
    value, _ = drawn(np.random.default_rng(2), uneven=False)
    at = (np.arange(20.0) - 9.5) / 10  # ten sessions: statsmodels mistrusts variances below 0.01
    line = slopes(value, np.ones(value.shape), least=5)
    residual = line.rss.sum() / line.df.sum()  # of balanced data the restricted estimate of the error
    found = slope_spread(line.slope[:, None], residual * line.variance[:, None], np.array([line.df.sum()]))
    frame = pd.DataFrame({"y": value.T.ravel(), "at": np.tile(at, 6), "who": np.repeat(np.arange(6), 20)})
    fit = smf.mixedlm("y ~ C(who) + at", frame, groups="who", re_formula="0 + at").fit(reml=True)
    assert 100 * found.sd[0] ** 2 == pytest.approx(float(fit.cov_re.iloc[0, 0]), rel=1e-3)
    ordinary = np.array([np.polyfit(at, mine, 1)[0] for mine in value.T])
    f = (at @ at) * ordinary.var(ddof=1) / residual
    assert found.p[0] == pytest.approx(stats.f.sf(f, 5, 6 * 18))


def test_the_interval_and_the_test_hold_in_lines_drawn_anew():
    rng, runs = np.random.default_rng(3), 400
    for sd in (0.0, 0.04):
        value, variance = (
            np.stack(each, axis=2) for each in zip(*(drawn(rng, sd=sd) for _ in range(runs)), strict=True)
        )
        line = slopes(value, variance, least=5)
        found = slope_spread(line.slope, line.variance, np.full(runs, np.inf))
        off = 4 * np.sqrt(0.05 * 0.95 / runs)
        if sd:
            assert ((found.low <= sd) & (sd <= found.high)).mean() == pytest.approx(0.95, abs=off)
        else:
            assert (found.p < 0.05).mean() == pytest.approx(0.05, abs=off)


def test_one_slope_tells_no_spread_and_few_sessions_no_slope():
    value = np.full((6, 2), np.nan)
    value[:, 0] = np.arange(6)
    line = slopes(value, np.ones(value.shape), least=5)
    assert line.slope[0] == pytest.approx(1)
    assert np.isnan(line.slope[1])
    found = slope_spread(line.slope[:, None], line.variance[:, None], np.array([np.inf]))
    assert np.isnan([found.sd[0], found.p[0], *found.shrunken[:, 0]]).all()
    assert np.isnan(slopes(value[:4], np.ones((4, 2)), least=5).slope).all()
