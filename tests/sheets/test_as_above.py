"""Signs for what stands above, lots made dates by a spreadsheet, questions that name a lot, sheets taken for lists."""

from datetime import datetime

import openpyxl
import pandas as pd
import pytest

import panelstats as pst
from panelstats.errors import SheetError
from panelstats.sheets.content.roles import role_of

LOTS, TASTERS = ("K101", "K102", "K103"), ("Elm", "Yew", "Larch")
BODY = ((5, 7, 4), (6, 3, 8), (2, 9, 1))


def book(path, rows, title="Scores"):
    whole = openpyxl.Workbook()
    whole.active.title = title
    for row in rows:
        whole.active.append(row)
    whole.save(path)
    return path


def marks(scores):
    keys = ["lot", "taster", "descriptor"]
    return {tuple(map(str, row[:3])): row[3] for row in scores.frame[[*keys, "score"]].itertuples(index=False)}


@pytest.mark.parametrize("sign", ['"', "''", "〃", "″", "do.", "-do-", "Ditto", "dto."])
@pytest.mark.parametrize("column", ["lot", "taster", "garden"])
def test_signs_for_what_stands_above_are_what_stands_above(tmp_path, sign, column):
    first, second = ("taster", "lot") if column == "taster" else ("lot", "taster")
    outer, inner = (TASTERS, LOTS) if first == "taster" else (LOTS, TASTERS)
    plain = [
        {
            first: one,
            second: two,
            "garden": f"G {one if first == 'lot' else two}",
            "body": BODY[at][n],
            "brisk": 9 - n * n,
        }
        for at, one in enumerate(outer)
        for n, two in enumerate(inner)
    ]
    short, above = [], None
    for row in plain:
        short.append(row | {column: sign} if row[column] == above else row)
        above = row[column]
    heads = list(plain[0])
    read = [
        pst.read_scores(book(tmp_path / f"{n}.xlsx", [heads, *([row[h] for h in heads] for row in rows)]))
        for n, rows in enumerate((plain, short))
    ]
    assert marks(read[0]) == marks(read[1])
    assert len(read[1].tasters) == len(TASTERS)
    pd.testing.assert_series_equal(read[0].lots["garden"], read[1].lots["garden"])


def test_a_sign_with_nothing_above_it_is_asked_about(tmp_path):
    rows = [["lot", "taster", "body"], ['"', "Elm", 5], ["K102", "Elm", 6], ["K103", "Elm", 7]]
    with pytest.raises(SheetError, match="nothing stands there"):
        pst.read_scores(book(tmp_path / "a.xlsx", rows))


def test_a_sign_among_marks_is_no_mark(tmp_path):
    rows = [["lot", "taster", "body"], ["K101", "Elm", 5], ["K102", "Elm", '"'], ["K103", "Elm", 7]]
    with pytest.raises(SheetError, match="not a number"):
        pst.read_scores(book(tmp_path / "a.xlsx", rows))


def test_dates_among_lots_that_are_none_were_made_by_a_spreadsheet(tmp_path):
    lots = [datetime(2026, 12, 1), "13-27", "14-27"]  # noqa: DTZ001 - as a spreadsheet keeps them
    rows = [["lot", "taster", "body"], *([lot, taster, 5] for lot in lots for taster in TASTERS)]
    with pytest.raises(SheetError, match="a date among lots that are none") as told:
        pst.read_scores(book(tmp_path / "a.xlsx", rows))
    assert "row 2, column lot" in str(told.value)
    every = [["lot", "taster", "body"], *([datetime(2026, 12, day), "Elm", 5] for day in (1, 2, 3))]  # noqa: DTZ001
    assert len(pst.read_scores(book(tmp_path / "b.xlsx", every)).lots) == 3


@pytest.mark.parametrize(
    ("heading", "role"),
    [("Which lot are you tasting?", "lot"), ("Which lot is it (1-12)?", "lot"), ("How strong is lot K101?", ""),
     ("How strong is lot Brallow?", ""), ("Is lot 7 brisk?", ""), ("?", ""), ("Which pot?", "pot")],
)  # fmt: skip
def test_a_question_names_a_key_only_where_it_asks_for_one(heading, role):
    assert role_of(heading) == role


def test_questions_that_name_a_lot_each_are_lots_across(tmp_path):
    heads = ["Name", *(f"How {word} is lot {lot}?" for word in ("strong", "brisk") for lot in LOTS)]
    rows = [heads, *([taster, *given, *given[::-1]] for taster, given in zip(TASTERS, BODY, strict=True))]
    found = marks(pst.read_scores(book(tmp_path / "a.xlsx", rows, "Form")))
    assert found[("K102", "Yew", "strong")] == 3
    assert found[("K101", "Larch", "brisk")] == 1
    assert len(found) == 18


def test_a_workbook_of_registers_alone_is_told_what_its_sheets_were_taken_for(tmp_path):
    rows = [["Name", "first", "second"], ["Elm", 5, 6], ["Yew", 4, 4]]
    with pytest.raises(SheetError, match="there is nothing to read") as told:
        pst.read_scores(book(tmp_path / "a.xlsx", rows, "Answers"))
    assert "sheet Answers: a register, its name and first column say so" in str(told.value)
