"""What lines over the headings tell: several pairs in one cell, days, facts of the one lot, the ends of the scale."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest

import panelstats as pst
from tests.habits.answering import again
from tests.sheets.forms import LOTS, NAMES, WORDS, book, cells, marks, met

TABLE = [("Lot", "Taster", *WORDS), *((lot, name, *marks(3, lot + name)) for lot in LOTS for name in NAMES)]
DAYS = [dt.date(2026, 6, day) for day in (1, 8, 15)]


@pytest.mark.parametrize(
    ("line", "session"),
    [
        ("Date: 3 June 2026   Place: small room", "3 June 2026"),
        ("Place: small room, Date: 3 June 2026", "3 June 2026"),
        ("Session: week 14; Water: soft", "week 14"), ("Date:2026-06-03 | Room: small", "2026-06-03"),
        ("Session: 3 June: morning", "3 June: morning"),
    ],
)  # fmt: skip
def test_pairs_in_one_cell_are_taken_apart(tmp_path, line, session):
    scores = pst.read_scores(book(tmp_path / "week.xlsx", Scores=[("Tasting sheet",), (line,), (), *TABLE]))
    assert met(scores)["session"] == [session]
    unused = scores.inferred.loc[scores.inferred["why"] == "not used", "value"].tolist()
    assert len(unused) == (line.count(":") - 1 if "morning" not in line else 0)


@pytest.mark.parametrize(
    ("line", "low", "high"),
    [
        ("Scale: 1 = very poor ... 9 = excellent", 1, 9), ("Scale 1-9", 1, 9), ("1 (poor) to 9 (excellent)", 1, 9),
        ("Scale (0 to 10)", 0, 10), ("Marks from 1 to 9", 1, 9), ("9 = fine … 1 = poor", 1, 9),
        ("Tasting of lots 1-9", np.nan, np.nan), ("10 = best, 5 = average", np.nan, np.nan),
    ],
)  # fmt: skip
def test_a_line_tells_the_scale_of_all_marks(tmp_path, line, low, high):
    source = book(tmp_path / "week.xlsx", Scores=[(line,), *TABLE])
    scores = pst.read_scores(source)
    np.testing.assert_array_equal(scores.descriptors[["low", "high"]].to_numpy(float), [[low, high]] * 3)
    assert not again(source, tmp_path)


def test_a_mark_beyond_a_scale_told_above_is_a_problem_and_another_scale_is_let_be(tmp_path):
    rows = [[*row] for row in TABLE]
    rows[3][2] = 12
    with pytest.raises(pst.SheetError, match="outside the scale"):
        pst.read_scores(book(tmp_path / "week.xlsx", Scores=[("Scale 1-9",), *rows]))
    wide = [(*row, "Worth" if n == 0 else 2 * row[2]) for n, row in enumerate(TABLE)]
    scores = pst.read_scores(book(tmp_path / "wide.xlsx", Scores=[("Scale 1-9",), *wide]))
    assert scores.descriptors.set_index("descriptor")["high"].to_dict().pop("Worth") != 9


def test_a_register_wins_over_a_scale_told_above(tmp_path):
    import pandas as pd

    said = pd.DataFrame({"descriptor": [WORDS[0]], "low": [0], "high": [20]})
    scores = pst.read_scores(book(tmp_path / "week.xlsx", Scores=[("Scale 1-9",), *TABLE]), room={"descriptors": said})
    assert scores.descriptors.set_index("descriptor")["high"].to_dict() == {
        "Colour": 20,
        "Brightness": 9,
        "Strength": 9,
    }


def tab(lot, facts):
    return [*facts, (), ("Descriptor", *NAMES), *((word, *marks(4, lot + word)) for word in WORDS)]


@pytest.mark.parametrize("key", ["Invoice", "Lot", "Lot no."])
def test_facts_over_the_table_of_one_lot_are_its_facts(tmp_path, key):
    facts = {lot: [(key, lot), ("Garden", f"Hill {lot}"), ("Grade:", "BOP"), ("Bags", 40)] for lot in LOTS}
    source = book(tmp_path / "week.xlsx", **{lot: tab(lot, facts[lot]) for lot in LOTS})
    scores = pst.read_scores(source)
    lots = scores.lots.set_index("lot")
    assert lots["garden"].to_dict() == {lot: f"Hill {lot}" for lot in LOTS}
    assert lots["bags"].to_dict() == dict.fromkeys(LOTS, "40")
    assert set(lots["class"]) == {"broken"}
    assert not again(source, tmp_path)


def test_facts_in_one_cell_and_facts_that_contradict_a_list(tmp_path):
    source = book(tmp_path / "one.xlsx", **{lot: tab(lot, [("Garden: Hill   Grade: PD",)]) for lot in LOTS})
    assert set(pst.read_scores(source).lots["grade"]) == {"PD"}
    tabs = {lot: tab(lot, [("Grade", "BOP")]) for lot in LOTS}
    source = book(
        tmp_path / "two.xlsx", **tabs, Received=[("Lot", "Grade", "Bags"), *((lot, "PD", 40) for lot in LOTS)]
    )
    with pytest.raises(pst.SheetError, match="another grade than lot K101"):
        pst.read_scores(source)


def test_a_list_beside_tabs_of_lots_makes_no_tasters_of_them(tmp_path):
    received = [("Lot", "Grade", "Bags"), *((lot, "PD", 40) for lot in LOTS)]
    source = book(tmp_path / "week.xlsx", **{lot: tab(lot, []) for lot in LOTS}, Received=received)
    scores = pst.read_scores(source)
    assert met(scores)["lot"] == sorted(LOTS)
    assert met(scores)["taster"] == sorted(NAMES)


def test_a_garden_over_a_table_of_many_lots_is_theirs_other_facts_are_told(tmp_path):
    scores = pst.read_scores(book(tmp_path / "week.xlsx", Scores=[("Garden", "Hill"), ("Bags", 40), *TABLE]))
    assert set(scores.lots["garden"]) == {"Hill"}
    assert "bags" not in scores.lots
    assert "Bags: 40" in scores.inferred.loc[scores.inferred["why"] == "not used", "value"].tolist()


@pytest.mark.parametrize("gap", [0, 1])
@pytest.mark.parametrize("line", [("Tasting of",), (), ("Panel on",), ("Room", "small")])
def test_a_day_over_each_block_is_its_session(tmp_path, line, gap):
    rows = []
    for n, day in enumerate(DAYS):
        head, *lines = TABLE
        rows += [
            (*line, day),
            *[()] * gap,
            head,
            *((*row[:2], *(mark % 7 + n + 1 for mark in row[2:])) for row in lines),
        ]
        rows.append(())
    source = book(tmp_path / "june.xlsx", June=rows)
    scores = pst.read_scores(source)
    assert met(scores)["session"] == [str(day) for day in DAYS]
    assert len(scores.frame) == 3 * 4 * 4 * 3
    assert not again(source, tmp_path)


def test_a_day_in_the_words_of_a_line_is_the_session_another_day_is_not(tmp_path):
    scores = pst.read_scores(book(tmp_path / "a.xlsx", Scores=[("Panel tasting of 3 June 2026",), *TABLE]))
    assert met(scores)["session"] == ["2026-06-03"]
    for line in (("Printed", DAYS[0]), ("Date made", DAYS[0]), ("Packed on 2026-06-01",)):
        assert met(pst.read_scores(book(tmp_path / "b.xlsx", Scores=[line, *TABLE])))["session"] == ["1"]


def weighted(numbers=(10, 20, 30), words=WORDS):
    heads = [f"{word} ({number})" for word, number in zip(words, numbers, strict=True)]
    rows = [
        (lot, name, *(m * n / 10 for m, n in zip(marks(3, lot + name), numbers, strict=True)))
        for lot in LOTS
        for name in NAMES
    ]
    return [("Lot", "Taster", *heads, f"Total ({sum(numbers)})"), *((*row, sum(row[2:])) for row in rows)]


def test_numbers_in_brackets_are_the_highest_marks(tmp_path):
    source = book(tmp_path / "week.xlsx", Scores=weighted())
    scores = pst.read_scores(source)
    assert scores.descriptors["descriptor"].tolist() == [*WORDS]
    assert scores.descriptors["high"].tolist() == [10, 20, 30]
    assert scores.descriptors["low"].isna().all()
    assert scores.inferred["what"].str.contains("Total").any()
    assert not again(source, tmp_path)


@pytest.mark.parametrize("change", ["a mark above", "one without", "small numbers"])
def test_other_numbers_in_brackets_stay_part_of_the_name(tmp_path, change):
    rows = [[*row[:-1]] for row in weighted((1, 2, 3) if change == "small numbers" else (10, 20, 30))]
    if change == "a mark above":
        rows[2][3] = 21
    if change == "one without":
        rows[0][2] = "Colour"
    scores = pst.read_scores(book(tmp_path / "week.xlsx", Scores=rows))
    assert scores.descriptors["high"].isna().all()
    assert "Brightness" not in met(scores)["descriptor"]


def test_brackets_hold_over_tabs_of_tasters(tmp_path):
    head, *lines = weighted()
    tabs = {name: [(head[0], *head[2:-1]), *((r[0], *r[2:-1]) for r in lines if r[1] == name)] for name in NAMES}
    scores = pst.read_scores(book(tmp_path / "week.xlsx", **tabs))
    assert scores.descriptors["high"].tolist() == [10, 20, 30]
    assert cells(scores)[LOTS[0], NAMES[0], "Colour"] == lines[0][2]
