"""`panelstats differ` and `panelstats match`: short answers, pages beside the sheets, one message for bad input."""

import json
import subprocess
import sys
from pathlib import Path

import openpyxl
import pandas as pd
import pytest

from panelstats.cli import main

BLENDS = Path(__file__).parents[1] / "data" / "blends"


def lines_of(text):
    return [line for line in text.splitlines() if not line.startswith(("page:", "workbook:"))]


# ISO 4120, table A.1 (from memory): of 60 answers to a triangle test 27 right are needed to show a difference at 5 %.
@pytest.mark.parametrize(("correct", "call"), [(26, "CANNOT TELL"), (27, "DIFFER")])
def test_counts_on_the_command_line_are_judged(capsys, correct, call):
    assert main(["differ", "triangle", "--correct", str(correct), "--answers", "60"]) == 0
    out = capsys.readouterr().out
    assert out.startswith(call)
    assert max(map(len, out.splitlines())) <= 80


# Binomial tail by scipy: 22 right or fewer of 60 where 30 % can tell has probability 0.007; 8 of 20 settle nothing.
def test_a_match_needs_a_tolerance_and_an_open_one_says_what_so_many_answers_settle(capsys):
    assert main(["differ", "triangle", "--correct", "22", "--answers", "60"]) == 0
    assert "MATCH" not in capsys.readouterr().out
    assert main(["differ", "triangle", "--correct", "22", "--answers", "60", "--within-share", "0.3"]) == 0
    assert capsys.readouterr().out.startswith("MATCH")
    assert main(["differ", "triangle", "--correct", "8", "--answers", "20", "--within-share", "0.2"]) == 0
    assert "cannot settle this with 20 answers" in capsys.readouterr().out.splitlines()[0]


def test_counts_write_a_page_only_where_one_is_asked_for(tmp_path, capsys, monkeypatch):
    monkeypatch.chdir(tmp_path)
    words = ["differ", "a-not-a", "--hits", "20", "--n-a", "30", "--false", "10", "--n-not-a", "30", "--within-d", "1"]
    assert main(words) == 0
    assert list(tmp_path.iterdir()) == []
    assert main([*words, "--out", str(tmp_path / "page.html")]) == 0
    assert sorted(path.name for path in tmp_path.iterdir()) == ["page.html", "page.xlsx"]
    assert "page.html" in capsys.readouterr().out


def test_a_folder_of_answers_is_judged_and_its_page_written(tmp_path, capsys):
    assert main(["differ", str(BLENDS), "--within-share", "0.3", "--out", str(tmp_path)]) == 0
    out = capsys.readouterr().out
    assert max(map(len, lines_of(out))) <= 80
    page = (tmp_path / "blends-differ.html").read_text()
    assert "S with B2" in page
    # the digest of the answers, and where they stand
    assert "(answers.csv)" in page.splitlines()[-3]
    assert (tmp_path / "blends-differ.xlsx").exists()


def test_blends_are_held_against_their_standard(tmp_path, capsys):
    assert main(["match", str(BLENDS), "--standard", "S", "--out", str(tmp_path)]) == 0
    out = capsys.readouterr().out
    assert max(map(len, lines_of(out))) <= 80
    # B1 matches by its making, B2 is weaker and paler: data/blends-truth.json
    assert "- B2: differs from S" in out
    assert "- B1: matches S" in out
    assert out.index("B2: differs") < out.index("triangle")
    assert "B1 and B2 against S" in (tmp_path / "blends-match.html").read_text()
    book = openpyxl.load_workbook(tmp_path / "blends-match.xlsx")
    assert {"What it says", "Beside the standard", "In short", "Account of every cell", "How it was worked out"} <= set(
        book.sheetnames
    )


def test_answers_of_tests_stand_beside_the_scores(tmp_path, capsys):
    tests = BLENDS / "answers.csv"
    assert main(["match", str(BLENDS), "--tests", str(tests), "--out", str(tmp_path), "--json"]) == 0
    answer = json.loads(capsys.readouterr().out)
    assert set(answer) == {"Blends", "Faults", "Tests"}
    assert len(answer["Tests"]["tables"]["table"]) == 4
    assert "triangle" in (tmp_path / "blends-match.html").read_text()


def test_a_tolerance_of_ones_own_is_obeyed_and_said(tmp_path, capsys):
    assert main(["match", str(BLENDS), "--tolerance", "0.1", "--out", str(tmp_path)]) == 0
    out = " ".join(capsys.readouterr().out.split())
    assert "B1: cannot tell whether it matches S" in out
    assert "tolerance 0.1 points, yours" in out


def test_blends_of_several_weeks_are_tracked(tmp_path, capsys):
    rows = [
        {"session": f"2026-0{week}-01", "taster": taster, "lot": lot, "pot": pot, "strength": score + bump}
        for week in range(1, 6)
        for taster, bump in (("alder", 0.0), ("beech", 0.5), ("elm", -0.5))
        for lot, score in (("S", 5.0), (f"B{week}", 5.0 + 0.5 * week))
        for pot in (1, 2)
    ]
    for at, row in enumerate(rows):  # a little noise, the same each time
        row["strength"] += 0.5 * (at % 3 - 1)
    sheets = tmp_path / "weeks"
    sheets.mkdir()
    pd.DataFrame(rows).to_csv(sheets / "scores.csv", index=False)
    roles = [("S", "standard"), *((f"B{week}", "trial") for week in range(1, 6))]
    pd.DataFrame(roles, columns=["lot", "role"]).to_csv(sheets / "lots.csv", index=False)
    assert main(["match", str(sheets)]) == 0
    assert "a chain of matches is not a match" in " ".join(capsys.readouterr().out.split())
    page = (sheets / "weeks-match.html").read_text()
    assert "The weeks against the master" in page
    assert "B5 against S" in page


BAD = {
    "an unknown kind": (["differ", "triangel", "--correct", "3", "--answers", "6"], "triangel"),
    "missing counts": (["differ", "triangle", "--correct", "3"], "--answers"),
    "counts of another kind": (["differ", "a-not-a", "--correct", "3", "--answers", "6"], "--hits"),
    "more right than answers": (["differ", "triangle", "--correct", "7", "--answers", "6"], "correct=7"),
    "two tolerances": (
        ["differ", "triangle", "--correct", "3", "--answers", "6", "--within-share", "0.3", "--within-d", "1"],
        "two tolerances",
    ),
    "counts with a sheet": (["differ", str(BLENDS), "--correct", "3"], "--correct"),
    "a sheet without answers": (["differ", str(BLENDS / "lots.csv")], "lots.csv"),
    "no such standard": (["match", str(BLENDS), "--standard", "Q"], "'Q'"),
    "no such session": (["match", str(BLENDS), "--session", "1999"], "1999"),
    "no such file": (["match", "nowhere.csv", "--standard", "S"], "nowhere.csv"),
    "no such tests": (["match", str(BLENDS), "--tests", "nowhere.csv"], "nowhere.csv"),
    "no folder to write to": (["match", str(BLENDS), "--out", str(BLENDS / "none" / "deeper")], "none"),
}


@pytest.mark.parametrize("case", BAD)
def test_bad_input_is_one_message_that_says_what_to_do(tmp_path, capsys, case):
    words, named = BAD[case]
    out = [] if "--out" in words else ["--out", str(tmp_path)]
    assert main([*words, *out]) == 2
    told = capsys.readouterr()
    assert named in told.err
    assert "do:" in told.err
    assert told.out == ""
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    "words",
    [
        ["--correct", "2.5", "--answers", "6"],
        ["--correct", "-1", "--answers", "6"],
        ["--correct", "2", "--answers", "6", "--error", "5"],
        ["--correct", "2", "--answers", "6", "--within-share", "none"],
    ],
)
def test_an_option_that_is_no_number_of_its_kind_is_refused(capsys, words):
    with pytest.raises(SystemExit) as stop:
        main(["differ", "triangle", *words])
    assert stop.value.code == 2
    assert "error: argument" in capsys.readouterr().err


def test_an_answer_that_cannot_be_read_is_named_with_its_place(tmp_path):
    sheet = tmp_path / "answers.csv"
    sheet.write_text("taster,kind,order,answer\nalder,triangle,ABA,2\nbeech,triangle,ABA,7\n")
    done = subprocess.run(
        [sys.executable, "-m", "panelstats", "differ", str(sheet)], capture_output=True, text=True, check=False
    )
    assert done.returncode == 2
    assert "Traceback" not in done.stderr
    assert "answers.csv" in done.stderr
    assert "row 3" in done.stderr
    assert "'7'" in done.stderr


def test_inputs_are_left_untouched_and_results_are_not_read_back(tmp_path):
    import shutil

    room = tmp_path / "blends"
    shutil.copytree(BLENDS, room)
    before = {path.name: path.read_bytes() for path in room.iterdir()}
    for _ in range(2):  # the second run meets the page and the workbook of the first
        assert main(["differ", str(room)]) == 0
        assert main(["match", str(room)]) == 0
    assert {name: (room / name).read_bytes() for name in before} == before
    assert {path.name for path in room.iterdir()} - set(before) == {
        "blends-differ.html", "blends-differ.xlsx", "blends-match.html", "blends-match.xlsx",
    }  # fmt: skip
