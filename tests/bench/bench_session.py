"""The command line as a whole process, from the first import to the last byte written.

The reference is the import of the libraries that every session needs, in the same run: what no session can be spared.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
from pathlib import Path
from resource import RUSAGE_CHILDREN, getrusage

ROOT = Path(__file__).parents[2]
COMMAND = ("-m", "panelstats")
LIBRARIES = ("-c", "import numpy, pandas, scipy.special")
# Command, data, and how many times as long as its libraries it may take.
MOST = {"row.xlsx": 6.5, "bench": 9.0, "bench.xlsx": 9.0}
ROUNDS = 4


def whole(*words: str, bytecode: Path) -> float:
    """Seconds of the processor that a process of Python took, its modules compiled before, as on installing."""
    env = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
    before = getrusage(RUSAGE_CHILDREN)
    subprocess.run(
        [sys.executable, *words],
        cwd=ROOT,
        check=True,
        capture_output=True,
        env={**env, "PYTHONPYCACHEPREFIX": str(bytecode)},
    )
    after = getrusage(RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def run() -> list[dict[str, object]]:
    """Help, and sessions from sheets to page and workbook: the least of some rounds, each round all in turn."""
    with tempfile.TemporaryDirectory() as folder:
        bytecode, out = Path(folder) / "bytecode", ("--out", folder, "--overwrite")
        jobs = {"libraries": LIBRARIES, "--help": (*COMMAND, "--help")}
        jobs |= {name: (*COMMAND, f"data/{name}", *out) for name in MOST}
        for job in jobs.values():
            whole(*job, bytecode=bytecode)
        rounds = [{name: whole(*job, bytecode=bytecode) for name, job in jobs.items()} for _ in range(ROUNDS)]
    least = {name: min(one[name] for one in rounds) for name in jobs}
    help_ = {"name": "panelstats --help", "seconds": least["--help"], "bound": "< 0.3 s", "held": least["--help"] < 0.3}
    return [help_, *(row(name, least[name], least["libraries"]) for name in MOST)]


def row(name: str, seconds: float, libraries: float) -> dict[str, object]:
    """One command beside the import of its libraries; the peak is that of the largest command."""
    return {
        "name": f"panelstats data/{name}",
        "seconds": seconds,
        "reference": "import numpy, pandas, scipy.special",
        "reference_seconds": libraries,
        "ratio": seconds / libraries,
        "peak_mb": getrusage(RUSAGE_CHILDREN).ru_maxrss / 1024,
        "bound": f"ratio < {MOST[name]:g}",
        "held": seconds / libraries < MOST[name],
    }
