"""Folders and files that are not what they seem: nothing is passed over without a word, nothing waits for ever."""

import os

import pandas as pd
import pytest

import panelstats as pst
from panelstats.cli import main
from panelstats.errors import PanelError, SheetError

SCORES = pd.DataFrame({"lot": ["1", "2"] * 3, "taster": list("aabbcc"), "brisk": [5, 6, 5, 7, 4, 6.5]})
BOTH = pytest.mark.parametrize("read", [pst.read_scores, pst.read_cells])


@pytest.fixture
def room(tmp_path):
    SCORES.to_csv(tmp_path / "week.csv", index=False)
    return tmp_path


@BOTH
def test_a_folder_that_cannot_be_opened_is_told(read, room, monkeypatch):
    (room / "late").mkdir()
    scan = os.scandir

    def closed(path):
        if str(path).endswith("late"):
            raise PermissionError(13, "Permission denied", str(path))
        return scan(path)

    monkeypatch.setattr(os, "scandir", closed)
    with pytest.raises(SheetError, match="the folder cannot be opened"):
        read(room)
    assert read(room, set_aside=True).tasters["taster"].tolist() == ["a", "b", "c"]


@pytest.mark.parametrize("words", [["session"], ["session", "--room"], ["session", "--out"], ["plan", "--past"]])
def test_a_folder_that_may_not_be_entered_is_told(words, room, monkeypatch, capsys):
    (room / "closed").mkdir()
    access = os.access
    monkeypatch.setattr(os, "access", lambda path, kind: not str(path).endswith("closed") and access(path, kind))
    with pytest.raises(SystemExit) as stop:
        main([words[0], *[str(room / "week.csv")] * (len(words) > 1), *words[1:], str(room / "closed")])
    assert stop.value.code == 2
    assert "may not be entered" in capsys.readouterr().err


@BOTH
def test_a_linked_folder_is_told_and_not_walked_in_circles(read, room):
    (room / "again").symlink_to(room)
    with pytest.raises(SheetError, match="a linked folder is not looked into"):
        read(room)
    assert read(room, set_aside=True).tasters["taster"].tolist() == ["a", "b", "c"]


@BOTH
def test_a_folder_that_is_no_room_but_a_whole_disk_is_refused(read, room, monkeypatch):
    from panelstats.sheets.files import sources as files

    monkeypatch.setattr(files, "MOST_FILES", 3)
    for name in "abcd":
        (room / name).mkdir()
        SCORES.to_csv(room / name / "week.csv", index=False)
    with pytest.raises(SheetError, match="more than 3 sheets"):
        read(room)


@BOTH
def test_a_pipe_among_the_sheets_is_told_and_not_waited_for(read, room):
    os.mkfifo(room / "pipe.csv")
    (room / "gone.csv").symlink_to(room / "nowhere.csv")
    with pytest.raises(SheetError, match=r"(?s)leads nowhere.*gone\.csv.*pipe\.csv"):
        read(room)
    with pytest.raises(SheetError, match="a pipe or device"):
        read(room / "pipe.csv")


def test_a_pipe_where_results_should_go_is_not_waited_for(room, capsys):
    for ending in ("html", "xlsx"):
        os.mkfifo(room / f"week-room.{ending}")
        assert main([str(room / "week.csv"), "--overwrite"]) == 2
        assert "pipe or device stands where the file should go" in capsys.readouterr().err
        (room / f"week-room.{ending}").unlink()
    os.mkfifo(room / "room.xlsx")
    assert main(["start", str(room / "week.csv")]) == 2


def test_a_device_is_no_source(capsys):
    assert main(["/dev/zero"]) == 2
    assert "a pipe or device" in capsys.readouterr().err


def test_hidden_files_and_those_of_other_kinds_are_left_alone(room):
    (room / ".cache").mkdir()
    SCORES.to_csv(room / ".cache" / "old.csv", index=False)
    (room / "letter.pdf").write_bytes(b"%PDF")
    assert len(pst.read_scores(room)) == len(SCORES)


def test_an_empty_starter_among_a_season_is_told(room):
    pst.write_starter(room / "starter.xlsx")
    with pytest.raises(SheetError, match="hold no score"):
        pst.read_cells(room)


@pytest.mark.parametrize("column", ["tolerance", "step"])
@pytest.mark.parametrize("value", [-1, 0, "inf", "-inf", "nan", "1e999", "ten"])
def test_a_size_that_is_none_is_told_with_its_cell(column, value):
    register = pd.DataFrame({"descriptor": ["body", "brisk"], column: [None, value]})
    with pytest.raises(SheetError) as caught:
        pst.read_scores(SCORES, room={"descriptors": register})
    assert f"row 3, column {column}, value '{value}'" in str(caught.value)


@pytest.mark.parametrize(("low", "high"), [(5, 5), (10, 0), ("inf", 3), (0, "-inf")])
def test_a_scale_without_room_is_told_with_its_cell(low, high):
    register = pd.DataFrame({"descriptor": ["brisk"], "low": [low], "high": [high]})
    with pytest.raises(SheetError, match=r"row 2, column (low|high)"):
        pst.read_scores(SCORES, room={"descriptors": register})


@pytest.mark.parametrize(
    ("register", "table", "told"),
    [("lots", {"lot": ["1", "2", "1"], "class": ["x", "x", "y"]}, "rows 2 and 4, column class, values 'x' and 'y'"),
     ("tasters", {"taster": ["a", "A"], "role": ["senior", "trainee"]}, "rows 2 and 3, column role"),
     ("descriptors", {"descriptor": ["brisk", "brisk"], "tolerance": [1, 2]}, "column tolerance")],
)  # fmt: skip
def test_a_register_that_contradicts_itself_is_told(register, table, told):
    with pytest.raises(SheetError, match="says two things") as caught:
        pst.read_scores(SCORES, room={register: pd.DataFrame(table)})
    assert told in str(caught.value)


def test_a_register_that_says_one_thing_twice_is_obeyed():
    lots = pd.DataFrame({"lot": ["1", "2", "1"], "class": ["x", "x", "x"], "garden": ["g", "g", ""]})
    assert set(pst.read_scores(SCORES, room={"lots": lots}).lots["class"]) == {"x"}


LISTS = {"lots.csv": {"lot": ["1"], "class": ["x"]}, "lots.tsv": {"lot": ["2"], "class": ["y"], "garden": ["g"]}}


@pytest.fixture
def listed(room):
    for name, table in LISTS.items():
        pd.DataFrame(table).to_csv(room / name, index=False, sep="," if name.endswith("csv") else "\t")
    return room


@BOTH
def test_two_lists_of_one_register_both_hold(read, listed):
    assert read(listed).lots["class"].tolist() == ["x", "y"]


@BOTH
def test_two_lists_that_contradict_each_other_are_told_with_both_places(read, listed):
    (listed / "lots.tsv").write_text("lot\tclass\n2\ty\n1\ty\n")
    with pytest.raises(
        SheetError, match=r"says two things of lot 1\n.*lots.csv, row 2, and lots.tsv, row 3, column class"
    ):
        read(listed)


def test_what_the_room_says_stands_above_what_lies_among_the_sheets(listed):
    with pd.ExcelWriter(listed / "room.xlsx") as book:
        pd.DataFrame({"lot": ["1", "2"], "class": "z"}).to_excel(book, sheet_name="lots", index=False)
        pd.DataFrame(columns=["taster", "role"]).to_excel(book, sheet_name="tasters", index=False)
    (listed / "tasters.csv").write_text("taster,role\na,senior\nb,senior\nc,trainee\n")
    scores = pst.read_scores(listed)
    assert scores.lots["class"].tolist() == ["z", "z"]
    assert scores.tasters["role"].tolist() == ["senior", "senior", "trainee"], "a list left empty takes nothing back"


@pytest.mark.parametrize(
    "asked",
    [{"lot": "typo"}, {"lot": ["1", "typo"]}, {"taster": "A"}, {"session": "2"}, {"descriptor": "brsk"},
     {"lot_class": "none"}, {"role": "master"}],
)  # fmt: skip
def test_a_selection_of_what_was_not_read_is_refused(asked):
    with pytest.raises(PanelError, match=r"no such|no .* is known|unknown word"):
        pst.read_scores(SCORES).select(**asked)


TWICE = pd.DataFrame({"lot": ["1", "2"] * 3, "taster": list("aabbcc"), "brisk": [5, 6, 5, 7, 4, 6.5],
                      "class": ["x", "y", "x", "y", "z", "Y"], "price": [1, 2, 1, 2, 3, 2]})  # fmt: skip


def test_a_lot_that_sheets_give_two_classes_is_told_with_both():
    with pytest.raises(SheetError, match=r"(?s)elsewhere: 'x'.*row 6, column class, value 'z'") as caught:
        pst.read_scores(pd.concat([TWICE.iloc[:1], TWICE], ignore_index=True).assign(pot=[2, 1, 1, 1, 1, 1, 1]))
    assert len(caught.value.problems) == 1, "another case is no other class"


def test_a_fact_set_aside_is_counted_and_one_that_may_differ_is_told():
    scores = pst.read_scores(TWICE, set_aside=True)
    account = scores.account.iloc[0]
    assert account["set_aside"] == len(scores.problems) == 1
    assert account["seen"] == account[["scores", "blanks", "faults", "words", "facts", "set_aside"]].sum()
    assert scores.lots["class"].tolist() == ["x", "y"]
    told = scores.inferred.set_index("what")["value"]
    assert told["price that differs from row to row, 1 lot"] == "the first of each lot"


def test_what_the_register_says_of_a_lot_needs_no_word_of_the_sheets():
    lots = pd.DataFrame({"lot": ["1", "2"], "class": ["x", "y"]})
    assert pst.read_scores(TWICE, room={"lots": lots}).lots["class"].tolist() == ["x", "y"]


def test_one_lot_in_two_sessions_may_have_been_of_another_class_then():
    weeks = TWICE.iloc[:4].assign(session=["1", "1", "2", "2"], taster="a", **{"class": ["x", "y", "z", "y"]})
    lots = pd.DataFrame({"lot": ["1"], "role": ["control"]})
    scores = pst.read_scores(weeks, room={"lots": lots})
    assert "class that differs from row to row, 1 lot" in set(scores.inferred["what"])
