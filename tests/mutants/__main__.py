"""Do the tests bite? `python -m tests.mutants [package ...]` makes small wrong changes and runs the tests on them.

A seeded sample of wrong changes for each package (`--each`, 40 unless said), each made in a copy of the tree; the tests
that run the changed line are tried, quickest first, until one turns red. What no test noticed is listed; what was
looked into is explained in explained.md, a line each. Last, the property tests run with fresh examples. Exit 1 where
more than one in ten of a package survive unexplained, or a property fails.
"""

from __future__ import annotations

import argparse
import os
import random
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import TYPE_CHECKING

from tests.mutants.changes import changes
from tests.mutants.covered import PYTEST, collect
from tests.mutants.trying import copied, load, tried

if TYPE_CHECKING:
    from tests.mutants.covered import Covered

HERE = Path(__file__).parents[2]
PACKAGES = ("models", "lots", "panel", "difference", "sheets", "scores", "report", "plan", "questions")
EXPLAINED = Path(__file__).with_name("explained.md")
SURVIVING = 0.1


def main() -> int:
    """Cover, change, count."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("package", nargs="*", choices=[*PACKAGES, []], help=f"of {', '.join(PACKAGES)}")
    parser.add_argument("--each", type=int, default=40, help="wrong changes a package")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--processes", type=int, default=os.cpu_count() or 1)
    parser.add_argument("--budget", type=float, default=30.0, help="seconds of tests a change")
    parser.add_argument("--coverage", type=Path, help="folder to keep coverage in; new files of tests are added to it")
    parser.add_argument("--among", type=Path, nargs="+", default=[Path("tests")], help="folders of tests to try")
    asked = parser.parse_args()
    os.chdir(HERE)
    os.environ["OPENBLAS_NUM_THREADS"] = "1"
    with tempfile.TemporaryDirectory() as folder:
        covered = collect(asked.coverage or Path(folder) / "kept", asked.processes, asked.among)
        load()
        trees = [copied(Path(folder) / str(n)) for n in range(asked.processes)]
        broken = [_package(name, asked, covered, trees) for name in asked.package or PACKAGES]
    fresh = subprocess.run([*PYTEST, "-m", "hypothesis", "--hypothesis-profile=fresh"], check=False)
    return 1 if any(broken) or fresh.returncode else 0


def _package(name: str, asked: argparse.Namespace, covered: Covered, trees: list[Path]) -> bool:
    every = [change for path in sorted(Path("panelstats", name).rglob("*.py")) for change in changes(path)]
    some = random.Random(f"{asked.seed} {name}").sample(every, min(asked.each, len(every)))
    began = time.monotonic()
    chosen = [(change, covered.chosen(change, asked.budget)) for change in some]
    survivors = [change for change, red in tried(chosen, trees, 60 + 4 * asked.budget) if not red]
    text = EXPLAINED.read_text() if EXPLAINED.exists() else ""
    explained = [change for change in survivors if change.key in text]
    say(f"## {name}: {len(some)} of {len(every)} wrong changes tried, {len(survivors)} survived, "
        f"{len(explained)} of them explained ({time.monotonic() - began:.0f} s)")  # fmt: skip
    untested = {change for change, tests in chosen if not tests}
    for change in survivors:
        why = "explained" if change in explained else "no test runs it" if change in untested else "not noticed"
        say(f"- {change.path}:{change.place.line} `{change.row}` [{change.old} -> {change.new}] {why}")
    return len(survivors) - len(explained) > SURVIVING * len(some)


def say(line: str) -> None:
    """A line at once, however long the rest takes."""
    print(line, flush=True)


if __name__ == "__main__":
    sys.exit(main())
