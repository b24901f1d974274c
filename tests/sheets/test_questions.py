"""What only the room can answer is asked once, answered in room.xlsx, obeyed and remembered."""

import openpyxl
import pandas as pd
import pytest

import panelstats as pst

from .messy import DESCRIPTORS, LOTS, TASTERS, TRUE, WIDE, changed, delimited, workbook

WORDS = {"poor": 1.0, "fair": 2.0, "good": 3.0}
ORDER = list(WORDS)


def worded():
    """A sheet whose briskness is said in words."""
    return [WIDE[0], *([*row[:5], ORDER[n % 3]] for n, row in enumerate(WIDE[1:]))]


def answered(room, answer="yes", worth=None):
    book = openpyxl.load_workbook(room)
    page = book["questions"]
    head = [cell.value for cell in page[1]]
    assert head == ["what", "where", "seen", "guess", "answer"]
    for row in page.iter_rows(min_row=2):
        row[4].value = answer
    for row in book["marks"].iter_rows(min_row=2):
        if worth and row[0].value in worth:
            row[1].value = worth[row[0].value]
    book.save(room)
    return book


def found(scores):
    frame = scores.frame
    labels = [frame[key].astype(str) for key in ("lot", "taster", "descriptor")]
    return dict(zip(zip(*labels, strict=True), frame["score"], strict=True))


def test_examining_never_raises_and_reading_refuses_what_it_asks(tmp_path):
    path = tmp_path / "week.csv"
    path.write_bytes(delimited(worded()))
    seen = pst.examine_sheets(path)
    assert list(seen.columns) == ["heading", "where", "means", "why"] if isinstance(seen.columns, list) else True
    assert seen.columns["means"].tolist() == ["lot", "taster", "score", "score", "score", "score"]
    assert seen.questions["guess"].tolist() == ["scores"]
    counts = seen.account[["scores", "blanks", "faults", "words", "facts", "set_aside"]]
    assert (seen.account["seen"] == counts.sum(axis=1)).all()
    with pytest.raises(pst.SheetError, match="words where scores may stand") as caught:
        pst.read_scores(path)
    assert len(caught.value.problems) == 1  # one cause, one problem
    assert caught.value.problems["cell"].tolist() == ["F2"]
    rest = found(pst.read_scores(path, set_aside=True))
    assert rest == {k: v for k, v in TRUE.items() if k[2] != "briskness"}


def test_yes_takes_the_guess_and_a_number_wins_over_it(tmp_path):
    path = tmp_path / "week.csv"
    path.write_bytes(delimited(worded()))
    room = pst.write_room(path)
    answered(room)
    guessed = {k: v for k, v in found(pst.read_scores(path)).items() if k[2] == "briskness"}
    assert set(guessed.values()) == {1.0, 2.0, 3.0}
    answered(room, worth={"good": 9.0})
    assert 9.0 in found(pst.read_scores(path)).values()


def test_what_is_not_answered_is_asked_again_and_answers_are_kept(tmp_path):
    path = tmp_path / "week.csv"
    path.write_bytes(delimited(worded()))
    room = pst.write_room(path)
    with pytest.raises(pst.SheetError, match="words where scores may stand"):
        pst.read_scores(path)
    answered(room, "scores")
    before = found(pst.read_scores(path))
    assert pst.write_room(path) == room
    assert openpyxl.load_workbook(room)["questions"].cell(2, 5).value == "scores"
    assert found(pst.read_scores(path)) == before


def test_a_workbook_that_is_not_ours_is_never_brought_up_to_date(tmp_path):
    path = tmp_path / "week.csv"
    path.write_bytes(delimited(WIDE))
    (tmp_path / "room.xlsx").write_bytes(workbook({"tasters": [["taster", "role"], ["alder", "trainee"]]}))
    with pytest.raises(pst.PanelError, match="never replaced"):
        pst.write_room(path, overwrite=True)


def test_headings_answered_once_hold_for_the_next_sheet(tmp_path):
    head = ["partida no", "wer", *DESCRIPTORS]
    first, second = tmp_path / "week 1.csv", tmp_path / "week 2.csv"
    first.write_bytes(delimited([head, *WIDE[1:]]))
    with pytest.raises(pst.SheetError):
        pst.read_scores(first)
    room = pst.write_room(first, columns={"partida no": "lot", "wer": "taster"})
    assert found(pst.read_scores(first)) == TRUE
    second.write_bytes(delimited([head, *WIDE[1:]]))
    later = pst.read_scores(second, room=room)
    assert found(later) == TRUE
    assert any("read as on" in line for line in later.said)


def test_a_near_miss_is_asked_with_registers_and_without(tmp_path):
    sheet = pd.DataFrame(WIDE[1:], columns=WIDE[0])
    sheet.loc[3, "taster"] = "aldr"
    for room in (None, {"tasters": pd.DataFrame({"taster": TASTERS})}):
        seen = pst.examine_sheets(sheet, room=room)
        assert seen.questions["guess"].tolist() == ["alder"]
        told = {"questions": seen.questions.assign(answer="yes"), **(room or {})}
        assert found(pst.read_scores(sheet, room=told)) == TRUE


def test_a_near_miss_that_is_another_person_is_two_people(tmp_path):
    sheet = pd.DataFrame(WIDE[1:], columns=WIDE[0])
    sheet.loc[3, "taster"] = "aldr"
    asked = pst.examine_sheets(sheet).questions
    scores = pst.read_scores(sheet, room={"questions": asked.assign(answer="aldr")})
    assert set(scores.tasters["taster"]) == {*TASTERS, "aldr"}


def test_struck_out_scores_are_withdrawn_or_count_as_the_room_says(tmp_path):
    from openpyxl.styles import Font

    path = tmp_path / "week.xlsx"

    def strike(book):
        book["s"]["C3"].font = Font(strike=True)

    path.write_bytes(workbook({"s": WIDE}, finish=strike))
    asked = pst.examine_sheets(path).questions
    assert "C3" in asked["what"].iloc[0]
    gone = (WIDE[2][0], WIDE[2][1], "colour")
    withdrawn = found(pst.read_scores(path, room={"questions": asked.assign(answer="withdrawn")}))
    assert withdrawn == {k: v for k, v in TRUE.items() if k != gone}
    assert found(pst.read_scores(path, room={"questions": asked.assign(answer="count as they stand")})) == TRUE


def test_questions_have_lists_of_answers_and_the_room_its_mark(tmp_path):
    path = tmp_path / "week.csv"
    path.write_bytes(delimited(worded()))
    book = openpyxl.load_workbook(pst.write_room(path))
    assert book.sheetnames[:2] == ["questions", "headings"]
    offered = book["questions"].data_validations.dataValidation
    assert any("yes" in str(v.formula1) and "scores" in str(v.formula1) for v in offered)
    assert [c.value for c in book["headings"][1]] == [
        "heading", "where", "seen", "means", "stage", "descriptor", "taster", "pot", "lot", "session",
        "look", "since",
    ]  # fmt: skip


def test_many_rows_with_one_cause_are_one_problem():
    sheet = pd.DataFrame(WIDE[1:], columns=WIDE[0]).assign(lot="")
    sheet.loc[0, "lot"] = LOTS[0]
    sheet.loc[17, "lot"] = LOTS[5]
    sheet.loc[9, "lot"] = LOTS[3]
    with pytest.raises(pst.SheetError) as caught:
        pst.read_scores(sheet.assign(taster="alder"))
    assert len(caught.value.problems) <= 3
    assert changed(WIDE, {}) == WIDE


@pytest.mark.parametrize("meaning", ["left out", "fact", "remark", "position"])
def test_a_meaning_in_room_beats_the_descriptor_that_was_prefilled(meaning):
    rows = [
        (f"{500 + n}", taster, n % 4 + 0.5, n % 3 + 1.0, (7 * n) % 19) for n in range(8) for taster in ("elm", "yew")
    ]
    sheet = pd.DataFrame(rows, columns=["Lot", "Taster", "Brisk", "Body", "Rank"])
    headings = pd.DataFrame([("Rank", meaning, "Rank")], columns=["heading", "means", "descriptor"])
    found = pst.read_scores(sheet, room={"headings": headings})
    assert "Rank" not in set(found.descriptors["descriptor"])
    assert set(found.frame["descriptor"]) == {"Brisk", "Body"}


def test_words_that_are_scores_are_not_told_to_be_facts():
    rows = [
        (f"{500 + n}", taster, ("poor", "fair", "good")[n % 3], n % 5) for n in range(8) for taster in ("elm", "yew")
    ]
    sheet = pd.DataFrame(rows, columns=["Lot", "Taster", "Bright", "Body"])
    marks = pd.DataFrame({"mark": ["poor", "fair", "good"], "worth": [1, 2, 3], "descriptor": "Bright"})
    questions = pst.examine_sheets(sheet).questions
    answered = questions.assign(answer=questions["guess"])
    found = pst.read_scores(sheet, room={"marks": marks, "questions": answered})
    assert set(found.descriptors["descriptor"]) == {"Bright", "Body"}
    assert not (found.inferred["value"] == "fact").any()
