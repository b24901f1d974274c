import json
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import f as f_distribution
from scipy.stats import t as student

from panelstats.models.fewpots import (
    ENOUGH_DF,
    PotRecord,
    pot_sd_upper,
    pot_variance_from_record,
    pot_variance_steadied,
    ratio_prior,
)
from panelstats.models.numbersneeded import pots_needed, power_with_pots

VALUES = json.loads((Path(__file__).parents[1] / "published" / "models" / "shared_pots_two_lots.json").read_text())
TOGETHER = VALUES["_steadied_over_descriptors"]
PUBLISHED = [VALUES[name]["pots_steadied"] for name in TOGETHER["descriptors"]]
LINES = ["ms_pot", "df_pot", "ms_error", "df_error", "k"]
SHOWN = {name: np.array([one[name] for one in PUBLISHED], float) for name in LINES}

ratios = st.lists(st.floats(0, 30), min_size=4, max_size=9)


def test_steadied_pots_agree_with_the_published_values():
    lent = pot_variance_steadied(**SHOWN)
    np.testing.assert_allclose(lent.df, TOGETHER["d0"] + SHOWN["df_pot"], rtol=1e-9)
    for ours, theirs in (
        (lent.mean_square, "lambda_pot"),
        (lent.variance, "pot_variance"),
        (lent.variance_of_variance, "pot_variance_var"),
    ):
        np.testing.assert_allclose(ours, [one[theirs] for one in PUBLISHED], rtol=1e-9)


def test_upper_limits_agree_with_the_published_values():
    np.testing.assert_allclose(pot_sd_upper(**SHOWN), [one["pot_sd_upper95"] for one in PUBLISHED], rtol=1e-9)


@given(ratios, st.floats(0.05, 20))
def test_never_below_todays_own_mean_square_and_scale_carries_over(ratio, unit):
    ratio = np.array(ratio)
    lent = pot_variance_steadied(ratio, 2, np.ones(len(ratio)), 18, 10)
    assert (lent.mean_square >= ratio).all()
    assert (lent.df <= 2 * len(ratio)).all()  # own 2, and at most the others' 2 each
    again = pot_variance_steadied(ratio * unit, 2, np.full(len(ratio), unit), 18, 10)
    np.testing.assert_allclose(again.variance, lent.variance * unit, rtol=1e-6, atol=1e-12)
    np.testing.assert_allclose(again.variance_of_variance, lent.variance_of_variance * unit**2, rtol=1e-6)


def test_a_descriptor_without_error_neither_lends_nor_borrows():
    ms_error, df_pot = SHOWN["ms_error"].copy(), SHOWN["df_pot"].copy()
    ms_error[0], df_pot[1] = 0, 0
    lent = pot_variance_steadied(**{**SHOWN, "ms_error": ms_error, "df_pot": df_pot})
    alone = pot_variance_steadied(**{name: line[2:] for name, line in SHOWN.items()})
    assert np.isnan(lent.variance[:2]).all()
    np.testing.assert_array_equal(lent.variance[2:], alone.variance)


def test_three_descriptors_are_too_few_to_steady():
    lent = pot_variance_steadied(**{name: line[:3] for name, line in SHOWN.items()})
    assert np.isnan([lent.mean_square, lent.df, lent.variance, lent.variance_of_variance]).all()


def test_a_pot_mean_square_of_zero_is_answered():
    lent = pot_variance_steadied(np.zeros(5), 2, np.ones(5), 18, 10)
    np.testing.assert_array_equal(lent.variance, 0)
    assert (lent.variance_of_variance > 0).all()


def record(sessions):
    """Sessions as (ss_pot, df_pot, ss_error, df_error, k_df), one descriptor."""
    return PotRecord(*(np.array(line, float)[:, None] for line in zip(*sessions, strict=True)))


def test_record_is_the_method_of_moments_over_sessions():
    sessions = [(9.0, 12, 40.0, 60, 120), (3.0, 4, 10.0, 18, 36), (0.0, 0, 7.0, 9, 0), (8.0, 8, 0.0, 0, 48)]
    lent = pot_variance_from_record(record([*sessions, sessions[0]]), np.array([np.nan]), np.array([0.7]), 10)
    used = [sessions[0], sessions[1], sessions[0]]  # one session had no second pot, one no error df
    weight = sum(s[4] for s in used)
    variance = sum(s[0] - s[1] * s[2] / s[3] for s in used) / weight
    noise = sum(2 * s[1] ** 2 * ((s[0] / s[1]) ** 2 / s[1] + (s[2] / s[3]) ** 2 / s[3]) for s in used) / weight**2
    assert lent.df[0] == 28
    assert lent.variance[0] == pytest.approx(variance, rel=1e-12)
    assert lent.variance_of_variance[0] == pytest.approx(noise, rel=1e-12)
    assert lent.mean_square[0] == pytest.approx(10 * variance + 0.7, rel=1e-12)


def test_record_gives_way_when_today_shows_more():
    past = record([(30.0, 40, 100.0, 200, 400)])
    quiet, loud = (pot_variance_from_record(past, np.array([ms]), np.array([0.5]), 10) for ms in (0.6, 2.0))
    assert quiet.mean_square[0] == pytest.approx(10 * 10 / 400 + 0.5)
    assert loud.mean_square[0] == 2.0
    assert loud.variance[0] == pytest.approx(0.15)
    rise = loud.mean_square[0] / quiet.mean_square[0]
    assert loud.variance_of_variance[0] == pytest.approx(quiet.variance_of_variance[0] * rise**2)


def test_a_short_record_lends_nothing():
    short, long = ([(9.0, df, 40.0, 60, 10 * df)] for df in (ENOUGH_DF - 1, ENOUGH_DF))
    assert np.isnan(pot_variance_from_record(record(short), np.array([1.0]), np.array([0.5]), 10).variance[0])
    assert pot_variance_from_record(record(long), np.array([1.0]), np.array([0.5]), 10).df[0] == ENOUGH_DF
    assert np.isnan(pot_variance_from_record(record(long), np.array([1.0]), np.array([0.0]), 10).variance[0])


def test_upper_limit_is_where_the_ratio_would_be_rare():
    upper = pot_sd_upper(np.array([0.9]), 6, np.array([0.5]), 60, 8)
    assert f_distribution.cdf(0.9 / (0.5 + 8 * upper[0] ** 2), 6, 60) == pytest.approx(0.05, rel=1e-9)
    assert np.isnan(pot_sd_upper(np.array([0.9]), 0, np.array([0.5]), 60, 8)).all()
    assert pot_sd_upper(np.array([1e-3]), 6, np.array([0.5]), 60, 8) == 0


def pooled(p, x, e, freedom):
    """Error of a difference and its df by REML on complete data: mean squares below the error are pooled with it."""
    f_p, f_x, f_e = freedom
    small, large = np.minimum(p, x), np.maximum(p, x)
    f_small, f_large = np.where(p < x, f_p, f_x), np.where(p < x, f_x, f_p)
    one = small < e
    e_one = (f_e * e + f_small * small) / (f_e + f_small)
    both = one & (large < e_one)
    e_both = (f_e * e + f_p * p + f_x * x) / sum(freedom)
    free = p + x - e
    free_df = free**2 / (p**2 / f_p + x**2 / f_x + e**2 / f_e)
    total = np.where(both, e_both, np.where(one, large, free))
    return total, np.where(both, sum(freedom), np.where(one, f_large, free_df))


@pytest.mark.parametrize(("tasters", "pots"), [(10, 2), (10, 3), (10, 6), (5, 4)])
def test_power_agrees_with_drawn_panels(tasters, pots):
    rng, draws = np.random.default_rng(7), 20_000
    expected = pot, cross, error = tasters * 0.0625 + 0.64, pots * 0.16 + 0.64, 0.64
    freedom = 2 * (pots - 1), tasters - 1, 2 * (pots - 1) * (tasters - 1)
    drawn = (ms * rng.chisquare(f, draws) / f for ms, f in zip(expected, freedom, strict=True))
    total, df = pooled(*drawn, freedom)
    difference = rng.normal(1.0, np.sqrt(2 * (pot + cross - error) / (tasters * pots)), draws)
    found = np.abs(difference) / np.sqrt(2 * total / (tasters * pots)) > student.isf(0.025, df)
    # 0.03: df at the expected mean squares stand for their distribution
    assert power_with_pots(pots, 0.0625, 0.16, 0.64, tasters=tasters) == pytest.approx(found.mean(), abs=0.03)


def test_pots_needed_is_the_first_number_that_reaches_the_power():
    variance = np.array([0.0, 0.0625, 0.25, 4.0, np.nan])
    needed = pots_needed(variance, 0.16, 0.64, tasters=10)
    assert np.isinf(needed[3])
    assert np.isnan(needed[4])
    for n, v in zip(needed[:3], variance[:3], strict=True):
        assert power_with_pots(n, v, 0.16, 0.64, tasters=10) >= 0.8
        assert n == 2 or power_with_pots(n - 1, v, 0.16, 0.64, tasters=10) < 0.8
    assert (np.diff(needed[:4]) >= 0).all()


def test_of_one_degree_of_freedom_each_alike_descriptors_lend_their_plain_mean():
    """By hand: of mean squares no more unlike than chance makes them, over errors on 28 degrees of freedom."""
    ms, error = np.array([0.4, 1.9, 0.7, 3.1, 1.2, 0.9]), np.full(6, 0.5)
    ratio, lent = ratio_prior(ms, np.ones(6), error, np.full(6, 28.0))
    assert ratio == pytest.approx(ms.mean() / 0.5 * 26 / 28)
    assert lent == 5  # all that the others have
    ratio, _ = ratio_prior(ms, np.full(6, 2.0), error, np.full(6, 28.0))
    assert ratio != pytest.approx(ms.mean() / 0.5 * 26 / 28)
