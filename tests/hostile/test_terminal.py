"""What sheets hold never steers a terminal; a console of any kind, closed, full or left, brings no traceback."""

import json
import os
import re
import subprocess
import sys
import zipfile
from pathlib import Path

import pandas as pd
import pytest

import panelstats as pst
from panelstats.cli import main
from panelstats.errors import PanelError, visible

STEERING = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\u2028\u2029\u202a-\u202e\u2066-\u2069\ud800-\udfff]")
# Ways to colour, clear, retitle and ring a terminal (ECMA-48: C0, C1, escape sequences), and to turn its lines.
EVIL = [
    "\x1b[31mred",
    "\x1b]0;title\x07",
    "\x9b2J",
    "a\x08\x08b",
    "\x7f",
    "\u202eturned",
    "\u2066a",
    "x\u2028y",
    "q\x85r",
]
ROWS = pd.DataFrame(
    [(lot, name, 4 + at % 3 + n) for at, lot in enumerate(EVIL) for n, name in enumerate(["\x1b[1mbold", "b", "c"])],
    columns=["lot", "taster", "bri\x1bsk"],
)  # fmt: skip


HERE = str(Path(pst.__file__).parents[1])
COUNTS = ["differ", "triangle", "--correct", "9", "--answers", "20"]
SHELLS = [
    (">&-", {0}), ("2>&-", {0}), (">&- 2>&-", {0}), (">/dev/full", {2}), ("2>/dev/full", {0}), ("<&-", {0}),
    (">/dev/full 2>/dev/full", {2}), ("| true", {0}), ("| head -c 1 >/dev/null", {0}), ("2>&1 | true", {0}),
]  # fmt: skip


def run(*words, shell="", encoding="utf-8", **options):
    command = f'"{sys.executable}" -m panelstats "$@" {shell}'
    return subprocess.run(["sh", "-c", command, "sh", *map(str, words)], capture_output=True, check=False,
                          env=os.environ | {"PYTHONIOENCODING": encoding, "PYTHONPATH": HERE}, **options)  # fmt: skip


@pytest.fixture
def sheet(tmp_path):
    path = tmp_path / "day\x1b[2J.csv"
    ROWS.to_csv(path, index=False)
    return path


@pytest.mark.parametrize("words", [["session"], ["session", "--json"], ["read"], ["read", "--json"], ["shortlist"]])
def test_nothing_in_a_sheet_steers_terminal_page_or_workbook(words, sheet, capsys):
    main([words[0], str(sheet), *words[1:]])
    told = capsys.readouterr()
    assert told.out
    assert not STEERING.search(told.out + told.err)
    if "--json" in words:
        json.loads(told.out)
    for path in sheet.parent.glob("*-*.html"):
        assert not STEERING.search(path.read_text())
    for path in sheet.parent.glob("*.xlsx"):
        with zipfile.ZipFile(path) as book:
            for part in book.namelist():
                assert not STEERING.search(book.read(part).decode())


def test_nothing_in_a_message_steers_the_terminal(sheet, tmp_path, capsys):
    ROWS.assign(**{"bri\x1bsk": "\x1b]0;six\x07"}).to_csv(sheet, index=False)
    for words in ([sheet], [sheet, "--session", "\x1b[1m"], ["match", sheet, "--standard", "\x9b2J"],
                  [tmp_path / "\x1b[2Jno"], [sheet, "--room", "\x1bx"]):  # fmt: skip
        assert main(list(map(str, words))) == 2
        told = capsys.readouterr().err
        assert "do:" in told
        assert not STEERING.search(told)
    with pytest.raises(PanelError) as caught:
        pst.read_scores(sheet)
    assert not STEERING.search(str(caught.value))


def test_what_is_no_steering_sign_is_shown_as_it_is():
    for text in ("lot\t7\nnext", "चाय\u200d", "é", "שלום", "🍵"):
        assert visible(text) == text


@pytest.mark.parametrize("encoding", ["ascii", "cp1252", "utf-16", "latin-1:strict"])
@pytest.mark.parametrize("words", [["session"], ["read"], ["session", "--json"]])
def test_a_console_of_another_encoding_gets_what_it_can_show(encoding, words, tmp_path):
    path = tmp_path / "day.csv"
    ROWS.assign(lot="茶 🍵 −" + ROWS["lot"].index.astype(str).str.slice(0, 1)).to_csv(path, index=False)
    done = run(words[0], path, *words[1:], encoding=encoding)
    assert done.returncode in (0, 2)
    assert b"Traceback" not in done.stderr
    assert b"Error" not in done.stderr
    text = done.stdout.decode(encoding.split(":")[0])
    if done.returncode == 0 and words[-1] == "--json":
        json.loads(text)


@pytest.mark.parametrize(
    ("words", "shell", "codes"),
    [(["--help"], shell, codes | {0}) for shell, codes in SHELLS]
    + [(COUNTS, *each) for each in SHELLS[2:4] + SHELLS[8:9]],
)
def test_streams_that_are_closed_full_or_left_bring_no_traceback(words, shell, codes, tmp_path):
    if "/dev/full" in shell and not os.path.exists("/dev/full"):  # noqa: PTH110
        pytest.skip("this system has no full device")
    done = run(*words, shell=shell, cwd=tmp_path)
    assert done.returncode in codes
    assert b"Traceback" not in done.stderr
    assert b"Exception ignored" not in done.stderr
    if ">/dev/full" in shell and "2>" not in shell and done.returncode:
        assert b"could not be printed" in done.stderr


@pytest.mark.parametrize("shell", ["2>&-", "2>/dev/full", "2>&1 | true", ">&-"])
def test_bad_input_whose_message_nobody_hears_ends_as_ever(shell, tmp_path):
    done = run(tmp_path / "no.csv", shell=shell)
    assert done.returncode == (0 if "|" in shell else 2)  # a shell tells of the last in a row of commands
    assert b"Traceback" not in done.stderr + done.stdout


@pytest.mark.parametrize("words", [[], ["--room"], ["--out"]])
def test_a_name_that_no_file_can_have_is_refused(words, sheet, capsys):
    with pytest.raises(SystemExit) as stop:
        main(["session", *[str(sheet)] * bool(words), *words, "x" * 5000])
    assert stop.value.code == 2
    assert "no file can be had there" in capsys.readouterr().err
