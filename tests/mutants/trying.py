"""Tries wrong changes: each in a copy of the tree, its tests run in a fork of this process, libraries loaded."""

from __future__ import annotations

import importlib
import os
import shutil
import signal
import sys
import time
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator

    from tests.mutants.changes import Change

PARTS = ("panelstats", "tests", "data", "examples", "README.md", "DEVELOPERS.md", "pyproject.toml")
LIBRARIES = ("numpy", "pandas", "scipy.stats", "scipy.optimize", "statsmodels.formula.api", "statsmodels.stats.api",
             "pingouin", "mpmath", "openpyxl", "python_calamine", "jinja2", "hypothesis", "seaborn.objects",
             "pyarrow", "_pytest.assertion.rewrite")  # fmt: skip
# The libraries stand before pytest could look into them, which it would warn of.
LOADED = ("-W", "ignore::pytest.PytestAssertRewriteWarning")

# A test failed, or its file could not be imported; tests that were not found have shown nothing.
RED = (1, 2)


def load() -> None:
    """Import once what every run of the tests imports; nothing of the package itself."""
    for name in LIBRARIES:
        importlib.import_module(name)


def copied(tree: Path) -> Path:
    """A copy of what the tests need, compiled files with it."""
    for part in PARTS:
        if Path(part).is_dir():
            shutil.copytree(part, tree / part)
        else:
            tree.mkdir(parents=True, exist_ok=True)
            shutil.copy2(part, tree / part)
    return tree


def tried(
    some: list[tuple[Change, list[str]]], trees: list[Path], most_seconds: float
) -> Iterator[tuple[Change, bool]]:
    """Each change, and whether a test turned red with it; a run without an end is red, a line no test runs is not."""
    _control(some, trees[0])
    waiting, free, running = list(reversed(some)), list(trees), {}
    while waiting or running:
        while waiting and free:
            change, tests = waiting.pop()
            if not tests:
                yield change, False
                continue
            tree = free.pop()
            running[_begun(change, tests, tree)] = change, tree, time.monotonic()
        for child, (change, tree, began) in list(running.items()):
            late = time.monotonic() - began > most_seconds
            if late:
                os.killpg(child, signal.SIGKILL)
            ended, status = os.waitpid(child, 0 if late else os.WNOHANG)
            if ended:
                del running[child]
                _restore(change, tree)
                free.append(tree)
                yield change, late or os.WIFSIGNALED(status) or os.WEXITSTATUS(status) in RED
        time.sleep(0.02)


def _control(some: list[tuple[Change, list[str]]], tree: Path) -> None:
    """Tests are believed only if they are green with nothing changed."""
    change, tests = next(((change, tests) for change, tests in some if tests), (None, []))
    if change is None:
        return
    _, status = os.waitpid(_begun(replace(change, new=change.old), tests, tree), 0)
    _restore(change, tree)
    if status:
        raise RuntimeError(f"red with nothing changed: {' '.join(tests)}")


def _begun(change: Change, tests: list[str], tree: Path) -> int:
    file = tree / change.path
    file.write_text(change.applied(file.read_text()))
    child = os.fork()
    if child:
        return child
    os.setpgid(0, 0)
    code = 3
    try:
        code = _red(tests, tree)
    finally:
        os._exit(code)


def _red(tests: list[str], tree: Path) -> int:
    import pytest

    with Path(os.devnull).open("w") as nowhere:
        for stream in (1, 2):
            os.dup2(nowhere.fileno(), stream)
    sys.dont_write_bytecode = True  # what is compiled now is wrong
    os.environ |= {"PYTHONPATH": str(tree), "PYTHONDONTWRITEBYTECODE": "1"}
    here = os.getcwd()  # noqa: PTH109 - compared with what stands in sys.path
    os.chdir(tree)
    sys.path[:] = [str(tree), *(p for p in sys.path if p not in ("", here))]
    for name in [name for name in sys.modules if name.split(".")[0] in ("tests", "panelstats")]:
        del sys.modules[name]
    return int(pytest.main(["-q", "-p", "no:cacheprovider", "-x", "-n", "0", *LOADED, *tests]))


def _restore(change: Change, tree: Path) -> None:
    shutil.copy2(change.path, tree / change.path)
