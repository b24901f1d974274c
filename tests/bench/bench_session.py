"""The command line as a whole process, from the first import to the last byte written."""

from __future__ import annotations

import subprocess
import sys
import tempfile
from pathlib import Path
from resource import RUSAGE_CHILDREN, getrusage

import numpy as np

ROOT = Path(__file__).parents[2]
COMMAND = Path(sys.executable).with_name("panelstats")


def whole(*words: str, repeats: int) -> float:
    """Least time of the processor, in seconds, that the command took."""
    taken = []
    for _ in range(repeats):
        before = getrusage(RUSAGE_CHILDREN)
        subprocess.run([COMMAND, *words], cwd=ROOT, check=True, capture_output=True)
        after = getrusage(RUSAGE_CHILDREN)
        taken.append(after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime)
    return float(np.min(taken))


def row(name: str, seconds: float, most: float) -> dict[str, object]:
    """One command and its bound; the peak is that of the largest command so far."""
    peak = getrusage(RUSAGE_CHILDREN).ru_maxrss / 1024
    return {"name": name, "seconds": seconds, "peak_mb": peak, "bound": f"< {most:g} s", "held": seconds < most}


def run() -> list[dict[str, object]]:
    """Help, and a session from sheets to page and workbook."""
    rows = [row("panelstats --help", whole("--help", repeats=5), 0.3)]
    with tempfile.TemporaryDirectory() as folder:
        out = ("--out", folder, "--overwrite")
        rows.append(row("panelstats data/bench", whole("data/bench", *out, repeats=3), 5))
        rows.append(row("panelstats data/bench.xlsx", whole("data/bench.xlsx", *out, repeats=2), 5))
    return rows
