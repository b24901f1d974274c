"""Every aspect against values computed elsewhere; sources in tests/published/tasters and small_panels."""

import json

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from panelstats.models.additive import fit_additive
from panelstats.models.rootmeansquare import noncentral_f
from panelstats.panel.tasters.judgement import Bench
from panelstats.panel.tasters.naming import rejected
from panelstats.panel.tasters.reference import reference
from panelstats.panel.tasters.spread import repeatability, scatter
from tests.panel.invented import pool
from tests.panel.sheets import PUBLISHED, pool_of_frame, published

exactly = {"rel": 1e-9, "abs": 1e-8}


def judged(area, name, **options):
    frame, values = published(area, name)
    room = pool_of_frame(frame)
    found = Bench(room, np.array([0.5]), **options).judge(np.ones((len(room.tasters), 1), bool))
    return found, values, {label: i for i, label in enumerate(room.tasters)}


def test_one_pot_level_slope_and_scatter_agree_with_the_check_values():
    found, values, at = judged("small_panels", "one_pot")
    m, level, scatter = found.evidence.moments, found.cells["level"], found.cells["scatter"]
    ours = {
        "bias": level.estimate, "se_plain": found.levels.se, "tolerance": level.ceiling, "p_against_tolerance": level.p,
        "V_others": m.others_variance, "slope_plain": m.plain_slope, "lam": m.reliability, "gate_p": m.gate_p,
        "slope": m.plain_slope / m.reliability, "residual_ms": m.residual_variance, "q": m.scatter,
        "term": m.scatter_term(m.open), "sd_ratio": scatter.estimate, "sd_ratio_low": scatter.low,
        "sd_ratio_high": scatter.high, "p_scatter": scatter.p,
    }  # fmt: skip
    for row in values["tasters"]:
        for name, array in ours.items():
            assert array[at[row["taster"]], 0] == pytest.approx(row[name], **exactly), name
    assert found.judged == ("level", "agreement", "scale_use", "scatter")


def test_two_own_pots_agree_with_r():
    found, values, at = judged("tasters", "panel_small", widen=False)
    cells, m = found.cells, found.evidence.moments
    ours = {
        "bias": cells["level"].estimate, "bias_lo": cells["level"].low, "bias_hi": cells["level"].high,
        "bias_p_beyond_0.5": cells["level"].p, "r": cells["agreement"].estimate, "r_lo": cells["agreement"].low,
        "r_hi": cells["agreement"].high, "F": found.evidence.own.f, "slope_corrected": cells["scale_use"].estimate,
        "repeat_sd_ratio": cells["repeatability"].estimate, "repeat_p_ratio_gt_1.5": cells["repeatability"].p,
        "icc_one_pot": cells["discrimination"].estimate, "others_int_ms": m.others_variance,
        "var_loo": m.reference_variance, "reliability_of_reference": m.reliability,
    }  # fmt: skip
    for row in values["per_taster"]:
        i = at[row["taster"]]
        for name, array in ours.items():
            assert array[i, 0] == pytest.approx(row[name], **exactly), name
        usual = np.sqrt(m.residual_variance / m.reference_ss)[i, 0]  # the check values are of the usual regression
        plain = usual / m.reliability[i, 0]
        reach = stats.t.ppf(0.975, m.residual_df[i, 0]) * plain * np.array([-1, 1])
        assert list(m.slope[i, 0] + reach) == pytest.approx(row["slope_corrected_ci"], **exactly)
        for aspect, name in (
            ("repeatability", "repeat_sd_ratio_ci"),
            ("discrimination", "icc_one_pot_ci"),
        ):
            assert [cells[aspect].low[i, 0], cells[aspect].high[i, 0]] == pytest.approx(row[name], **exactly), name


def test_pooled_sessions_carry_the_wander_of_sessions():
    found, values, at = judged("small_panels", "pooled_sessions")
    assert found.levels.wander[0] == pytest.approx(values["w2_leave_one_out"], **exactly)
    for row in values["tasters"]:
        i = at[row["taster"]]
        assert found.levels.bias[i, 0] == pytest.approx(row["bias"], **exactly)
        assert found.levels.plain[i, 0] == pytest.approx(row["within_variance"], **exactly)
        assert found.levels.se[i, 0] == pytest.approx(row["se"], **exactly)


def test_reference_with_missing_cells_is_the_least_squares_fit_of_the_others():
    room = pool_of_frame(pd.read_csv(PUBLISHED / "tasters" / "panel_unbalanced.csv"))
    ref = reference(room, np.ones((len(room.tasters), 1), bool))
    for i in range(len(room.tasters)):
        others = np.delete(room.mean[..., 0], i, axis=1)
        lot, taster = np.nonzero(~np.isnan(others))
        lots, tasters = others.shape
        design = np.zeros((len(lot), lots + tasters))
        design[np.arange(len(lot)), lot] = design[np.arange(len(lot)), lots + taster] = 1
        beta, *_ = np.linalg.lstsq(design, others[lot, taster], rcond=None)  # numpy's own least squares
        seen = ~np.isnan(ref.score[:, i, 0])
        assert ref.score[seen, i, 0] == pytest.approx((beta[:lots] + beta[lots:].mean())[seen], abs=1e-10)
        assert ref.residual_ss[:, i, 0].sum() == pytest.approx(((others[lot, taster] - design @ beta) ** 2).sum())
        assert ref.df[i, 0] == len(lot) - np.linalg.matrix_rank(design)


def test_complete_data_need_no_fit():
    room = pool_of_frame(published("tasters", "panel_small")[0])
    fit = fit_additive(room.mean, np.ones(room.mean.shape, bool))
    assert fit.row[:, 0] == pytest.approx(room.mean[..., 0].mean(axis=1))


@pytest.mark.parametrize(("case", "truth"), [("edge", 1.5), ("equal", 1.0), ("doubled", 2.0)])
@pytest.mark.parametrize(("tasters", "lots"), [(3, 24), (6, 40)])
def test_scatter_keeps_its_published_size_and_coverage(tasters, lots, case, truth):
    rates = pd.read_csv(PUBLISHED / "small_panels" / "rates_scatter.csv").set_index(["tasters", "lots", "case"])
    row, sets = rates.loc[(tasters, lots, case)], 2000
    rng = np.random.default_rng(lots + tasters)
    sd = np.where(np.arange(tasters) == 0, truth, 1.0)[:, None]
    y = 1.1 * rng.normal(size=(lots, 1, sets)) + 0.9 * sd * rng.normal(size=(lots, tasters, sets))
    bench = Bench(pool(y[:, :, None], shared=False), np.full(sets, 0.5), moderated=False)
    everyone = np.ones((tasters, sets), bool)
    found, _ = scatter(bench.evidence(reference(bench.pool, everyone), everyone))
    for ours, theirs in (
        ((found.p[0] < 0.05).mean(), row["p_below_05"]),
        (((found.low[0] <= truth) & (truth <= found.high[0])).mean(), row["interval_coverage"]),
    ):
        assert ours == pytest.approx(theirs, abs=4 * np.sqrt(max(theirs * (1 - theirs), 0.002) / sets))


def log_f(share, servings):
    return np.log(1 + servings * share / (1 - share))


@pytest.mark.parametrize(
    ("aspect", "scale"),
    [
        ("agreement", np.arctanh),
        ("scale_use", lambda slope: slope),
        ("repeatability", lambda ratio: 2 * np.log(ratio)),
        ("discrimination", lambda share: log_f(share, 2)),
    ],
)
def test_error_over_descriptors_is_that_of_leaving_out_each_lot_in_turn(aspect, scale):
    """The jackknife by its definition (Efron & Tibshirani 1993, ch. 11): the whole analysis again without each lot."""
    rng = np.random.default_rng(8)
    y = 2 * rng.normal(size=(14, 1, 1, 5)) + rng.normal(size=(14, 4, 2, 5)) * 0.5
    everyone = np.ones((4, 5), bool)

    def judge(scores):
        return Bench(pool(scores, shared=False), np.full(5, 0.5)).judge(everyone).tasters[aspect]

    found = judge(y)
    without = np.array([scale(judge(np.delete(y, j, axis=0)).estimate) for j in range(14)])
    se = np.sqrt(13 / 14 * ((without - without.mean(axis=0)) ** 2).sum(axis=0))
    reach = stats.t.ppf(0.975, 13) * se
    assert scale(found.high) == pytest.approx(scale(found.estimate) + reach, rel=1e-9)
    assert scale(found.low) == pytest.approx(scale(found.estimate) - reach, rel=1e-9)


def test_shared_pots_keep_level_and_power_of_the_repeatability_test():
    """Size at the tolerance and power at twice the error, 12 lots, 10 tasters, pots of SD .5 and looks of SD .8.

    A separate simulation gave a size of 4.6 to 5.4 %, coverage of 94.3 to 95.6 % and a power of 40 %, against 22 % if
    the pots are left in.
    """
    rng, sets = np.random.default_rng(12), 3000
    everyone = np.ones((10, sets), bool)
    rates = {}
    for truth in (1.5, 2.0):
        sd = np.where(np.arange(10) == 0, truth, 1.0)[:, None, None]
        y = 0.8 * sd * rng.normal(size=(12, 10, 2, sets)) + 0.5 * rng.normal(size=(12, 1, 2, sets))
        for shared in (True, False):
            bench = Bench(pool(y, shared=shared), np.full(sets, 0.5))
            found, _ = repeatability(bench.evidence(reference(bench.pool, everyone), everyone))
            holds = (found.low[0] <= truth) & (truth <= found.high[0])
            rates[truth, shared] = (found.p[0] < 0.05).mean(), holds.mean()
    error = 4 * np.sqrt(0.25 / sets)
    assert rates[1.5, True][0] == pytest.approx(0.05, abs=0.004 + 4 * np.sqrt(0.0475 / sets))
    assert rates[2.0, True][1] == pytest.approx(0.95, abs=0.007 + 4 * np.sqrt(0.0475 / sets))
    assert rates[2.0, True][0] == pytest.approx(0.40, abs=error)
    assert rates[2.0, False][0] == pytest.approx(0.22, abs=error)


def test_noncentral_f_agrees_with_the_check_value_and_holds_where_its_series_fails():
    values = json.loads((PUBLISHED / "tasters" / "intervals.json").read_text())["noncentral_F_upper"]
    d1, d2, ncp, f = (np.array([float(values[k])]) for k in ("df1", "df2", "ncp", "F"))
    assert 1 - noncentral_f((d1, d2), ncp, f) == pytest.approx(values["p"], abs=1e-10)
    far = noncentral_f((np.array([11.35447167]), np.array([3996.774])), np.array([2124.2336]), np.array([12.26552578]))
    assert 0 <= far[0] < 1e-12
    # where both can be computed they meet: a large noncentrality near its middle
    big = (np.full(3, 12.0), np.full(3, 4000.0)), np.full(3, 6e4), 5001 * np.array([0.97, 1.0, 1.03])
    assert noncentral_f(*big) == pytest.approx(stats.ncf.cdf(big[2], 12, 4000, 6e4), abs=1e-9)


def test_false_discoveries_agree_with_benjamini_and_hochberg_1995():
    values = json.loads((PUBLISHED / "tasters" / "intervals.json").read_text())["benjamini_hochberg"]
    assert rejected(np.array(values["p"])).sum() == values["published_rejected"]
