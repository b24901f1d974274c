"""Trial recipes, column by column: closed forms of means and normal errors, brute force, when each thing is said."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from scipy.stats import norm

import panelstats as pst
from panelstats.lots.blends import words
from panelstats.lots.blends.blendcalls import shares_told
from panelstats.lots.blends.profiles import profiles
from panelstats.models.recipes import Stock, cheapest, check_bounds, fewest, nearest
from panelstats.result import Act, Mark
from tests.lots.test_recipes import tasted

TWO = {"S": (5.0, 5.0), "1": (4.0, 6.0), "2": (6.0, 4.0)}


def of(table, recipe=words.NEAREST):
    return table[table["recipe"] == recipe]


# --- shares ---


def test_a_lot_whose_share_is_fixed_keeps_it_and_the_others_make_up_for_it() -> None:
    """One word: 0.3 x 9 + a x 4 + b x 5 nearest to 6 with a + b = 0.7; the more of the 5 the nearer."""
    stock = Stock(np.array([[9.0, 4.0, 5.0]]), np.array([6.0]), np.array([0.3, 0.1, 0.0]), np.array([0.3, 1.0, 1.0]))
    np.testing.assert_allclose(nearest(stock, np.ones(1)), [0.3, 0.2, 0.5], atol=2e-3)
    low = stock._replace(target=np.array([1.0]))
    np.testing.assert_allclose(nearest(low, np.ones(1)), [0.3, 0.7, 0.0], atol=1e-6)
    all_fixed = Stock(stock.profile, stock.target, np.array([0.5, 0.3, 0.2]), np.array([0.5, 0.3, 0.2]))
    np.testing.assert_allclose(nearest(all_fixed, np.ones(1)), [0.5, 0.3, 0.2])


def test_words_weigh_as_asked() -> None:
    """Two lots, one shares x: sum w (x a_w - b_w)^2 has its least at sum w a b / sum w a^2."""
    profile, target, weight = np.array([[4.0, 7.0], [6.0, 4.0]]), np.array([6.0, 5.5]), np.array([1.0, 9.0])
    a, b = profile[:, 0] - profile[:, 1], target - profile[:, 1]
    shares = nearest(Stock(profile, target, np.zeros(2), np.ones(2)), weight)
    assert shares[0] == pytest.approx((weight * a * b).sum() / (weight * a * a).sum(), abs=1e-6)


@pytest.mark.parametrize("search", ["cheapest", "fewest"])
def test_a_lot_takes_part_with_the_least_share_or_not_at_all_and_bounds_are_kept(search) -> None:
    stock = Stock(np.array([[4.0, 6.0, 5.0]]), np.array([5.05]), np.array([0.05, 0.0, 0.0]), np.array([1.0, 0.6, 0.5]))
    cost, within = np.array([2.0, 3.0, 1.0]), np.array([0.0501])
    shares = cheapest(stock, within, cost, 0.1) if search == "cheapest" else fewest(stock, within, 0.1)
    assert shares.sum() == pytest.approx(1)
    assert (shares >= stock.lower - 1e-9).all()
    assert (shares <= stock.upper + 1e-9).all()
    assert abs(stock.off(shares)[0]) <= within[0] + 1e-6
    assert ((shares[1:] >= 0.1 - 1e-9) | (shares[1:] == 0)).all()
    grid = [np.array([a, b, 1 - a - b]) for a in np.arange(0.05, 1.001, 0.01) for b in np.arange(0, 0.601, 0.01)]
    fair = [x for x in grid if -1e-9 <= x[2] <= 0.5 + 1e-9 and abs(stock.off(x)[0]) <= within[0] + 1e-9
            and ((x[1:] >= 0.1 - 1e-9) | (np.abs(x[1:]) < 1e-9)).all()]  # fmt: skip
    if search == "cheapest":
        assert cost @ shares <= min(cost @ x for x in fair) + 1e-6
        assert cost @ shares >= min(cost @ x for x in fair) - 0.03
    else:
        assert (shares > 0).sum() == min((x > 1e-9).sum() for x in fair) == 2


def test_where_no_blend_lies_within_there_is_no_cheapest_and_no_fewest() -> None:
    stock = Stock(np.array([[4.0, 5.0]]), np.array([7.0]), np.zeros(2), np.ones(2))
    assert cheapest(stock, np.array([1.9]), np.ones(2), 0.0) is None
    assert fewest(stock, np.array([1.9]), 0.02) is None
    assert fewest(stock, np.array([2.0]), 0.02)[1] == pytest.approx(1)


def test_bounds_that_just_leave_one_recipe_are_kept_and_others_refused() -> None:
    fair = Stock(np.ones((1, 2)), np.ones(1), np.array([0.4, 0.6]), np.array([0.4, 1.0]))
    check_bounds(fair)
    check_bounds(fair._replace(lower=np.zeros(2), upper=np.array([0.4, 0.6])))
    for lower, upper, told in (
        ([0.4, 0.61], [0.4, 1.0], "more than the whole"),
        ([0.0, 0.0], [0.4, 0.59], "does not fill"),
        ([0.0, 0.9], [1.0, 0.8], "lot 2 of the"),
    ):
        wrong = fair._replace(lower=np.array(lower), upper=np.array(upper))
        with pytest.raises(pst.DesignError, match=told):
            check_bounds(wrong)


# --- what a recipe starts from ---


def test_means_are_free_of_the_level_of_who_was_there() -> None:
    """Least squares of lot + taster by numpy, one taster not at one lot; errors by their residuals."""
    scores = tasted({**TWO, "3": (5.5, 5.0)}, noise=0.6, tasters=4, seed=2)
    some = replace(scores, frame=scores.frame.query("not (lot == '2' and taster == 't0')"), _memo={})
    seen = profiles(some.cells(), "S", ["1", "2", "3"], None)
    frame = some.frame.astype({"lot": str, "taster": str, "descriptor": str})
    for at, word in enumerate(seen.words):
        rows = frame[frame["descriptor"] == word]
        x = pd.get_dummies(rows[["lot", "taster"]]).astype(float)
        fit, *_ = np.linalg.lstsq(x.to_numpy(), rows["score"].to_numpy(), rcond=None)
        beta = pd.Series(fit, x.columns)
        levels = beta[beta.index.str.startswith("taster_")].mean()
        np.testing.assert_allclose(seen.mean[:, at], [beta[f"lot_{lot}"] + levels for lot in seen.lots], atol=1e-6)
        assert seen.standard[at] == pytest.approx(beta["lot_S"] + levels, abs=1e-6)
        rest = rows["score"].to_numpy() - x.to_numpy() @ fit
        assert seen.error[at, at] == pytest.approx((rest**2).sum() / (15 - 7), rel=1e-6)
    assert list(seen.tasters) == [4, 3, 4, 4]


def test_errors_are_drawn_with_their_covariance_shared_among_the_tasters_of_a_lot() -> None:
    seen = profiles(tasted(TWO, noise=0.5, tasters=5, seed=3).cells(), "S", ["1", "2"], None)
    seen = replace(seen, tasters=np.array([5, 2, 4]), error=np.array([[0.25, 0.2], [0.2, 1.0]]))
    lots, standard = seen.drawn(np.random.default_rng(0), 40_000)
    for found, mean, n in ((lots[:, 0], seen.mean[0], 5), (lots[:, 1], seen.mean[1], 2), (standard, seen.standard, 4)):
        np.testing.assert_allclose(found.mean(axis=0), mean, atol=0.02)
        np.testing.assert_allclose(np.cov(found.T), seen.error / n, atol=0.01)


def test_what_is_allowed_is_as_asked_else_as_declared_else_a_twentieth_of_the_range() -> None:
    scores = tasted({"S": (5.0, 5.0, 5.0), "1": (3.0, 4.0, 2.0), "2": (7.0, 6.0, 7.5)}, tasters=1)
    told = scores.descriptors.assign(tolerance=[0.4, 0.3, np.nan])
    allowed = profiles(replace(scores, descriptors=told, _memo={}).cells(), "S", ["1", "2"], {"w0": 0.7}).allowed
    np.testing.assert_allclose(allowed, [0.7, 0.3, 0.05 * 5.5])
    every = profiles(scores.cells(), "S", ["1", "2"], 2).allowed
    np.testing.assert_allclose(every, 2.0)


def test_words_of_looks_are_left_out_where_stages_are_known_and_so_are_words_not_scored_on_all() -> None:
    scores = tasted({"S": (5.0, 5.0, 5.0), "1": (3.0, 4.0, 2.0), "2": (7.0, 6.0, 7.5)})
    staged = replace(scores, descriptors=scores.descriptors.assign(stage=["liquor", "dry leaf", "liquor"]), _memo={})
    seen = profiles(staged.cells(), "S", ["1", "2"], None)
    assert (seen.words, seen.stages) == (["w0", "w2"], True)
    bare = replace(scores, descriptors=scores.descriptors.assign(stage=""), _memo={})
    seen = profiles(bare.cells(), "S", ["1", "2"], None)
    assert (seen.words, seen.stages) == (["w0", "w1", "w2"], False)
    part = replace(scores, frame=scores.frame.query("not (lot == '2' and descriptor == 'w1')"), _memo={})
    assert profiles(part.cells(), "S", ["1", "2"], None).words == ["w0", "w2"]


def test_the_last_session_with_standard_and_two_lots_is_taken() -> None:
    first, second = tasted(TWO).frame, tasted({"S": (5.0, 5.0), "1": (4.5, 5.5), "2": (5.5, 4.5)}, seed=1).frame
    third = second[second["lot"].astype(str).isin(["S", "1"])]
    days = [each.astype(str)[["lot", "taster", "descriptor"]].assign(session=day, score=each["score"])
            for day, each in (("2031-01-06", first), ("2031-01-13", second), ("2031-01-20", third))]  # fmt: skip
    lots = pd.DataFrame({"lot": ["S", "1", "2"], "role": ["standard", "", ""], "same": ["S", "1", "2"]})
    scores = pst.read_scores(pd.concat(days), room={"lots": lots})
    found = pst.suggest_blends(scores, "S", tolerance=0.5)
    assert "2031-01-13" in found.method
    alone = pst.read_scores(days[2], room={"lots": lots})
    with pytest.raises(pst.DesignError, match="not tasted beside"):
        pst.suggest_blends(alone, "S", stock=pd.DataFrame({"lot": ["1"]}))


# --- tables ---


def test_limits_of_a_word_are_those_of_shares_of_independent_errors() -> None:
    """Normal errors: variance of the blend less the standard is V (sum x^2 / n + 1 / n); distance is folded normal."""
    scores = tasted({"S": (5.0,), "1": (4.0,), "2": (6.5,), "3": (7.0,)}, noise=0.8, tasters=8, seed=6)
    for level in (0.95, 0.8):
        found = pst.suggest_blends(scores, "S", tolerance=0.7, level=level)
        seen = profiles(scores.cells(), "S", ["1", "2", "3"], 0.7)
        shares, row, total = of(found.recipes)["share"], of(found.table).iloc[0], found.summary.iloc[0]
        sd = np.sqrt(seen.error[0, 0] / 8 * ((shares**2).sum() + 1))
        reach = norm.ppf((1 + level) / 2) * sd
        assert (row["low"], row["high"]) == pytest.approx((-reach, reach), rel=0.15)
        ends = [norm.ppf((1 + p) / 2) * sd / 0.7 for p in ((1 - level) / 2, (1 + level) / 2)]
        assert total["honest_high"] == pytest.approx(ends[1], rel=0.15)
        assert total["honest_low"] == pytest.approx(ends[0], abs=0.05)
        assert total["honest"] == pytest.approx(sd * np.sqrt(2 / np.pi) / 0.7, rel=0.1)


def test_tables_hold_shares_kilograms_costs_and_what_the_blend_is() -> None:
    stock = pd.DataFrame({"lot": ["1", "2", "3"], "cost": [1.0, 2.0, 8.0], "kilograms": [40.0, np.nan, 500.0]})
    scores = tasted({"S": (5.0, 5.1), "1": (4.0, 6.0), "2": (6.0, 4.0), "3": (5.2, 5.0)}, tasters=3)
    found = pst.suggest_blends(scores, "S", stock=stock, batch=100.0, tolerance=0.3, least_share=0.1)
    means = pd.DataFrame({"1": (4.0, 6.0), "2": (6.0, 4.0), "3": (5.2, 5.0)})
    assert list(found.summary["recipe"]) == [words.NEAREST, words.CHEAPEST, words.FEWEST]
    for _, row in found.summary.iterrows():
        mine, table = of(found.recipes, row["recipe"]), of(found.table, row["recipe"])
        shares = mine.set_index("lot")["share"]
        assert list(shares) == sorted(shares, reverse=True)
        np.testing.assert_allclose(mine["kilograms"], 100 * mine["share"])
        assert row["lots"] == len(mine)
        assert row["cost"] == pytest.approx((mine["share"] * mine["cost"]).sum())
        off = (means[shares.index] @ shares).to_numpy() - [5.0, 5.1]
        np.testing.assert_allclose(table["difference"], off, atol=1e-3)
        np.testing.assert_allclose(table["blend"] - table["standard"], table["difference"])
        assert row["distance"] == pytest.approx(np.sqrt(((off / 0.3) ** 2).mean()), abs=3e-3)
        assert row["call"] == words.REACHES
    assert of(found.recipes)["lot"].tolist()[0] == "3"
    cheap = of(found.recipes, words.CHEAPEST).set_index("lot")["share"]
    assert cheap["1"] == pytest.approx(0.4)  # the cheapest lot, as much of it as there is
    assert of(found.recipes, words.FEWEST)["lot"].tolist() == ["3"]
    dear = pst.suggest_blends(scores, "S", stock=stock.assign(cost=[1.0, np.nan, 8.0]), tolerance=0.3)
    assert words.CHEAPEST not in set(dear.summary["recipe"])
    assert found.recipes["kilograms"].notna().all()
    assert dear.recipes["kilograms"].isna().all()


@pytest.mark.parametrize(
    ("millilitres", "fits", "told"),
    [(400, "no", "would overflow"), (600, "open", "is open"), (730, "yes", "fit 730 ml in either case")],
)
def test_a_pack_fits_where_the_least_dense_mixture_does(millilitres, fits, told) -> None:
    """Halves of 0.30 and 0.42 g/ml: 0.35 if volumes add, 0.6 if the fine fills every gap of the coarse."""
    weighed = pd.DataFrame({"lot": ["2", "1"], "mass": [210.0, 150.0], "volume": 500.0})
    found = pst.suggest_blends(tasted(TWO), "S", densities=weighed, grams=250, millilitres=millilitres)
    row = found.density.iloc[0]
    assert (row["low"], row["high"]) == pytest.approx((0.35, 0.6), rel=1e-3)
    assert row["fits"] == fits
    verdict = next(v for v in found.verdicts if v.question == words.DENSITY_QUESTION)
    assert told in verdict.sentence
    assert "between 0.35 and 0.60 g/ml" in verdict.sentence
    assert verdict.numbers == {"low": row["low"], "high": row["high"]}


# --- what is said ---


def test_shares_are_told_the_largest_first_and_no_more_than_eight() -> None:
    told = shares_told(list("abc"), np.array([0.2, 0.0, 0.8]))
    assert told == "80 % c and 20 % a"
    many = shares_told([f"L{n}" for n in range(11)], np.array([*[0.1] * 9, 0.06, 0.04]))
    assert many.startswith("10 % L0, 10 % L1")
    assert "L7" in many
    assert "L8" not in many
    assert "3 more lots" in many
    assert "more lot" not in shares_told([f"L{n}" for n in range(8)], np.full(8, 0.125))


def test_what_is_out_of_reach_is_told_the_farthest_word_first_by_what_is_allowed() -> None:
    scores = tasted({"S": (9.0, 2.0, 5.0), "1": (4.0, 6.0, 5.0), "2": (6.0, 5.0, 5.0)})
    found = pst.suggest_blends(scores, "S", tolerance={"w0": 3.0, "w1": 0.5, "w2": 0.5})
    verdict, table = found.verdicts[0], of(found.table).set_index("descriptor")
    assert (verdict.call, verdict.act) == (words.NONE_REACHES, Act.DECIDE)
    assert verdict.numbers["difference"] == pytest.approx(table.loc["w1", "difference"])
    assert "lower on w1" in verdict.next_step
    assert "w1 stays 3.0 above" in verdict.sentence
    assert "w0" not in verdict.sentence  # within what is allowed
    assert "What holds it back" not in verdict.sentence
    for allowed, order in (({"w0": 0.5, "w1": 1.5, "w2": 0.5}, ("w0", "w1")), ({"w0": 2.0, "w1": 0.5}, ("w1", "w0"))):
        told = pst.suggest_blends(scores, "S", tolerance=allowed).verdicts[0].sentence
        assert 0 < told.index(f"{order[0]} stays") < told.index(f"{order[1]} stays")


def test_a_recipe_tells_the_word_that_may_lie_farthest_and_its_cost() -> None:
    scores = tasted({"S": (5.0, 5.0), "1": (4.0, 6.0), "2": (6.0, 4.0)}, noise=0.3, tasters=4, seed=1)
    stock = pd.DataFrame({"lot": ["1", "2"], "cost": [2.0, 4.0]})
    found = pst.suggest_blends(scores, "S", stock=stock, tolerance={"w0": 0.9, "w1": 3.0})
    verdict = next(v for v in found.verdicts if v.subject == words.NEAREST)
    table, row = of(found.table), found.summary.iloc[0]
    far = (table[["low", "high"]].abs().max(axis=1) / table["allowed"]).idxmax()
    assert f"tasted, {table.loc[far, 'descriptor']} may lie" in verdict.sentence
    assert f"{row['cost']:.2f} a kilogram" in verdict.sentence
    assert verdict.numbers == {name: row[name] for name in ("distance", "honest", "honest_low", "honest_high")}
    bars = found.chart().rows
    for bar, (_, line) in zip(bars, table.iterrows(), strict=True):
        assert (bar.value, bar.low, bar.high) == pytest.approx(
            tuple(line[["difference", "low", "high"]] / line["allowed"])
        )
        inside = line["low"] >= -line["allowed"] and line["high"] <= line["allowed"]
        assert bar.mark is (Mark.WITHIN if inside else Mark.OPEN)
        assert (bar.floor, bar.ceiling) == (-1, 1)
    plain = pst.suggest_blends(scores, "S", tolerance=3.0)
    assert not any("a kilogram" in str(v) for v in plain.verdicts)


def test_controls_standards_and_trials_are_no_stock_and_wrong_kilograms_are_refused() -> None:
    scores = tasted({**TWO, "C": (5.0, 5.0), "T": (5.0, 5.0)})
    roles = scores.lots.assign(role=["standard", "", "", "control", "trial"])
    found = pst.suggest_blends(replace(scores, lots=roles, _memo={}), "S")
    assert set(found.recipes["lot"]) == {"1", "2"}
    for kilograms, told in ((["-1", "2"], "kilograms"), (["much", "2"], "much")):
        with pytest.raises(pst.DesignError, match=told):
            pst.suggest_blends(scores, "S", stock=pd.DataFrame({"lot": ["1", "2"], "kilograms": kilograms}))
    blank = pd.DataFrame({"lot": ["1", "2"], "kilograms": ["", " 80 "]})
    assert of(pst.suggest_blends(scores, "S", stock=blank, batch=100.0).recipes)["share"].max() == pytest.approx(
        0.5, abs=0.01
    )
