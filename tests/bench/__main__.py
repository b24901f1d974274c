"""Benchmarks: `python -m tests.bench [name ...]` runs tests/bench/bench_<name>.py, by default all but the long ones.

The long ones, `season` (20 million scores) and `desk` (half a million, in a server), are run by name.
Each module runs in a process of its own, on one core, so that its peak memory is its own. A row says what was timed,
the reference it was timed against in the same run, and the bound it is held to; the command fails where one is broken.
`--write` keeps the tables in tests/bench/figures.md, each with its machine and date; those of other benchmarks stay.
"""

from __future__ import annotations

import argparse
import os
import platform
import re
import sys
from concurrent.futures import ProcessPoolExecutor
from datetime import UTC, datetime
from importlib.metadata import version
from multiprocessing import get_context
from pathlib import Path

import pandas as pd

from tests.bench.made import rows_of

FIGURES = Path(__file__).with_name("figures.md")
HEAD = """# Speed and memory, as measured

Made by `python -m tests.bench --write`, a section for each benchmark: what was timed, the reference timed in the same
run, their ratio, the peak of memory, and the bound it is held to. Seconds depend on the machine and on what else it
does, ratios little; an exponent is that of growth from one size to ten times it, 1 being linear. `season` and `desk`
take minutes and are run by name.
"""
CPU = Path("/proc/cpuinfo")

LONG = {"bench_season", "bench_desk"}
FIRST = ["name", "seconds", "reference", "reference_seconds", "ratio", "peak_mb", "bound", "held"]


def main() -> int:
    """Run the benchmarks and print a table of each."""
    found = sorted(path.stem for path in Path(__file__).parent.glob("bench_*.py"))
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("name", nargs="*", help=f"of {', '.join(name.removeprefix('bench_') for name in found)}")
    parser.add_argument("--write", action="store_true", help=f"keep the tables in {FIGURES.name}")
    given = parser.parse_args()
    asked = given.name
    unknown = {f"bench_{name}" for name in asked} - set(found)
    if unknown:
        parser.error(f"no such benchmark: {', '.join(sorted(unknown))}")
    for threads in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
        os.environ.setdefault(threads, "1")
    broken = 0
    for module in [f"bench_{name}" for name in asked] or sorted({*found} - LONG):
        with ProcessPoolExecutor(1, mp_context=get_context("spawn")) as own:
            rows = own.submit(rows_of, module).result()
        broken += sum(row.get("held") is False for row in rows)
        print(f"## {module}\n\n{table(rows)}\n", flush=True)
        if given.write:
            keep(module, f"{machine()}\n\n{table(rows)}")
    return 1 if broken else 0


def machine() -> str:
    """When and on what it was measured; how much else ran besides, since that makes seconds longer and not ratios."""
    names = re.findall(r"model name\s*: (.*)", CPU.read_text()) if CPU.exists() else []
    day = datetime.now(tz=UTC).date().isoformat()
    libraries = ", ".join(f"{name} {version(name)}" for name in ("numpy", "pandas", "scipy"))
    of = f"{names[0] if names else platform.machine()}, {os.cpu_count()} cores"
    return f"{day}; {of}, load {os.getloadavg()[0]:.1f}; Python {platform.python_version()}, {libraries}"


def keep(module: str, measured: str, page: Path | None = None) -> None:
    """Write the section of one benchmark, the others as they stand."""
    page = FIGURES if page is None else page
    parts = page.read_text().split("\n## ")[1:] if page.exists() else []
    sections = dict(part.split("\n", 1) for part in parts)
    sections[module] = f"\n{measured}\n"
    told = "".join(f"\n## {name}\n{sections[name].rstrip()}\n" for name in sorted(sections))
    page.write_text(f"{HEAD}{told}")


def table(rows: list[dict[str, object]]) -> str:
    """Rows as a Markdown table; columns that no row has are left out."""
    seen = dict.fromkeys(key for row in rows for key in row)
    columns = [name for name in FIRST if name in seen] + [name for name in seen if name not in FIRST]
    lines = [columns, ["---"] * len(columns)] + [[_text(row.get(name)) for name in columns] for row in rows]
    return "\n".join("| " + " | ".join(line) + " |" for line in lines)


def _text(value: object) -> str:
    if value is None or (isinstance(value, float) and pd.isna(value)):
        return ""
    if isinstance(value, bool):
        return "yes" if value else "NO"
    if isinstance(value, float) and abs(value) < 100:
        return f"{value:.3g}"
    return f"{value:,.0f}" if isinstance(value, int | float) else str(value)


if __name__ == "__main__":
    sys.exit(main())
