"""Workbooks that may break their reader are read in a process of their own, with limits of time and memory."""

from __future__ import annotations

import pickle
import subprocess
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from panelstats.sheets.files import nativeworker
from panelstats.sheets.files.nativeworker import DAMAGED, MOST_SECONDS, pages_of

if TYPE_CHECKING:
    from panelstats.sheets.files.nativeworker import Page

_PATIENCE = 2 * MOST_SECONDS  # seconds of waiting, computing or not


def pages(data: bytes, widest: int, *, sound: bool) -> list[Page] | tuple[str, str]:
    """Every sheet of a workbook, as `nativeworker.pages_of` gives them.

    Parameters
    ----------
    data : bytes
        The whole file.
    widest : int
        Columns beyond which a sheet is refused.
    sound : bool
        The file is known to be whole: it is read here, without the cost of another process (about 0.1 s).
    """
    if sound or not sys.executable:
        return pages_of(data, widest)
    script = str(Path(nativeworker.__file__))
    try:
        done = subprocess.run(  # noqa: S603 - our own script, nothing of the file's
            [sys.executable, "-I", script, str(widest)], input=data, capture_output=True, timeout=_PATIENCE, check=False
        )
        return pickle.loads(done.stdout) if done.returncode == 0 else (DAMAGED, "")  # noqa: S301 - our own answer
    except (subprocess.TimeoutExpired, OSError, pickle.UnpicklingError, EOFError):
        return DAMAGED, ""
