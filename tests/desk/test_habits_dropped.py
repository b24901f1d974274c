"""Workbooks of rooms in known habits, dropped on the desk: the same scores as the command line gives."""

import re

import pandas as pd
import pytest

import panelstats as pst
from panelstats.desk import looking, work
from panelstats.desk.folder import Folder
from panelstats.desk.saying import said_of
from tests.habits import ROOMS

# Every thirtieth room of the corpus, so that many kinds of habit are met.
SOME = sorted(ROOMS)[::30]


def read(source):
    try:
        return pst.read_scores(source)
    except pst.PanelError:
        return None


@pytest.mark.parametrize("name", SOME)
def test_a_room_is_read_the_same_dropped_as_on_the_command_line(name, tmp_path):
    source = ROOMS[name].made().write(tmp_path / "as sent")
    folder = Folder(tmp_path / "room")
    folder.prepare()
    files = sorted(path for path in (source.rglob("*") if source.is_dir() else [source]) if path.is_file())
    for path in files:
        with path.open("rb") as content:
            assert folder.add(path.name, content) == (path.name, "")
        assert (folder.sheets / path.name).read_bytes() == path.read_bytes()
    looked = looking.look(str(folder.path), folder.state())
    assert looked["stands"] == ""
    assert {file["name"] for file in looked["files"]} >= {f"sheets/{path.name}" for path in files if not _hidden(path)}
    told, parts = re.fullmatch(r"([\d,]+) cells = (.*)", looked["account"]).groups()
    assert sum(int(n.replace(",", "")) for n in re.findall(r"([\d,]+) ", parts)) == int(told.replace(",", ""))
    bare = read(source)
    dropped = read(folder.path)
    assert (bare is None) == (dropped is None)
    if bare is not None:
        pd.testing.assert_frame_equal(dropped.frame, bare.frame)
        return
    guesses = {f"answer-{q['key']}": q["choices"][0] for q in looked["questions"] if q["choices"] and not q["answer"]}
    said = said_of(looked, "", guesses)
    assert len(said["questions"]) == len(guesses)
    if guesses:
        work.note(str(folder.path), said)
        again = looking.look(str(folder.path), folder.state())
        answered = {q["key"] for q in again["questions"] if q["answer"]}
        met = {q["key"] for q in again["questions"]}
        assert {key.removeprefix("answer-") for key in guesses} & met <= answered


def _hidden(path):
    return path.name.startswith((".", "~$"))
