"""Licences and calls of agreement by the written rules, one finding changed at a time."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
from scipy import stats
from statsmodels.formula.api import ols
from statsmodels.stats.anova import anova_lm

import panelstats as pst
from panelstats.panel.agreement.tables import _band, _call
from panelstats.panel.agreement.words import agreement_verdicts, reach
from panelstats.panel.training.licence import licence
from panelstats.panel.training.tables import more_lots
from tests.panel.sheets import NAMES, scores_of
from tests.panel.test_columns import one, room, trained, trial_of

WORDS = 6


@pytest.fixture(scope="module")
def sound():
    found = trial_of()[1]
    assert licence(found).overall == "ready"
    return found


def changed(found, name, **parts):
    """The trial with one finding changed: a number on every word, or an array by word."""
    old = getattr(found, name)
    new = {
        k: np.broadcast_to(np.asarray(v, object if k == "why" else float), old.estimate.shape) for k, v in parts.items()
    }
    return replace(found, **{name: replace(old, **new)})


def on_first(value, rest):
    return np.array([[value, *[rest] * (WORDS - 1)]])


def test_a_licence_is_withheld_by_the_first_thing_in_the_way(sound):
    for changes, reason in (
        ([("level", {"why": np.array([["too few lots", *[""] * 5]], object)})], "fewer than 8 lots"),
        ([("level", {"low": on_first(-0.6, -0.1), "high": on_first(0.1, 0.1)})], "level not yet shown"),
        ([("level", {"low": on_first(-0.1, -0.1), "high": on_first(0.6, 0.1)})], "level not yet shown"),
        ([("slope", {"why": np.array([["constant scores", *[""] * 5]], object)})], "every lot got the same mark"),
        ([("slope", {"low": on_first(1.6, 0.9), "high": on_first(1.8, 1.1)})], "scale use stands out"),
        ([("slope", {"low": on_first(0.2, 0.9), "high": on_first(0.6, 1.1)})], "scale use stands out"),
        ([("steadiness", {"p": on_first(0.024, 1.0)})], "marks spread beyond"),
    ):
        found = sound
        for name, parts in changes:
            found = changed(found, name, **parts)
        told = licence(found)
        assert told.call[0] == "cannot tell"
        assert told.reason[0].startswith(reason)
        assert list(told.call[1:]) == ["ready"] * 5
        assert told.kind[0] == ""
    assert list(licence(changed(sound, "steadiness", p=on_first(0.026, 1.0))).call) == ["ready"] * WORDS
    assert licence(replace(sound, slope_low=np.array([0.0, 1, 1, 1, 1, 1]))).call[0] == "cannot tell"


def test_what_is_open_over_all_words_withholds_every_licence(sound):
    for name, reason in (("slope_all", "scale use over all"), ("steadiness_all", "steadiness over all")):
        old = getattr(sound, name)
        wide = replace(sound, **{name: replace(old, high=np.array([9.0]))})
        told = licence(wide)
        assert list(told.call) == ["cannot tell"] * WORDS
        assert all(text.startswith(reason) for text in told.reason)
        assert told.overall == "cannot tell"
    level = replace(sound, level_all=replace(sound.level_all, high=np.array([9.0])))
    assert list(licence(level).call) == ["ready"] * WORDS
    assert licence(level).overall == "cannot tell"


def test_two_sessions_make_a_licence_and_one_does_not(sound):
    evidence = replace(sound.evidence, sessions=np.array([1, *sound.evidence.sessions[1:]]))
    told = licence(replace(sound, evidence=evidence))
    assert set(told.call) == {"cannot tell"}
    assert "one session only" in told.reason[0]
    evidence = replace(sound.evidence, sessions=np.array([2, *sound.evidence.sessions[1:]]))
    assert licence(replace(sound, evidence=evidence)).overall == "ready"


def test_not_yet_is_beyond_tolerance_after_benjamini_and_hochberg(sound):
    """0.05 / 6 is the edge of a single word among six; 0.05 where all six have as much."""
    for p, call in ((0.05 / 6 - 1e-4, "not yet"), (0.05 / 6 + 1e-4, "ready")):
        told = licence(changed(sound, "level", p=on_first(p, 1.0)))
        assert told.call[0] == call
        assert told.overall == ("not yet" if call == "not yet" else "ready")
    assert set(licence(changed(sound, "level", p=0.049)).call) == {"not yet"}
    assert set(licence(changed(sound, "level", p=0.051)).call) == {"ready"}
    both = changed(changed(sound, "level", p=on_first(1e-3, 1.0)), "slope", p=on_first(1e-4, 1.0))
    told = licence(both)
    assert told.reason[0] == "beyond tolerance on level and scale use"
    assert told.worst == ("scale_use", 0)


def test_the_worst_over_all_words_is_the_smallest_p_of_what_is_not_inside(sound):
    slope = replace(sound.slope_all, high=np.array([9.0]), p=np.array([0.3]))
    steady = replace(sound.steadiness_all, high=np.array([9.0]), p=np.array([0.2]))
    assert licence(replace(sound, slope_all=slope, steadiness_all=steady)).worst[0] in ("repeatability", "scatter")
    slope = replace(slope, p=np.array([0.1]))
    assert licence(replace(sound, slope_all=slope, steadiness_all=steady)).worst == ("scale_use", -1)
    level = changed(
        sound, "level", high=np.array([[0.1, 0.6, 0.1, 0.7, 0.1, 0.1]]), p=np.array([[1, 0.3, 1, 0.2, 1, 1]])
    )
    assert licence(level).worst == ("level", 3)


def test_a_full_licence_needs_slope_and_steadiness_on_the_word_itself(sound):
    shown = np.array([True, False, True, False, True, True])
    steady = np.array([True, True, False, False, True, True])
    told = licence(replace(sound, slope_shown=shown, steadiness_shown=steady))
    assert list(told.kind) == ["full", "level only", "level only", "level only", "full", "full"]


def test_more_lots_are_those_in_all_less_those_seen():
    for needed, said in ((60.0, "about 12 more lots"), (48.0, "about 1 more lots"), (np.inf, "would not settle it")):
        open_ = SimpleNamespace(lots_in_all=np.array([needed]), call=np.array(["cannot tell"]))
        judged = SimpleNamespace(licence=open_, trial=SimpleNamespace(lots=np.array([48])))
        assert said in more_lots(judged, 0)
    judged.licence.call = np.array(["ready"])
    assert more_lots(judged, 0) == ""


def test_the_table_of_a_trainee_carries_what_was_found():
    y = room(24, 4, 2, 3, seed=5, noise=0.4)
    y[:, 0, :, 1] = 10 - y[:, 0, :, 1]
    found = trained(y, 3)
    table = found.table.set_index("descriptor")
    cell = y.mean(axis=2)
    session = np.arange(24) * 3 // 24
    for d in range(3):
        row = table.loc[f"word {d + 1}"]
        away = cell[..., d] - np.array([cell[session == s, :, d].mean(axis=0) for s in session])
        x, own = away[:, 1:].mean(axis=1), away[:, 0]
        rest = away[:, 1:] - x[:, None]
        noise = (rest**2).sum() / (21 * 2)
        assert row["slope"] == pytest.approx((x @ own) / (x @ x) / max(0.2, 1 - noise / (3 * (x @ x) / 21)), rel=1e-9)
        assert row["slope_low"] < row["slope"] < row["slope_high"]
        within = y[..., d].var(axis=2, ddof=1).sum(axis=0)
        ratio = within[0] / within[1:].mean()
        ends = np.sqrt(ratio / stats.f.ppf([0.5, 0.975, 0.025], 24, 72) * [stats.f.ppf(0.5, 24, 72), 1, 1])
        assert [row["spread"], row["spread_low"], row["spread_high"]] == pytest.approx(list(ends))
        assert (row["tolerance"], row["lots"], row["spread_from"]) == (0.5, 24, "repeats")
    assert table.loc["word 2", "call"] == "not yet"
    assert "wrong way round" in found.summary["lesson"].iloc[0]
    assert "word 2" in found.summary["lesson"].iloc[0]
    assert found.summary["counted_from"].iloc[0] == "2031-01-01"
    assert set(found.table["trainee"]) == {NAMES[0]}


# ── agreement ────────────────────────────────────────────────────────────────────────────────────────────────────────


@pytest.mark.parametrize(("low", "high", "call"), [
    (0.5, 0.9, "agree"), (0.499, 0.9, "cannot tell"), (0.1, 0.499, "apart"), (0.1, 0.5, "cannot tell")])  # fmt: skip
def test_half_of_the_spread_is_the_line_of_agreement(low, high, call):
    row = pd.Series({"tasters": 3, "lots": 5, "p_lots": 0.001, "share_low": low, "share_high": high})
    assert _call(row)[0] == call
    for change, reason in (({"tasters": 1}, "one taster"), ({"lots": 1}, "one lot"), ({"p_lots": np.nan}, "nothing to"),
                           ({"share_low": np.nan}, "no interval")):  # fmt: skip
        told = _call(pd.Series(row.to_dict() | change))
        assert told[0] == "cannot tell"
        assert reason in told[1]
    assert _call(pd.Series(row.to_dict() | {"tasters": 2, "lots": 2}))[0] == call
    assert _call(pd.Series(row.to_dict() | {"p_lots": 0.01}))[0] == "too alike to judge"


def test_the_bands_begin_where_they_are_printed():
    """Koo & Li 2016, J Chiropr Med 15: 155."""
    assert [_band(x) for x in (0.49, 0.5, 0.74, 0.75, 0.89, 0.9)] == [
        "poor", "moderate", "moderate", "good", "good", "excellent"]  # fmt: skip


def agreed(**columns):
    base = {"descriptor": ["a", "b"], "call": "agree", "tasters": [4, 5], "lots": [9, 9], "icc_mean": [0.8, 0.9],
            "icc_consistency_mean": [0.9, 0.9], "share": [0.8, 0.904], "share_low": [0.6, 0.716],
            "share_high": [0.9, 0.95], "mark_reach": [0.44, 0.66], "p_lots": 0.001, "reason": ""}  # fmt: skip
    return pd.DataFrame(base | columns)


def test_sentences_of_agreement_carry_the_numbers_of_the_table():
    (verdict,) = agreement_verdicts(agreed(), [""], "")
    said = verdict.sentence
    assert "The 5 tasters agree" in said
    assert "a 80 % (60 to 90 %)" in said
    assert "b 90 % (72 to 95 %)" in said
    assert "0.4 to 0.7 points" in said
    assert "use different levels" not in said
    assert verdict.numbers == {"icc_mean a": 0.8, "icc_mean b": 0.9}
    (verdict,) = agreement_verdicts(agreed(icc_mean=[0.6, 0.9]), [""], "w1")
    assert verdict.sentence.startswith("Session w1: ")
    assert "On a the tasters order the lots alike but use different levels" in verdict.sentence
    assert reach(agreed(mark_reach=[0.44, 0.41])) == "0.4"
    assert reach(agreed(mark_reach=np.nan)) == ""
    wide = agreement_verdicts(agreed(call="cannot tell", reason="x: the interval is too wide"), [""], "")[0]
    assert "with about 18 instead of 9" in wide.next_step
    parts = agreement_verdicts(agreed(call=["apart", "too alike to judge"]), ["x", "y"], "")
    assert [v.call for v in parts] == ["apart", "cannot tell"]
    assert [v.subject for v in parts] == ["a", "b"]
    assert "between the lots of a class" in parts[1].sentence


def test_shares_of_unbalanced_marks_count_looks_and_tasters_by_their_harmonic_means():
    """Own pots, two looks a cell but one: 70 cells have 70 / (69 / 2 + 1) looks by their harmonic mean."""
    y = room(14, 5, 2, 1, seed=3)
    found = one(pst.panel_agreement(scores_of(y)).table)
    long = pd.DataFrame({"y": y.ravel()})
    long["lot"], long["taster"], _, _ = np.indices(y.shape).reshape(4, -1)
    ms = anova_lm(ols("y ~ C(lot) * C(taster)", long).fit())["mean_sq"]
    inter, error = ms["C(lot):C(taster)"], ms["Residual"]
    lot, level = (ms["C(lot)"] - inter) / 10, (ms["C(taster)"] - inter) / 28
    mark = level / 5 + (max(inter - error, 0) / 2 + error / 2) / 5
    if inter > error:
        assert found["mark_se"] == pytest.approx(np.sqrt(mark), rel=1e-5)
    assert found["lot_sd"] == pytest.approx(np.sqrt(lot), rel=1e-3)
    y[3, 2, 1] = np.nan
    gap = one(pst.panel_agreement(scores_of(y)).table)
    assert (gap["lots"], gap["tasters"]) == (14, 5)
    looks = 70 / (69 / 2 + 1)
    shares = pst.compare_lots(scores_of(y), pots="own", lots="random").components.set_index("source")["variance"]
    rest = np.nan_to_num(shares.get("lot:taster", 0.0)) + shares["residual"] / looks
    assert gap["error_sd"] == pytest.approx(np.sqrt(rest), rel=1e-3)
