"""Same numbers before and after: `python -m tests.numbers COMMIT` compares every table with those of another commit.

Both commits run the same script on the same data (those of the working tree), in processes of their own. Numbers are
the same to 1e-9 of the larger of 1 and their size; texts to the letter. Each difference is a line; exit 1 if there are
any. `--words no` leaves sentences out.
"""

from __future__ import annotations

import argparse
import os
import pickle
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np
import pandas as pd

HERE = Path(__file__).parents[2]
TOLERANCE = 1e-9


def main() -> int:
    """Compare, print, count."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("commit")
    parser.add_argument("--words", choices=("yes", "no"), default="yes", help="compare sentences too")
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        other = Path(folder) / "other"
        subprocess.run(["git", "worktree", "add", "--detach", "-q", str(other), asked.commit], check=True, cwd=HERE)
        try:
            then, now = (_tables(tree, Path(folder) / f"{n}.pickle") for n, tree in enumerate((other, HERE)))
        finally:
            subprocess.run(["git", "worktree", "remove", "--force", str(other)], check=True, cwd=HERE)
    lines = [line for name in then | now for line in compared(name, then.get(name), now.get(name))]
    lines = [line for line in lines if asked.words == "yes" or ": verdicts" not in line]
    print("\n".join([*lines, f"{len(then | now)} tables, {len(lines)} differences from {asked.commit}"]))
    return 1 if lines else 0


def _tables(tree: Path, out: Path) -> dict[str, pd.DataFrame]:
    script = HERE / "tests" / "numbers" / "every_table.py"
    path = {**os.environ, "PYTHONPATH": str(tree)}
    subprocess.run([sys.executable, str(script), str(HERE), str(out)], check=True, cwd=tree, env=path)
    return pickle.loads(out.read_bytes())  # noqa: S301 - written a moment ago by the script above


def compared(name: str, then: pd.DataFrame | None, now: pd.DataFrame | None) -> list[str]:
    """What differs in one table, a line a column."""
    if then is None or now is None:
        return [f"{name}: only {'after' if then is None else 'before'}"]
    if len(then) != len(now):
        return [f"{name}: {len(then)} rows before, {len(now)} after"]
    lost, new = [c for c in then if c not in now], [c for c in now if c not in then]
    lines = [f"{name}: column {c!r} only {when}" for when, some in (("before", lost), ("after", new)) for c in some]
    for column in then.columns.intersection(now.columns):
        apart = _apart(then[column], now[column])
        if apart.any():
            at = int(np.flatnonzero(apart)[0])
            pair = f"{then[column].iloc[at]!r} before, {now[column].iloc[at]!r} after"
            lines.append(f"{name}: {column}, {int(apart.sum())} of {len(then)} rows, first row {at}: {pair}")
    return lines


def _apart(then: pd.Series, now: pd.Series) -> np.ndarray:
    if pd.api.types.is_numeric_dtype(then) and pd.api.types.is_numeric_dtype(now):
        a, b = then.to_numpy(float, na_value=np.nan), now.to_numpy(float, na_value=np.nan)
        return ~np.isclose(a, b, rtol=TOLERANCE, atol=TOLERANCE, equal_nan=True)
    return np.array([str(a) != str(b) for a, b in zip(then, now, strict=True)], bool)


if __name__ == "__main__":
    sys.exit(main())
