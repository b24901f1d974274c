"""A page printed to a file: by the browser that the machine has, on A4 or Letter."""

from __future__ import annotations

import os
import shutil
import subprocess
import tempfile
from pathlib import Path

from panelstats.errors import PanelError
from panelstats.ourfiles import PRINT_MARK

# Browsers of one engine that print without a window: by name, and where two systems keep them.
_NAMES = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "chrome", "msedge")
_PLACES = (
    "/Applications/Google Chrome.app/Contents/MacOS/Google Chrome",
    "/Applications/Chromium.app/Contents/MacOS/Chromium",
    "C:/Program Files/Google/Chrome/Application/chrome.exe",
    "C:/Program Files (x86)/Microsoft/Edge/Application/msedge.exe",
)
_QUIET = (
    "--headless", "--disable-gpu", "--no-first-run", "--disable-background-networking", "--disable-component-update",
    "--disable-sync", "--no-pdf-header-footer",
)  # fmt: skip
PAPERS = {"a4": "A4", "letter": "letter"}
_MOST_SECONDS = 120


def printer() -> str:
    """The browser that prints.

    Raises
    ------
    PanelError
        There is none.
    """
    found = next((path for path in map(shutil.which, (*_NAMES, *_PLACES)) if path), None)
    if found is None:
        raise PanelError(
            "no browser that prints to a file was found on this machine", where="--pdf",
            do="leave --pdf out, open the page and print it to a file there; or install Chromium",
        )  # fmt: skip
    return found


def printed(page: bytes, paper: str = "a4") -> bytes:
    """A page as a PDF of our mark.

    Parameters
    ----------
    page : bytes
        A page that this package made: nothing in it runs or is fetched.
    paper : str
        a4 or letter.

    Raises
    ------
    PanelError
        There is no browser, or it could not print.
    """
    browser = printer()
    size = f"<style>@page {{ size: {PAPERS[paper]}; }}</style></head>".encode()
    root = hasattr(os, "geteuid") and os.geteuid() == 0
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as folder:
        source, out = Path(folder, "page.html"), Path(folder, "page.pdf")
        source.write_bytes(page.replace(b"</head>", size, 1))
        alone = ["--no-sandbox"] if root else []  # the browser refuses its sandbox to root
        where = [f"--user-data-dir={folder}/profile", f"--print-to-pdf={out}", source.as_uri()]
        try:
            subprocess.run(  # noqa: S603 - no shell, and a page of ours
                [browser, *_QUIET, *alone, *where], capture_output=True, check=True, timeout=_MOST_SECONDS
            )
            content = out.read_bytes()
        except (OSError, subprocess.SubprocessError) as error:
            raise PanelError(
                "the browser could not print the page", where=browser,
                do="leave --pdf out, open the page and print it to a file there",
            ) from error  # fmt: skip
    return content + PRINT_MARK
