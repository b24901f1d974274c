"""`python -m tests.versions oldest|newest [pytest arguments]`: the tests with the oldest or newest libraries allowed.

An environment of its own is made in a temporary folder: with `oldest` every dependency in pyproject.toml stands at its
lower bound, with `newest` at whatever the registry has. Of the test tools only what the tests named here import is
installed, at its newest. Without further arguments the core of the suite is run, warnings being errors; but an old
library may be warned that a newer one beneath it calls something by another name. The Python is the one that runs this:
`python3.13 -m tests.versions newest`.
"""

from __future__ import annotations

import re
import subprocess
import sys
import tomllib
import venv
from pathlib import Path
from tempfile import TemporaryDirectory

HERE = Path(__file__).parents[1]
# What reads, computes and writes: a session, a day, a season, difference tests, a plan, pages and workbooks.
CORE = [
    "tests/sheets/test_registers.py", "tests/sheets/test_damaged_workbooks.py", "tests/models/test_mixed.py",
    "tests/lots/test_shortlist.py", "tests/panel/test_degenerate.py", "tests/difference/test_columns.py",
    "tests/plan/test_orders.py", "tests/report/test_workbook.py", "tests/report/test_draw.py", "tests/test_output.py",
]  # fmt: skip
TOOLS = ["pytest", "hypothesis", "mpmath", "pyarrow", "psutil", "httpx2"]


def lower_bounds(requirements: list[str]) -> list[str]:
    """Requirements at their lower bounds.

    Examples
    --------
    >>> lower_bounds(["numpy>=2.0", "lazy-loader>=0.4"])
    ['numpy==2.0.*', 'lazy-loader==0.4.*']
    """
    found = (re.fullmatch(r"([\w.-]+)>=([\d.]+)", one) for one in requirements)
    return [f"{each[1]}=={each[2]}.*" for each in found if each]


def run(which: str, *asked: str) -> int:
    """Install, say what stands there, run the tests; their exit code."""
    declared = tomllib.loads((HERE / "pyproject.toml").read_text())["project"]["dependencies"]
    wanted = lower_bounds(declared) if which == "oldest" else declared
    with TemporaryDirectory() as name:
        venv.create(name, with_pip=True)
        python = str(Path(name) / "bin" / "python")
        install = [python, "-m", "pip", "install", "--quiet", "--disable-pip-version-check"]
        subprocess.run([*install, *wanted, *TOOLS], check=True)
        subprocess.run([*install, "--no-deps", "--editable", str(HERE)], check=True)
        subprocess.run([python, "-m", "pip", "freeze", "--exclude-editable", "--disable-pip-version-check"], check=True)
        command = [python, "-m", "pytest", "-q", "-o", "addopts=--import-mode=importlib", "-p", "no:cacheprovider"]
        command += ["-W", "ignore::DeprecationWarning"] * (which == "oldest")
        return subprocess.run([*command, *(asked or CORE)], cwd=HERE, check=False).returncode


if __name__ == "__main__":
    if sys.argv[1:2] not in (["oldest"], ["newest"]):
        sys.exit(__doc__)
    sys.exit(run(*sys.argv[1:]))
