"""The short list of a very large day against the reading of its sheet, in one run."""

from __future__ import annotations

import numpy as np
import pandas as pd

import panelstats as pst
from tests.bench.made import peak_mb, timed

LOTS, TASTERS, WORDS, AGAIN = 2000, 3, 5, 20
MOST, LEAST_RATIO = 1.0, 0.35


def sheet(seed: int = 1) -> pd.DataFrame:
    """Every lot tasted by all from one pot, some from a second: half points, a column a word."""
    rng = np.random.default_rng(seed)
    lot = np.concatenate([np.arange(LOTS), np.arange(0, LOTS, LOTS // AGAIN)])
    shape = (len(lot), TASTERS, WORDS)
    marks = 5.5 + rng.normal(0, 0.8, (LOTS, 1, WORDS))[lot] + rng.normal(0, 0.4, (1, TASTERS, WORDS))
    marks = marks + rng.normal(0, 0.25, (len(lot), 1, WORDS)) + rng.normal(0, 0.7, shape)
    marks = (np.round(2 * marks) / 2).clip(0, 10).reshape(-1, WORDS)
    keys = {
        "lot": np.repeat([f"{n + 1:05d}" for n in lot], TASTERS),
        "taster": np.tile([f"taster {n + 1}" for n in range(TASTERS)], len(lot)),
        "pot": np.repeat(np.arange(len(lot)) // LOTS + 1, TASTERS),
    }
    return pd.DataFrame(keys | {f"word {n + 1}": column for n, column in enumerate(marks.T)})


def run() -> list[dict[str, object]]:
    """One row: ranking, chances, and what a second look would gain."""
    made = sheet()
    reading, scores = timed(lambda: pst.read_scores(made))
    seconds, found = timed(lambda: pst.shortlist_lots(scores))
    ratio, listed = reading / seconds, int(found.table["listed"].sum())
    return [
        {
            "name": f"shortlist_lots, {LOTS:,} lots x {TASTERS} tasters x 1 pot x {WORDS} descriptors",
            "seconds": seconds,
            "reference": "reading the sheet",
            "reference_seconds": reading,
            "ratio": ratio,
            "peak_mb": peak_mb(),
            "bound": f"< {MOST:g} s, ratio > {LEAST_RATIO:g}, {WORDS} lists",
            "held": bool(seconds < MOST and ratio > LEAST_RATIO and listed == WORDS * LOTS // 10),
        }
    ]
