"""Marks from coarse to fine: trend tests of textbooks, slopes, what is said."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
import statsmodels.formula.api as smf
from scipy.stats import kendalltau, norm

import panelstats as pst
from panelstats.lots.fineness import words
from panelstats.models.trend import jonckheere

FOUND = json.loads((Path(__file__).parents[1] / "published" / "grades" / "trend_tests.json").read_text("utf-8"))


@pytest.mark.parametrize(
    ("name", "z", "p"),
    [("knowledge_of_results", "z_ties", "p_exact_given_ties"), ("four_by_four", "z", "p_exact_one_sided")],
)
def test_trend_over_groups_is_that_of_the_textbooks(name: str, z: str, p: str) -> None:
    """Hollander & Wolfe; Jonckheere 1954; the same z as Kendall's test of group against value (scipy)."""
    expected = FOUND[name]
    values = np.concatenate([np.array(each, float) for each in expected["groups"]])
    group = np.repeat(np.arange(len(expected["groups"])), [len(each) for each in expected["groups"]])
    found = jonckheere(values, group, np.random.default_rng(1))
    assert found.statistic == expected["J"]
    assert found.z == pytest.approx(expected[z], rel=1e-7)
    assert found.p_up == pytest.approx(expected[p], abs=0.004)
    assert kendalltau(group, values, method="asymptotic").pvalue == pytest.approx(2 * norm.sf(abs(found.z)), rel=1e-6)


def room(slope: float, *, each: int = 5, tasters: int = 3, seed: int = 0, kinds: int = 1) -> pst.Scores:
    rng = np.random.default_rng(seed)
    rows, lots = [], []
    for kind in range(kinds):
        for step, grade in enumerate(["leaf", "broken", "dust"]):
            for k in range(each):
                lot = f"{kind}{step}{k}"
                true = 4 + 3 * kind + slope * step + 0.3 * rng.standard_normal()
                lots.append({"lot": lot, "kind": f"kind {kind}", "grade": grade})
                rows += [{"lot": lot, "taster": f"t{t}", "colour": round(true + 0.3 * rng.standard_normal() + t, 2),
                          "body": round(5 + rng.standard_normal(), 2)} for t in range(tasters)]  # fmt: skip
    return pst.read_scores(pd.DataFrame(rows), room={"lots": pd.DataFrame(lots)})


@pytest.mark.parametrize(("slope", "call"), [(1.0, words.RISES), (-1.0, words.FALLS)])
def test_a_mark_that_follows_fineness_is_told_with_its_slope(slope: float, call: str) -> None:
    table = pst.grade_trend(room(slope), ["leaf", "broken", "dust"]).table.set_index("descriptor")
    assert table.loc["colour", "call"] == call
    assert table.loc["colour", "low"] < slope < table.loc["colour", "high"]
    assert table.loc["body", "call"] == words.CANNOT_TELL


def test_slopes_are_those_of_least_squares_on_lot_means_within_kinds() -> None:
    """statsmodels OLS of lot means on the step, kinds as strata."""
    scores = room(0.5, kinds=2, seed=3)
    found = pst.grade_trend(scores, ["leaf", "broken", "dust"], descriptors=["colour"]).table.iloc[0]
    frame = scores.frame[scores.frame["descriptor"] == "colour"]
    means = frame.groupby(frame["lot"].astype(str))["score"].mean().rename("y").reset_index()
    means["step"], means["kind"] = means["lot"].str[1].astype(int), means["lot"].str[0]
    fit = smf.ols("y ~ step + C(kind)", means).fit()
    assert found["slope"] == pytest.approx(fit.params["step"])
    assert (found["low"], found["high"]) == pytest.approx(tuple(fit.conf_int().loc["step"]))
    assert found["df"] == fit.df_resid


def test_the_order_is_the_rooms_not_the_letters() -> None:
    one = pst.grade_trend(room(1.0), ["leaf", "broken", "dust"]).table.iloc[0]
    other = pst.grade_trend(room(1.0), ["dust", "broken", "leaf"]).table.iloc[0]
    assert one["slope"] == pytest.approx(-other["slope"])
    assert {one["call"], other["call"]} == {words.RISES, words.FALLS}


def test_one_grade_or_equal_marks_cannot_tell() -> None:
    scores = room(1.0)
    told = pst.grade_trend(scores, ["leaf"]).verdicts[0]
    assert "one grade only" in told.sentence
    assert told.next_step
    flat = pd.DataFrame({"lot": list("abcdef"), "taster": "elm", "colour": 5.0})
    lots = pd.DataFrame({"lot": list("abcdef"), "grade": ["x"] * 3 + ["y"] * 3})
    told = pst.grade_trend(pst.read_scores(flat, room={"lots": lots}), ["x", "y"]).verdicts[0]
    assert "marked alike" in told.sentence


def test_unknown_grades_are_refused_with_the_rooms_own() -> None:
    with pytest.raises(pst.DesignError, match="no lot of these grades") as refused:
        pst.grade_trend(room(1.0), ["whole"])
    assert "broken" in str(refused.value)


def test_graded_lots_that_nobody_scored_are_refused_in_words():
    sheet = pd.DataFrame({"lot": ["a", "b"], "taster": ["t", "u"], "brisk": [5.0, 6.0]})
    lots = pd.DataFrame({"lot": ["a", "b"], "grade": ["OP", ""]})
    trainee = pd.DataFrame({"taster": ["t", "u"], "role": ["trainee", "senior"]})
    scores = pst.read_scores(sheet, room={"lots": lots, "tasters": trainee})
    with pytest.raises(pst.DesignError, match="no score on lots of these grades"):
        pst.grade_trend(scores, ["OP", "D"])


def test_what_is_equal_but_for_the_last_digits_is_a_tie():
    """Means of marks as one processor adds them and as another does: the statistic counts half for a tie."""
    group = np.repeat([0, 1, 2], 3)
    plain = np.array([0.3, 0.6, 0.9, 0.3, 0.6, 1.2, 0.3, 0.9, 1.5])
    added = np.array([0.1 + 0.2, 0.6, 0.9, 0.3, 0.1 * 6, 0.4 * 3, 0.1 * 3, 0.3 * 3, 1.5])
    assert (plain != added).any()
    one, other = (jonckheere(values, group, np.random.default_rng(1)) for values in (plain, added))
    assert one == other
