"""Do the tests bite? `python -m tests.mutants [package ...]` makes small wrong changes and runs the tests on them.

A seeded sample of wrong changes for each package (`--each`, 40 unless said), each made in a copy of the tree; the tests
that run the changed line are tried, quickest first, until one turns red. What no test noticed is listed; what was
looked into is explained in explained.md, a line each. Last, the property tests run with fresh examples. Exit 1 where
more than one in ten of a package survive.
"""

from __future__ import annotations

import argparse
import os
import random
import shutil
import subprocess
import sys
import tempfile
import time
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from queue import SimpleQueue
from xml.etree import ElementTree

from coverage import CoverageData

from tests.mutants.changes import Change, changes

HERE = Path(__file__).parents[2]
PACKAGES = ("models", "lots", "panel", "difference", "sheets", "scores", "report")
PARTS = ("panelstats", "tests", "data", "examples", "README.md", "DEVELOPERS.md", "pyproject.toml")
EXPLAINED = Path(__file__).with_name("explained.md")
SURVIVING = 0.1
PYTEST = (sys.executable, "-m", "pytest", "--quiet", "-p", "no:cacheprovider")


@dataclass
class Covered:
    """Which tests run which line, and how long each takes."""

    tests: dict[str, dict[int, set[str]]]
    seconds: dict[str, float]

    def chosen(self, change: Change, budget: float) -> list[str]:
        """Tests that run the changed line, quickest first, as many as the budget holds; else those of its file."""
        lines = self.tests.get(change.path.as_posix(), {})
        names = lines.get(change.line, set()) or set().union(*lines.values(), set())
        ordered = sorted(names, key=lambda name: (self.seconds.get(name, 1.0), name))
        spent, some = 0.0, []
        for name in ordered:
            spent += self.seconds.get(name, 1.0)
            if some and spent > budget:
                break
            some.append(name)
        return some


def main() -> int:
    """Cover, change, count."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("package", nargs="*", choices=[*PACKAGES, []], help=f"of {', '.join(PACKAGES)}")
    parser.add_argument("--each", type=int, default=40, help="wrong changes a package")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--processes", type=int, default=os.cpu_count() or 1)
    parser.add_argument("--budget", type=float, default=40.0, help="seconds of tests a change")
    parser.add_argument("--coverage", type=Path, help="folder to keep coverage in, used again where it stands")
    asked = parser.parse_args()
    os.chdir(HERE)
    with tempfile.TemporaryDirectory() as folder:
        kept = asked.coverage or Path(folder)
        if not (kept / "coverage").exists():
            _cover(kept)
        covered = _covered(kept)
        broken = sum(_package(name, asked, covered, Path(folder)) for name in asked.package or PACKAGES)
    fresh = subprocess.run([*PYTEST, "--hypothesis-profile=fresh"], check=False)
    return 1 if broken or fresh.returncode else 0


def _cover(folder: Path) -> None:
    folder.mkdir(parents=True, exist_ok=True)
    say("running all tests once, to see which lines each of them runs")
    words = ["--cov=panelstats", "--cov-context=test", "--cov-report=", f"--junitxml={folder / 'times.xml'}"]
    subprocess.run([*PYTEST, *words], check=False, env={**os.environ, "COVERAGE_FILE": str(folder / "coverage")})


def _covered(folder: Path) -> Covered:
    data = CoverageData(str(folder / "coverage"))
    data.read()
    tests: dict[str, dict[int, set[str]]] = {}
    for file in data.measured_files():
        lines = data.contexts_by_lineno(file)
        name = Path(file).relative_to(HERE).as_posix()
        tests[name] = {n: {c.split("|")[0] for c in some if c} for n, some in lines.items()}
    times = ElementTree.parse(folder / "times.xml").iter("testcase")  # noqa: S314 - our own, just written
    seconds = {
        f"{t.get('classname', '').replace('.', '/')}.py::{t.get('name')}": float(t.get("time", 1)) for t in times
    }
    return Covered(tests, seconds)


def _package(name: str, asked: argparse.Namespace, covered: Covered, folder: Path) -> bool:
    every = [change for path in sorted(Path("panelstats", name).rglob("*.py")) for change in changes(path)]
    some = random.Random(f"{asked.seed} {name}").sample(every, min(asked.each, len(every)))
    trees: SimpleQueue[Path] = SimpleQueue()
    for n in range(asked.processes):
        trees.put(_copy(folder / f"{name}-{n}"))
    began = time.monotonic()
    with ThreadPoolExecutor(asked.processes) as pool:
        caught = list(pool.map(lambda change: _caught(change, trees, covered, asked.budget), some))
    survivors = [change for change, red in zip(some, caught, strict=True) if not red]
    explained = EXPLAINED.read_text() if EXPLAINED.exists() else ""
    say(f"## {name}: {len(some)} of {len(every)} wrong changes tried, {len(survivors)} survived "
        f"({time.monotonic() - began:.0f} s)")  # fmt: skip
    for change in survivors:
        say(f"- {change.path}:{change.line} `{change.row.strip()}` [{change.old} -> {change.new}]"
            f"{' (explained)' if change.key in explained else ''}")  # fmt: skip
    return len(survivors) > SURVIVING * len(some)


def _copy(tree: Path) -> Path:
    for part in PARTS:
        source = HERE / part
        if source.is_dir():
            shutil.copytree(source, tree / part, ignore=shutil.ignore_patterns("__pycache__"))
        else:
            tree.mkdir(parents=True, exist_ok=True)
            shutil.copy(source, tree / part)
    return tree


def _caught(change: Change, trees: SimpleQueue[Path], covered: Covered, budget: float) -> bool:
    """Whether a test turned red with this change made; a run without an end counts as red."""
    tests = covered.chosen(change, budget)
    if not tests:
        return False
    tree = trees.get()
    file = tree / change.path
    text = file.read_text()
    try:
        file.write_text(change.applied(text))
        words = [*PYTEST, "-x", "-n", "0", *tests]
        run = subprocess.run(
            words, cwd=tree, env={**os.environ, "PYTHONPATH": str(tree), "PYTHONDONTWRITEBYTECODE": "1"},
            stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, timeout=60 + 4 * budget, check=False,
        )  # fmt: skip
    except subprocess.TimeoutExpired:
        return True
    else:
        return run.returncode != 0
    finally:
        file.write_text(text)
        trees.put(tree)


def say(line: str) -> None:
    """A line at once, however long the rest takes."""
    print(line, flush=True)


if __name__ == "__main__":
    sys.exit(main())
