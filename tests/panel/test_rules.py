"""What is said of tasters follows by the written rules from the numbers beside it; the order shown, from a library."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
from scipy import stats
from statsmodels.formula.api import ols
from statsmodels.stats.anova import anova_lm
from statsmodels.stats.multitest import multipletests

import panelstats as pst
from panelstats.panel.tasters.assessed import worst_of
from panelstats.panel.tasters.declared import scales
from panelstats.panel.tasters.finding import finding
from panelstats.panel.tasters.judgement import Bench
from panelstats.panel.tasters.naming import Split, name_tasters
from panelstats.panel.tasters.ordershown import orders
from panelstats.panel.tasters.reasons import NO_VARIATION, STEADY, UNLINKED, WRONG_WAY_ROUND, _note
from tests.panel.invented import pool
from tests.panel.sheets import NAMES, scores_of
from tests.panel.test_columns import exactly, one, room

JUDGED = ["level", "repeatability", "discrimination", "agreement", "scale_use"]


def bench_of(y, tolerance=4.0):
    return Bench(pool(y, shared=False), np.full(y.shape[3], tolerance))


# ── the order of the lots ────────────────────────────────────────────────────────────────────────────────────────────


def shown(y, tolerance=4.0, scale=10.0):
    bench = bench_of(y, tolerance)
    names = name_tasters(bench, y.shape[1])
    return orders(bench, names, np.full(len(y), np.nan), np.full(y.shape[3], scale))


def test_lots_differ_on_a_word_by_the_two_way_f_of_standardised_marks_after_holm():
    y = room(9, 4, 2, 3, noise=2.5, seed=5)
    cell = y.mean(axis=2)
    z = (cell - cell.mean(axis=0)) / cell.std(axis=0)
    p = []
    for d in range(3):
        long = pd.DataFrame({"z": z[..., d].ravel()})
        long["lot"], long["taster"] = np.indices((9, 4)).reshape(2, -1)
        lines = anova_lm(ols("z ~ C(lot) + C(taster)", long).fit())
        p.append(lines.loc["C(lot)", "PR(>F)"])
    assert max(p) > 1e-3
    found = shown(y)
    assert found.descriptor_p == pytest.approx(multipletests(p, method="holm")[1], rel=1e-9)
    assert list(found.on) == [bool(found.panel_p < 0.01 and q < 0.05) for q in found.descriptor_p]


def test_marks_in_one_order_are_the_rarest_of_their_shuffles_and_a_reversed_taster_the_commonest():
    y = room(12, 5, 1, 1, noise=0.2)
    y[:, 4] = 10 - y[:, 4]
    found = shown(y)
    assert found.panel_p == pytest.approx(1 / 500)  # 499 shuffles, none as far
    assert found.own_p[:4] == pytest.approx(1 / 500)
    assert found.own_p[4] == pytest.approx(1.0)
    assert list(found.own_shown) == [True] * 4 + [False]


def test_chances_of_shuffled_marks_are_those_of_all_orders():
    """4 lots, 3 tasters: all 24 orders of the third; scipy counts them."""
    y = np.array([[1.0, 2, 2], [2, 1, 4], [3, 4, 1], [4, 3, 3.5]])[:, :, None, None]
    y = y + np.array([0.0, 0.1, 0.2, 0.4])[:, None, None, None]
    cell = y[..., 0, 0]
    x = stats.zscore(np.delete(cell, 2, axis=1).mean(axis=1))
    exact = stats.permutation_test(
        (stats.zscore(cell[:, 2]),), lambda own, axis: (own * x).sum(axis=axis), permutation_type="pairings",
        alternative="greater",
    ).pvalue  # fmt: skip
    assert shown(y).own_p[2] == pytest.approx(exact, abs=4 * np.sqrt(exact * (1 - exact) / 499))


def test_spread_is_told_in_the_sd_of_marks_drawn_evenly_over_the_scale():
    y = room(12, 4, 1, 2)
    wanted = (y[:, :, 0].std(axis=0, ddof=1) / np.sqrt(100 / 12)).mean(axis=1)  # uniform: variance = length^2 / 12
    found = shown(y)
    assert found.spread == pytest.approx(wanted, **exactly)
    assert not found.as_blind.any()
    drawn = np.random.default_rng(0).uniform(0, 10, (40, 4, 1, 2))
    assert shown(drawn).as_blind.all()


def test_a_level_is_held_to_a_tenth_of_the_scale_one_sided():
    y = room(20, 5, 2, 1, noise=0.3)
    y[:, 0] += 1.2
    held = {scale: shown(y, tolerance=4.0, scale=scale).level_held for scale in (10.0, 40.0)}
    assert not held[10.0][0]
    assert held[40.0].all()
    assert shown(y, tolerance=0.5, scale=40.0).level_held[0] == np.False_


def test_the_length_of_a_scale_is_what_is_declared_else_what_was_seen():
    y = np.round(room(8, 3, 1, 2))
    bare = scores_of(y)
    flat = y.reshape(-1, 2)
    from panelstats.panel.tasters.reference import pool_of

    assert scales(bare, pool_of(bare)) == pytest.approx(np.ptp(flat, axis=0))
    lot, taster = np.indices(y.shape[:2]).reshape(2, -1)
    sheet = pd.DataFrame({"lot": lot, "taster": [NAMES[i] for i in taster], "word 1": flat[:, 0], "word 2": flat[:, 1]})
    words = pd.DataFrame({"descriptor": ["word 1", "word 2"], "low": [-2, np.nan], "high": [13, np.nan]})
    told = pst.read_scores(sheet, room={"descriptors": words}).cells(pots="own")
    assert scales(told, pool_of(told)) == pytest.approx([15, np.ptp(flat[:, 1])])


# ── calls and reasons from the columns ───────────────────────────────────────────────────────────────────────────────


@pytest.fixture(scope="module")
def assessed():
    y = room(30, 10, 2, 4, noise=0.5, seed=3)
    y[:, 1] = 10 - y[:, 1]  # upside down
    y[:, 2] += 2.0  # a level
    centre = y[:, 3].mean(axis=1, keepdims=True)
    y[:, 3] = centre + 0.2 * (y[:, 3] - centre)  # repeats himself closely
    mean = y[:, 4, :, 0].mean()
    y[:, 4, :, 0] = mean + 0.5 * (y[:, 4, :, 0] - mean)  # a short scale
    return pst.assess_tasters(scores_of(y), tolerance=0.5)


def test_a_call_follows_from_the_interval_and_the_tolerance(assessed):
    table = assessed.table
    tested = table[table["aspect"].isin(JUDGED) & table["p"].notna()]
    inside = (tested["low"] >= tested["floor"]) & (tested["high"] <= tested["ceiling"])
    order = assessed.summary.set_index("taster")["order_p"] < 0.01
    follows = tested["taster"].map(order)
    expected = inside & (follows | tested["aspect"].isin(["discrimination", "agreement", "scale_use"]))
    apart = tested["call"] == "apart"
    assert ((tested["call"] == "with the panel") == (expected & ~apart)).all()
    outside = (tested["high"] < tested["floor"]) | (tested["low"] > tested["ceiling"])
    assert outside[apart].mean() > 0.9  # what is named lies outside, but for a p that is two-sided over many
    assert {"beech", "elm"} <= set(tested.loc[apart, "taster"])
    assert not apart[tested["taster"] == "alder"].any()


def test_a_reason_follows_from_the_columns_it_stands_beside(assessed):
    table = assessed.table[assessed.table["p"].notna()]
    wrong_way = (table["aspect"] == "scale_use") & (table["high"] < 0)
    said = table["reason"].str.contains("wrong way round") & (table["aspect"] == "scale_use")
    named = table["call"] == "apart"
    assert (said[named] == wrong_way[named]).all()
    assert set(table.loc[named & wrong_way, "taster"]) == {"beech"}
    assert ((table["aspect"] == "scale_use") & named & ~wrong_way).any()  # a short scale is not called that
    steady = (table["aspect"] == "repeatability") & (table["estimate"] < 0.5) & (table["high"] < 1)
    assert (table["reason"].str.contains("unusually steady") == steady).all()
    assert set(table.loc[steady, "taster"]) == {"hornbeam", "larch"}  # half the scale halves the spread
    assert (~steady[table["aspect"] == "repeatability"]).any()


@pytest.mark.parametrize(("aspect", "estimate", "high", "said"), [
    ("repeatability", 0.49, 0.99, STEADY), ("repeatability", 0.5, 0.9, ""), ("repeatability", 0.4, 1.01, ""),
    ("scatter", 0.4, 0.9, ""), ("scale_use", 0.4, 0.9, ""), ("scale_use", -0.4, -0.1, WRONG_WAY_ROUND),
    ("scale_use", -0.4, 0.1, ""), ("agreement", -0.4, -0.1, ""),
    ("repeatability", 0.0, 0.0, f"{STEADY}; {NO_VARIATION}"),
])  # fmt: skip
def test_a_note_is_made_where_its_numbers_ask_for_it(aspect, estimate, high, said):
    found = SimpleNamespace(estimate=np.array([[estimate]]), high=np.array([[high]]))
    judgement = SimpleNamespace(reference=SimpleNamespace(parts=np.array([[1]])))
    told = SimpleNamespace(descriptors=["x"], at_ends=np.array([[0.2]]), names=SimpleNamespace(judgement=judgement))
    assert _note(told, aspect, found, 0, 0) == said
    told.at_ends = np.array([[0.21]])
    assert ("21% of the marks" in _note(told, aspect, found, 0, 0)) == (aspect in ("repeatability", "scale_use"))
    judgement.reference.parts = np.array([[2]])
    assert UNLINKED in _note(told, aspect, found, 0, 0)


def test_more_lots_are_those_in_all_less_those_there(assessed):
    table = assessed.table[assessed.table["reason"].str.contains("more lots would settle")]
    assert len(table)
    said = table["reason"].str.extract(r"about (\d+) more lots")[0].astype(int)
    assert (said == (table["lots_in_all"] - 30).clip(lower=1)).all()
    never = assessed.table[assessed.table["lots_in_all"].map(np.isinf) & (assessed.table["call"] == "cannot tell")]
    assert not never["reason"].str.contains("more lots would").any()


def test_the_worst_is_the_surest_of_what_is_named(assessed):
    named = assessed.table[assessed.table["call"] == "apart"]
    for row in assessed.summary[assessed.summary["call"] == "apart"].to_dict("records"):
        mine = named[named["taster"] == row["taster"]]
        whole = mine[mine["descriptor"] == ""]
        if len(whole):
            assert row["worst"].endswith("over all descriptors")
            mine = whole
        best = mine.loc[mine["p"].idxmin()]
        where = "over all descriptors" if best["descriptor"] == "" else f"of {best['descriptor']}"
        word = {"scale_use": "scale use", "agreement": "order", "discrimination": "telling lots apart"}
        assert where in row["worst"] or word.get(best["aspect"], best["aspect"]) in row["worst"]


def of_two_words(p, over_p, calls, over="cannot tell", edge=0.5):
    """One taster on two words, every interval inside its tolerance."""
    cells, whole = (
        finding(np.zeros(n), (np.full(n, -0.1), np.full(n, 0.4)), np.array(chance), floor=-edge, ceiling=edge,
                why=np.full(n, "", object))
        for n, chance in ((2, p), (1, [over_p]))
    )  # fmt: skip
    cells = replace(cells, **{name: value[None] for name, value in vars(cells).items()})
    judgement = SimpleNamespace(cells={"level": cells}, tasters={"level": whole})
    out = {"level": np.zeros((1, 2), bool)}, {"level": np.zeros(1, bool)}
    names = SimpleNamespace(judgement=judgement, cells={}, cells_out=out[0], tasters_out=out[1])
    told = SimpleNamespace(cells={"level": np.array([calls])}, tasters={"level": np.array([over])})
    return SimpleNamespace(judged=("level",), descriptors=["x", "y"], names=names, calls=told)


def test_the_worst_is_what_is_named_then_the_smaller_p_and_nothing_where_all_is_inside():
    assert worst_of(of_two_words([1e-4, 1e-3], 0.5, ["apart", "apart"]), 0) == ("level", 0)
    assert worst_of(of_two_words([1e-3, 1e-4], 0.5, ["apart", "apart"]), 0) == ("level", 1)
    assert worst_of(of_two_words([1e-3, 1e-4], 0.5, ["apart", "apart"], "apart"), 0) == ("level", -1)
    assert worst_of(of_two_words([1e-5, 1e-4], 0.5, ["cannot tell", "apart"]), 0) == ("level", 1)
    assert worst_of(of_two_words([0.9, 0.9], 0.9, ["with the panel"] * 2, "with the panel"), 0) == ("", -1)


def test_with_one_word_alone_the_worst_names_no_word_beside_all_of_them():
    y = room(25, 5, 2, 1, noise=0.4)
    y[:, 1] += 2
    assert one(pst.assess_tasters(scores_of(y), tolerance=0.5).summary, taster="beech")["worst"].startswith("level")


def test_marks_that_squeeze_at_an_end_are_told_with_their_share():
    rng = np.random.default_rng(5)
    y = np.clip(np.round(8.4 + 2 * rng.normal(size=(20, 1, 1, 1)) + 0.7 * rng.normal(size=(20, 5, 2, 1))), 0, 10)
    lot, taster, pot = np.indices(y.shape[:3]).reshape(3, -1)
    sheet = pd.DataFrame({"lot": lot + 100, "taster": [NAMES[i] for i in taster], "pot": pot + 1, "w": y.ravel()})
    words = pd.DataFrame({"descriptor": ["w"], "low": [0], "high": [10]})
    table = pst.assess_tasters(pst.read_scores(sheet, room={"descriptors": words}).cells(pots="own"), tolerance=1).table
    for i, name in enumerate(NAMES[:5]):
        share = np.isin(y[:, i].mean(axis=1), [0, 10]).mean()  # a lot's mark is the mean of its servings
        row = one(table, taster=name, aspect="scale_use", descriptor="w")
        assert (f"{share:.0%} of the marks lie at the ends" in row["reason"]) == (share > 0.2)
    assert table["reason"].str.contains("at the ends").any()
    assert not table.loc[table["aspect"] == "level", "reason"].str.contains("at the ends").any()


# ── splits ───────────────────────────────────────────────────────────────────────────────────────────────────────────


def test_two_camps_of_a_level_stand_on_either_side_of_nought():
    y = room(25, 4, 2, 1, noise=0.3)
    y -= y.mean(axis=(0, 2), keepdims=True) - 5
    y[:, :3] += 0.9
    y[:, 3] -= 0.9
    y[:, 2] -= 1.8
    names = name_tasters(bench_of(y, 0.3), 4)
    assert not any(mask.any() for mask in names.tasters.values())
    found = {split.aspect: split for split in names.splits}
    assert found["level"] == Split("level", found["level"].descriptor, (0, 1), (2, 3))


def test_camps_of_any_other_aspect_stand_on_either_side_of_their_median():
    y = room(30, 4, 2, 1, noise=0.15)
    middle = y.mean(axis=(0, 2), keepdims=True)
    y = middle + (y - middle) * np.array([1.0, 1.05, 0.3, 0.32])[:, None, None]
    names = name_tasters(bench_of(y, 9.0), 4)
    wide = [split for split in names.splits if split.aspect == "scale_use"]
    assert [(split.above, split.below) for split in wide] == [((0, 1), (2, 3))]


# ── agreement with gaps ──────────────────────────────────────────────────────────────────────────────────────────────


def test_a_taster_who_missed_a_lot_has_no_part_in_whether_classes_differ():
    """One-way analysis of variance of the lots would count his level as a difference of theirs."""
    y = room(12, 4, 1, 1, seed=8)[:, :, 0, 0]
    y[6:] += 1
    y[3, 1] = np.nan
    lots = pd.DataFrame({"lot": [f"{100 + j}" for j in range(12)], "class": ["low"] * 6 + ["high"] * 6})
    sheet = pd.DataFrame(y, columns=list(NAMES[:4])).assign(lot=lots["lot"])
    sheet = sheet.melt("lot", var_name="taster", value_name="strength").dropna()
    others = sheet[sheet["taster"] != NAMES[1]]
    found, rest = (
        pst.panel_agreement(pst.read_scores(each, room={"lots": lots}), pots="own").classes for each in (sheet, others)
    )
    pd.testing.assert_frame_equal(found, rest)
    assert np.isfinite(found["p"]).all()
