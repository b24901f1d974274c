"""Lots across sessions, column by column: scipy's t and studentized range, statsmodels' corrections, each sentence."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from scipy.stats import f as fisher
from scipy.stats import norm, studentized_range
from scipy.stats import t as student
from statsmodels.stats.multitest import multipletests

import panelstats as pst
from panelstats.lots.compare import seasonwords as words
from panelstats.lots.compare.seasoncalls import _not_joined, season_verdicts
from panelstats.lots.compare.seasonfits import season_classes
from panelstats.models.linkedsessions import Joined
from panelstats.result import Act
from tests.lots.test_across_sessions import read, season

CONTROLS = ("C", "K")
DAYS = [["C", "K", *(f"{s}-{k}" for k in range(2))] for s in range(3)]


@cache
def table():
    """Three days; lots differ on brisk, on body a little, on flat not at all."""
    made, _ = season(np.random.default_rng(21), DAYS, words=("brisk", "body", "flat"), noise=0.5)
    rng = np.random.default_rng(22)
    made["body"] = (made["body"] / 8 + 4 + rng.normal(0, 0.5, len(made))).round(2)
    made["flat"] = (5 + rng.normal(0, 1.0, len(made))).round(2)
    return made


@cache
def cells():
    return read(table(), CONTROLS).cells(pots="own")


@cache
def found(adjust="holm", level=0.95, pairs=True, control=None, across="holm"):
    return pst.compare_lots(cells(), pairs=pairs, adjust=adjust, level=level, control=control, across=across)


@cache
def classes():
    return season_classes(cells(), across="holm", level=0.95)


# --- tables ---


def test_components_share_the_whole_and_their_limits_stand_about_the_sd_by_its_log() -> None:
    for _, rows in found().season_components.groupby("descriptor"):
        known = rows.dropna(subset=["variance"])
        np.testing.assert_allclose(known["sd"], np.sqrt(known["variance"]))
        np.testing.assert_allclose(known["share"], known["variance"] / known["variance"].sum())
        above = known[known["variance"] > 0]
        np.testing.assert_allclose(above["low"] * above["high"], above["variance"])
        assert (above["low"] < above["high"]).all()
        at_zero = known[known["variance"] == 0]
        assert (at_zero["low"] == 0).all()
        assert at_zero["high"].isna().all()


def test_limits_of_a_component_follow_the_level_and_the_error_of_a_residual() -> None:
    """A mean square has variance 2 s^4 / df, so that its log SD has 1 / sqrt(2 df)."""
    wide, narrow = (found(level=level).season_components.set_index(["descriptor", "source"]) for level in (0.95, 0.8))
    spread = [np.log(each["high"] / each["sd"]) for each in (wide, narrow)]
    ratio = (spread[0] / spread[1]).dropna()
    np.testing.assert_allclose(ratio, norm.ppf(0.975) / norm.ppf(0.9))
    second_pots, looks = 3 * 4 * 4, 3 * 4 * 4 * 2
    reach = norm.ppf(0.975) / spread[0].xs("residual", level="source")
    assert reach.between(np.sqrt(2 * second_pots) * 0.99, np.sqrt(2 * (looks - 8))).all()


@pytest.mark.parametrize("level", [0.95, 0.8])
def test_means_have_the_interval_of_t_and_deviations_of_the_compared_lots_alone(level) -> None:
    means = found(level=level).season_means
    reach = student.ppf((1 + level) / 2, means["df"]) * means["se"]
    np.testing.assert_allclose(means["high"] - means["mean"], reach)
    np.testing.assert_allclose(means["mean"] - means["low"], reach)
    for _, rows in means.groupby("descriptor"):
        middle = rows.loc[rows["compared"], "mean"].mean()
        np.testing.assert_allclose(rows["deviation"], rows["mean"] - middle, atol=1e-9)
        above, below = rows["deviation_high"] - rows["deviation"], rows["deviation"] - rows["deviation_low"]
        np.testing.assert_allclose(above, below)
        assert (above > 0).all()
    assert (means["tasters"] == 4).all()
    assert set(zip(means["lot"].isin(CONTROLS), means["sessions"], strict=True)) == {(True, 3), (False, 1)}


def test_means_are_in_the_points_of_the_sheet() -> None:
    """The controls met every taster on every day: their mean is the plain mean of their marks."""
    plain = table().groupby("lot")[["brisk", "body"]].mean()
    means = found().season_means.set_index(["descriptor", "lot"])["mean"]
    for name in ("brisk", "body"):
        for lot in CONTROLS:
            assert means[name, lot] == pytest.approx(plain.loc[lot, name], abs=0.02)


@pytest.mark.parametrize("adjust", ["tukey", "holm", "none"])
def test_pairs_are_tested_by_t_and_allow_for_one_another(adjust) -> None:
    """scipy's studentized range (k lots, Satterthwaite df), statsmodels' Holm, Bonferroni's interval."""
    for name, rows in found(adjust).season_pairs.groupby("descriptor"):
        assert len(rows) == 15
        t = rows["difference"] / rows["se"]
        p = 2 * student.sf(np.abs(t), rows["df"])
        np.testing.assert_allclose(rows["p"], p, rtol=1e-7)
        half = rows["high"] - rows["difference"]
        np.testing.assert_allclose(half, rows["difference"] - rows["low"])
        if adjust == "tukey":
            if name == "brisk":  # scipy takes its time
                near = np.abs(t).argmin()
                se, df = rows["se"].iloc[near], rows["df"].iloc[near]
                wanted = studentized_range.sf(np.sqrt(2) * np.abs(t.iloc[near]), 6, df)
                assert rows["p_adjusted"].iloc[near] == pytest.approx(wanted, abs=2e-4)
                assert studentized_range.sf(np.sqrt(2) * half.iloc[near] / se, 6, df) == pytest.approx(0.05, abs=2e-4)
        else:
            each = {"holm": (multipletests(p, method="holm")[1], 15), "none": (p, 1)}[adjust]
            np.testing.assert_allclose(rows["p_adjusted"], each[0], rtol=1e-7)
            np.testing.assert_allclose(half, student.ppf(1 - 0.025 / each[1], rows["df"]) * rows["se"], rtol=1e-7)


def test_against_one_lot_the_others_are_tested_alone_or_with_one_another() -> None:
    alone, dunnett = (found(adjust, control="C").season_pairs for adjust in ("none", "tukey"))
    for rows in (alone, dunnett):
        assert set(rows["lot_b"]) == {"C"}
        assert list(rows.loc[rows["descriptor"] == "brisk", "lot_a"]) == ["0-0", "0-1", "1-0", "1-1", "2-0", "2-1"]
    np.testing.assert_allclose(alone["p_adjusted"], alone["p"])
    np.testing.assert_allclose(alone["high"] - alone["difference"], student.ppf(0.975, alone["df"]) * alone["se"])
    np.testing.assert_allclose(dunnett["p"], alone["p"])
    assert (dunnett["p_adjusted"] >= dunnett["p"]).all()
    assert (dunnett["p_adjusted"] <= np.minimum(6 * dunnett["p"], 1) + 1e-3).all()  # Bonferroni is the most
    half, most = dunnett["high"] - dunnett["difference"], student.ppf(1 - 0.025 / 6, dunnett["df"]) * dunnett["se"]
    assert (half > (alone["high"] - alone["difference"])).all()
    assert (half <= most * 1.001).all()


def test_the_test_of_all_lots_has_its_p_and_holm_goes_over_the_words() -> None:
    anova = found().season_anova.set_index("descriptor")
    assert (anova["df"] == 5).all()
    assert (anova["sessions"] == 3).all()
    assert (anova["lots"] == 6).all()
    assert set(anova["joined_by"]) == {"C and K"}
    np.testing.assert_allclose(anova["p"], fisher.sf(anova["statistic"], 5, anova["df_error"]))
    np.testing.assert_allclose(anova["p_adjusted"], multipletests(anova["p"], method="holm")[1])
    plain = found(across="none").season_anova.set_index("descriptor")
    np.testing.assert_allclose(plain["p_adjusted"], anova["p"])


def test_pairs_come_unasked_only_where_the_lots_are_shown_to_differ() -> None:
    shown = set(found().season_anova.query("p_adjusted < 0.05")["descriptor"])
    assert "brisk" in shown
    assert "flat" not in shown
    assert set(found(pairs=None).season_pairs["descriptor"]) == shown
    assert found(pairs=False).season_pairs.empty
    assert len(found(pairs=True).season_pairs) == 45


# --- what is said ---


def test_a_season_is_told_by_its_links_and_what_days_do() -> None:
    verdicts = season_verdicts(classes())
    said = verdicts[0]
    assert (said.call, said.act) == (words.JOINED, Act.KNOW)
    assert said.numbers == {"sessions": 3, "links": 2}
    assert "3 sessions (day0 to day2)" in said.sentence
    assert "C and K were tasted" in said.sentence
    sd = found().season_components.pivot_table("sd", "source", "descriptor")
    for source in ("session", "taster:session"):
        assert f"{sd.loc[source].min():.2f} to {sd.loc[source].max():.2f}" in said.sentence
    assert said.next_step.startswith("3 sessions tell little")
    four, _ = season(np.random.default_rng(3), [*DAYS, ["C", "3-0", "3-1"]], tasters="abc")
    (told,) = [v for v in pst.compare_lots(read(four, ["C", "K"]), pots="own").verdicts if v.call == words.JOINED]
    assert told.next_step == words.SAME_TEA


def test_one_link_was_and_many_are_shortened() -> None:
    (one,) = classes()
    for links, sentence in ((1, "C was tasted"), (2, "C and K were"), (5, "were tasted"), (6, "2 more lots")):
        part = one.parts[0]
        places = np.r_[np.flatnonzero(np.isin(one.lots, CONTROLS)), np.flatnonzero(one.compared)][:links]
        said = season_verdicts([replace(one, parts=[replace(part, links=places)])])[0]
        assert sentence in said.sentence.replace("2 lots more", "2 more lots")
        assert ("more" in said.sentence) == (links == 6)


def test_a_difference_is_that_of_the_highest_and_the_lowest_compared_lot() -> None:
    verdict = next(v for v in season_verdicts(classes()) if v.subject == "brisk")
    rows = found("tukey").season_pairs.query("descriptor == 'brisk'").set_index(["lot_a", "lot_b"])
    means = found().season_means.query("descriptor == 'brisk' and compared").set_index("lot")["mean"]
    top, bottom = means.idxmax(), means.idxmin()
    row = rows.loc[(top, bottom)] if (top, bottom) in rows.index else rows.loc[(bottom, top)]
    sign = 1 if (top, bottom) in rows.index else -1
    ends = sorted(sign * row[["low", "high"]].to_numpy(float))
    assert f"Lot {top} scores" in verdict.sentence
    assert f"above lot {bottom}" in verdict.sentence
    assert verdict.numbers["difference"] == pytest.approx(sign * row["difference"])
    assert [verdict.numbers["low"], verdict.numbers["high"]] == pytest.approx(ends, rel=2e-3)
    assert verdict.numbers["p"] == pytest.approx(
        found().season_anova.set_index("descriptor").loc["brisk", "p_adjusted"]
    )
    assert verdict.act is Act.DECIDE
    assert "one brew" not in verdict.sentence
    (one,) = classes()
    brewed = replace(one.parts[0], one_brew=np.array([True, False, False]))
    said = season_verdicts([replace(one, parts=[brewed])])
    assert ["one brew" in v.sentence for v in said if v.subject == "brisk"] == [True]


def test_what_is_not_told_apart_is_one_verdict_with_the_least_that_would_show() -> None:
    open_ = [v for v in season_verdicts(classes()) if "Cannot tell" in v.sentence]
    (verdict,) = open_
    shown = set(found().season_anova.query("p_adjusted < 0.05")["descriptor"])
    rest = [name for name in ("brisk", "body", "flat") if name not in shown]
    assert all(name in verdict.sentence for name in rest)
    assert verdict.subject == (rest[0] if len(rest) == 1 else "")
    pairs = found("tukey").season_pairs
    least = []
    for name in rest:
        rows = pairs[pairs["descriptor"] == name]
        half = rows["high"] - rows["difference"]
        least.append((half.min(), half.max()))
    assert min(low for low, _ in least) <= verdict.numbers["least_difference_low"]
    assert verdict.numbers["least_difference_high"] <= max(high for _, high in least)
    assert verdict.next_step == words.MORE_TOLD


def test_sessions_that_nothing_joins_are_named_and_the_words_where_not_all() -> None:
    (one,) = classes()
    one = replace(one, sessions=np.array([f"day{n}" for n in range(7)]))
    groups = [np.array([0, 1, 2]), np.array([3]), np.array([4, 5])]
    whole = _not_joined(replace(one, joined=[Joined(np.arange(3), groups)]))
    assert len(whole) == 1
    assert "day0, day1 and day2; day3; day4 and day5" in whole[0].sentence
    assert whole[0].numbers == {"groups": 3}
    assert "brisk" not in whole[0].sentence
    long = _not_joined(replace(one, joined=[Joined(np.arange(3), [np.arange(4), np.array([4])])]))
    assert "day0 to day3; day4" in long[0].sentence
    part = [Joined(np.array([1]), groups), Joined(np.array([0, 2]), [np.arange(7)])]
    (told,) = _not_joined(replace(one, joined=part))
    word = str(one.descriptors[1])
    assert f"on {word}" in told.sentence
    same = [Joined(np.array([1]), groups), Joined(np.array([0]), groups), Joined(np.array([2]), [np.arange(7)])]
    (both,) = _not_joined(replace(one, joined=same))
    assert str(one.descriptors[0]) in both.sentence
    assert not _not_joined(replace(one, joined=[Joined(np.arange(3), [np.arange(7)])]))
