"""An empty key: a whole column of them is as no column, a few among others are told, cell by cell."""

import pandas as pd
import pytest

import panelstats as pst
from panelstats.cli import main
from panelstats.errors import SheetError
from panelstats.sheets.reading.start import write_starter

WIDE = pd.DataFrame(
    {
        "session": "2026-06-15", "taster": list("aabbcc"), "lot": ["1", "2"] * 3, "pot": "1", "stage": "liquor",
        "look": "1", "position": ["1", "2"] * 3, "bright": ["5", "6", "4", "7", "5", "6.5"],
    }
)  # fmt: skip
LONG = WIDE.rename(columns={"bright": "score"}).assign(descriptor="bright")
ACROSS = WIDE.drop(columns=["taster", "position", "bright"]).head(2).assign(a=["5", "6"], b=["4", "7"], c=["5", "6.5"])
LAYOUTS = {"wide": WIDE, "long": LONG, "tasters across": ACROSS.assign(descriptor="bright")}
ANSWERS = pd.DataFrame(
    {
        "session": "w1", "test": "t", "kind": "triangle", "taster": list("abcd"), "trial": "1", "order": "ABA",
        "answer": ["2", "2", "1", "2"], "code": "7",
    }
)  # fmt: skip


@pytest.fixture(params=LAYOUTS)
def sheet(request):
    return LAYOUTS[request.param].copy()


@pytest.mark.parametrize("key", ["session", "pot", "stage", "look", "position"])
def test_an_empty_column_is_as_no_column(sheet, key, tmp_path):
    if key not in sheet:
        return
    path = tmp_path / "week 7.csv"
    found = []
    for table in (sheet.assign(**{key: ""}), sheet.drop(columns=key)):
        table.to_csv(path, index=False)
        found.append(pst.read_scores(path))
    pd.testing.assert_frame_equal(found[0].frame, found[1].frame)
    if "bright" in sheet:  # what is read is the same in every layout
        pst.review_session(found[0])


@pytest.mark.parametrize("key", ["session", "taster", "lot", "pot"])
@pytest.mark.parametrize("empty", ["", "  ", None, "\u00a0"])
def test_a_missing_key_among_others_names_file_row_and_column(sheet, key, empty, tmp_path):
    if key not in sheet:
        return
    path = tmp_path / "week.csv"
    sheet.loc[1, key] = empty
    sheet.to_csv(path, index=False)
    with pytest.raises(SheetError) as caught:
        pst.read_scores(path)
    problems = caught.value.problems
    assert set(problems[["file", "row", "column"]].itertuples(index=False, name=None)) == {("week.csv", 3, key)}
    assert problems["action"].str.contains("write the").all()
    rest = pst.read_scores(path, set_aside=True)
    assert len(rest) == len(pst.read_scores(sheet.drop(index=1)))
    if not empty and "bright" in sheet:
        pst.review_session(rest)


@pytest.mark.parametrize("key", ["taster", "lot"])
def test_a_column_of_tasters_or_lots_left_empty_is_told(key):
    for sheet in (WIDE, LONG):
        with pytest.raises(SheetError, match=f"without a {key}"):
            pst.read_scores(sheet.assign(**{key: ""}))


@pytest.mark.parametrize("key", ["stage", "look", "position"])
def test_a_missing_stage_look_or_position_among_others_is_none(sheet, key):
    if key in sheet:
        sheet.loc[1, key] = ""
        pst.review_session(pst.read_scores(sheet))


def test_a_lot_keeps_its_name_where_only_a_row_set_aside_has_no_session():
    sheet = pd.concat([WIDE, WIDE.assign(session="").iloc[:1]])
    assert set(pst.read_scores(sheet, set_aside=True).frame["lot"]) == {"1", "2"}


def test_a_stage_tasted_in_one_session_only_stops_nothing():
    later = WIDE.assign(session="2026-06-16", stage="dry leaf", lot=["3", "4"] * 3)
    pst.review_session(pst.read_scores(pd.concat([WIDE, later])))


def test_files_with_empty_session_columns_are_sessions_of_their_own(tmp_path):
    for name in ("a", "b"):
        WIDE.assign(session="").to_csv(tmp_path / f"{name}.csv", index=False)
    assert list(pst.read_cells(tmp_path).sessions["session"]) == ["a", "b"]


def test_the_starter_is_read_with_its_session_left_blank(tmp_path):
    from openpyxl import load_workbook

    path = write_starter(tmp_path / "starter.xlsx")
    book = load_workbook(path)
    for lot, taster, pot, score in [("1", "a", 1, 5), ("2", "a", 1, 6), ("1", "b", 1, 4), ("2", "b", 1, 7)]:
        book["scores"].append([None, lot, taster, pot, score])
    book.save(path)
    assert main([str(path)]) == 0


@pytest.mark.parametrize("key", ["session", "test", "trial", "answer", "code"])
def test_answers_with_an_empty_column_are_judged(key):
    pst.judge_answers(pst.read_answers(ANSWERS.assign(**{key: ""})))


@pytest.mark.parametrize("key", ["kind", "taster", "order"])
def test_answers_that_cannot_do_without_a_column_say_so(key):
    with pytest.raises(SheetError, match=key):
        pst.judge_answers(pst.read_answers(ANSWERS.assign(**{key: ""})))


@pytest.mark.parametrize("key", ["session", "test", "taster"])
def test_an_answer_without_session_test_or_taster_is_not_made_a_test_of_its_own(key):
    answers = ANSWERS.copy()
    answers.loc[2, key] = ""
    with pytest.raises(SheetError, match=f"an answer without a {key}") as caught:
        pst.read_answers(answers)
    assert list(caught.value.problems["row"]) == [3]


@pytest.mark.parametrize("heading", ["lot,taster,brisk\n", "lot,brisk\n", "taster,lot,pot,brisk,remarks\n"])
def test_a_sheet_of_headings_alone_is_one_clear_message(heading, tmp_path):
    (tmp_path / "week.csv").write_text(heading)
    with pytest.raises(pst.SheetError, match="no score"):
        pst.read_scores(tmp_path / "week.csv")
