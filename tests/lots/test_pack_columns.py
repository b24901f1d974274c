"""Packs, column by column: closed forms of the normal distribution, scipy's noncentral t, when each thing is said."""

from __future__ import annotations

from functools import cache

import numpy as np
import pandas as pd
import pytest
from scipy.stats import nct, norm

import panelstats as pst
from panelstats.lots.packs import words
from panelstats.lots.packs.tables import Pack
from panelstats.models.mixing import mixture_bounds
from panelstats.models.nested import Nested, pivots
from panelstats.models.normalshares import plan_to_accept
from panelstats.result import Act, Mark
from tests.lots.test_packs import weighed

LINE, TOP = 250 / 750, 250 / 750 / 0.9


@cache
def exact():
    """12 lots of which the three readings agree to a thousandth: all but a normal sample of lots."""
    data = weighed(12, 3, mean=0.35, between=0.012, within=1e-5, seed=8)
    return pst.fit_pack(data, grams=250, millilitres=750, allowed=0.05)


@cache
def many():
    """Variances as good as known."""
    return pst.fit_pack(weighed(120, 2, mean=0.35, between=0.012, within=0.009, seed=9), grams=250, millilitres=750)


def row_of(found):
    return found.table.iloc[0]


# --- limits ---


def test_readings_that_agree_leave_the_exact_limits_of_a_normal_sample() -> None:
    """Hahn & Meeker: tolerance factor and limits of a share by the noncentral t, here scipy's, root found on a grid."""
    row, n = row_of(exact()), 12
    sd = row["between_sd"]
    factor = nct.ppf(0.95, n - 1, np.sqrt(n) * norm.ppf(0.95)) / np.sqrt(n)
    assert row["density_low"] == pytest.approx(row["density"] - factor * sd, rel=0.004)
    assert row["density_high"] == pytest.approx(row["density"] + factor * sd, rel=0.004)
    assert row["largest_grams"] == pytest.approx(750 * row["density_low"])
    assert row["least_millilitres"] == pytest.approx(250 / row["density_low"])
    for name, k in (("over", (row["density"] - LINE) / sd), ("slack", (TOP - row["density"]) / sd)):
        z = np.linspace(k - 2, k + 2, 2001)
        below = nct.cdf(np.sqrt(n) * k, n - 1, np.sqrt(n) * z)
        low, high = (norm.cdf(-z[np.nanargmin(np.abs(below - tail))]) for tail in (0.025, 0.975))
        assert row[name] == pytest.approx(norm.cdf(-k), abs=1e-4)
        assert (row[f"{name}_low"], row[f"{name}_high"]) == pytest.approx((low, high), abs=0.015)
    assert row["over_lots_only"] == pytest.approx(norm.cdf((LINE - row["density"]) / sd))


def test_another_level_moves_the_limits_and_not_the_share() -> None:
    wide, narrow = (
        row_of(pst.fit_pack(weighed(9, 2, seed=4), grams=250, millilitres=750, level=level)) for level in (0.99, 0.8)
    )
    assert wide["over"] == narrow["over"]
    assert wide["over_low"] < narrow["over_low"] < narrow["over_high"] < wide["over_high"]
    assert wide["density_low"] < narrow["density_low"] < narrow["density_high"] < wide["density_high"]


def test_pivots_are_chi_squares_and_t() -> None:
    """Mean: t with a - 1 df about the mean of means; variance within: SS / chi-square (Krishnamoorthy & Mathew)."""
    rng = np.random.default_rng(2)
    values = np.repeat(rng.normal(0, 2, 6), 4) + rng.normal(0, 1, 24)
    nested = Nested.of(values, np.repeat(np.arange(6), 4))
    drawn = pivots(nested, np.random.default_rng(1), 100_000)
    seen = nested.means.var(ddof=1)
    assert drawn.within.mean() == pytest.approx(nested.ss_within / (18 - 2), rel=0.01)  # mean of 1 / chi-square
    assert (drawn.total - 0.75 * drawn.within).mean() == pytest.approx(seen * 5 / 3, rel=0.05)
    assert drawn.mean.std() == pytest.approx(np.sqrt(seen / 6 * 5 / 3), rel=0.03)  # variance of t with 5 df
    assert (drawn.between >= 0).all()
    assert (drawn.between <= drawn.total).all()


def test_unequal_readings_count_by_their_harmonic_mean() -> None:
    nested = Nested.of(np.array([1.0, 3.0, 2.0, 5.0, 7.0, 9.0]), np.array([0, 0, 1, 2, 2, 2]))
    assert nested.each == pytest.approx(3 / (1 / 2 + 1 + 1 / 3))
    assert nested.df_within == 3
    assert nested.within == pytest.approx((2 + 0 + 8) / 3)
    assert nested.between == pytest.approx(np.var([2, 2, 7], ddof=1) - nested.within / nested.each)


# --- lots ---


def test_packs_of_a_weighed_lot_follow_from_its_mean_drawn_towards_its_grade() -> None:
    """Normal prior and normal readings, variances known: mean, spread and shares in closed form."""
    found = many()
    row, lots = row_of(found), found.lots
    between, within = row["between_sd"] ** 2, row["within_sd"] ** 2
    kept = 2 * between / (2 * between + within)
    centre = row["density"] + kept * (lots["density"] - row["density"])
    may = np.sqrt(between * (1 - kept))
    np.testing.assert_allclose(lots["expected"], centre, atol=0.0008)
    np.testing.assert_allclose(lots["sd"], np.sqrt(within + may**2), rtol=0.04)
    reading = np.sqrt(within + may**2)
    np.testing.assert_allclose(lots["over"], norm.cdf((LINE - centre) / reading), atol=0.02)
    np.testing.assert_allclose(lots["slack"], norm.cdf((centre - TOP) / reading), atol=0.02)
    far = norm.ppf(0.975) * may
    np.testing.assert_allclose(lots["over_low"], norm.cdf((LINE - centre - far) / np.sqrt(within)), atol=0.04)
    np.testing.assert_allclose(lots["over_high"], norm.cdf((LINE - centre + far) / np.sqrt(within)), atol=0.04)
    np.testing.assert_allclose(lots["slack_low"], norm.cdf((centre - far - TOP) / np.sqrt(within)), atol=0.04)
    np.testing.assert_allclose(lots["slack_high"], norm.cdf((centre + far - TOP) / np.sqrt(within)), atol=0.04)
    calls = np.where(lots["over_low"] > 0.01, words.OVERFLOWS, np.where(lots["slack_low"] > 0.01, words.SLACK, ""))
    fits = lots[["over_high", "slack_high"]].max(axis=1) <= 0.01
    assert list(lots["call"]) == [call or (words.FITS if ok else words.CANNOT_TELL)
                                  for call, ok in zip(calls, fits, strict=True)]  # fmt: skip
    assert {words.OVERFLOWS, words.SLACK, words.CANNOT_TELL} <= set(lots["call"])


def test_lots_off_their_grade_are_told_the_worst_first_and_no_more_than_six() -> None:
    data = weighed(60, 3, mean=0.355, between=0.0005, within=0.0005)
    for at, density in enumerate((0.330, 0.328, 0.325, 0.400, 0.32, 0.331, 0.329, 0.31)):
        data.loc[data["lot"] == f"L{at:02d}", "mass"] = 500 * np.array([density - 0.0005, density, density + 0.0005])
    found = pst.fit_pack(data, grams=250, millilitres=750, allowed=0.25)
    told = [v for v in found.verdicts if v.question == words.LOT_QUESTION]
    lots = found.lots.set_index("lot")
    assert len(told) == 6
    most = [lots.loc[v.subject, ["over", "slack"]].max() for v in told]
    assert most == sorted(most, reverse=True)
    assert row_of(found)["call"] not in {v.call for v in told}
    for verdict in told:
        own = lots.loc[verdict.subject]
        key, edge = ("over", LINE) if verdict.call == words.OVERFLOWS else ("slack", TOP)
        assert verdict.numbers["change"] == pytest.approx(own["density"] - edge)
        assert [verdict.numbers[name] for name in (key, "low", "high")] == list(own[[key, f"{key}_low", f"{key}_high"]])
        assert verdict.act is Act.DECIDE


# --- calls and what is said ---


@pytest.mark.parametrize(
    ("over", "slack", "call"),
    [
        ((0.011, 0.5), (0.0, 0.0), words.OVERFLOWS),
        ((0.011, 0.5), (0.02, 0.5), words.OVERFLOWS),  # leaf on the floor before a slack pack
        ((0.0, 0.01), (0.011, 0.5), words.SLACK),
        ((0.01, 0.02), (0.0, 0.0), words.CANNOT_TELL),
        ((0.0, 0.01), (0.01, 0.01), words.FITS),
        ((0.0, 0.01), (0.0, 0.011), words.CANNOT_TELL),
        ((0.0, 0.011), (0.0, 0.01), words.CANNOT_TELL),
    ],
)
def test_a_call_needs_the_whole_interval_on_one_side_of_what_is_allowed(over, slack, call) -> None:
    assert Pack(250, 750, 0.9, 0.01, 0.95, 0, 10).call(over, slack) == call


def test_a_pack_overflows_below_its_line_and_is_slack_above_its_top() -> None:
    found = exact()
    assert (found.line, found.top) == pytest.approx((1 / 3, 1 / 3 / 0.9))
    row, (bar,) = row_of(found), found.chart().rows
    total = np.hypot(row["between_sd"], row["within_sd"])
    assert (bar.floor, bar.ceiling) == (found.line, found.top)
    assert (bar.low, bar.value, bar.high) == pytest.approx(
        (row["density"] - 2 * total, row["density"], row["density"] + 2 * total)
    )


@pytest.mark.parametrize(
    ("mean", "mark", "key", "edge"),
    [(0.31, Mark.LOWER, "over", LINE), (0.46, Mark.HIGHER, "slack", TOP), (0.352, Mark.WITHIN, "over", None)],
)
def test_a_verdict_carries_the_share_that_rules_it_and_how_far_the_density_is_off(mean, mark, key, edge) -> None:
    found = pst.fit_pack(weighed(25, 3, mean=mean, between=0.003, within=0.001), grams=250, millilitres=750)
    row, verdict = row_of(found), found.verdicts[0]
    assert [verdict.numbers[name] for name in (key, "low", "high")] == list(row[[key, f"{key}_low", f"{key}_high"]])
    assert ("change" in verdict.numbers) == (edge is not None)
    if edge:
        assert verdict.numbers["change"] == pytest.approx(row["density"] - edge)
    assert verdict.act is (Act.DECIDE if edge else Act.KNOW)
    assert bool(verdict.next_step) == (edge is not None)
    assert found.chart().rows[0].mark is mark


def test_the_charge_advised_is_rounded_to_the_safe_side() -> None:
    found = pst.fit_pack(weighed(25, 3, mean=0.31, between=0.003), grams=250, millilitres=750)
    row = row_of(found)
    step = found.verdicts[0].next_step
    assert f"at most {int(row['largest_grams'])} g" in step
    assert f"take {int(row['least_millilitres']) + 1} ml" in step
    again = row_of(pst.fit_pack(weighed(25, 3, mean=0.31, between=0.003), grams=row["largest_grams"], millilitres=750))
    assert again["over"] < 0.01
    assert again["call"] != words.OVERFLOWS


@pytest.mark.parametrize(("mean", "name", "mark"), [(0.350, "over", "overflow"), (0.362, "slack", "full")])
def test_what_cannot_be_told_is_said_of_the_trouble_that_may_be_greater(mean, name, mark) -> None:
    found = pst.fit_pack(weighed(5, 2, mean=mean, between=0.004, within=0.002, seed=3), grams=250, millilitres=750)
    row, verdict = row_of(found), found.verdicts[0]
    assert verdict.call == words.CANNOT_TELL
    assert row[f"{name}_high"] == max(row["over_high"], row["slack_high"])
    assert name in verdict.numbers
    assert mark in verdict.sentence
    assert verdict.act is Act.TASTE_AGAIN


def test_runs_are_told_where_lots_make_the_trouble_and_not_where_readings_do() -> None:
    """Share of lots most packs of which overflow: normal distribution, between lots alone."""
    found = pst.fit_pack(weighed(40, 3, mean=0.345, between=0.008, within=0.001), grams=250, millilitres=750)
    row = row_of(found)
    share = norm.cdf((LINE - row["density"]) / row["between_sd"])
    assert row["lots_over"] == pytest.approx(share)
    assert f"1 lot in {round(1 / share)} " in found.verdicts[0].sentence
    most = pst.fit_pack(weighed(40, 3, mean=0.347, between=0.0085, within=0.005), grams=250, millilitres=750)
    row = row_of(most)
    assert 0.5 < row["between_sd"] ** 2 / (row["between_sd"] ** 2 + row["within_sd"] ** 2) < 0.75
    assert "1 lot in" in most.verdicts[0].sentence
    for data in (weighed(40, 3, mean=0.345, between=0.002, within=0.008), weighed(40, 3, mean=0.31, between=0.008),
                 weighed(40, 1, mean=0.345, between=0.008)):  # fmt: skip
        assert "1 lot in" not in pst.fit_pack(data, grams=250, millilitres=750).verdicts[0].sentence


def test_lots_needed_pass_what_is_as_good_as_it_looks_four_times_in_five() -> None:
    """Chance to pass by scipy's noncentral t: 0.8 with so many lots, less with one fewer, 5 % at the worst allowed."""
    row = row_of(pst.fit_pack(weighed(6, 2, mean=0.366, between=0.006, within=0.002, seed=3), grams=250,
                              millilitres=700, fill=0.5, allowed=0.2))  # fmt: skip
    assert row["call"] == words.CANNOT_TELL
    seen = max(row["over"], row["slack"])

    def passed(n):
        k = nct.ppf(0.95, n - 1, np.sqrt(n) * norm.ppf(0.8))
        return nct.sf(k, n - 1, np.sqrt(n) * norm.ppf(1 - seen))

    assert passed(row["lots_needed"]) >= 0.8 - 1e-9 > passed(row["lots_needed"] - 1)


def test_a_plan_to_accept_needs_the_good_to_be_better_than_the_bad() -> None:
    assert plan_to_accept(0.05, 0.05, miss=0.1, wrong=0.1) is None
    assert plan_to_accept(0.0499, 0.05, miss=0.05, wrong=0.05) is None  # ten thousand would not do


def test_densities_no_leaf_has_are_asked_about_with_their_lots() -> None:
    data = weighed(8, 2, mean=0.6, between=0.02, within=0.002)
    data.loc[data["lot"].isin(["L02", "L05"]), "mass"] *= 10
    found = pst.fit_pack(data, grams=250, millilitres=750)
    asked = next(v for v in found.verdicts if v.question == words.MIX_QUESTION)
    assert "L02 and L05" in asked.next_step
    assert "L03" not in asked.next_step
    for density, odd in ((0.05, False), (0.049, True), (0.8, False), (0.801, True)):
        alike = pd.DataFrame({"lot": list("aabb"), "mass": 1000 * density, "volume": 1000.0})
        told = pst.fit_pack(alike, grams=250, millilitres=750).verdicts
        assert any("every reading says" in v.sentence for v in told)  # of two lots as of more
        assert any(v.question == words.MIX_QUESTION for v in told) == odd, density


def test_a_mixture_takes_its_densities_from_one_state_in_the_order_asked() -> None:
    parts = [("coarse", "loose", 0.25), ("fine", "loose", 0.45), ("coarse", "tapped", 0.3), ("fine", "tapped", 0.5)]
    data = pd.concat([weighed(6, 2, mean=mean).assign(grade=grade, state=state) for grade, state, mean in parts])
    for state, places in ((None, [0, 1]), ("tapped", [0, 1])):
        found = pst.fit_pack(data, grams=250, millilitres=750, mix={"coarse": 6, "fine": 2}, state=state)
        mine = found.table[found.table["state"] == (state or "loose")]["density"].to_numpy()[places]
        assert list(found.mixture["grade"]) == ["coarse", "fine"]
        assert list(found.mixture["share"]) == [0.75, 0.25]
        assert list(found.mixture["density"]) == list(mine)
        told = next(v for v in found.verdicts if v.question == words.MIX_QUESTION)
        assert told.numbers == dict(zip(("low", "high"), mixture_bounds(np.array([0.75, 0.25]), mine), strict=True))
    assert pst.fit_pack(data, grams=250, millilitres=750).mixture.empty


def test_the_grade_of_most_room_holds_the_others_in_its_gaps_at_best() -> None:
    """Of a kilogram 0.4 / 0.5 = 0.8, 0.4 / 0.4 = 1.0 and 0.2 / 0.25 = 0.8 litres: 1.0 together, or 2.6 (by hand)."""
    low, high = mixture_bounds(np.array([0.4, 0.4, 0.2]), np.array([0.5, 0.4, 0.25]))
    assert (low, high) == pytest.approx((1 / 2.6, 1.0))


def test_small_weighings_are_weighings_and_none_is_refused() -> None:
    small = pd.DataFrame({"lot": list("aabb"), "mass": [0.30, 0.31, 0.33, 0.32], "volume": 0.9})
    found = pst.fit_pack(small, grams=250, millilitres=750).lots["density"]
    assert list(found) == pytest.approx([0.305 / 0.9, 0.325 / 0.9])
    for name in ("mass", "volume"):
        with pytest.raises(pst.DesignError, match="above 0"):
            pst.fit_pack(small.assign(**{name: [1.0, 1.0, 0.0, 1.0]}), grams=250, millilitres=750)


def test_lots_without_a_name_are_one_lot_each_and_named_by_their_row() -> None:
    data = weighed(3, 2)
    data["lot"] = ["L1", "L1", "", None, "L2", "L2"]
    lots = pst.fit_pack(data, grams=250, millilitres=750).lots
    assert dict(zip(lots["lot"], lots["readings"], strict=True)) == {"L1": 2, "row 3": 1, "row 4": 1, "L2": 2}


# --- weighed lots ---


def test_a_dense_lot_is_called_so_and_carries_its_distance_from_the_others() -> None:
    data = weighed(9, 2, between=0.003, within=0.001, seed=6)
    data.loc[data["lot"] == "L04", "mass"] = 500 * np.array([0.42, 0.421])
    found = pst.weigh_lots(data)
    row = found.table.set_index("lot").loc["L04"]
    assert row["call"] == words.DENSE_LOT
    verdict = found.verdicts[0]
    assert (verdict.subject, verdict.act) == ("L04", Act.DECIDE)
    assert verdict.numbers == {"change": row["density"] - row["others"], "p": row["p_adjusted"]}
    drawn = found.chart().rows
    assert [bar.value for bar in drawn] == sorted(found.table["density"])
    assert (drawn[-1].label, drawn[-1].mark) == ("L04", Mark.HIGHER)


def test_five_lots_of_a_grade_say_where_the_others_lie_and_equal_ones_are_alike() -> None:
    assert set(pst.weigh_lots(weighed(5, 1, seed=2)).table["call"]) == {words.LIKE_OTHERS}
    assert pst.weigh_lots(weighed(4, 1)).table["p_adjusted"].isna().all()
    alike = pst.weigh_lots(weighed(6, 2, between=0, within=0)).table
    assert (alike["p_adjusted"] == 1).all()


def test_a_lot_is_apart_from_the_level_asked_for() -> None:
    data = weighed(12, 2, between=0.004, within=0.001, seed=5)
    p = pst.weigh_lots(data).table.set_index("lot")["p_adjusted"].min()
    for level, apart in ((1 - p * 1.001, 1), (1 - p * 0.999, 0)):
        found = pst.weigh_lots(data, level=level).table["call"]
        assert (found != words.LIKE_OTHERS).sum() == apart


def test_lots_stand_as_they_were_weighed_and_spread_over_their_readings() -> None:
    turned = weighed(6, 2).iloc[::-1]
    assert list(pst.weigh_lots(turned).table["lot"]) == ["L05", "L04", "L03", "L02", "L01", "L00"]
    assert list(pst.weigh_lots(turned).table["readings"]) == [2] * 6


def test_lots_are_held_against_their_own_grade_and_state() -> None:
    fine = weighed(7, 2, mean=0.45, seed=2).assign(grade="fine", state="tapped")
    table = pst.weigh_lots(pd.concat([weighed(7, 2, seed=1), fine])).table
    for _, rows in table.groupby(["grade", "state"]):
        total = rows["density"].sum()
        np.testing.assert_allclose(rows["others"], (total - rows["density"]) / 6)
    assert set(table["call"]) == {words.LIKE_OTHERS}
