"""Packs: tolerance factors, shares beyond a line, lots with readings in them, mixtures, what is said."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from scipy import stats
from scipy.stats import t as student
from statsmodels.stats.multitest import multipletests

import panelstats as pst
from panelstats.__main__ import main
from panelstats.lots.packs import words
from panelstats.models.mixing import mixture_bounds
from panelstats.models.nested import Nested, pivots
from panelstats.models.normalshares import capability, one_sided_factor, plan_to_accept, share_below
from tests import known

HERE = Path(__file__).parents[1] / "published" / "grades"


def published(name: str) -> dict:
    return json.loads((HERE / name).read_text("utf-8"))


def weighed(
    lots: int = 20, each: int = 3, *, mean: float = 0.36, between: float = 0.01, within: float = 0.004, seed: int = 0
) -> pd.DataFrame:
    rng = np.random.default_rng(seed)
    own = mean + between * rng.standard_normal(lots)
    values = own[:, None] + within * rng.standard_normal((lots, each))
    return pd.DataFrame({"lot": np.repeat([f"L{k:02d}" for k in range(lots)], each), "grade": "broken",
                         "state": "loose", "mass": 500 * values.ravel(), "volume": 500.0})  # fmt: skip


# --- against tables and worked examples ---


@pytest.mark.parametrize("row", list(csv.DictReader((HERE / "k_factors.csv").read_text("utf-8").splitlines()))[::5])
def test_tolerance_factors_are_those_of_the_table(row: dict[str, str]) -> None:
    """Noncentral t and numerical integral (k_factors.csv; see its README)."""
    asked = int(row["n"]), float(row["coverage"]), float(row["confidence"])
    assert one_sided_factor(*asked) == pytest.approx(float(row["k1_one_sided_exact"]), rel=1e-6)


def test_handbook_example_of_tolerance_limits() -> None:
    """NIST/SEMATECH e-Handbook 7.2.6.3: 43 observations, 90 % covered, 99 % sure."""
    found = published("handbook_tolerance.json")
    assert one_sided_factor(43, 0.90, 0.99) == pytest.approx(found["k1_exact_noncentral_t"], rel=1e-7)


def test_share_beyond_a_line_has_the_limits_of_the_noncentral_t() -> None:
    found = published("pack_fit.json")["interval_one_sample"]
    low, high = share_below(found["K"], found["n"], level=0.95)
    assert low == pytest.approx(found["lower95"], rel=1e-6)
    assert high == pytest.approx(found["upper95"], rel=1e-6)


@pytest.mark.parametrize("n", [2, 3, 8, 40])
@pytest.mark.parametrize("k", [-700.0, -21.0, -3.0, 0.0, 0.4, 3.0, 21.0, 700.0])
def test_share_beyond_any_line_leaves_as_much_on_either_side(k: float, n: int) -> None:
    """A closed form: sqrt(n) k is normal / sqrt(chi-square / df), averaged over quantiles of chi-square."""
    share = np.array(share_below(k, n, level=0.95))
    assert ((share >= 0) & (share <= 1)).all()
    scale = np.sqrt(stats.chi2.isf((np.arange(40_000) + 0.5) / 40_000, n - 1) / (n - 1))
    for limit, tail in zip(share, (0.025, 0.975), strict=True):
        if 1e-12 < limit < 1 - 1e-12:
            reached = stats.norm.cdf(np.sqrt(n) * (k * scale + stats.norm.ppf(limit))).mean()
            assert reached == pytest.approx(tail, abs=2e-4)
    assert share_below(-k, n, level=0.95) == pytest.approx(tuple(1 - share[::-1]), abs=1e-9)


@pytest.mark.parametrize("plan", published("variables_plan.json")["plans"])
def test_plans_to_accept_are_the_computed_ones(plan: dict[str, float]) -> None:
    found = plan_to_accept(0.01, plan["p2"], miss=0.05, wrong=plan["beta"])
    assert found is not None
    assert found.n == plan["n"]
    assert found.k == pytest.approx(plan["k"], rel=1e-8)


def test_lots_and_readings_of_the_dyestuff_example() -> None:
    """Davies & Goldsmith, yields of 6 batches of 5; limits from 4 million draws."""
    data, found = pd.read_csv(HERE / "dyestuff.csv"), published("between_within.json")
    nested = Nested.of(data["Yield"].to_numpy(float), pd.factorize(data["Batch"])[0])
    assert nested.between == pytest.approx(found["variance_between"], rel=1e-9)
    assert nested.within == pytest.approx(found["variance_within"], rel=1e-9)
    drawn = pivots(nested, np.random.default_rng(1), 200_000)
    limit = found["lower_tolerance_coverage95_confidence95"]["pivotal_limit"]
    assert drawn.limit(0.95, 0.95) == pytest.approx(limit, abs=0.5)
    below = np.quantile(drawn.share_below(1400), [0.025, 0.5, 0.975])
    low, high = found["probability_below_1400"]["pivotal_95"]
    np.testing.assert_allclose(below, [low, found["probability_below_1400"]["pivotal_median"], high], atol=0.005)


@pytest.mark.parametrize("name", ["two_grades", "three_grades"])
def test_mixtures_lie_between_adding_and_filling(name: str) -> None:
    """Furnas 1931, Westman & Hugill 1930."""
    found = published("mixed_density.json")[name]
    share, density = (np.array(found[key], float) for key in ("mass_share", "loose_density"))
    low, high = mixture_bounds(share, density)
    assert low == pytest.approx(found["additive"], rel=1e-8)
    assert high > found["full_void_filling"] * (1 - 1e-8)  # which knows how dense a leaf piece is
    if "upper_without_particle_density" in found:
        assert high == pytest.approx(found["upper_without_particle_density"], rel=1e-8)


# --- what the table holds ---


def test_the_share_that_overflows_is_that_of_the_closed_form() -> None:
    """250 g in 750 ml, densities of mean 0.36 and SD 0.012: 1.3 % (normal distribution, invented numbers)."""
    found = published("pack_fit.json")
    charge = found["fixed_charge"]
    readings = np.array([-1.0, 1.0]) * charge["density_sd"] / np.sqrt(2) + charge["density_mean"]  # SD as stated
    table = pd.DataFrame({"lot": ["a", "b"], "mass": 100 * readings, "volume": 100.0})
    row = pst.fit_pack(table, grams=charge["mass_g"], millilitres=charge["capacity_ml"]).table.iloc[0]
    assert row["over"] == pytest.approx(charge["p_not_fit"], rel=1e-6)
    assert row["density"] == pytest.approx(charge["density_mean"])


def test_one_reading_a_lot_uses_the_exact_interval() -> None:
    data = weighed(20, 1)
    density = (data["mass"] / data["volume"]).to_numpy()
    row = pst.fit_pack(data, grams=250, millilitres=750).table.iloc[0]
    k = (density.mean() - 1 / 3) / density.std(ddof=1)
    assert (row["over_low"], row["over_high"]) == pytest.approx(share_below(k, 20, level=0.95))
    reach = one_sided_factor(20, 0.99, 0.95) * density.std(ddof=1)
    assert row["density_low"] == pytest.approx(density.mean() - reach)
    assert row["largest_grams"] == pytest.approx(750 * row["density_low"])
    assert row["least_millilitres"] == pytest.approx(250 / row["density_low"])
    assert "weighed once" in pst.fit_pack(data, grams=250, millilitres=750).verdicts[0].sentence


def test_slack_is_the_mirror_of_overflow() -> None:
    """Densities turned about the middle of the window change the two shares."""
    data = weighed(12, 3, mean=0.35)
    pack = {"grams": 250.0, "millilitres": 750.0, "fill": 0.9}
    line, top = 250 / 750, 250 / 750 / 0.9
    turned = data.assign(mass=(line + top) * data["volume"] - data["mass"])
    one, other = (pst.fit_pack(each, **pack).table.iloc[0] for each in (data, turned))
    for name, mirrored in (("over", "slack"), ("slack", "over")):
        assert one[name] == pytest.approx(other[mirrored], rel=1e-9)
        assert one[f"{name}_high"] == pytest.approx(other[f"{mirrored}_high"], rel=0.1)


def test_a_lot_lies_at_its_mean_drawn_towards_its_grade() -> None:
    """Best linear prediction with the variances of the analysis of variance, which the draws surround."""
    data = weighed(200, 2, between=0.03, within=0.03, seed=3)
    found = pst.fit_pack(data, grams=250, millilitres=750)
    row = found.table.iloc[0]
    between, within = row["between_sd"] ** 2, row["within_sd"] ** 2
    kept = 2 * between / (2 * between + within)
    expected = row["density"] + kept * (found.lots["density"] - row["density"])
    np.testing.assert_allclose(found.lots["expected"], expected, atol=0.0012)


# --- what is said ---


@pytest.mark.parametrize(
    ("mean", "call", "told"),
    [(0.36, words.FITS, "would overflow"), (0.30, words.OVERFLOWS, "Charge at most"), (0.47, words.SLACK, "full")],
)
def test_a_grade_fits_overflows_or_is_slack(mean: float, call: str, told: str) -> None:
    found = pst.fit_pack(weighed(25, 3, mean=mean, between=0.003), grams=250, millilitres=750, fill=0.85)
    assert found.table["call"].iloc[0] == call
    assert told in str(next(v for v in found.verdicts if v.call == call))


def test_a_light_lot_among_good_ones_is_named_to_be_weighed_again() -> None:
    data = weighed(25, 3, between=0.002, within=0.001)
    data.loc[data["lot"] == "L07", "mass"] = 500 * np.array([0.300, 0.301, 0.302])
    found = pst.fit_pack(data, grams=250, millilitres=750, allowed=0.2)
    assert [v.subject for v in found.verdicts if v.question == words.LOT_QUESTION] == ["L07"]


def test_too_few_lots_cannot_tell_and_say_how_many_would() -> None:
    found = pst.fit_pack(weighed(5, 2, mean=0.365), grams=250, millilitres=750, fill=0.8)
    row = found.table.iloc[0]
    assert row["call"] == words.CANNOT_TELL
    assert row["lots_needed"] > 5
    assert f"{row['lots_needed']:.0f} lots" in next(v for v in found.verdicts if v.call == words.CANNOT_TELL).next_step


@pytest.mark.parametrize(
    ("data", "told"),
    [
        (weighed(1, 4), "one lot was weighed"),
        (weighed(1, 1), "one lot was weighed"),
        (weighed(4, 2, between=0, within=0), "every reading says"),
        (weighed(6, 2, mean=1.4), "is the volume in ml"),
    ],
)
def test_degenerate_weighings_get_a_defined_answer(data: pd.DataFrame, told: str) -> None:
    found = pst.fit_pack(data, grams=250, millilitres=750)
    assert told in " ".join(map(str, found.verdicts))
    assert "nan" not in " ".join(map(str, found.verdicts)).lower()
    assert all(v.next_step for v in found.verdicts if v.call == words.CANNOT_TELL)
    assert not found.table["reason"].astype(str).str.contains("{", regex=False).any()


def test_states_stand_apart_and_one_may_be_asked() -> None:
    loose = weighed(8, 2)
    both = pd.concat([loose, weighed(8, 2, mean=0.42).assign(state="tapped")])
    assert list(pst.fit_pack(both, grams=250, millilitres=750).table["state"]) == ["loose", "tapped"]
    one = pst.fit_pack(both, grams=250, millilitres=750, state="tapped").table
    assert one["density"].iloc[0] == pytest.approx(0.42, abs=0.02)
    with pytest.raises(pst.DesignError, match="no weighing of that state"):
        pst.fit_pack(both, grams=250, millilitres=750, state="shaken")


def test_a_mixture_is_told_as_bounds_to_be_measured() -> None:
    both = pd.concat([weighed(6, 2, mean=0.25), weighed(6, 2, mean=0.45).assign(grade="fannings")])
    found = pst.fit_pack(both, grams=250, millilitres=750, mix={"broken": 3, "fannings": 2})
    told = next(v for v in found.verdicts if v.question == words.MIX_QUESTION)
    low, high = mixture_bounds(np.array([0.6, 0.4]), found.mixture["density"].to_numpy())
    assert (told.numbers["low"], told.numbers["high"]) == pytest.approx((low, high))
    assert "weigh it" in told.next_step
    with pytest.raises(pst.DesignError, match="no such grade"):
        pst.fit_pack(both, grams=250, millilitres=750, mix={"dust": 1})


def test_a_wrong_weighing_is_refused_where_it_stands(tmp_path: Path) -> None:
    sheet = tmp_path / "weighed.csv"
    sheet.write_text("lot,mass,volume\n1,150,500\n2,0,500\n", "utf-8")
    with pytest.raises(pst.DesignError, match="above 0") as refused:
        pst.fit_pack(pst.read_densities(sheet), grams=250, millilitres=750)
    assert "weighed.csv" in str(refused.value)
    assert "row 3" in str(refused.value)


def test_net_quantity_law_is_left_to_its_inspectors() -> None:
    told = [v.sentence for v in pst.fit_pack(weighed(), grams=250, millilitres=750).verdicts]
    assert any("weights-and-measures" in sentence for sentence in told)


def test_the_command_writes_page_and_workbook(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    sheet = tmp_path / "weighed.csv"
    weighed(12, 2).to_csv(sheet, index=False)
    assert main(["pack", str(sheet), "--grams", "250", "--millilitres", "750", "--mix", "broken=1"]) == 0
    assert (tmp_path / "weighed-pack.xlsx").exists()
    page = (tmp_path / "weighed-pack.html").read_text("utf-8")
    assert "densities that fit" in page
    assert "broken, loose" in capsys.readouterr().out


# --- densities among the sheets ---


def test_a_lot_apart_in_density_is_one_that_a_new_observation_would_not_be() -> None:
    """Each lot against the others by scipy's t for a new observation, Holm by statsmodels."""
    data = weighed(12, 2, between=0.004, within=0.001, seed=5)
    data.loc[data["lot"] == "L03", "mass"] = 500 * np.array([0.29, 0.291])
    found = pst.weigh_lots(data).table.set_index("lot")
    means = (data["mass"] / data["volume"]).groupby(data["lot"]).mean()
    p = []
    for lot in means.index:
        rest = means.drop(lot)
        t = (means[lot] - rest.mean()) / (rest.std(ddof=1) * np.sqrt(1 + 1 / len(rest)))
        p.append(2 * student.sf(abs(t), len(rest) - 1))
        assert found.loc[lot, "others"] == pytest.approx(rest.mean())
        assert found.loc[lot, "others_sd"] == pytest.approx(rest.std(ddof=1))
    np.testing.assert_allclose(found["p_adjusted"].reindex(means.index), multipletests(p, method="holm")[1], rtol=1e-9)
    assert list(found.index[found["call"] != words.LIKE_OTHERS]) == ["L03"]
    assert found.loc["L03", "call"] == words.LIGHT


def test_weighings_of_a_room_stand_on_its_page_and_on_the_buyers() -> None:
    assert len(known.scores("row").densities) == 36
    found = known.session("row.xlsx").find(pst.LotDensities)
    assert found is not None
    assert [v.subject for v in found.verdicts if v.call == words.LIGHT] == ["1106"]  # planted


def test_few_lots_of_a_grade_say_nothing_of_one_another() -> None:
    table = pst.weigh_lots(weighed(4, 2)).table
    assert set(table["call"]) == {words.CANNOT_TELL}


def test_a_wrong_weighing_among_the_registers_is_refused_where_it_stands(tmp_path: Path) -> None:
    (tmp_path / "week.csv").write_text("lot,taster,brisk\n1,elm,5\n2,elm,6\n", "utf-8")
    (tmp_path / "densities.csv").write_text("lot,mass,volume\n1,150,500\n2,heavy,500\n", "utf-8")
    with pytest.raises(pst.SheetError) as refused:
        pst.read_scores(tmp_path)
    assert "heavy" in str(refused.value)


# --- what varies besides, what is counted, what settles ---


def test_capability_has_the_published_figures() -> None:
    """NIST/SEMATECH e-Handbook 6.1.6; a textbook's interval of Cp; Bissell's of Cpk."""
    found = published("capability.json")
    point = capability(16.0, 2.0, 20, (8.0, 20.0), level=0.95)
    assert (point.cp, point.cpk) == pytest.approx((found["point"]["Cp"], found["point"]["Cpk"]), rel=1e-8)
    told = found["Cp_interval"]
    cp = capability(50.0, 1.75, 20, (38.0, 62.0), level=0.95)
    assert (cp.cp, cp.cp_low, cp.cp_high) == pytest.approx((told["Cp"], told["lower95"], told["upper95"]), rel=1e-8)
    near = capability(0.0, 1.0, 20, (-3 * 1.33, 3 * 1.33), level=0.95)
    assert (near.cpk_low, near.cpk_high) == pytest.approx(found["Cpk_interval"]["normal_approximation"], rel=1e-8)


def test_a_grade_has_its_capability_between_the_two_lines() -> None:
    row = pst.fit_pack(weighed(25, 3), grams=250, millilitres=750, fill=0.85).table.iloc[0]
    sd = np.hypot(row["between_sd"], row["within_sd"])
    line, top = 250 / 750, 250 / 750 / 0.85
    want = capability(row["density"], sd, 25, (line, top), level=0.95)
    assert tuple(row[["cpk", "cpk_low", "cpk_high"]]) == pytest.approx(want[3:])


def test_charges_and_capacities_that_vary_are_added_on_logarithms() -> None:
    """The log form of pack_fit.json, to its digits; medians and relative standard deviations as stated there."""
    found = published("pack_fit.json")["log_form"]
    logs = np.log(found["median_density"]) + np.array([-1.0, 1.0]) * found["cv_density"] / np.sqrt(2)
    table = pd.DataFrame({"lot": ["a", "b"], "mass": 100 * np.exp(logs), "volume": 100.0})
    asked = {"grams": 250, "millilitres": 750, "charge_cv": found["cv_mass"], "capacity_cv": found["cv_capacity"]}
    row = pst.fit_pack(table, **asked).table.iloc[0]
    assert row["over"] == pytest.approx(found["p_not_fit"], rel=1e-6)
    assert row["density"] == pytest.approx(found["median_density"])
    assert row["between_sd"] == pytest.approx(found["cv_density"] * found["median_density"])
    # Weighing's own part taken off (here none), charge and capacity stay: the same share.
    assert row["over_lots_only"] == pytest.approx(row["over"])
    assert row["lots_over"] < row["over"]  # of lots alone
    many = weighed(25, 3, mean=0.36)
    plain, varied = (pst.fit_pack(many, grams=250, millilitres=750, charge_cv=cv) for cv in (0.0, 0.03))
    assert varied.table["over"][0] > plain.table["over"][0]
    assert (varied.lots["over"] > plain.lots["over"]).all()
    assert varied.table["largest_grams"][0] < plain.table["largest_grams"][0]
    assert varied.table["density_low"][0] == pytest.approx(plain.table["density_low"][0], rel=0.004)  # of leaf alone
    assert (varied.lots["sd"] / plain.lots["sd"]).between(0.9, 1.1).all()
    assert "3 %" in varied.method
    assert "logarithms" not in plain.method


def test_one_lot_answers_for_its_own_packs_and_for_no_other() -> None:
    """Twenty readings of one lot are a normal sample: limits of pack_fit.json, by pivots within 0.005."""
    found = published("pack_fit.json")["interval_one_sample"]
    z = np.arange(20) - 9.5
    readings = found["mean"] + found["sd"] * z / z.std(ddof=1)
    table = pd.DataFrame({"lot": "a", "mass": 100 * readings, "volume": 100.0})
    fit = pst.fit_pack(table, grams=250, millilitres=750, fill=0.5)
    (own,) = fit.lots.to_dict("records")
    assert own["over_low"] == pytest.approx(found["lower95"], abs=0.005)
    assert own["over_high"] == pytest.approx(found["upper95"], abs=0.005)
    assert own["sd"] == pytest.approx(found["sd"])
    assert fit.table["call"][0] == words.CANNOT_TELL
    assert "Of packs of this lot" in fit.verdicts[0].sentence
    assert "of new lots nothing" in fit.verdicts[0].sentence
    trouble = pst.fit_pack(table, grams=250, millilitres=750)  # slack: told of the lot, and not twice
    assert [v.subject for v in trouble.verdicts if v.call == words.SLACK] == ["a"]
    assert not any("Of packs of this lot" in v.sentence for v in trouble.verdicts)
    once = pst.fit_pack(table.iloc[:1], grams=250, millilitres=750)
    assert "Of packs of this lot" not in once.verdicts[0].sentence


def test_where_no_lot_lies_beyond_their_number_alone_sets_a_limit() -> None:
    """1 - 0.05^(1/n), the rule of three."""
    fit = pst.fit_pack(weighed(12, 3, mean=0.40, between=0.004), grams=250, millilitres=750, fill=0.7)
    assert fit.table["plain_high"][0] == pytest.approx(1 - 0.05 ** (1 / 12))
    assert "up to 22 % of all lots may" in fit.verdicts[0].sentence
    beyond = pst.fit_pack(weighed(12, 3, mean=0.335, between=0.02), grams=250, millilitres=750)
    assert np.isnan(beyond.table["plain_high"][0])


def test_leaf_weighed_loose_and_tapped_says_how_far_it_settles() -> None:
    rows = [(lot, state, mass) for lot, loose in (("a", 150.0), ("b", 160.0)) for state, mass in
            (("loose", loose), ("Tapped", loose * 1.1), ("Tapped", loose * 1.2))]  # fmt: skip
    table = pd.DataFrame([*rows, ("c", "loose", 155.0)], columns=["lot", "state", "mass"]).assign(volume=500.0)
    said = next(v for v in pst.fit_pack(table, grams=250, millilitres=900).verdicts if "settle" in v.question)
    assert said.numbers == {"ratio": pytest.approx(1.15), "lots": 2}
    assert "1.15 times" in said.sentence
    assert "87 %" in said.sentence
    loose = pst.fit_pack(table[table["state"] == "loose"], grams=250, millilitres=900)
    assert not any("settle" in v.question for v in loose.verdicts)
    assert any("dust" in v.sentence and "early, middle and late" in v.sentence for v in loose.verdicts)
