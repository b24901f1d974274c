"""Sheets of answers: every way an answer is written, blanks, impossible answers named by row, places that sway.

Sources of each file stand in tests/published/difference/README.md.
"""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import panelstats as pst
from panelstats.difference.answers.writtenanswers import read_answer
from panelstats.errors import DesignError, SheetError
from panelstats.models.kinds import KINDS, allot_orders
from panelstats.models.position import position_test
from panelstats.sheets.reading.answers import read_answers

PUBLISHED = Path(__file__).parents[1] / "published" / "difference"


@pytest.mark.parametrize(
    ("kind", "order", "answer", "right"),
    [
        ("triangle", "AAB", "3", True),
        ("triangle", "ABB", "3", False),
        ("triangle", "a b a", "2", True),
        ("duo-trio", "A:BA", "2", True),
        ("duo-trio", "BBA", "1", True),
        ("duo-trio", "B:AB", "A", False),
        ("paired", "BA", "2", True),
        ("paired", "BA", "B", False),
        ("2-afc", "AB", "1", True),
        ("3-afc", "BAB", "2", True),
        ("tetrad", "ABBA", "1, 4", True),
        ("tetrad", "ABBA", "2+3", True),
        ("tetrad", "ABBA", "12", False),
        ("two-out-of-five", "AABBB", "1 and 2", True),
        ("two-out-of-five", "AAABB", "1 2", False),
        ("two-out-of-five", "AAABB", "5 4", True),
        ("a-not-a", "A", "A", True),
        ("a-not-a", "N", "not A", True),
        ("a-not-a", "not A", "A", False),
        ("same-different", "AB", "different", True),
        ("same-different", "BB", "Same", True),
        ("same-different", "BA", "same", False),
        ("triangle", "", "right", True),
        ("triangle", "", "Wrong", False),
    ],
)
def test_answers_are_read_as_written(kind, order, answer, right):
    assert read_answer(kind, order, answer).right is right


@pytest.mark.parametrize("answer", ["", "-", "?", "no difference", "1 3", "1,2,3"])
def test_blanks_are_no_wrong_answers(answer):
    assert read_answer("triangle", "AAB", answer).right is None


def test_codes_name_the_serving():
    assert read_answer("triangle", "AAB", "655", "417 902 655").right is True
    assert read_answer("duo-trio", "A:AB", "417", "333 417 902").right is True  # the reference has a code too


def sheet(**columns):
    return pd.DataFrame({"session": "w1", "test": "B1 against S", "kind": "triangle", **columns})


@pytest.mark.parametrize(
    ("order", "answer", "words"),
    [
        ("AAB", "4", "3 places to name"),
        ("AAB", "0", "3 places to name"),
        ("AAB", "the last", "no answer to a triangle"),
        ("ABC", "1", "no serving order of a triangle"),
        ("", "1", "cannot be judged"),
        ("AAB", "417", "codes served are not recorded"),
    ],
)
def test_impossible_answers_are_named_with_their_row(order, answer, words):
    table = sheet(taster=["alder", "beech"], order=["ABA", order], answer=["2", answer])
    with pytest.raises(SheetError, match=words) as caught:
        pst.judge_answers(table)
    problem = caught.value.problems.iloc[0]
    assert problem["row"] == 1
    assert problem["column"] in ("order", "answer")
    assert problem["action"]


def test_all_problems_are_told_at_once():
    table = sheet(taster=["alder"] * 3, order=["ABA", "ABA", "XYZ"], answer=["9", "2", "1"], trial=[1, 2, 2])
    table["row"], table["file"] = [12, 13, 14], "answers.csv"
    with pytest.raises(SheetError) as caught:
        pst.judge_answers(table)
    assert sorted(caught.value.problems["row"]) == [12, 14, 14]  # impossible place, impossible order, trial twice
    assert "answers.csv, row 12" in str(caught.value)


def test_a_code_that_was_not_served_is_a_problem():
    table = sheet(taster=["alder"], order=["ABA"], answer=["999"], code=["417 902 655"])
    with pytest.raises(SheetError, match="999 was not served"):
        pst.judge_answers(table)


def test_kinds_and_columns_that_cannot_be():
    with pytest.raises(SheetError, match="no such kind"):
        pst.judge_answers(sheet(taster=["alder"], order=["AB"], answer=["1"]).assign(kind="square"))
    with pytest.raises(SheetError, match="no column answer"):
        pst.judge_answers(sheet(taster=["alder"]))
    with pytest.raises(SheetError, match="no right answer"):
        pst.judge_answers(sheet(taster=["alder"], order=["AB"], answer=["right"]).assign(kind="paired"))
    with pytest.raises(DesignError, match="no answers"):
        pst.judge_answers(sheet(taster=[], order=[], answer=[]))


def served(kind, n, rng, *, share=0.0, tasters=None):
    """A sheet of answers by tasters of whom a share can tell; the others guess."""
    orders, _ = allot_orders(kind, n, rng=rng)
    rows = []
    for k, order in enumerate(orders):
        right = rng.random() < share or rng.random() < float(KINDS[kind].chance)
        rows.append((f"taster {k % (tasters or n)}", order, "right" if right else "wrong"))
    return pd.DataFrame(rows, columns=["taster", "order", "answer"]).assign(test="t", kind=kind)


def test_a_sheet_gives_what_its_counts_give():
    table = served("triangle", 36, np.random.default_rng(1), share=0.4)
    found = pst.judge_answers(table, within_share=0.3)
    counts = pst.match_test("triangle", correct=int((table["answer"] == "right").sum()), answers=36, within_share=0.3)
    assert found.table["p_difference"].iloc[0] == counts.p_difference
    assert found.table["call"].iloc[0] == counts.call
    assert found.tests[0].share_who_can_tell == counts.share_who_can_tell


def test_repeats_by_a_taster_are_not_pooled_into_n():
    table = served("triangle", 48, np.random.default_rng(2), share=0.2, tasters=8)
    found = pst.judge_answers(table, within_share=0.3)
    correct = (table["answer"] == "right").groupby(table["taster"]).sum()
    direct = pst.repeated_test("triangle", correct=correct, answers=[6] * 8, within_share=0.3)
    assert found.table["p_match"].iloc[0] == pytest.approx(direct.p_match)
    assert "8 tasters answered 6 times each" in str(found)


def test_blanks_flip_no_verdict():
    answers = ["right"] * 20 + ["wrong"] * 12 + [None] * 4
    table = pd.DataFrame({"taster": range(36), "kind": "duo-trio", "answer": answers})
    found = pst.judge_answers(table, within_share=0.4).table.iloc[0]
    # blanks.csv, last duo-trio row: dropping the blanks would give .108 and .228
    assert found["p_difference"] == pytest.approx(0.308859658515, abs=1e-9)
    assert found["p_match"] == pytest.approx(0.390924077092, abs=1e-9)
    assert found["blanks"] == 4


def test_one_of_each_kind_uses_the_sign_test_on_discordant_pairs():
    # 12 tasters: 9 right on both, 1 wrong on both, 2 split: sign test 9 of 10
    rows = []
    for k in range(12):
        for order in "AN":
            right = k < 9 or (k > 9 and order == "A")
            said = {"A": "A", "N": "not A"}[order if right else ("N" if order == "A" else "A")]
            rows.append((f"taster {k}", order, said))
    table = pd.DataFrame(rows, columns=["taster", "order", "answer"]).assign(kind="a-not-a")
    found = pst.judge_answers(table).table.iloc[0]
    assert found["p_difference"] == pytest.approx(11 / 1024)


def test_two_kinds_of_test_on_one_pair_are_two_tests():
    table = pd.DataFrame({
        "test": "S with B1", "taster": ["alder", "alder"], "trial": 1, "kind": ["triangle", "duo-trio"],
        "order": ["AAB", "A:AB"], "answer": ["3", "2"],
    })  # fmt: skip
    found = pst.judge_answers(table).table
    assert found[["kind", "answers", "correct"]].to_numpy().tolist() == [["triangle", 1, 1], ["duo-trio", 1, 0]]


def test_answers_read_from_a_file_are_judged(tmp_path):
    sheet = pd.DataFrame({"taster": ["alder", "beech"], "kind": "triangle", "order": "ABA", "answer": ["2", ""]})
    sheet.to_csv(tmp_path / "answers.csv", index=False)
    found = pst.judge_answers(read_answers(tmp_path / "answers.csv")).table.iloc[0]
    assert (found["answers"], found["correct"], found["blanks"]) == (2, 1, 1)


def test_planted_blends_are_told_by_answers():
    room = pst.example.blends()
    found = pst.judge_answers(room.registers["answers"]).table
    calls = found.groupby("test")["call"].agg(set).to_dict()
    assert calls == {"S with B1": {"cannot tell"}, "S with B2": {"differ"}}


def test_a_tolerance_of_share_leaves_other_kinds_without_a_match():
    table = pd.DataFrame({"taster": range(20), "kind": "a-not-a", "order": ["A", "N"] * 10, "answer": ["A"] * 20})
    assert np.isnan(pst.judge_answers(table, within_share=0.3).table["p_match"].iloc[0])


def test_position_bias_agrees_with_score_and_maximisation():
    for row in pd.read_csv(PUBLISHED / "position_bias.csv").itertuples():
        cells = np.array(row[2:11]).reshape(3, 3)
        right = np.repeat(np.repeat([0, 1, 2], 3), cells.ravel())
        chosen = np.repeat(np.tile([0, 1, 2], 3), cells.ravel())
        found = position_test(right, chosen, 3)
        assert found.statistic == pytest.approx(row.score_statistic, abs=1e-8)
        assert found.df == row.df
        assert found.p == pytest.approx(row.p_value, abs=1e-7)


def test_position_test_keeps_its_size_with_few_answers():
    rng, shown = np.random.default_rng(3), 0
    for k in range(80):
        right, chosen = np.tile([0, 1, 2], 4), rng.integers(0, 3, 12)
        shown += position_test(right, chosen, 3, seed=k).p <= 0.05
    assert shown / 80 <= 0.05 + 4 * np.sqrt(0.05 * 0.95 / 80)


def test_all_right_leaves_places_unchecked():
    found = position_test(np.array([0, 1, 2]), np.array([0, 1, 2]), 3)
    assert np.isnan(found.p)


def test_a_habit_of_place_is_told_with_the_balance_of_the_orders():
    orders, _ = allot_orders("triangle", 36, rng=np.random.default_rng(4))
    table = pd.DataFrame({"taster": range(36), "kind": "triangle", "order": orders, "answer": 2})
    table.loc[:5, "answer"] = [1, 3, 1, 3, 1, 3]
    found = pst.judge_answers(table)
    assert found.places["call"].tolist() == ["shown"]
    assert "cannot pass for a difference" in str(found)
    lopsided = table.assign(order="ABA")
    lopsided.loc[:11, "order"] = "AAB"
    assert "could pass for a difference" in str(pst.judge_answers(lopsided))


def test_unrecorded_orders_are_counted():
    table = served("triangle", 12, np.random.default_rng(5))
    found = pst.judge_answers(table)
    assert found.places["unrecorded"].tolist() == [12]
    assert "The order of 12 answers is not recorded" in str(found)


@settings(deadline=None, max_examples=8)
@given(st.permutations(range(10)), st.integers(0, 3))
def test_the_order_of_rows_changes_nothing(rows, seed):
    table = served("tetrad", 10, np.random.default_rng(seed), share=0.5).assign(trial=range(10))
    one, other = pst.judge_answers(table), pst.judge_answers(table.iloc[list(rows)])
    pd.testing.assert_frame_equal(one.table, other.table)
