"""The desk as its user meets it: the first page, the bench set dropped to its page, half a million scores."""

from __future__ import annotations

import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

sys.path[:0] = [str(Path(__file__).parents[1] / "desk")]

from driving import desk_of  # noqa: E402
from large import MOST, Visitor, measured  # noqa: E402

BENCH = Path(__file__).parents[2] / "data" / "bench.xlsx"
FIRST, ANSWERED, SILENT = 1.0, 5.0, 2.0  # seconds of processor to a page, of silence
_COMMAND = "what `panelstats bench.xlsx` takes, alone"


def run() -> list[dict[str, object]]:
    """Seconds are those of a processor, of the desk and its worker together; `wall` is what the user waited."""
    return [*_small(), *_large()]


def _small() -> list[dict[str, object]]:
    with tempfile.TemporaryDirectory() as folder:
        began = time.monotonic()
        with desk_of(Path(folder) / "room") as (address, process):
            visitor = Visitor(address, process)
            first, waited = _alone(process.pid), time.monotonic() - began
            time.sleep(3)  # the worker gets ready beside the first page
            ready, began = visitor.taken()[1], time.monotonic()
            visitor.drop(BENCH.name, BENCH.read_bytes())
            visitor.ask("ask/session")
            answered, shown = visitor.taken()[1] - ready, "<iframe" in visitor.text
            whole = time.monotonic() - began
        alone = _command(Path(folder))
    return [
        {"name": "the desk started, first page shown", "seconds": first, "wall": waited,
         "bound": f"< {FIRST:g} s", "held": first < FIRST},
        {"name": "the bench set dropped, read, asked about, page shown", "seconds": answered, "wall": whole,
         "reference": _COMMAND, "reference_seconds": alone, "ratio": alone / answered,
         "bound": f"< {ANSWERED:g} s", "held": answered < ANSWERED and shown},
    ]  # fmt: skip


def _large() -> list[dict[str, object]]:
    found = measured()
    alive = found["slowest"] < SILENT and len(found["steps"]) > 1
    return [
        {"name": "512,000 scores dropped and read", "seconds": found["read_processor"], "wall": found["read"],
         "bound": "", "held": found["line"].startswith("2,000 lots, 8 tasters, 16 words: ready")},
        {"name": "their page made and shown", "seconds": found["answered_processor"], "wall": found["answered"],
         "peak_mb": found["memory"] / 1e6, "longest silence": found["slowest"],
         "bound": f"< {MOST / 1e6:,.0f} MB, silent < {SILENT:g} s",
         "held": found["memory"] < MOST and alive and found["shown"]},
    ]  # fmt: skip


def _alone(pid: int) -> float:
    """Seconds of processor of one process."""
    fields = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    return sum(map(int, fields[11:13])) / 100


def _command(folder: Path) -> float:
    """Seconds of processor of the command on the same set."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run(
        [sys.executable, "-m", "panelstats", str(BENCH), "--out", str(folder)], check=True, capture_output=True
    )
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
