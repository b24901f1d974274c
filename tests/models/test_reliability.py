"""Intraclass correlations against published values, a general library, and the definitions."""

import json
from pathlib import Path

import numpy as np
import pandas as pd
import pingouin
import pytest

from panelstats.models.reliability import from_components, from_mean_squares, trust_in_mean

PUBLISHED = Path(__file__).parents[1] / "published" / "tasters"
STUDY = json.loads((PUBLISHED / "icc_shrout_fleiss.json").read_text())


def squares_of(table):
    """Mean squares of lots, tasters and rest of a table (lot, taster)."""
    lots, tasters = table.shape
    lot, taster = table.mean(axis=1, keepdims=True), table.mean(axis=0, keepdims=True)
    rest = ((table - lot - taster + table.mean()) ** 2).sum() / ((lots - 1) * (tasters - 1))
    return tuple(np.array([x]) for x in (tasters * lot.var(ddof=1), lots * taster.var(ddof=1), rest))


def of(table, **options):
    return from_mean_squares(*squares_of(table), n=table.shape[0], k=table.shape[1], **options)


# Shrout & Fleiss 1979, tables 2 and 4: ICC(2,1) = .29, ICC(2,4) = .62, ICC(3,4) = .91 (from memory).
def test_the_published_study_is_reproduced_with_its_intervals():
    found = of(np.array(STUDY["data"]))
    known = STUDY["estimate_lower_upper"]
    np.testing.assert_allclose([found.single[0], found.single_low[0], found.single_high[0]], known["ICC(2,1)"], 1e-8)
    np.testing.assert_allclose([found.mean[0], found.mean_low[0], found.mean_high[0]], known["ICC(2,k)"], 1e-8)
    assert found.consistency_mean[0] == pytest.approx(known["ICC(3,k)"][0], rel=1e-8)
    printed = STUDY["published_2dp"]
    for value, name in ((found.single, "ICC(2,1)"), (found.mean, "ICC(2,k)"), (found.consistency_mean, "ICC(3,k)")):
        assert value[0] == pytest.approx(printed[name], abs=0.005)


@pytest.mark.filterwarnings("ignore:The inplace keyword")  # the library's own, of pandas
@pytest.mark.parametrize(("lots", "tasters"), [(4, 2), (6, 3), (12, 5), (40, 9)])
def test_complete_tables_agree_with_a_general_library(lots, tasters):
    """pingouin.intraclass_corr, whose limits are rounded to two decimals."""
    rng = np.random.default_rng(lots)
    table = rng.normal(size=(lots, 1)) + rng.normal(0, 0.4, (1, tasters)) + rng.normal(0, 0.7, (lots, tasters))
    frame = pd.DataFrame(table).rename_axis("lot").melt(ignore_index=False, var_name="taster").reset_index()
    theirs = pingouin.intraclass_corr(frame, targets="lot", raters="taster", ratings="value").set_index("Type")
    found = of(table)
    for ours, low, high, name in (
        (found.single, found.single_low, found.single_high, "ICC(A,1)"),
        (found.mean, found.mean_low, found.mean_high, "ICC(A,k)"),
    ):
        assert ours[0] == pytest.approx(theirs.loc[name, "ICC"], rel=1e-9)
        np.testing.assert_allclose([low[0], high[0]], theirs.loc[name, "CI95"], atol=0.00501)
    assert found.consistency_mean[0] == pytest.approx(theirs.loc["ICC(C,k)", "ICC"], rel=1e-9)


def test_another_level_gives_another_interval():
    wide, narrow = (of(np.array(STUDY["data"]), level=level) for level in (0.99, 0.8))
    assert wide.mean_low[0] < narrow.mean_low[0] < narrow.mean_high[0] < wide.mean_high[0]


def test_disagreement_beyond_chance_is_a_negative_estimate_as_it_stands():
    table = np.array([[1.0, 4, 1], [4, 1, 4.5], [2, 3, 2], [3, 2, 3.5]])
    assert of(table).single[0] < 0


def test_limits_lie_on_their_sides_of_the_estimate_however_bad_the_agreement():
    """Three tasters and four lots: the limit of one taster can fall below -1/2, where the mean of three has none."""
    rng = np.random.default_rng(1)
    tables = rng.normal(0, 0.4, (1000, 4, 1)) + rng.normal(0, 1, (1000, 1, 3)) + rng.normal(0, 0.8, (1000, 4, 3))
    found = [of(table) for table in tables]
    columns = ("single_low", "single", "single_high", "mean_low", "mean", "mean_high")
    low, one, high, mean_low, mean, mean_high = (np.array([getattr(each, c)[0] for each in found]) for c in columns)
    assert (low <= one).all()
    assert (one <= high).all()
    assert (mean_low <= mean).all()
    assert (mean <= mean_high).all()
    assert (np.isneginf(mean_low) == (low <= -1 / 2)).all()
    assert np.isneginf(mean_low).any()
    assert np.isfinite(mean).any()


def test_tasters_in_step_have_no_interval():
    found = of(np.arange(5.0)[:, None] + np.array([0.0, 1, 2]))
    assert np.isnan([found.single_low[0], found.single_high[0], found.mean_low[0]]).all()
    assert found.consistency_mean[0] == pytest.approx(1)


# ── from variance components ─────────────────────────────────────────────────────────────────────────────────────────

ONE = np.ones(1)
NONE = np.zeros((1, 5, 5))


def theta(*, taster=0.0, lot_taster=0.0, pot=0.0, lot=0.0, look=0.0):
    return np.array([[taster, lot_taster, pot, lot, look]])


# R lme4 on an invented panel with cells removed; correlations of 5 tasters and 2 pots, and of one look.
def test_components_give_the_published_correlations():
    known = json.loads((PUBLISHED / "panel_unbalanced.json").read_text())
    v = known["variance"]
    values = theta(taster=v["taster"], lot_taster=v["taster_lot"], lot=v["lot"], look=v["error"])
    panel = from_components(values, NONE, k=5 * ONE, looks=2 * ONE, pots=ONE)
    one = from_components(values, NONE, k=ONE, looks=ONE, pots=ONE)
    assert one.single[0] == pytest.approx(known["agreement_one_taster_one_pot"], rel=1e-8)
    assert one.consistency_mean[0] == pytest.approx(known["consistency_one_taster_one_pot"], rel=1e-8)
    assert panel.mean[0] == pytest.approx(known["agreement_mean_of_5_tasters_2_pots"], rel=1e-8)
    assert panel.consistency_mean[0] == pytest.approx(known["consistency_mean_of_5_tasters_2_pots"], rel=1e-8)


def test_pots_count_with_the_lots_in_agreement_and_as_error_in_trust():
    """Ten tasters, two pots; variances .25 (lot, taster), .16, .0625 (pot), .64: .79 for pots, .71 for lots."""
    values = theta(taster=0.25, lot_taster=0.16, pot=0.0625, lot=0.25, look=0.64)
    sizes = {"k": 10 * ONE, "looks": 2 * ONE, "pots": 2 * ONE}
    agreement, trust = from_components(values, NONE, **sizes).mean[0], trust_in_mean(values, **sizes)[0]
    signal, pots, tasters = 0.25, 0.0625 / 2, (0.25 + 0.16) / 10 + 0.64 / 20
    assert agreement == pytest.approx((signal + pots) / (signal + pots + tasters), rel=1e-12)
    assert trust == pytest.approx(signal / (signal + pots + tasters), rel=1e-12)
    assert (round(agreement, 2), round(trust, 2)) == (0.79, 0.71)


def test_components_of_a_complete_table_are_the_table_s_own_correlations():
    table = np.random.default_rng(2).normal(0, 0.5, (8, 4)) + np.arange(8.0)[:, None] + [0, 0.5, 1, 2]
    lots, tasters, rest = squares_of(table)
    values = np.zeros((1, 5))
    values[0, [0, 3, 4]] = ((tasters - rest) / 8)[0], ((lots - rest) / 4)[0], rest[0]
    ours, theirs = from_components(values, NONE, k=4 * ONE, looks=ONE, pots=ONE), of(table)
    for name in ("single", "mean", "consistency_mean"):
        np.testing.assert_allclose(getattr(ours, name), getattr(theirs, name), rtol=1e-12)


def test_where_lots_show_no_variance_the_correlation_is_0_without_an_interval():
    found = from_components(theta(taster=0.2, look=0.5), np.eye(5)[None] * 0.1, k=3 * ONE, looks=ONE, pots=ONE)
    assert found.mean[0] == 0
    assert np.isnan(found.mean_low[0])
    assert np.isnan(found.mean_high[0])


def test_the_delta_method_is_the_derivative_of_the_logit():
    """The standard error on the logit scale by finite differences of the definition."""
    values = theta(taster=0.3, lot_taster=0.2, pot=0.1, lot=0.8, look=0.5)
    root = np.random.default_rng(3).normal(0, 0.1, (5, 5))
    covariance = (root @ root.T)[None]
    sizes = {"k": 4 * ONE, "looks": 2 * ONE, "pots": 2 * ONE}

    def logit(values):
        mean = from_components(values, NONE, **sizes).mean[0]
        return np.log(mean / (1 - mean))

    step = 1e-6
    gradient = np.array([(logit(values + step * e) - logit(values - step * e)) / (2 * step) for e in np.eye(5)])
    half = 1.959963984540054 * np.sqrt(gradient @ covariance[0] @ gradient)
    found = from_components(values, covariance, **sizes)
    edges = 1 / (1 + np.exp(-(logit(values) + np.array([-half, half]))))
    np.testing.assert_allclose([found.mean_low[0], found.mean_high[0]], edges, rtol=1e-6)
