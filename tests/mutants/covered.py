"""Which tests run which line: collected once, kept where asked, and added to when a file of tests is new or changed."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from collections import Counter
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING
from xml.etree import ElementTree

from coverage import CoverageData

if TYPE_CHECKING:
    from tests.mutants.changes import Change

PYTEST = (sys.executable, "-m", "pytest", "--quiet", "-p", "no:cacheprovider")
# Slow for what they see of a single line: whole rooms, error rates, a browser. A change only they notice survives.
LEFT_OUT = (
    "tests/test_example.py", "tests/calibration", "tests/desk/test_in_browser.py",
    "tests/desk/test_habits_dropped.py", "tests/report/test_page_in_browser.py", "tests/report/test_every_page.py",
)  # fmt: skip


@dataclass
class Covered:
    """Tests by file and line, and how long each takes."""

    tests: dict[str, dict[int, set[str]]]
    seconds: dict[str, float]

    def chosen(self, change: Change, budget: float) -> list[str]:
        """Tests that run the changed statement, as many as the budget holds: its package's own, kept answers
        and rooms of habits first.

        Of tests that differ by a number alone the quickest stands first, then one of the next kind, and so round.
        What runs on import is no test's own: there the lines that use its name count, else all of its file.
        """
        lines = self.tests.get(change.path.as_posix(), {})
        place = change.place
        names = self._running(lines, place.lines)
        if place.on_import:
            names = self._running(lines, place.users) or self._running(lines, lines)
        own = (f"tests/{change.path.parts[1]}/", "tests/kept/", "tests/habits/")
        kinds: Counter[str] = Counter()
        order = []
        for name in sorted(names, key=lambda name: (self.seconds.get(name, 1.0), name)):
            kind = re.sub(r"\d+", "", name)
            order.append((not name.startswith(own), kinds[kind], self.seconds.get(name, 1.0), name))
            kinds[kind] += 1
        spent, some = 0.0, []
        for *_, name in sorted(order):
            spent += self.seconds.get(name, 1.0)
            if some and spent > budget:
                break
            some.append(name)
        return some

    @staticmethod
    def _running(lines: dict[int, set[str]], some) -> set[str]:
        return set().union(*(lines.get(line, set()) for line in some))


def collect(folder: Path, processes: int, among: list[Path]) -> Covered:
    """Coverage kept in `folder`, with what is new there run first: of the tests in some folders."""
    folder.mkdir(parents=True, exist_ok=True)
    kept = folder / "coverage"
    since = kept.stat().st_mtime if kept.exists() else 0.0
    files = [f for top in among for f in sorted(top.rglob("test_*.py")) if not f.as_posix().startswith(LEFT_OUT)]
    new = [f.as_posix() for f in files if f.stat().st_mtime > since]
    if new:
        print(f"running {len(new)} files of tests once, to see which lines each test runs", flush=True)
        times = folder / f"times-{len(list(folder.glob('times-*.xml')))}.xml"
        words = ["--cov=panelstats", "--cov-context=test", "--cov-report=", "--cov-append", f"--junitxml={times}"]
        env = {**os.environ, "COVERAGE_FILE": str(kept)}
        subprocess.run([*PYTEST, "-n", str(processes), *words, *new], check=False, env=env)
    return Covered(_tests(kept), _seconds(folder))


def _tests(kept: Path) -> dict[str, dict[int, set[str]]]:
    data = CoverageData(str(kept))
    data.read()
    tests: dict[str, dict[int, set[str]]] = {}
    for file in data.measured_files():
        lines = data.contexts_by_lineno(file)
        name = "panelstats/" + file.rpartition("/panelstats/")[2]
        tests[name] = {n: {c.split("|")[0] for c in some if c} for n, some in lines.items()}
    return tests


def _seconds(folder: Path) -> dict[str, float]:
    found = {}
    for file in sorted(folder.glob("times-*.xml")):
        for case in ElementTree.parse(file).iter("testcase"):  # noqa: S314 - our own, just written
            name = f"{case.get('classname', '').replace('.', '/')}.py::{case.get('name')}"
            found[name] = float(case.get("time", 1))
    return found
