"""Reading score sheets, every check included, against reading the same bytes as plain text.

A csv is held against `pandas.read_csv(dtype=str)`, which neither knows a score from a blank nor looks for faults; a
workbook against python-calamine alone. Exponents of growth are those of the last tenfold.
"""

from __future__ import annotations

import tempfile
from pathlib import Path

import numpy as np
import pandas as pd
from python_calamine import CalamineWorkbook

import panelstats as pst
from tests.bench.made import peak_mb, timed

MOST = {"long": 5, "wide": 8, "workbook": 2}
WORDS = 16


def wide(scores: int, seed: int = 1) -> pd.DataFrame:
    """About so many scores: lots x 10 tasters x 2 pots, a column a descriptor, halves of a point, 3 % not scored."""
    rng = np.random.default_rng(seed)
    rows = scores // WORDS
    at = np.arange(rows)
    keys = {"lot": [f"{n // 20 + 1:04d}" for n in at], "taster": [f"taster {n // 2 % 10 + 1}" for n in at]}
    marks = np.round(rng.normal(5, 1.5, (rows, WORDS)).clip(0, 10) * 2) / 2
    marks[rng.random(marks.shape) < 0.03] = np.nan
    table = pd.DataFrame(keys | {"pot": at % 2 + 1})
    return table.assign(**{f"word {n + 1}": column for n, column in enumerate(marks.T)})


def long(scores: int) -> pd.DataFrame:
    """The same scores, a row each."""
    return wide(scores).melt(["lot", "taster", "pot"], var_name="descriptor", value_name="score").dropna()


def csv_rows(shape: str, made: object, folder: Path) -> list[dict[str, object]]:
    """1x, 10x, 100x the scores of one shape of sheet."""
    rows, before = [], np.nan
    for scores in (5000, 50_000, 500_000):
        path = folder / f"{shape}-{scores}.csv"
        made(scores).to_csv(path, index=False)
        repeats = 5 if scores < 500_000 else 3
        seconds, found = timed(lambda path=path: pst.read_scores(path), repeats=repeats)
        peak = peak_mb()
        theirs, _ = timed(lambda path=path: pd.read_csv(path, dtype=str), repeats=repeats)
        assert len(found) > 0.95 * scores - WORDS * 20
        row = {
            "name": f"read_scores, {shape} csv, {scores:,} scores",
            "seconds": seconds,
            "reference": "pandas.read_csv(dtype=str)",
            "reference_seconds": theirs,
            "ratio": seconds / theirs,
            "peak_mb": peak,
            "exponent": float(np.log10(seconds / before)),
        }
        if scores == 500_000:
            row |= {"bound": f"ratio <= {MOST[shape]}", "held": bool(seconds / theirs <= MOST[shape])}
        rows.append(row)
        before = seconds
    return rows


def workbook_row(folder: Path) -> dict[str, object]:
    """A long workbook of 100,000 rows."""
    path = folder / "book.xlsx"
    long(104_000).head(100_000).to_excel(path, index=False, engine="xlsxwriter")
    seconds, found = timed(lambda: pst.read_scores(path), repeats=2)
    peak = peak_mb()
    theirs, _ = timed(lambda: CalamineWorkbook.from_path(path).get_sheet_by_index(0).to_python(), repeats=2)
    assert len(found) == 100_000
    return {
        "name": "read_scores, long workbook, 100,000 rows",
        "seconds": seconds,
        "reference": "python-calamine alone",
        "reference_seconds": theirs,
        "ratio": seconds / theirs,
        "peak_mb": peak,
        "bound": f"ratio <= {MOST['workbook']}",
        "held": bool(seconds / theirs <= MOST["workbook"]),
    }


def run() -> list[dict[str, object]]:
    """A row for each sheet."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        return [*csv_rows("long", long, folder), *csv_rows("wide", wide, folder), workbook_row(folder)]
