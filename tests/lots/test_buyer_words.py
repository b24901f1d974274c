"""What a buyer is told, branch by branch: which words, how many, how far they may be off, where a class lay."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
from scipy.stats import t as student

import panelstats as pst
from panelstats.lots.buyer import words
from panelstats.lots.buyer.earlier import earlier_classes
from panelstats.lots.buyer.fit import _lots, _not_tasted, _said, _sure, _trust, _words_by_stage, describe_lots
from panelstats.result import Result


def rows(differences, *, half=0.2, df=np.inf, said=True, lot="L1", lot_class="broken"):
    """One lot, its words a, b, c, ..."""
    size = np.asarray(differences, float)
    table = pd.DataFrame({"lot": lot, "class": lot_class, "stage": "", "descriptor": list("abcdefghij")[: len(size)],
                          "mean": 5 + size, "difference": size, "low": size - half, "high": size + half, "df": df,
                          "standard": np.nan, "last_season": np.nan})  # fmt: skip
    return table.assign(said=np.select([size > 0, size < 0], ["more", "less"], "")) if said else table


# --- which words, and how many ---


def test_a_word_needs_its_interval_allowed_for_all_words_of_the_lot() -> None:
    """Bonferroni over the words with a mark, by scipy's t; the normal where no df is known."""
    table = rows([0.5, -0.5, 0.26, np.nan], half=0.2, df=6.0, said=False)
    wide = 0.2 * student.ppf(1 - 0.025 / 3, 6) / student.ppf(0.975, 6)
    found = _sure(table, 0.95)
    np.testing.assert_allclose(found["sure_low"][:3], [0.5 - wide, -0.5 - wide, 0.26 - wide])
    np.testing.assert_allclose(found["sure_high"][:3], [0.5 + wide, -0.5 + wide, 0.26 + wide])
    assert list(found["said"]) == ["more", "less", "", ""]
    for df in (np.inf, np.nan):
        normal = _sure(rows([0.5, 0.1], df=df, said=False), 0.9)
        assert normal["sure_low"][0] == pytest.approx(
            0.5 - 0.2 * student.ppf(1 - 0.05 / 2, 1e9) / student.ppf(0.95, 1e9)
        )
    both = pd.concat([rows([0.5], said=False), rows([0.5, 0.5, 0.5], lot="L2", said=False)], ignore_index=True)
    alone, *of_three = _sure(both, 0.95)["sure_low"]
    assert alone == pytest.approx(0.3)  # one word asked of it: no wider
    assert max(of_three) < alone


def test_the_largest_are_told_first_three_of_more_and_two_of_less() -> None:
    told = _said(rows([0.3, 0.9, 0.5, 0.4, -0.2, -0.8, -0.6]), 4)
    assert told == "More b, c and d, less f and g than its class (broken; 4 other lots)."
    assert _said(rows([0.1, -0.3]), 1) == "More a, less b than its class (broken; 1 other lot)."
    assert _said(rows([-0.1, -0.3, 0.0]), 2) == "Less b and a than its class (broken; 2 other lots)."
    assert _said(rows([0.0, 0.0]), 2).startswith("On no word")
    assert _said(rows([0.4], lot_class=""), 2) == "More a than its class (2 other lots)."
    assert _said(rows([0.4]), 0) == words.BY_ITSELF


@pytest.mark.parametrize(
    ("looks", "halves", "told"),
    [
        (1.0, [0.42, 0.42], "one look each: against its class a word may lie 0.4 off"),
        (1.49, [0.4, 0.8], "one look each: against its class a word may lie 0.4 to 0.8 off"),
        (1.5, [0.8, 0.4], "about 2 looks each: against its class a word may lie 0.4 to 0.8 off"),
        (4.0, [0.8, 0.04], "about 4 looks each: against its class a word may lie 0.04 to 0.80 off"),
        (4.0, [0.04, 0.12], "about 4 looks each: against its class a word may lie 0.04 to 0.12 off"),
    ],
)
def test_how_far_a_word_may_be_off_is_its_half_width_with_no_digit_too_many(looks, halves, told) -> None:
    table = rows([0.0] * len(halves))
    table["low"], table["high"] = -np.array(halves), np.array(halves)
    assert told in _trust(table, 3, looks)
    assert _trust(table, 3, looks).startswith("3 tasters, ")
    assert _trust(table.assign(low=np.nan), 3, looks) == ""


def test_what_was_not_tasted_is_told_by_stage_where_nothing_of_it_was() -> None:
    stages, kinds = ["wet leaf", "wet leaf", "liquor", "liquor", ""], ["score"] * 4 + ["fault"]
    register = pd.DataFrame({"descriptor": list("abcde"), "stage": stages, "kind": kinds})
    stages_of = _words_by_stage(SimpleNamespace(descriptors=register))
    assert _not_tasted(rows([0.0] * 4), stages_of) == ""  # a fault is no word
    some = rows([0.0] * 4)
    some.loc[[0, 1, 3], "mean"] = np.nan
    nothing = some.assign(mean=np.nan)
    assert _not_tasted(nothing, stages_of) == "Not tasted: wet leaf (nothing of it) and liquor (nothing of it)."
    assert _not_tasted(some, stages_of) == "Not tasted: wet leaf (nothing of it) and d."
    bare = _words_by_stage(SimpleNamespace(descriptors=register.assign(stage="")[["descriptor", "stage"]]))
    assert _not_tasted(rows([0.0, 0.0]), bare) == "Not tasted: c, d and e."


def test_tasters_looks_and_others_are_counted_from_the_session_told_of() -> None:
    keys = [
        ("1", "A", "elm", 1),
        ("1", "A", "elm", 2),
        ("1", "A", "yew", 1),
        ("1", "B", "elm", 1),
        ("0", "A", "oak", 1),
    ]
    frame = pd.DataFrame([(*key, word) for key in keys for word in "ab"],
                         columns=["session", "lot", "taster", "pot", "descriptor"]).assign(look=1)  # fmt: skip
    table = pd.concat([rows([0.1, 0.2], lot=lot) for lot in ("A", "B")], ignore_index=True)
    every = table.assign(role="")
    aside = every[every["lot"] == "B"].assign(lot="S", role="standard")
    scores = SimpleNamespace(frame=frame, descriptors=pd.DataFrame({"descriptor": list("ab"), "stage": ""}))
    found = _lots(scores, table, pd.concat([every, aside]), ["A", "B"], "1").set_index("lot")
    assert (found.loc["A", "tasters"], found.loc["A", "looks"]) == (2, 1.5)
    assert (found.loc["B", "tasters"], found.loc["B", "looks"]) == (1, 1.0)
    assert list(found["others"]) == [1, 1]  # the standard is none of them


# --- which session, and where the class lay ---


def seasons(days):
    """Marks of one taster: {session: {lot: mark}}; C is a control."""
    frame = pd.DataFrame([{"session": day, "lot": lot, "taster": "elm", "brisk": mark}
                          for day, lots in days.items() for lot, mark in lots.items()])  # fmt: skip
    names = sorted(set(frame["lot"]))
    register = pd.DataFrame({"lot": names, "same": names, "class": "all",
                             "role": ["control" if name == "C" else "" for name in names]})  # fmt: skip
    return pst.read_scores(frame, room={"lots": register})


def test_earlier_classes_are_set_on_todays_marks_session_by_session() -> None:
    days = {"2031-01-06": {"C": 4.0, "1": 5.0, "2": 6.0}, "2031-01-13": {"C": 6.0, "3": 8.0, "A": 7.0},
            "2031-01-20": {"C": 5.0, "A": 6.5, "B": 3.0}, "2031-01-27": {"C": 9.0, "9": 9.0}}  # fmt: skip
    found, joined = earlier_classes(seasons(days), "2031-01-20")
    assert joined == ["A", "C"]
    # the first session moves up by 1 (C), the second down by 0.75 (C: 1, A: 0.5); C and A themselves are no class
    assert found["mean"].tolist() == [pytest.approx((6.0 + 7.0 + 7.25) / 3)]
    assert earlier_classes(seasons(days), "2031-01-06")[0].empty
    alone, joined = earlier_classes(seasons({"1": {"A": 5.0, "B": 6.0}, "2": {"D": 5.0, "E": 4.0}}), "2")
    assert (alone.empty, joined) == (True, [])


def test_the_last_session_is_told_of_unless_another_is_asked_and_controls_only_where_named() -> None:
    rng = np.random.default_rng(0)
    frame = pd.DataFrame([{"session": day, "lot": lot, "taster": t, "brisk": round(5 + rng.normal(), 1)}
                          for day, lots in (("1", "AB"), ("2", "ABC"), ("3", "CDEF")) for lot in lots
                          for t in ("elm", "yew", "oak")])  # fmt: skip
    register = pd.DataFrame({"lot": list("ABCDEF"), "same": list("ABCDEF"), "role": ["", "", "control", "", "", ""]})
    scores = pst.read_scores(frame, room={"lots": register})
    found = pst.compare_lots(scores)
    assert list(describe_lots(scores, found).lots["lot"]) == ["D", "E", "F"]
    assert list(describe_lots(scores, found, session="2").lots["lot"]) == ["A", "B"]
    told = describe_lots(scores, found)
    assert list(told.table.index) == [0, 1, 2]
    assert list(told.of_lot("E")["lot"]) == ["E"]
    (bar,) = told.chart().rows
    row = told.of_lot("D").iloc[0]
    assert (bar.label, bar.value, bar.low, bar.high) == ("brisk", *row[["difference", "low", "high"]])
    assert [bar.label for bar in told.chart("brisk").rows] == ["D", "E", "F"]
    assert list(describe_lots(scores, found, lots=["C"]).lots["lot"]) == ["C"]
    assert {v.call for v in describe_lots(scores, found).verdicts} <= {words.SET_APART, words.NOT_SET_APART}
    with pytest.raises(pst.DesignError, match="nothing to describe lots by"):
        describe_lots(scores, Result(verdicts=(), method=""))
