"""A file that opens the desk of a room by a double click, in the way of this system."""

from __future__ import annotations

import shlex
import sys
from typing import TYPE_CHECKING

from panelstats.output import write_whole

if TYPE_CHECKING:
    from pathlib import Path


def launched(folder: Path, launcher: Path) -> Path:
    """A file that a double click runs, in the way of this system."""
    words = [sys.executable, "-m", "panelstats", "desk", str(folder.resolve())]
    if sys.platform == "win32":
        quoted = " ".join(f'"{word}"' for word in words)
        place, text = launcher.with_suffix(".bat"), f"@echo off\r\n{quoted}\r\n"
    elif sys.platform == "darwin":
        place, text = launcher.with_suffix(".command"), f"#!/bin/sh\nexec {shlex.join(words)}\n"
    else:
        quoted = " ".join(
            '"' + word.replace("\\", "\\\\").replace('"', '\\"').replace("%", "%%") + '"' for word in words
        )
        place = launcher.with_suffix(".desktop")
        text = f"[Desktop Entry]\nType=Application\nName=panelstats desk\nExec={quoted}\nTerminal=true\n"
    write_whole(place, text.encode())
    place.chmod(0o755)
    return place
