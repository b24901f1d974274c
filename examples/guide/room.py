"""The room of the guide: the invented sets as `panelstats example` writes them, and what else its pages use."""

import os
import shutil
import subprocess
import sys
from pathlib import Path

import numpy as np

import panelstats as pst

HERE = Path(__file__).parent
MADE = HERE / "_made"  # everything that a build leaves; not kept
ROOM = MADE / "room"
QUAY = ROOM / "ostrel-quay"
SETS = ("row", "bench", "blends", "new-tasters", "season")


def furnish() -> None:
    """Write the sets anew, a sale with prices and a list of stock."""
    shutil.rmtree(MADE, ignore_errors=True)
    ROOM.mkdir(parents=True)
    for name in SETS:
        command(["panelstats", "example", name, "--out", "ostrel-quay"])
    for sheet in (HERE / "sheets").iterdir():
        shutil.copy(sheet, QUAY)
    _sale()


def command(words: list[str], *, expect: int = 0) -> str:
    """Run what a page shows, in the room; what it said."""
    ended = subprocess.run(
        [sys.executable, "-m", *words], cwd=ROOM, capture_output=True, text=True, env=_surroundings(), check=False
    )
    if ended.returncode != expect:
        raise RuntimeError(f"{' '.join(words)} ended with {ended.returncode}, not {expect}:\n{ended.stderr}")
    return (ended.stdout + (ended.stderr if expect else "")).rstrip()


def _surroundings() -> dict[str, str]:
    return os.environ | {"PYTHONPATH": str(HERE.parents[1])}


def _sale() -> None:
    """The row with prices, invented: in this sale briskness carries the price."""
    scores = pst.read_scores(QUAY / "row.xlsx")
    wide = scores.frame.pivot_table(index=["lot", "taster"], columns="descriptor", values="score", observed=True)
    brisk = wide["brisk"].groupby(level="lot", observed=True).mean()
    paid = np.exp(1.2 + 0.05 * (brisk - brisk.mean()) + 0.08 * np.random.default_rng(1).standard_normal(len(brisk)))
    sheet = wide.reset_index().join(paid.round(2).rename("price"), on="lot")
    sheet[sheet["lot"].astype(str) != "S"].to_csv(QUAY / "sale.csv", index=False)


def photograph(address: str, to: Path, *, width: int, height: int) -> None:
    """What a browser shows of a page."""
    browser = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
    if browser is None:
        raise RuntimeError("no browser for the pictures: apt-get install chromium")
    to.parent.mkdir(parents=True, exist_ok=True)
    subprocess.run(
        [browser, "--headless", "--no-sandbox", "--disable-gpu", "--hide-scrollbars", "--no-first-run",
         "--disable-background-networking", "--disable-component-update", "--disable-sync",
         f"--user-data-dir={MADE / 'profile'}", f"--window-size={width},{height}", f"--screenshot={to}", address],
        capture_output=True, check=True, timeout=120,
    )  # fmt: skip


def photograph_desk(to: Path, *, width: int, height: int) -> None:
    """The desk with a workbook dropped on it."""
    sheets = ROOM / "tea-room" / "sheets"
    sheets.mkdir(parents=True, exist_ok=True)
    shutil.copy(QUAY / "row.xlsx", sheets)
    desk = subprocess.Popen(
        [sys.executable, "-u", "-m", "panelstats", "desk", "tea-room", "--no-browser"],
        cwd=ROOM, stdout=subprocess.PIPE, text=True, env=_surroundings(),
    )  # fmt: skip
    try:
        address = next(line.strip() for line in desk.stdout if line.startswith("http"))
        photograph(address, to, width=width, height=height)  # read meanwhile: the second look has it
        photograph(address, to, width=width, height=height)
    finally:
        desk.terminate()
        desk.wait(30)
