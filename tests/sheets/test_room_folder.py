"""The folder of a room: what it keeps beside its sheets is no sheet; what it says is written down and obeyed."""

import pandas as pd
import pytest

import panelstats as pst

SHEET = "lot,taster,brisk,colour\n1,elm,5,6\n2,elm,6,4\n"


@pytest.fixture
def room(tmp_path):
    for name in ("sheets/removed", "pages", "drafts"):
        (tmp_path / name).mkdir(parents=True)
    (tmp_path / "sheets" / "week.csv").write_text(SHEET)
    return tmp_path


@pytest.mark.parametrize("apart", ["pages", "drafts", "sheets/removed"])
def test_what_lies_beside_the_sheets_is_not_read_but_said(room, apart):
    bare = pst.read_scores(room)
    (room / apart / "other.csv").write_text(SHEET.replace("elm", "yew"))
    scores = pst.read_scores(room)
    assert scores.tasters["taster"].tolist() == ["elm"]
    pd.testing.assert_frame_equal(scores.frame, bare.frame)
    told = scores.inferred[scores.inferred["what"] == apart]
    assert told["value"].tolist() == ["not read"]
    assert apart not in set(bare.inferred["what"])


def test_removed_sheets_stay_removed_when_the_sheets_alone_are_the_source(room):
    (room / "sheets" / "removed" / "other.csv").write_text(SHEET.replace("elm", "yew"))
    assert pst.read_scores(room / "sheets").tasters["taster"].tolist() == ["elm"]


def test_a_removed_folder_elsewhere_is_a_folder_of_sheets(tmp_path):
    (tmp_path / "removed").mkdir()
    (tmp_path / "removed" / "week.csv").write_text(SHEET)
    assert len(pst.read_scores(tmp_path)) == 4


def test_a_page_asked_for_by_name_is_read(room):
    (room / "pages" / "other.csv").write_text(SHEET)
    assert len(pst.read_scores(room / "pages" / "other.csv")) == 4


def test_the_rooms_own_word_wins_over_a_register_among_the_sheets(room):
    (room / "sheets" / "tasters.csv").write_text("taster,role\nelm,trainee\n")
    assert pst.read_scores(room).tasters["role"].tolist() == ["trainee"]
    pst.write_room(room)
    assert pst.read_scores(room).tasters["role"].tolist() == ["trainee"]


def test_an_empty_list_of_the_rooms_workbook_takes_nothing_back(room):
    (room / "sheets" / "tasters.csv").write_text("taster,role\nelm,trainee\n")
    pst.write_answers(room, {"headings": pd.DataFrame([{"heading": "colour", "means": "fact"}])})
    assert pst.read_scores(room).tasters["role"].tolist() == ["trainee"]


def test_a_heading_said_anew_is_read_anew_and_back_again(room):
    for means, words in (("left out", ["brisk"]), ("score", ["brisk", "colour"]), ("fact", ["brisk"])):
        pst.write_answers(room, {"headings": pd.DataFrame([{"heading": "colour", "means": means}])})
        assert pst.read_scores(room).descriptors["descriptor"].tolist() == words


def test_a_mark_may_be_said_to_be_a_blank_and_then_worth_something(room):
    (room / "sheets" / "week.csv").write_text(
        "lot,taster,brisk\n1,elm,5\n2,elm,7-\n3,elm,6\n4,elm,5\n5,elm,7-\n6,elm,4\n"
    )
    assert pst.examine_sheets(room).marks["mark"].tolist() == ["7-"]
    for worth, scores in ((float("nan"), [5, 6, 5, 4]), (6.75, [5, 6.75, 6, 5, 6.75, 4])):
        pst.write_answers(room, {"marks": pd.DataFrame([{"mark": "7-", "worth": worth, "descriptor": "brisk"}])})
        assert pst.read_scores(room).frame["score"].tolist() == scores
        assert pst.examine_sheets(room).marks.empty


def test_an_answer_settles_its_question_and_the_next_sheet_is_not_asked(room):
    (room / "sheets" / "week.csv").write_text(SHEET + "3,elm,7-,6\n4,elm,5,6\n5,elm,7-,6\n")
    asked = pst.examine_sheets(room)
    assert len(asked.problems) > 0
    pst.write_answers(room, {"marks": pd.DataFrame([{"mark": "7-", "worth": 6.75}])})
    assert pst.read_scores(room).frame["score"].tolist().count(6.75) == 2
    (room / "sheets" / "week2.csv").write_text(SHEET.replace("5,6", "7-,6").replace("1,elm", "9,elm"))
    assert len(pst.examine_sheets(room).problems) == 0


def test_a_workbook_of_others_in_place_of_ours_is_left_alone(room):
    (room / "room.xlsx").write_text("mine")
    with pytest.raises(pst.PanelError, match="stands in the way"):
        pst.write_answers(room / "sheets" / "week.csv", {}, room / "room.xlsx")


def test_no_other_register_can_be_answered_in(room):
    with pytest.raises(pst.DesignError, match="no register 'answers'"):
        pst.write_answers(room, {"answers": pd.DataFrame()})


def test_the_view_of_a_sheet_tells_its_rows_apart(room):
    (room / "sheets" / "week.csv").write_text("Week 14,,,\n" + SHEET + "Average,,5.5,5\n")
    (view,) = pst.examine_sheets(room).views
    assert [(number, kind) for number, kind, _ in view.rows] == [
        (1, "beside"), (2, "heading"), (3, "read"), (4, "read"), (5, "beside")]  # fmt: skip
    assert view.rows[1][2] == ["lot", "taster", "brisk", "colour"]


def test_each_sheet_is_counted_for_itself(room):
    (room / "sheets" / "more.csv").write_text("lot,taster,brisk\n1,yew,5\n2,yew,6\n3,ash,6\n")
    table = pst.examine_sheets(room).files.set_index("file")[["lots", "tasters", "words"]]
    assert table.loc["sheets/more.csv"].tolist() == [3, 2, 1]
    assert table.loc["sheets/week.csv"].tolist() == [2, 1, 2]
