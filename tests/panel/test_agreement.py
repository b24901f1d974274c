"""Agreement of the panel, from sheets to sentences: published values, a general library, and every shape of data."""

import json
from pathlib import Path

import numpy as np
import pandas as pd
import pingouin
import pytest
from scipy import stats
from scipy.stats import spearmanr

import panelstats as pst
from panelstats.models.normality import omnibus_p
from panelstats.models.reliability import limits_of_these_lots
from tests.bench.made import cells_from_array
from tests.models.published import frame, truth

PUBLISHED = Path(__file__).parents[1] / "published"
NAMES = ("alder", "beech", "elm", "larch", "yew", "spruce", "poplar", "hornbeam")


def read(table, **room):
    return pst.read_scores(table, **({"room": room} if room else {}))


def sheet(scores, *, name="strength"):
    """Long sheet from an array (lot, taster) or (lot, taster, pot); NaN cells are left out."""
    scores = np.asarray(scores, float)
    scores = scores[..., None] if scores.ndim == 2 else scores
    lot, taster, pot = np.nonzero(np.isfinite(scores))
    keys = {"lot": [f"{100 + i}" for i in lot], "taster": np.array(NAMES)[taster], "pot": pot + 1}
    return pd.DataFrame(keys | {"descriptor": name, "score": scores[lot, taster, pot]})


def agreement(scores, *, pots="own", **options):
    return pst.panel_agreement(read(sheet(scores)), pots=pots, **options)


def row_of(found):
    (row,) = found.table.to_dict("records")
    return row


def invented(lots, tasters, pots=1, *, spread=1.0, noise=0.5, pot_sd=0.0, level=0.5, seed=1):
    rng = np.random.default_rng(seed)
    y = 5 + rng.normal(0, spread, (lots, 1, 1)) + rng.normal(0, level, (1, tasters, 1))
    y = y + rng.normal(0, pot_sd, (lots, 1, pots)) + rng.normal(0, 0.3, (lots, tasters, 1))
    return y + rng.normal(0, noise, (lots, tasters, pots))


# ── published values ─────────────────────────────────────────────────────────────────────────────────────────────────


# Shrout & Fleiss 1979, tables 2 and 4 (from memory: .29, .62, .91), intervals by R psych::ICC.
def test_the_published_study_reads_as_a_sheet_and_answers_as_printed():
    known = json.loads((PUBLISHED / "tasters" / "icc_shrout_fleiss.json").read_text())
    row = row_of(agreement(known["data"]))
    for name, key in (("icc_single", "ICC(2,1)"), ("icc_mean", "ICC(2,k)")):
        got = [row[name], row[f"{name}_low"], row[f"{name}_high"]]
        np.testing.assert_allclose(got, known["estimate_lower_upper"][key], rtol=1e-8)
        assert row[name] == pytest.approx(known["published_2dp"][key], abs=0.005)
    assert row["icc_consistency_mean"] == pytest.approx(known["estimate_lower_upper"]["ICC(3,k)"][0], rel=1e-8)
    assert (row["lots"], row["tasters"]) == (6, 4)


def test_the_same_study_from_its_own_check_file():
    found = pst.panel_agreement(pst.read_scores(frame("icc").assign(descriptor="rating")), pots="own")
    computed = truth("icc")["computed"]
    row = row_of(found)
    for name, key in (("icc_single", "ICC(2,1)"), ("icc_mean", "ICC(2,4)"), ("icc_consistency_mean", "ICC(3,4)")):
        assert row[name] == pytest.approx(computed[key], rel=1e-9)


def test_own_pots_give_the_correlations_of_cell_means():
    """R anova of an invented panel: 5 tasters x 8 lots x 2 pots."""
    table = pd.read_csv(PUBLISHED / "tasters" / "panel_small.csv")
    known = json.loads((PUBLISHED / "tasters" / "panel_small.json").read_text())["anova"]
    ss = dict(zip(known["term"], known["ss"], strict=True))
    taster, lot, rest = ss["taster"] / 4, ss["lot"] / 7, (ss["taster:x"] + ss["taster:lot"]) / 28
    row = row_of(pst.panel_agreement(pst.read_scores(table.assign(descriptor="body")), pots="own"))
    assert row["icc_mean"] == pytest.approx((lot - rest) / (lot + (taster - rest) / 8), rel=1e-9)
    assert row["icc_consistency_mean"] == pytest.approx((lot - rest) / lot, rel=1e-9)
    assert row["lot_sd"] == pytest.approx(np.sqrt((lot - rest) / 10), rel=1e-6)


def test_missing_cells_give_the_correlations_of_published_components():
    """R lme4: variances to 1e-3, where its optimiser stops."""
    table = pd.read_csv(PUBLISHED / "tasters" / "panel_unbalanced.csv")
    v = json.loads((PUBLISHED / "tasters" / "panel_unbalanced.json").read_text())["variance"]
    row = row_of(pst.panel_agreement(pst.read_scores(table.assign(descriptor="body")), pots="own"))
    looks = table.groupby(["lot", "taster"]).size()
    k = 1 / (1 / looks.groupby("lot").size()).mean()
    n = 1 / (1 / looks).mean()
    noise = v["taster"] + v["taster_lot"] + v["error"] / n
    assert row["lot_sd"] == pytest.approx(np.sqrt(v["lot"]), rel=1e-3)
    assert row["icc_single"] == pytest.approx(v["lot"] / (v["lot"] + noise), rel=2e-3)
    assert row["icc_mean"] == pytest.approx(v["lot"] / (v["lot"] + noise / k), rel=2e-3)
    assert row["icc_mean_low"] < row["icc_mean"] < row["icc_mean_high"]


# Siegel 1956, Nonparametric Statistics, chapter 9 (W = .16, from memory); all 720^2 rankings counted; tied: R.
@pytest.mark.parametrize("case", ["no_ties", "with_ties"])
def test_concordance_is_the_published_w(case):
    known = json.loads((PUBLISHED / "models" / "kendall_w.json").read_text())[case]
    row = row_of(agreement(np.transpose(known["data"])))
    assert row["concordance_w"] == pytest.approx(known["W"], rel=1e-10)
    if "exact_p" in known:
        assert row["p_concordance"] == pytest.approx(known["exact_p"], rel=1e-10)
        a, tasters = np.array(known["data"]), len(known["data"])
        pairs = [spearmanr(a[i], a[j]).statistic for i in range(tasters) for j in range(i)]
        assert row["spearman"] == pytest.approx(np.mean(pairs), rel=1e-9)


@pytest.mark.filterwarnings("ignore:The inplace keyword")  # the library's own, of pandas
def test_several_descriptors_agree_with_a_general_library_one_by_one():
    """pingouin.intraclass_corr (limits rounded to two decimals) and its F of lots."""
    tables = {f"word {n}": invented(9, 5, seed=n, noise=0.4 + 0.3 * n)[..., 0] for n in range(4)}
    found = pst.panel_agreement(read(pd.concat([sheet(y, name=name) for name, y in tables.items()])), pots="own")
    for row in found.table.to_dict("records"):
        long = sheet(tables[row["descriptor"]])
        theirs = pingouin.intraclass_corr(long, targets="lot", raters="taster", ratings="score").set_index("Type")
        assert row["icc_single"] == pytest.approx(theirs.loc["ICC(A,1)", "ICC"], rel=1e-8)
        assert row["icc_mean"] == pytest.approx(theirs.loc["ICC(A,k)", "ICC"], rel=1e-8)
        assert row["icc_consistency_mean"] == pytest.approx(theirs.loc["ICC(C,k)", "ICC"], rel=1e-8)
        limits = [row["icc_mean_low"], row["icc_mean_high"]]
        np.testing.assert_allclose(limits, theirs.loc["ICC(A,k)", "CI95"], atol=0.00501)
        assert row["p_lots"] == pytest.approx(theirs.loc["ICC(C,k)", "pval"], rel=1e-6)


# ── pots ─────────────────────────────────────────────────────────────────────────────────────────────────────────────


def test_agreement_speaks_of_these_pots_and_trust_of_the_lots():
    y = invented(30, 8, 2, pot_sd=0.8)
    shared, own = (row_of(agreement(y, pots=word)) for word in ("shared", "own"))
    for name in ("icc_single", "icc_mean", "share_low", "share_high", "p_lots"):
        assert shared[name] == pytest.approx(own[name], rel=1e-9)  # one table of cell means
    assert shared["reliability_lots"] < shared["icc_mean"] - 0.05
    assert own["reliability_lots"] == pytest.approx(own["icc_mean"], abs=0.01)


def test_trust_in_the_lot_mean_is_made_from_the_components():
    """sL / (sL + sP/P + (sT + sX)/k + s2/(k P)); the worked case, .79 for pots and .71 for lots: test_reliability."""
    y = invented(25, 6, 2, pot_sd=0.5)
    scores = read(sheet(y))
    row = row_of(pst.panel_agreement(scores, pots="shared"))
    v = pst.compare_lots(scores, pots="shared").components.set_index("source")["variance"]
    noise = v["lot:pot"] / 2 + (v["taster"] + v["lot:taster"]) / 6 + v["residual"] / 12
    assert row["reliability_lots"] == pytest.approx(v["lot"] / (v["lot"] + noise), rel=1e-8)
    mark = v["lot:pot"] / 2 + (v["taster"] + v["lot:taster"]) / 6 + v["residual"] / 12
    assert row["mark_se"] == pytest.approx(np.sqrt(mark), rel=1e-8)
    assert row["error_sd"] == pytest.approx(np.sqrt(v["lot:taster"] + v["residual"] / 2), rel=1e-8)


@pytest.mark.parametrize("pots", ["shared", "own"])
def test_with_cells_missing_the_gate_is_the_test_of_the_lots_on_these_pots(pots):
    y = invented(8, 5, 2, spread=0.4, pot_sd=0.5)
    y[0, 1] = y[3, 2, 1] = y[5, 4] = np.nan
    scores = read(sheet(y))
    row = row_of(pst.panel_agreement(scores, pots=pots))
    test = pst.compare_lots(scores, pots="own").anova.iloc[0]
    assert row["p_lots"] == pytest.approx(test["p"], rel=1e-8)


@pytest.mark.parametrize("pots", ["shared", "own"])
def test_one_missing_cell_moves_the_answer_a_little_only(pots):
    """The two routes, mean squares and components, meet."""
    y = invented(30, 6, 2, pot_sd=0.3)
    whole = row_of(agreement(y, pots=pots))
    y[4, 2] = np.nan
    less = row_of(agreement(y, pots=pots))
    for name in ("icc_single", "icc_mean", "icc_consistency_mean"):
        assert less[name] == pytest.approx(whole[name], abs=0.02)
    for name in ("share_low", "share_high"):
        assert less[name] == pytest.approx(whole[name], abs=0.08)


# ── of these lots ────────────────────────────────────────────────────────────────────────────────────────────────────


def many(lots, tasters, sets, *, skew=0.0, level=0.5, pots=1, seed=0):
    """Marks (lot, taster, pot, set) of sets of lots of SD 1, and the lots."""
    rng = np.random.default_rng(seed)
    z = rng.normal(size=(lots, 1, 1, sets))
    if skew:
        e = np.exp(skew**2)
        z = (np.exp(skew * z) - np.sqrt(e)) / np.sqrt(e * (e - 1))
    y = z + level * rng.normal(size=(1, tasters, 1, sets)) + 0.6 * rng.normal(size=(lots, tasters, 1, sets))
    return y + 0.6 * rng.normal(size=(lots, tasters, pots, sets)), z[:, 0, 0]


@pytest.mark.parametrize(("lots", "tasters", "skew", "level"), [(12, 8, 1.0, 0.5), (6, 3, 0.0, 0.5), (20, 4, 1.0, 1.0)])
def test_the_interval_of_these_lots_holds_whatever_they_were_drawn_from(lots, tasters, skew, level):
    sets = 800
    y, z = many(lots, tasters, sets, skew=skew, level=level, seed=lots)
    table = pst.panel_agreement(cells_from_array(y + 20, np.ones(y.shape[:3], bool), shared=False)).table
    truth = z.var(axis=0, ddof=1) / (z.var(axis=0, ddof=1) + (level**2 + 0.72) / tasters)
    missed = (truth < table["share_low"]) | (truth > table["share_high"])
    assert missed.mean() < 0.07 + 4 * np.sqrt(0.07 * 0.93 / sets)
    if skew and lots == 12:  # for all such lots no interval is claimed where these do not look normal
        assert table["icc_mean_low"].isna().mean() > 0.3
        assert ((table["icc_mean_low"].isna()) == (table["lots_normal_p"] < 0.05)).all()


def test_without_levels_the_limits_of_these_lots_are_those_of_a_noncentral_f():
    """scipy.stats.ncf on F of lots, 11 and 55 df."""
    f, df = np.array([4.0]), (np.array([11.0]), np.array([55.0]))
    low, high = limits_of_these_lots(f, df, np.ones(1), np.full(1, 1e9))
    for limit, share in ((low[0], 0.975), (high[0], 0.025)):
        assert stats.ncf.cdf(4.0, 11, 55, 11 * limit / (1 - limit)) == pytest.approx(share, abs=1e-6)


def test_what_looks_normal_is_judged_by_dagostino_and_pearson():
    """scipy.stats.normaltest."""
    x = np.exp(np.random.default_rng(1).normal(size=(12, 4)) * [0, 0.3, 0.8, 1.5]) + [[0.0, 0, 0, 0]] * 12
    x[:, 0] = np.arange(12) ** 1.5
    assert omnibus_p(x) == pytest.approx(stats.normaltest(x).pvalue, rel=1e-9)
    assert np.isnan(omnibus_p(x[:7])).all()


@pytest.mark.parametrize(("tasters", "level"), [(8, 0.0), (8, 1.0), (4, 1.0)])
def test_a_mark_lies_no_farther_than_is_said(tasters, level):
    sets = 600
    y, z = many(12, tasters, sets, level=level, seed=tasters)
    table = pst.panel_agreement(cells_from_array(y + 20, np.ones(y.shape[:3], bool), shared=False)).table
    away = np.abs(y.mean(axis=(1, 2)) - z)  # (lot, set)
    assert (away > table["mark_reach"].to_numpy()).mean() < 0.05 + 4 * np.sqrt(0.0475 / sets)


# ── calls ────────────────────────────────────────────────────────────────────────────────────────────────────────────


def test_lots_far_apart_and_tasters_alike_agree():
    found = agreement(invented(20, 6, spread=1.5, noise=0.3, level=0.2))
    row = row_of(found)
    assert row["call"] == "agree"
    assert row["icc_mean_low"] > 0.5
    assert found.verdicts[0].call == "agree"
    assert "The 6 tasters agree on the lots" in found.verdicts[0].sentence
    assert "Koo and Li 2016" in row["reason"]


def test_alike_lots_or_tasters_who_tell_nothing_apart_cannot_be_told_from_each_other():
    found = agreement(invented(12, 6, spread=0.0))
    row = row_of(found)
    assert row["call"] == "too alike to judge"
    assert row["p_lots"] >= 0.01
    assert "the lots may be alike, or the tasters tell nothing apart" in found.verdicts[0].sentence
    assert "known to differ" in found.verdicts[0].next_step


def test_levels_apart_and_orders_alike_are_told_apart_in_words():
    y = invented(30, 4, spread=0.6, noise=0.15, level=0.0) + np.array([-2.5, -1, 1, 2.5])[:, None]
    found = agreement(y)
    row = row_of(found)
    assert row["icc_consistency_mean"] - row["icc_mean"] > 0.2
    assert row["call"] in ("apart", "cannot tell")
    assert "order the lots alike but use different levels" in found.verdicts[0].sentence


def test_an_interval_across_the_line_is_cannot_tell_with_a_next_step():
    y = invented(8, 3, spread=1.0, noise=0.6, level=1.0, seed=4)
    found = agreement(y)
    row = row_of(found)
    assert row["p_lots"] < 0.01
    assert row["icc_mean_low"] < 0.5 < row["icc_mean_high"]
    assert found.verdicts[0].call == "cannot tell"
    assert found.verdicts[0].next_step


def test_disagreement_beyond_chance_is_shown_as_it_stands():
    row = row_of(agreement([[1, 4, 1], [4, 1, 4.5], [2, 3, 2], [3, 2, 3.5]]))
    assert row["icc_mean"] < 0
    assert row["call"] == "too alike to judge"


# ── shapes of data ───────────────────────────────────────────────────────────────────────────────────────────────────


def test_two_tasters_are_enough():
    row = row_of(agreement(invented(15, 2, noise=0.3, level=0.1)))
    assert row["tasters"] == 2
    assert row["call"] == "agree"
    assert np.isfinite(row["concordance_w"])


@pytest.mark.parametrize("pots", ["shared", "own"])
def test_one_taster_has_nobody_to_agree_with(pots):
    found = agreement(invented(6, 1, 2), pots=pots)
    row = row_of(found)
    assert (row["call"], row["tasters"]) == ("cannot tell", 1)
    assert "one taster" in row["reason"]
    assert np.isnan(row["concordance_w"])
    assert found.verdicts[0].call == "cannot tell"
    assert found.verdicts[0].next_step


@pytest.mark.parametrize("pots", [1, 2])
def test_one_lot_has_no_order(pots):
    found = agreement(invented(1, 5, pots))
    row = row_of(found)
    assert (row["call"], row["lots"]) == ("cannot tell", 1)
    assert "one lot" in row["reason"]
    assert np.isnan(row["icc_mean_low"])
    assert found.verdicts[0].next_step


def test_equal_scores_throughout_are_nothing_to_judge():
    found = agreement(np.full((5, 4), 6.0))
    assert row_of(found)["call"] == "cannot tell"
    assert found.verdicts[0].next_step


@pytest.mark.parametrize("step", [1.0, 0.1])
def test_tasters_in_step_to_the_last_digit_have_no_interval(step):
    row = row_of(agreement(step * (np.arange(6.0)[:, None] + np.array([0.0, 1, 3]))))
    assert row["icc_consistency_mean"] == pytest.approx(1)
    assert np.isnan(row["icc_mean_low"])
    assert row["call"] == "cannot tell"


def test_a_taster_who_ties_all_lots_has_no_order_and_is_left_out_of_concordance():
    y = invented(8, 4)[..., 0]
    tied = y.copy()
    tied[:, 3] = 5.0
    ours = row_of(agreement(tied))
    assert ours["concordance_w"] == pytest.approx(row_of(agreement(y[:, :3]))["concordance_w"], rel=1e-10)
    assert ours["tasters"] == 4


def test_an_incomplete_table_has_no_concordance():
    y = invented(8, 4)
    y[2, 1] = np.nan
    row = row_of(agreement(y))
    assert np.isnan(row["concordance_w"])
    assert np.isfinite(row["icc_mean"])


def test_a_descriptor_nobody_can_be_judged_on_leaves_the_others_alone():
    good, flat = invented(10, 5, noise=0.3)[..., 0], np.full((10, 5), 4.0)
    both = pst.panel_agreement(read(pd.concat([sheet(flat, name="flat"), sheet(good, name="good")])), pots="own")
    row = both.table.set_index("descriptor").loc["good"]
    alone = row_of(agreement(good))
    assert row["icc_mean"] == pytest.approx(alone["icc_mean"], rel=1e-9)
    assert row["call"] == alone["call"]
    assert both.table.set_index("descriptor").loc["flat", "call"] == "cannot tell"


def two_classes(seed=3, apart=3.0, spread=1.0):
    y = invented(20, 6, spread=spread, seed=seed)
    y[10:] += apart
    lots = pd.DataFrame({"lot": [f"{100 + i}" for i in range(20)], "class": ["low"] * 10 + ["high"] * 10})
    return y, lots


def test_classes_are_judged_about_their_own_means():
    """Moving a class changes nothing; a taster's level in one class changes no order."""
    y, lots = two_classes()
    apart, level = y.copy(), y.copy()
    apart[10:] += 7
    level[10:, 2] -= 2
    first, moved, other = (
        row_of(pst.panel_agreement(read(sheet(each), lots=lots), pots="own")) for each in (y, apart, level)
    )
    for name in ("icc_single", "icc_mean_low", "icc_mean_high", "icc_consistency_mean", "p_lots", "lot_sd"):
        assert moved[name] == pytest.approx(first[name], rel=1e-6)
    for name in ("icc_consistency_mean", "p_lots"):
        assert other[name] == pytest.approx(first[name], rel=1e-6)
    assert other["icc_mean"] < first["icc_mean"]


def test_classes_far_apart_add_nothing_to_agreement_within_them():
    y, lots = two_classes(apart=6.0, spread=0.0)
    found = pst.panel_agreement(read(sheet(y), lots=lots), pots="own")
    assert row_of(found)["call"] == "too alike to judge"
    assert found.classes["p"].iloc[0] < 1e-6
    assert found.classes["classes"].iloc[0] == 2


def test_two_classes_complete_and_nearly_complete_meet():
    y, lots = two_classes()
    whole = row_of(pst.panel_agreement(read(sheet(y), lots=lots), pots="own"))
    y[3, 2] = np.nan
    less = row_of(pst.panel_agreement(read(sheet(y), lots=lots), pots="own"))
    for name in ("icc_single", "icc_mean", "icc_consistency_mean"):
        assert less[name] == pytest.approx(whole[name], abs=0.03)
    assert np.log(less["p_lots"]) == pytest.approx(np.log(whole["p_lots"]), rel=0.15)


def test_each_session_stands_alone_and_is_named():
    months = {"May": invented(10, 5, noise=0.3), "June": invented(10, 5, noise=0.3, seed=2)}
    parts = [sheet(y).assign(session=name) for name, y in months.items()]
    both = pst.panel_agreement(read(pd.concat(parts)), pots="own")
    assert both.table.columns[0] == "session"
    for part, name in zip(parts, months, strict=True):
        alone = row_of(pst.panel_agreement(read(part), pots="own"))
        row = both.table.set_index("session").loc[name]
        assert row["icc_mean"] == pytest.approx(alone["icc_mean"], rel=1e-9)
    assert all(any(name in str(verdict) for verdict in both.verdicts) for name in months)


def test_trainees_do_not_count():
    y = invented(10, 5, noise=0.3)
    tasters = pd.DataFrame({"taster": [NAMES[4]], "role": ["trainee"]})
    with_one = row_of(pst.panel_agreement(read(sheet(y), tasters=tasters), pots="own"))
    assert with_one["tasters"] == 4
    assert with_one["icc_mean"] == pytest.approx(row_of(agreement(y[:, :4]))["icc_mean"], rel=1e-9)


def test_another_level_gives_another_interval():
    y = invented(12, 5)
    wide, narrow = (row_of(agreement(y, level=level)) for level in (0.99, 0.8))
    assert wide["icc_mean_low"] < narrow["icc_mean_low"]
    assert wide["icc_mean_high"] > narrow["icc_mean_high"]


def test_cells_and_scores_answer_alike():
    y = invented(8, 4, 2)
    scores = read(sheet(y))
    one, two = (row_of(pst.panel_agreement(each)) for each in (scores, scores.cells()))
    assert one["icc_mean"] == two["icc_mean"]
    made = cells_from_array(y[..., None], np.ones(y.shape, bool), shared=True)
    assert row_of(pst.panel_agreement(made))["icc_mean"] == pytest.approx(one["icc_mean"], rel=1e-9)
