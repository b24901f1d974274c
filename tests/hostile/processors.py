"""The same sheet gives the same page, workbook and JSON whatever the processor: `python -m tests.hostile.processors`.

OpenBLAS chooses its kernels by the processor; OPENBLAS_CORETYPE makes it take those of another, and they add up in
another order. Each kind reviews the data sets and rooms full of ties, with one thread or with two; every file is held
to that of the first.
"""

from __future__ import annotations

import hashlib
import os
import subprocess
import sys
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import pandas as pd

HERE = Path(__file__).parents[2]
# Kinds of kernel: AVX-512, AVX2 (Intel and AMD), AVX, SSE4 and SSE3 alone; with the threads each is given.
KINDS = [
    ("Haswell", 1),
    ("Haswell", 2),
    ("SkylakeX", 1),
    ("Zen", 2),
    ("SandyBridge", 1),
    ("Nehalem", 2),
    ("Prescott", 1),
]
JOBS = {
    "bench": ["session", "data/bench"],
    "row": ["session", "data/row.xlsx"],
    "blends": ["match", "data/blends", "--standard", "S"],
    "trainees": ["trainees", "data/new-tasters"],
    "map": ["map", "data/bench"],
}
RUN = "import sys; from panelstats.cli import main; sys.exit(main(sys.argv[1].split()))"


def tied_room(seed: int) -> pd.DataFrame:
    """Whole marks of few values on lots that are copies of one another: nearly every order is a tie."""
    rng = np.random.default_rng(seed)
    pattern = rng.integers(4, 8, (4, 5, 2, 2))  # kind of lot, taster, pot, descriptor
    return pd.DataFrame(
        [
            (f"{lot}", f"t{taster}", pot + 1, pattern[lot % 4, (taster + lot // 4) % 5, pot, 0],
             pattern[lot % 4, (taster + lot // 4) % 5, pot, 1])
            for lot in range(12) for taster in range(5) for pot in range(2)
        ],
        columns=["lot", "taster", "pot", "brisk", "body"],
    )  # fmt: skip


def files(folder: Path, job: str, kind: tuple[str, int]) -> dict[str, str]:
    """Digest of every file and of the JSON that a command leaves on one kind of kernel."""
    folder.mkdir(parents=True)
    core, threads = kind
    env = {"OPENBLAS_CORETYPE": core, "OPENBLAS_NUM_THREADS": str(threads), "PYTHONPATH": str(HERE)}
    done = subprocess.run([sys.executable, "-c", RUN, job.replace("OUT", str(folder))], env=os.environ | env,
                          cwd=HERE, capture_output=True, check=True)  # fmt: skip
    told = done.stdout.replace(str(folder).encode(), b"")
    made = {str(path.relative_to(folder)): path.read_bytes() for path in sorted(folder.rglob("*")) if path.is_file()}
    return {name: hashlib.sha256(data).hexdigest() for name, data in (made | {"standard output": told}).items()}


def of_job(words: list[str]) -> str:
    """One job that writes its files and tells a machine the same."""
    return " ".join([*words, "--out", "OUT/page.html", "--json"])


def differing(folder: Path, job: str, kinds: list[tuple[str, int]]) -> list[str]:
    """Every file that is not the same as on the first kind."""
    first, *others = [(kind, files(folder / f"{kind[0]}-{kind[1]}", job, kind)) for kind in kinds]
    return [
        f"{kind[0]}, {kind[1]} threads: {name}"
        for kind, found in others for name in sorted(found.keys() | first[1].keys())
        if found.get(name) != first[1].get(name)
    ]  # fmt: skip


def run(rooms: int = 20) -> int:
    """Try the data sets, then rooms of ties; 0 where every file was the same."""
    failed = 0
    with TemporaryDirectory() as name:
        folder = Path(name)
        jobs = {each: of_job(words) for each, words in JOBS.items()}
        for seed in range(rooms):
            path = folder / f"ties-{seed}.csv"
            tied_room(seed).to_csv(path, index=False)
            jobs[path.stem] = of_job(["session", str(path)])
            jobs[f"{path.stem}-map"] = of_job(["map", str(path)])
        for each, job in jobs.items():
            found = differing(folder / each, job, KINDS)
            failed += bool(found)
            print(f"{each}: {'; '.join(found) or 'the same on all'}", flush=True)
    print(f"tried {len(jobs)}, held {len(jobs) - failed}")
    return int(failed > 0)


if __name__ == "__main__":
    sys.exit(run(*map(int, sys.argv[1:])))
