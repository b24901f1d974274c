"""What went with the making: lots within make as the error, and what cannot be told."""

import json
from dataclasses import replace
from math import comb
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from scipy import stats

import panelstats as pst
from panelstats.errors import DesignError
from panelstats.lots.makes.layout import Tasted
from panelstats.models.lotmodel import LotModel
from panelstats.models.lotsneeded import lots_of_each
from tests import known

PUBLISHED = Path(__file__).parents[1] / "published" / "lots"


def published(name):
    return json.loads((PUBLISHED / name).read_text())


def read(name, *columns):
    """A published sheet with the columns of the making in the lots register."""
    table = pd.read_csv(PUBLISHED / name)
    sheet = table[["lot", "taster", "score"]].rename(columns={"score": "brisk"})
    lots = table[["lot", *columns]].drop_duplicates("lot").astype(str)
    return pst.read_scores(sheet, room={"lots": lots})


def made(settings, *, effect=0.0, tasters=2, seed=0, lot_sd=1.0, days=None, day_sd=0.0, missing=0.0, **more):
    """Invented lots: a setting each, tasters who all score them, an effect for setting "b", days with their own SD."""
    rng = np.random.default_rng(seed)
    names = [f"L{i + 1}" for i in range(len(settings))]
    value = effect * (np.array(settings) == "b") + rng.normal(0, lot_sd, len(names))
    register = pd.DataFrame({"lot": names, "way": settings, **more})
    if days is not None:
        shift = dict(zip(sorted(set(days)), rng.normal(0, day_sd, len(set(days))), strict=True))
        value = value + np.array([shift[day] for day in days])
        register["made"] = days
    sheet = pd.DataFrame({"lot": np.repeat(names, tasters), "taster": [f"t{i}" for i in range(tasters)] * len(names)})
    sheet["brisk"] = np.repeat(value, tasters) + rng.normal(5, 0.5, len(sheet))
    sheet = sheet[rng.random(len(sheet)) >= missing]
    return pst.read_scores(sheet, room={"lots": register})


# --- published values -------------------------------------------------------------------------------------------------


def test_complete_scores_give_the_one_way_analysis_of_the_lots_means():
    known = published("makes_balanced.json")
    found = pst.compare_makes(read("makes_balanced.csv", "make"), "make")
    row = found.table.iloc[0]
    assert (row["df"], row["df_error"]) == (known["df"], known["ddf"])
    assert row["statistic"] == pytest.approx(known["F"], abs=1e-10)
    assert row["p"] == pytest.approx(known["p"], abs=1e-10)


def test_complete_scores_agree_with_scipy_pair_by_pair():
    """Two settings: the t test of the lots' means with a common variance (scipy.stats.ttest_ind)."""
    scores = made(["a", "b"] * 6, effect=0.7, tasters=3)
    found = pst.compare_makes(scores, "way")
    means = scores.frame.groupby("lot", observed=True)["score"].mean()
    way = scores.lots.set_index("lot")["way"].reindex(means.index)
    known = stats.ttest_ind(means[way == "a"], means[way == "b"])
    interval = known.confidence_interval()
    row = found.pairs.iloc[0]
    assert row["p"] == pytest.approx(known.pvalue, abs=1e-10)
    assert (row["low"], row["high"]) == pytest.approx((interval.low, interval.high), abs=1e-10)


def test_missing_scores_agree_with_lmertest_and_emmeans():
    known = published("makes.json")
    found = pst.compare_makes(read("makes.csv", "make"), "make")
    row = found.table.iloc[0]
    assert row["statistic"] == pytest.approx(known["F"], rel=1e-3)
    assert row["df_error"] == pytest.approx(known["ddf"], rel=3e-3)
    assert row["p"] == pytest.approx(known["p"], rel=1e-3)
    for table, rows, value in ((found.means, known["means"], "emmean"), (found.pairs, known["pairs"], "estimate")):
        ours = table.rename(columns={"mean": "emmean", "difference": "estimate"})
        for name, their in ((value, value), ("se", "SE")):
            assert ours[name].to_numpy() == pytest.approx([each[their] for each in rows], abs=1e-4)
        assert ours["df"].to_numpy() == pytest.approx([each["df"] for each in rows], rel=3e-3)
    assert found.pairs["p"].to_numpy() == pytest.approx([each["p"] for each in known["pairs"]], abs=1e-3)


def test_the_variances_agree_with_lme4():
    table, known = pd.read_csv(PUBLISHED / "makes.csv"), published("makes.json")
    codes = {name: table[name].astype("category").cat.codes.to_numpy() for name in ("make", "lot", "taster")}
    model = LotModel(table["score"].to_numpy(), np.eye(5)[codes["make"]], codes["lot"], [codes["taster"]])
    wanted = [known["variances"][name] for name in ("Residual", "lot", "taster")]
    assert model.variances == pytest.approx(wanted, abs=1e-3)
    assert model.loglik == pytest.approx(known["loglik"], abs=1e-6)
    assert "taster" in known["variances"]


def test_minutes_and_degrees_agree_with_lmertest():
    known = published("makes_covariates.json")
    found = pst.compare_makes(read("makes.csv", "minutes", "temperature"), ["minutes", "temperature"])
    theirs = known["coef"][1:]
    assert found.slopes["slope"].to_numpy() == pytest.approx([each["Estimate"] for each in theirs], abs=1e-4)
    assert found.slopes["se"].to_numpy() == pytest.approx([each["Std..Error"] for each in theirs], abs=1e-4)
    assert found.slopes["df"].to_numpy() == pytest.approx([each["df"] for each in theirs], rel=3e-3)
    assert found.slopes["p"].to_numpy() == pytest.approx([each["Pr...t.."] for each in theirs], rel=1e-3)
    assert found.slopes["inflation"].to_numpy() == pytest.approx([known["vif"]] * 2, abs=1e-10)


def test_lots_each_agree_with_r():
    values = published("lots_needed.json")["values"]
    found = lots_of_each(np.array([each["ratio"] for each in values]))
    assert found.tolist() == [each["lots_per_make"] for each in values]


def test_the_p_of_a_word_agrees_with_r():
    known = published("words_by_make.json")["by_make"]
    (a, b), (c, d) = known["table"]
    lots = [f"L{i}" for i in range(a + b + c + d)]
    said = np.repeat([1, 0, 1, 0], [a, b, c, d])
    sheet = pd.DataFrame({"lot": np.repeat(lots, 2), "taster": ["elm", "yew"] * len(lots), "brisk": 5.0})
    sheet = sheet.assign(smoky=np.repeat(said, 2))
    way = ["a"] * (a + b) + ["b"] * (c + d)
    found = pst.compare_makes(pst.read_scores(sheet, room={"lots": pd.DataFrame({"lot": lots, "way": way})}), "way")
    assert found.words["p"].tolist() == pytest.approx([known["p"]], abs=1e-10)


# --- what is said -----------------------------------------------------------------------------------------------------


def only(found):
    (verdict,) = found.verdicts
    return verdict


def test_a_difference_went_with_the_make_and_was_not_caused_by_it():
    verdict = only(pst.compare_makes(made(["a", "b"] * 10, effect=3.0), "way"))
    assert "way b against a went with brisk +3" in verdict.sentence
    assert "caus" not in str(verdict)
    assert verdict.call == "went with"


def test_lots_dealt_to_settings_at_random_may_be_called_caused():
    verdict = only(pst.compare_makes(made(["a", "b"] * 10, effect=3.0, randomised="yes"), "way"))
    assert verdict.call == "caused"
    some = ["yes"] * 19 + ["no"]
    assert only(pst.compare_makes(made(["a", "b"] * 10, effect=3.0, randomised=some), "way")).call == "went with"


@pytest.mark.parametrize(
    ("settings", "more", "says"),
    [
        (["a", "b", "c"], {}, "one lot of each make"),
        (["a"] * 6, {}, "all lots were made alike"),
        ([""] * 6, {}, "no lot that was tasted has it written"),
        (["a"] * 3 + ["b"] * 3, {"days": ["2026-02-01"] * 3 + ["2026-02-02"] * 3}, "cannot tell make from day"),
        (["a"] * 3 + ["b"] * 3, {"class": ["red"] * 3 + ["green"] * 3}, "cannot tell make from class"),
    ],
)
def test_it_says_why_it_cannot_tell(settings, more, says):
    verdict = only(pst.compare_makes(made(settings, **more), "way"))
    assert says in verdict.sentence
    assert verdict.call == "cannot tell"
    assert verdict.next_step


def test_scores_that_never_differ_cannot_tell():
    sheet = pd.DataFrame({"lot": list("abcd"), "taster": "elm", "brisk": 6.0})
    lots = pd.DataFrame({"lot": list("abcd"), "way": ["x", "x", "y", "y"]})
    verdict = only(pst.compare_makes(pst.read_scores(sheet, room={"lots": lots}), "way"))
    assert "all lots were scored alike" in verdict.sentence


def test_what_is_not_shown_says_how_many_lots_would_show_it():
    found = pst.compare_makes(made(["a", "b"] * 4), "way", tolerance=1.0)
    verdict, row = only(found), found.table.iloc[0]
    assert f"{int(row['lots_each'])} lots of each setting would show a difference of 1 point" in verdict.next_step
    assert row["lots_each"] == lots_of_each(1.0 / row["lot_sd"])


def test_settings_that_moved_together_cannot_be_told_apart():
    minutes = np.linspace(50, 80, 16)
    degrees = np.round(minutes / 2 + np.tile([0.0, 0.5], 8), 1)
    way = np.where(minutes > 65, "b", "a")
    scores = made(way.tolist(), effect=3.0, lot_sd=0.3, minutes=minutes.astype(str), degrees=degrees.astype(str))
    found = pst.compare_makes(scores, ["minutes", "degrees"])
    verdict = only(found)
    assert verdict.call == "cannot tell which"
    assert "moved together" in verdict.sentence
    assert (found.slopes["inflation"] > 5).all()
    assert (found.slopes["alone_low"] > 0).all()  # each alone is told
    assert found.slopes["p_joint"].iloc[0] < 0.001


def test_a_slope_is_told_per_unit_and_over_its_usual_range():
    minutes = np.arange(16) + 50.0
    scores = made(["a"] * 16, lot_sd=0.2, minutes=minutes.astype(str))
    found = pst.compare_makes(scores, "minutes").slopes.iloc[0]
    assert found["usual_high"] - found["usual_low"] == pytest.approx(
        np.quantile(minutes, 0.9) - np.quantile(minutes, 0.1)
    )
    assert found["per_range"] == pytest.approx(12 * found["slope"])
    line = stats.linregress(minutes, scores.frame.groupby("lot", observed=True, sort=False)["score"].mean().to_numpy())
    assert found["slope"] == pytest.approx(line.slope)
    assert found["p"] == pytest.approx(line.pvalue)


def test_one_column_is_a_question_and_several_are_a_search():
    scores = made(["a", "b"] * 6, other=["x", "x", "y", "y"] * 3)
    assert "Declared: 1 test (1 column by 1 descriptor)" in pst.compare_makes(scores, "way").method
    assert "A search: 2 tests (2 columns by 1 descriptor)" in pst.compare_makes(scores, ["way", "other"]).method


def test_searches_made_together_are_allowed_for():
    scores = made(["a", "b"] * 6, effect=1.0, other=["x", "x", "y", "y"] * 3)
    one, many = (pst.compare_makes(scores, ["way", "other"], searches=n) for n in (1, 12))
    assert many.table["p_adjusted"].to_numpy() == pytest.approx(np.minimum(12 * one.table["p_adjusted"], 1))
    assert "times 12 for as many such searches" in many.method


def test_controls_and_standards_and_trainees_do_not_count():
    scores = made(["a", "b"] * 6, effect=1.0, tasters=3)
    plain = pst.compare_makes(scores, "way").table
    lots = scores.lots[["lot", "way"]]
    extra = pd.DataFrame({"lot": ["K", "S"], "way": "b", "role": ["control", "standard"]})
    sheet = (
        scores.frame[["lot", "taster", "score"]].rename(columns={"score": "brisk"}).astype({"lot": str, "taster": str})
    )
    more = pd.DataFrame({"lot": ["K", "S"] * 2, "taster": ["t0", "t0", "young", "young"], "brisk": 9.0})
    tasters = pd.DataFrame({"taster": ["t0", "t1", "t2", "young"], "role": ["senior"] * 3 + ["trainee"]})
    room = {"lots": pd.concat([lots.assign(role=""), extra]), "tasters": tasters}
    again = pst.compare_makes(pst.read_scores(pd.concat([sheet, more]), room=room), "way").table
    assert again["statistic"].iloc[0] == pytest.approx(plain["statistic"].iloc[0])
    assert again["lots"].iloc[0] == plain["lots"].iloc[0]


def test_lots_of_several_sessions_and_classes_are_compared_within_them():
    """The F of the make in a linear model with session (statsmodels), tasters all present in each."""
    import statsmodels.formula.api as smf

    rng = np.random.default_rng(5)
    rows = pd.DataFrame({"session": np.repeat(["2026-01-05", "2026-01-12"], 8), "lot": [f"L{i}" for i in range(16)]})
    rows["way"] = (["a"] * 5 + ["b"] * 3) + (["a"] * 2 + ["b"] * 6)
    rows["brisk"] = rng.normal(5, 1, 16) + 2.0 * (rows["session"] == "2026-01-12")
    scores = pst.read_scores(
        rows[["session", "lot", "brisk"]].assign(taster="elm"), room={"lots": rows[["lot", "way"]]}
    )
    found = pst.compare_makes(scores, "way").table.iloc[0]
    known = smf.ols("brisk ~ session + way", rows).fit()
    assert found["p"] == pytest.approx(known.pvalues["way[T.b]"])
    assert found["df_error"] == known.df_resid


def test_two_sheets_turned_about_say_the_same():
    scores = made(["a", "b"] * 6, effect=1.0, missing=0.2)
    sheet = (
        scores.frame[["lot", "taster", "score"]].rename(columns={"score": "brisk"}).astype({"lot": str, "taster": str})
    )
    turned = pst.read_scores(sheet.iloc[::-1], room={"lots": scores.lots[["lot", "way"]].iloc[::-1]})
    one, two = (pst.compare_makes(each, "way").table.iloc[0] for each in (scores, turned))
    assert two["p"] == pytest.approx(one["p"], rel=1e-4)


def test_words_asked_of_all_are_compared_by_lots_and_remarks_are_not():
    rng = np.random.default_rng(2)
    lots = [f"L{i}" for i in range(24)]
    way = ["a", "b"] * 12
    sheet = pd.DataFrame({"lot": np.repeat(lots, 2), "taster": ["elm", "yew"] * 24, "brisk": rng.normal(5, 1, 48)})
    sheet["smoky"] = np.repeat(np.array(way) == "b", 2).astype(int)
    room = {"lots": pd.DataFrame({"lot": lots, "way": way})}
    found = pst.compare_makes(pst.read_scores(sheet, room=room), "way")
    row = found.words.iloc[0]
    assert (row["said"], row["lots"], row["rest_said"], row["rest_lots"]) == (0, 12, 12, 12)
    assert row["p"] == pytest.approx(2 / comb(24, 12))
    assert any("smoky said of 0 of 12 lots" in str(verdict) for verdict in found.verdicts)
    remarked = sheet.drop(columns="smoky").assign(remarks=np.where(sheet["smoky"] == 1, "smoky", ""))
    assert pst.compare_makes(pst.read_scores(remarked, room=room), "way").words.empty


def test_an_unknown_column_is_answered_with_the_nearest():
    scores = made(["a", "b"] * 3)
    with pytest.raises(DesignError, match="did you mean 'way'"):
        pst.compare_makes(scores, "wya")


def test_it_can_be_drawn():
    found = pst.compare_makes(made(["a", "b", "c"] * 4, effect=2.0), "way")
    assert len(found.chart("brisk").rows) == 3
    pst.draw(found)


# --- simulated --------------------------------------------------------------------------------------------------------


def test_the_planted_change_of_a_garden_is_found_and_no_other_make_is_accused():
    scores = known.scores("row.xlsx")
    mine = set(scores.lots.loc[scores.lots["garden"] == "Mid Brallow 2", "lot"])
    found = pst.compare_makes(scores.select(lot=mine), ["rolling", "fermenting", "firing"])
    shown = found.table[found.table["call"] == "went with"]
    assert set(zip(shown["column"], shown["descriptor"], strict=True)) == {
        ("fermenting", "brisk"),
        ("fermenting", "colour"),
    }
    planted = {fact["descriptor"]: fact["size"] for fact in known.truth("row")["planted"] if fact["about"] == "make"}
    pairs = found.pairs[found.pairs["wording"] == "went with"].set_index("descriptor")
    for name, size in planted.items():
        assert pairs.loc[name, "setting_a"] == "55"
        assert pairs.loc[name, "low"] < size < pairs.loc[name, "high"]


def errors(tasted, code, rng, *, days=None, runs=100):
    """How often makes that are alike are called different: lots of SD 1, days of SD .8, each taster's error .5."""
    where = tasted.scores["unit"].to_numpy()
    out = []
    for _ in range(runs):
        value = rng.normal(0, 1, len(code)) + (0 if days is None else rng.normal(0, 0.8, days.max() + 1)[days])
        scores = tasted.scores.assign(score=value[where] + rng.normal(5, 0.5, len(where)))
        again = replace(tasted, scores=scores)
        models = [
            again.fit("brisk", np.arange(len(code)), np.eye(code.max() + 1)[code], day).model for day in (days, None)
        ]
        out.append([model.joint(np.eye(model.p)[:1] - np.eye(model.p)[1:]).p < 0.05 for model in models])
    return np.mean(out, axis=0)


@pytest.mark.parametrize("missing", [0.0, 0.2])
def test_alike_makes_are_called_different_as_often_as_stated(missing):
    """5 % within four standard errors."""
    scores = made(["a"] * 4 + ["b"] * 5 + ["c"] * 3, tasters=3, missing=missing)
    tasted = Tasted.of(scores.cells())
    code = tasted.units["way"].map({"a": 0, "b": 1, "c": 2}).to_numpy()
    rate = errors(tasted, code, np.random.default_rng(8), runs=60)[1]
    assert rate == pytest.approx(0.05, abs=4 * (0.05 * 0.95 / 60) ** 0.5)


def test_days_are_the_error_of_makes_where_they_are_written():
    """2 makes by 3 days by 5 lots: 5 % within four standard errors; far more without the days."""
    tasted = Tasted.of(made(["a"] * 15 + ["b"] * 15).cells())
    day = np.arange(30) // 5
    with_days, without = errors(tasted, np.arange(30) // 15, np.random.default_rng(9), days=day)
    assert with_days == pytest.approx(0.05, abs=4 * (0.05 * 0.95 / 100) ** 0.5)
    assert without > 0.15
