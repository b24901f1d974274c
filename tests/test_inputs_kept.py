"""No output is ever an input: whatever a run is told to write, the files it read stay as they were."""

import os
import shutil

import pandas as pd
import pytest

import panelstats as pst
from panelstats import output
from panelstats.cli import main
from panelstats.errors import PanelError
from panelstats.sheets.reading.start import write_room, write_starter

SCORES = pd.DataFrame(
    {"lot": ["1", "2", "1", "2", "1", "2"], "taster": list("aabbcc"), "brisk": [5, 6, 5, 7, 4, 6.5], "pot": 1}
)
ANSWERS = pd.DataFrame({"kind": "triangle", "taster": list("abcd"), "order": "ABA", "answer": [2, 2, 1, 2]})


def contents(folder):
    return {path.name: path.read_bytes() for path in folder.rglob("*") if path.is_file()}


@pytest.fixture
def week(tmp_path):
    path = tmp_path / "week.xlsx"
    SCORES.to_excel(path, index=False)
    return path


def refused(words, folder, capsys):
    """The message of a run that must be refused and must leave the folder as it was, with and without the option."""
    before = contents(folder)
    for more in ([], ["--overwrite"]):
        assert main([*map(str, words), *more]) == 2
        told = capsys.readouterr().err
        assert "never replaced" in told
        assert "another name" in told
        assert "--overwrite" not in told
        assert contents(folder) == before


@pytest.mark.parametrize("command", [["session"], ["match", "--standard", "1"], ["session", "--taster-sheets"]])
def test_a_workbook_beside_the_page_asked_for_is_not_written_over_the_sheet(week, command, capsys):
    refused([command[0], week, *command[1:], "--out", week.with_suffix(".html")], week.parent, capsys)


def test_start_does_not_write_over_the_sheet_or_the_registers_it_read(week, capsys):
    refused(["start", week, "--out", week], week.parent, capsys)
    (week.parent / "room.xlsx").write_bytes(week.read_bytes())  # somebody's own, without our mark
    refused(["start", week], week.parent, capsys)
    refused(["start", week.parent], week.parent, capsys)


def test_start_brings_its_own_room_up_to_date_and_keeps_what_was_filled_in(week):
    from openpyxl import load_workbook

    assert main(["start", str(week)]) == 0
    room = week.parent / "room.xlsx"
    book = load_workbook(room)
    page = book["tasters"]
    page.cell(2, 2).value = "trainee"
    page.append(["yew", "senior"])
    book.save(room)
    assert main(["start", str(week)]) == 0
    rows = list(load_workbook(room)["tasters"].iter_rows(min_row=2, max_col=2, values_only=True))
    assert rows[0][1] == "trainee"
    assert ("yew", "senior") in rows


def spellings(path):
    """One file by every name a system may give it."""
    link, hard, folder = path.with_name("link.xlsx"), path.with_name("hard.xlsx"), path.parent / "sub"
    link.symlink_to(path)
    os.link(path, hard)
    folder.symlink_to(path.parent, target_is_directory=True)
    relative = os.path.relpath(path)
    return [str(path), relative, f"{path.parent}/../{path.parent.name}/{path.name}", link, hard, folder / path.name]


def test_no_spelling_and_no_link_hides_a_file_that_was_read(week):
    before = week.read_bytes()
    scores, review = pst.read_scores(week), pst.review_session(pst.read_scores(week))
    for name in spellings(week):
        for write in (
            lambda to: write_room(scores, to, overwrite=True),
            lambda to: write_room(week, to, overwrite=True),
            lambda to: pst.write_workbook(review, to, overwrite=True),
            lambda to: pst.write_report(review, to, overwrite=True),
            lambda to: pst.write_taster_page(review.find(pst.TasterAssessment), "a", to, scores=scores, overwrite=True),
        ):
            with pytest.raises(PanelError, match="never replaced"):
                write(name)
    assert week.read_bytes() == before


def test_the_system_is_asked_whether_two_names_are_one_file(week, monkeypatch):
    """As on a disk that does not tell WEEK from week."""
    shutil.copy(week, week.with_name("WEEK.xlsx"))
    monkeypatch.setattr("pathlib.Path.samefile", lambda a, b: str(a).casefold() == str(b).casefold())
    with pytest.raises(PanelError, match="never replaced"):
        output.check_writable(week.with_name("WEEK.xlsx"), overwrite=True, read=[week])


def test_a_file_read_long_ago_is_known_from_another_folder(week, monkeypatch):
    monkeypatch.chdir(week.parent)
    scores = pst.read_scores("week.xlsx")
    monkeypatch.chdir("/")
    with pytest.raises(PanelError, match="never replaced"):
        write_room(scores, week, overwrite=True)


def test_every_sheet_and_register_of_a_folder_is_kept_and_our_own_results_there_are_not(tmp_path, capsys):
    folder = tmp_path / "sale"
    folder.mkdir()
    SCORES.to_csv(folder / "one.csv", index=False)
    SCORES.assign(lot=["3", "4"] * 3).to_excel(folder / "two.xlsx", index=False)
    SCORES[["taster"]].drop_duplicates().assign(role="senior").to_csv(folder / "tasters.csv", index=False)
    (folder / "empty.xlsx").write_bytes(b"")
    refused([folder, "--set-aside", "--out", folder / "two.html"], folder, capsys)
    refused([folder, "--set-aside", "--out", folder / "empty.html"], folder, capsys)
    for name in ("one.csv", "tasters.csv", "empty.xlsx"):
        refused(["start", folder, "--out", folder / name], folder, capsys)
    assert main([str(folder), "--set-aside"]) == 0
    assert main([str(folder), "--set-aside"]) == 0  # the results of the first run are replaced


def test_registers_and_answers_are_inputs_too(week, tmp_path, capsys):
    registers, answers = tmp_path / "registers.xlsx", tmp_path / "answers.xlsx"
    SCORES[["taster"]].drop_duplicates().assign(role="senior").to_excel(registers, sheet_name="tasters", index=False)
    ANSWERS.to_excel(answers, index=False)
    refused([week, "--room", registers, "--out", tmp_path / "registers.html"], tmp_path, capsys)
    refused(["differ", answers, "--out", tmp_path / "answers.html"], tmp_path, capsys)
    tested = ["match", week, "--standard", "1", "--tests", answers]
    refused([*tested, "--out", tmp_path / "answers.html"], tmp_path, capsys)


def test_a_taster_sheet_is_not_written_over_a_sheet_that_was_read(tmp_path, capsys):
    folder = tmp_path / "week-tasters"
    folder.mkdir()
    path = folder / "a.html"  # the content of a file decides what it is, not its ending
    SCORES.to_csv(path, index=False)
    refused([path, "--taster-sheets", "--out", tmp_path / "week-tasters.html"], tmp_path, capsys)


def test_a_marked_copy_that_was_read_itself_is_not_marked_over(week, capsys):
    bad = SCORES.astype(object)
    bad.loc[0, "brisk"] = "nought"
    bad.to_excel(week, index=False)
    assert main(["read", str(week), "--mark"]) == 2
    copy = week.with_name("week-marked.xlsx")
    before = copy.read_bytes()
    assert main(["read", str(week), str(copy), "--mark"]) == 2
    assert "never replaced" in capsys.readouterr().err
    assert copy.read_bytes() == before


def test_nothing_is_written_where_one_of_several_files_is_refused(week, capsys):
    (week.parent / "week-room.xlsx").write_text("somebody's")
    assert main([str(week), "--taster-sheets"]) == 2
    assert set(contents(week.parent)) == {"week.xlsx", "week-room.xlsx"}


def test_replacement_of_a_sheet_in_the_way_is_not_advised(week, tmp_path):
    for write in (
        lambda: write_starter(week),
        lambda: output.write_whole(week, b"x"),
        lambda: pst.example.write_example(tmp_path, which="bench"),
    ):
        (tmp_path / "bench.xlsx").write_bytes(week.read_bytes())
        with pytest.raises(PanelError) as caught:
            write()
        assert "--overwrite" not in str(caught.value)
