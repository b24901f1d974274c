"""Nominal against actual rates of everything the package claims: `python -m tests.calibration [NAME ...]`.

NAME is the beginning of the name of some trials; without any, all are run. Each trial's lines take their place in
rates.md as soon as it is done, so the table can be made in pieces.
"""

from __future__ import annotations

import argparse
import sys
import time
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

from tests.calibration.table import RATES, commit, read, row, write
from tests.calibration.trials import TRIALS


def main() -> int:
    """Run the trials asked for and keep their lines."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("names", nargs="*", metavar="NAME")
    parser.add_argument("--runs", type=int, default=400)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--processes", type=int, default=1)
    parser.add_argument("--to", type=Path, default=RATES, help="table to complete (default: %(default)s)")
    parser.add_argument("--list", action="store_true", help="print the names of the trials")
    asked = parser.parse_args()
    chosen = [trial for name, trial in TRIALS.items() if not asked.names or name.startswith(tuple(asked.names))]
    if asked.list or not chosen:
        print("\n".join(TRIALS))
        return 0 if asked.list else 2
    at = commit()
    with ProcessPoolExecutor(asked.processes) if asked.processes > 1 else _Alone() as pool:
        for trial in chosen:
            start = time.monotonic()
            found = trial.measure(asked.runs, asked.seed, pool)
            write(read(asked.to) | {each.key: each for each in (row(line, at) for line in found)}, asked.to)
            for line in found:
                print(*row(line, at).cells[:7], sep=" | ", flush=True)
            print(f"{trial.name}: {time.monotonic() - start:.0f} s", file=sys.stderr, flush=True)
    return 0


class _Alone:
    """No pool: one process."""

    def __enter__(self) -> None:
        return None

    def __exit__(self, *_: object) -> None:
        return None


if __name__ == "__main__":
    sys.exit(main())
