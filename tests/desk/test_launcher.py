"""A launcher, run as a desktop runs it: the desk opens, and the browser is shown its address; the list of promises."""

import os
import re
import shlex
import signal
import subprocess
import sys
import time
from pathlib import Path
from urllib.request import HTTPCookieProcessor, build_opener

import pytest

from panelstats.cli import main


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="a desktop entry")
def test_a_launcher_opens_the_desk_of_its_room(tmp_path, capsys):
    room = tmp_path / 'the "old" room 100 %'
    assert main(["desk", str(room), "--launcher", str(tmp_path / "desk.desktop")]) == 0
    capsys.readouterr()
    entry = (tmp_path / "desk.desktop").read_text()
    # freedesktop.org, Desktop Entry Specification 1.5: arguments quoted, %% for a per cent sign.
    (line,) = [line.removeprefix("Exec=") for line in entry.splitlines() if line.startswith("Exec=")]
    words = [word.replace("%%", "%") for word in shlex.split(line)]
    assert words[-1] == str(room)
    seen = tmp_path / "seen"
    browser = tmp_path / "browser"
    browser.write_text(f'#!/bin/sh\nprintf %s "$1" > {shlex.quote(str(seen))}\n')
    browser.chmod(0o755)
    process = subprocess.Popen(words, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True,
                               env={**os.environ, "BROWSER": f"{browser} %s"})  # fmt: skip
    try:
        address = [process.stdout.readline() for _ in range(2)][1].strip()
        for _ in range(100):
            if seen.exists() and seen.read_text():
                break
            time.sleep(0.1)
        assert seen.read_text() == address
        with build_opener(HTTPCookieProcessor()).open(address) as answer:
            assert room.name.encode() in answer.read().replace(b"&#34;", b'"')
    finally:
        process.send_signal(signal.SIGINT)
        process.communicate(timeout=30)
    assert (room / "sheets").is_dir()


def test_every_promise_names_tests_that_there_are():
    folder = Path(__file__).parent
    named = set(re.findall(r"`(test_\w+)`", (folder / "README.md").read_text("utf-8")))
    texts = [path.read_text("utf-8") for path in folder.glob("test_*.py")]
    there = {name for text in texts for name in re.findall(r"^def (test_\w+)", text, re.MULTILINE)}
    assert len(named) > 40
    assert named - there == set()
