import json
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.signal import lfilter

from panelstats.models.charts import between_sessions, family_limit, planned, resemblance, weighted_ewma

PUBLISHED = Path(__file__).parents[1] / "published" / "models"


def read(name):
    return json.loads((PUBLISHED / name).read_text())


CELL, CELL_SHEET = read("season_one_cell.json"), pd.read_csv(PUBLISHED / "season_one_cell.csv")
BIAS, SE = CELL_SHEET["bias"].to_numpy(), CELL_SHEET["se"].to_numpy()

values = st.lists(st.floats(-5, 5), min_size=3, max_size=12)


# NIST/SEMATECH e-Handbook, section 6.3.2.4: levels printed to two decimals, limits exact at each session recomputed.
def test_equal_variances_give_the_handbooks_chart():
    nist = read("ewma_nist.json")
    chart = weighted_ewma(np.array(nist["data"]) - nist["target"], nist["sd"] ** 2, baseline=0, weight=nist["lam"])
    started = 1 - (1 - nist["lam"]) ** np.arange(1, len(nist["data"]) + 1)  # the handbook's chart starts at the target
    np.testing.assert_allclose(nist["target"] + chart.level * started, nist["ewma"][1:], rtol=1e-12)
    np.testing.assert_allclose(nist["target"] + chart.level * started, nist["published"]["ewma_2dp"][1:], atol=0.00501)
    np.testing.assert_allclose(
        nist["target"] + nist["k"] * chart.sd * started, nist["ucl_exact_by_time"], rtol=0, atol=1e-8
    )


def test_baseline_absences_and_unequal_errors_agree_with_explicit_combinations():
    chart = weighted_ewma(BIAS, SE**2 + CELL["between_session_variance_used"], baseline=CELL["baseline_sessions"])
    charted = ~np.isnan(chart.level)
    assert CELL_SHEET["session"][charted].tolist() == CELL["sessions"]
    np.testing.assert_allclose(chart.level[charted], CELL["level_minus_baseline"], rtol=1e-10)
    np.testing.assert_allclose(chart.sd[charted], CELL["sd"], rtol=1e-10)
    np.testing.assert_allclose(chart.z[charted], CELL["z"], rtol=1e-10)
    assert chart.baseline == pytest.approx(CELL["baseline_mean"], rel=1e-12)
    assert np.sqrt(chart.baseline_variance) == pytest.approx(CELL["baseline_se"], rel=1e-12)


def test_chart_against_a_target_agrees_with_explicit_weights():
    weeks, expected = pd.read_csv(PUBLISHED / "tracking.csv"), pd.DataFrame(read("tracking.json")["chart"])
    chart = weighted_ewma(weeks["difference"].to_numpy(), weeks["se"].to_numpy() ** 2, baseline=0)
    np.testing.assert_allclose(chart.level, expected["level"], rtol=0, atol=1e-9)
    np.testing.assert_allclose(chart.sd, expected["se"], rtol=0, atol=1e-9)
    np.testing.assert_allclose(chart.z, expected["z"], rtol=0, atol=1e-9)


def test_variance_between_sessions_agrees_with_the_published_value():
    assert between_sessions(BIAS, SE) == pytest.approx(CELL["between_session_variance_from_differences"], rel=1e-12)


def test_pooled_variance_between_sessions_counts_every_pair_once():
    rng = np.random.default_rng(3)
    value, se = rng.normal(0, 1, (7, 3, 2)), rng.uniform(0.1, 0.3, (7, 3, 2))
    value[2, 0, 1], value[4:, 2, 1] = np.nan, np.nan
    pooled = between_sessions(value, se, pooled=(1,))
    assert pooled.shape == (1, 2)
    excess = pairs = 0
    for taster in range(3):
        seen = ~np.isnan(value[:, taster, 1])
        b, variance = value[seen, taster, 1], se[seen, taster, 1] ** 2
        excess += (np.diff(b) ** 2 - variance[1:] - variance[:-1]).sum()
        pairs += len(b) - 1
    assert pooled[0, 1] == pytest.approx(excess / (2 * pairs), rel=1e-12)


def test_scale_is_a_factor_of_the_variance_of_each_session():
    value, scale = np.array([0.0, 2.0, 1.0]), np.array([0.5, 1.0, 2.0])
    assert between_sessions(value, np.zeros(3), scale=scale) == pytest.approx((4 + 1) / (0.5 + 1 + 1 + 2))


def test_variance_between_sessions_is_never_negative_and_unknown_without_a_pair():
    assert between_sessions(np.array([1.0, 1.1, 1.0]), np.full(3, 1.0)) == 0
    assert np.isnan(between_sessions(np.array([1.0, np.nan, np.nan]), np.full(3, 1.0)))


@given(values, st.data())
def test_an_absence_is_as_if_the_session_had_not_been(value, data):
    value = np.array(value)
    variance = np.random.default_rng(len(value)).uniform(0.1, 1, len(value))
    places = data.draw(st.lists(st.integers(0, len(value)), min_size=1, max_size=3))
    holed, holed_variance = np.insert(value, places, np.nan), np.insert(variance, places, 0.3)
    whole, gaps = weighted_ewma(value, variance, baseline=2), weighted_ewma(holed, holed_variance, baseline=2)
    np.testing.assert_allclose(gaps.level[~np.isnan(holed)], whole.level, rtol=1e-11, atol=1e-12)
    np.testing.assert_allclose(gaps.sd[~np.isnan(holed)], whole.sd, rtol=1e-11)
    assert np.isnan(gaps.level[np.isnan(holed)]).all()


def test_charts_are_answered_together_as_alone():
    rng = np.random.default_rng(4)
    value, variance = rng.normal(0, 1, (12, 3, 2)), rng.uniform(0.1, 1, (12, 3, 2))
    value[rng.random(value.shape) < 0.2] = np.nan
    together = weighted_ewma(value, variance, baseline=4)
    for taster, descriptor in np.ndindex(3, 2):
        alone = weighted_ewma(value[:, taster, descriptor], variance[:, taster, descriptor], baseline=4)
        np.testing.assert_allclose(together.z[:, taster, descriptor], alone.z, rtol=1e-11)


def test_a_variance_of_zero_is_an_absence_and_never_infinite_weight():
    chart = weighted_ewma(np.array([1.0, 9.0, 2.0]), np.array([1.0, 0.0, 1.0]), baseline=0)
    np.testing.assert_array_equal(np.isnan(chart.level), [False, True, False])
    assert chart.level[2] == pytest.approx((0.8 * 1 + 2) / 1.8)


def test_too_few_sessions_for_a_baseline_chart_nothing():
    chart = weighted_ewma(np.arange(5.0), 1.0, baseline=8)
    assert np.isnan(chart.level).all()
    assert np.isnan(chart.baseline)
    assert np.isnan(family_limit(np.full((5, 2), 0.3), 0.1, alpha=0.05))


# Lucas & Saccucci 1990 (Technometrics 32: 1); integral equation. Steady limits: sd at the start counts as its limit.
@pytest.mark.parametrize("weight", [0.1, 0.2, 0.4])
def test_run_lengths_after_a_shift_agree_with_the_published_tables(weight):
    table = pd.read_csv(PUBLISHED / "arl_tables.csv")
    row = table[(table["chart"] == "ewma") & np.isclose(table["param"], weight) & (table["shift"] == 1)].iloc[0]
    value = np.random.default_rng(8).normal(1, 1, (300, 6000))
    chart = weighted_ewma(value, 1.0, baseline=0, weight=weight)
    started = 1 - (1 - weight) ** np.arange(1, len(value) + 1)
    beyond = np.abs(chart.level) * started[:, None] > row["limit"] * np.sqrt(weight / (2 - weight))
    assert beyond.any(axis=0).all()
    length = beyond.argmax(axis=0) + 1
    assert abs(length.mean() - row["arl_integral_equation"]) < 4 * length.std() / np.sqrt(6000)


@pytest.mark.parametrize(("sessions", "cells"), [(20, 1), (40, 10), (10, 150)])
def test_alarms_over_a_season_agree_with_the_published_limits(sessions, cells):
    table = pd.read_csv(PUBLISHED / "ewma_season_limits.csv")
    row = table[(table["lambda"] == 0.2) & (table["sessions"] == sessions) & (table["cells"] == cells)].iloc[0]
    draws = 150_000 // cells
    value = np.random.default_rng(9).standard_normal((sessions, draws, cells))
    steady = np.sqrt(1 - 0.8 ** (2 * np.arange(1, sessions + 1)))[:, None, None]
    alarm = (np.abs(weighted_ewma(value, 1.0, baseline=0).z) * steady > row["L"]).any(axis=(0, 2))
    assert abs(alarm.mean() - 0.05) < 4 * np.sqrt(0.05 * 0.95 / draws)


@pytest.mark.parametrize("charts", ["1", "4", "8", "16"])
def test_limits_against_a_target_agree_with_the_published_simulation(charts):
    published = read("tracking.json")["limits_40_weeks_5_percent"][charts]
    limit = family_limit(np.full((40, int(charts)), 0.25), None, alpha=0.05, baseline=0, draws=6000)
    assert limit == pytest.approx(published, abs=0.06)


@pytest.mark.parametrize("pooled", [(), (1,)])
def test_the_limit_holds_in_seasons_drawn_anew(pooled):
    rng = np.random.default_rng(11)
    se, between = rng.uniform(0.2, 0.35, (14, 3, 2)), np.array([[0.1, 0.3]])
    se[rng.random(se.shape) < 0.1] = np.nan
    limit = family_limit(se, between, alpha=0.1, baseline=5, pooled=pooled, draws=4000, seed=1)
    value = np.sqrt(se[:, None] ** 2 + between) * rng.standard_normal((14, 4000, 3, 2))
    variance = se[:, None] ** 2 + between_sessions(value, se[:, None], pooled=tuple(axis + 1 for axis in pooled))
    alarms = (np.abs(weighted_ewma(value, variance, baseline=5).z) > limit).any(axis=(0, 2, 3)).mean()
    assert abs(alarms - 0.1) < 4 * np.sqrt(0.1 * 0.9 * 2 / 4000)  # 2: the limit is drawn too


def test_one_sided_limits_lie_below_two_sided_ones_and_the_seed_fixes_them():
    se = np.full((25, 6), 0.3)
    both, up, down = (family_limit(se, 0.02, alpha=0.01, side=side) for side in ("both", "up", "down"))
    assert max(up, down) < both
    assert family_limit(se, 0.02, alpha=0.01) == both
    assert family_limit(se, 0.02, alpha=0.01, seed=1) != both


def test_sessions_to_come_get_the_median_error_of_each_chart():
    se = np.array([[0.1, np.nan], [np.nan, np.nan], [0.3, np.nan], [0.5, np.nan]])
    whole = planned(se, 6)
    assert whole.shape == (6, 2)
    np.testing.assert_array_equal(whole[4:, 0], 0.3)
    assert np.isnan(whole[:, 1]).all()
    np.testing.assert_array_equal(planned(se, 3), se)


def test_the_limit_for_sessions_that_resemble_each_other_keeps_their_alarms_near_what_is_promised():
    """Against seasons drawn here by a recursion of their own: an autoregression of the first order."""
    rng, se, wander, seasons = np.random.default_rng(4), np.full((40, 6), 0.45), 0.5, 300
    own = np.zeros((40, seasons, 6))
    for week in range(40):
        new = rng.normal(size=(seasons, 6))
        own[week] = 0.3 * own[week - 1] + np.sqrt(1 - 0.3**2) * new if week else new
    value = wander * own + 0.45 * rng.normal(size=own.shape)
    between = between_sessions(value, 0.45)
    z = np.abs(weighted_ewma(value, 0.45**2 + between, baseline=0).z).max(axis=(0, 2))
    limits = {
        alike: family_limit(se, np.full(6, wander**2), alpha=0.05, baseline=0, alike=alike, draws=400)
        for alike in (0.0, 0.3)
    }
    rates = {alike: float((z > limit).mean()) for alike, limit in limits.items()}
    assert limits[0.3] > limits[0.0]
    assert rates[0.3] < 0.12
    assert rates[0.0] > 0.2


@pytest.mark.parametrize(("alike", "least", "most"), [(0.0, 0.0, 0.1), (0.2, 0.12, 0.28), (0.3, 0.22, 0.3)])
def test_resemblance_of_neighbouring_sessions_is_that_of_an_autoregression(alike, least, most):
    """Levels filtered by scipy, beyond errors that are known; who was away leaves gaps."""
    rng = np.random.default_rng(7)
    start = rng.normal(size=(1, 60))
    new = np.sqrt(1 - alike**2) * rng.normal(size=(399, 60))
    own = np.concatenate([start, lfilter([1.0], [1.0, -alike], new, axis=0, zi=alike * start)[0]])
    value = 0.4 * own + 0.5 * rng.normal(size=own.shape)
    value[rng.random(own.shape) < 0.1] = np.nan
    assert least <= resemblance(value, np.full(own.shape, 0.5)) <= most


def test_levels_that_do_not_wander_resemble_nothing():
    assert resemblance(np.full((9, 2), 5.0), np.full((9, 2), 0.3)) == 0.0
    assert resemblance(np.full((9, 2), np.nan), np.full((9, 2), np.nan)) == 0.0
    assert resemblance(np.array([[1.0], [2.0]]), np.zeros((2, 1))) == 0.0
