"""Killed at any moment: whatever the desk was writing, every file of the room is as before or as after."""

import hashlib
import io
import json
import os
import shutil
import signal
import sys
import tempfile
from pathlib import Path

import pandas as pd
import pytest
from opening import SHEET

from panelstats.desk import work
from panelstats.desk.drafts import begun, finished
from panelstats.desk.folder import Folder

pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="a process is killed between its calls of the system")
# What changes a file system, as Python audits it (sys.addaudithook); `open` counts where it writes.
CHANGES = {"os.rename", "os.remove", "os.mkdir", "os.rmdir", "os.chmod", "os.truncate", "tempfile.mkstemp", "os.link"}
WRITES = os.O_WRONLY | os.O_RDWR


DRAFT = begun({"session": "monday", "taster": "elm", "lots": "1-3", "words": "brisk"})


def add(folder):
    folder.add("week2.csv", io.BytesIO(SHEET.replace("elm", "oak").encode()))


def remove(folder):
    folder.remove("sheets/week.csv")


def keep_draft(folder):
    folder.write(folder.drafts / "monday elm.json", b'{"cells": [["7"]]}')


def finish(folder):
    """A draft becomes a sheet, as the desk does it and takes it up again after a kill."""
    (path,) = folder.drafts.glob("*.json")
    folder.add(f"{path.stem}.csv", io.BytesIO(DRAFT.sheet()))
    path.unlink()


def invent(folder):
    work.invent(str(folder.path))


def note(folder):
    work.note(str(folder.path), {"headings": [{"heading": "colour", "means": "left out"}]})


def answer(folder):
    work.ask(str(folder.path), folder.state(), "summary", {})


def plan(folder):
    given = {"lots": "4", "tasters": "elm", "limit": "5", "session": "tuesday"}
    work.ask(str(folder.path), folder.state(), "plan", given)


def digests(folder):
    """What everybody sees of a room: files that are not hidden, by what they hold."""
    return {str(path.relative_to(folder.path)): hashlib.sha256(path.read_bytes()).hexdigest()
            for path in folder.path.rglob("*") if path.is_file() and not path.name.startswith(".")}  # fmt: skip


def changes(folder, task, last=10**9):
    """The task in a process that dies at its change of the file system of this number; how many it came to."""
    child = os.fork()
    if not child:
        met = [0]

        def count(event, args):
            if event in CHANGES or (event == "open" and isinstance(args[2], int) and args[2] & WRITES):
                met[0] += 1
                if met[0] > last:
                    os.kill(os.getpid(), signal.SIGKILL)

        try:
            sys.addaudithook(count)
            task(folder)
            os._exit(met[0])
        finally:
            os._exit(255)
    _, status = os.waitpid(child, 0)
    if os.WIFSIGNALED(status):
        return last
    assert os.waitstatus_to_exitcode(status) < 255
    return os.waitstatus_to_exitcode(status)


def dies(tmp_path, task, step=1):
    """Kill a task at every change of the file system, or at every so manyth."""
    base = Folder(tmp_path / "room")
    base.prepare()
    base.add("week.csv", io.BytesIO(SHEET.encode()))
    if task is finish:
        base.write(base.drafts / "monday elm.json", json.dumps(DRAFT._asdict()).encode())
    work.note(str(base.path), {"headings": pd.DataFrame([{"heading": "brisk", "means": "score"}]).to_dict("records")})
    before, kept = digests(base), tmp_path / "kept"
    shutil.copytree(base.path, kept)
    moments = changes(base, task)
    after = digests(base)
    assert after != before
    for moment in range(moments - 1, -1, -step):
        shutil.rmtree(base.path)
        shutil.copytree(kept, base.path)
        assert changes(base, task, moment) == moment
        left = digests(base)
        for name in left:
            assert left[name] in {before.get(name), after.get(name)}, f"{name}, killed at change {moment}"
        assert before.keys() & after.keys() <= left.keys(), f"killed at change {moment}"
        base.prepare()
        finished(base)
        assert task is not finish or digests(base) in (before, after)
        assert not list(base.path.rglob(".*.part"))
    return moments


@pytest.mark.parametrize(("task", "least"), [(add, 3), (remove, 1), (keep_draft, 3), (finish, 4), (note, 3)])
def test_a_desk_killed_between_any_two_changes_leaves_whole_files(task, least, tmp_path):
    assert dies(tmp_path, task) >= least


@pytest.mark.parametrize("task", [add, remove, finish, note, plan, invent])
def test_nothing_is_written_outside_the_room(task, tmp_path):
    base = Folder(tmp_path / "room")
    base.prepare()
    base.add("week.csv", io.BytesIO(SHEET.encode()))
    base.write(base.drafts / "monday elm.json", json.dumps(DRAFT._asdict()).encode())
    told = tmp_path / "told"
    child = os.fork()
    if not child:
        heard = []

        def hear(event, args):
            if event in ("os.remove", "os.rmdir") and args[1] != -1:
                return  # a folder that was made for a while is taken down from within
            if event in CHANGES or (event == "open" and isinstance(args[2], int) and args[2] & WRITES):
                heard.append(args[1] if event in ("os.rename", "os.link") else args[0])

        try:
            sys.addaudithook(hear)
            task(base)
            told.write_text("\n".join(str(each) for each in heard if not isinstance(each, int)))
        finally:
            os._exit(0)
    os.waitpid(child, 0)
    places = [Path(line).resolve() for line in told.read_text().splitlines() if line != "/dev/null"]
    assert any(base.path in place.parents for place in places)
    outside = [place for place in places if base.path not in place.parents]
    passing = Path(tempfile.gettempdir()).resolve()  # what is being made there is gone when the task is done
    assert [place for place in outside if passing not in place.parents or place.exists()] == []


def test_a_desk_killed_before_its_last_change_of_an_answer_leaves_whole_files(tmp_path):
    assert dies(tmp_path, answer, step=100) >= 6  # `python -m tests.desk` tries every change, and those of a plan
