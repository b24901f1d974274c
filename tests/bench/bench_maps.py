"""Maps against one singular value decomposition a resample: the panel's mean relabelled with numpy, as one would write.

Run as `python -m tests.bench maps`.
"""

from __future__ import annotations

import numpy as np

import panelstats as pst
from tests.bench.made import made_cells, peak_mb, timed

RESAMPLES, LOOPED = 500, 25


def by_loop(marks: np.ndarray, resamples: int) -> float:
    """P of the first axis: every table relabelled, averaged and decomposed; marks are (taster, lot, descriptor)."""
    rng = np.random.default_rng(1)
    marks = marks - marks.mean(axis=1, keepdims=True)
    seen = np.linalg.svd(marks.mean(axis=0))[1][0]
    drawn = [
        np.linalg.svd(np.mean([one[rng.permutation(len(one))] for one in marks], axis=0), full_matrices=False)[1][0]
        for _ in range(resamples)
    ]
    return (1 + sum(each >= seen for each in drawn)) / (1 + resamples)


def run() -> list[dict[str, object]]:
    """The map of a large class, all that stands beside it included, and of the axes' test alone its ratio to a loop."""
    cells = made_cells(2000, 8, 1, 16)
    (grid,) = cells.grids()
    marks = np.moveaxis(grid.over_brews()[1], 1, 0)
    alone, _ = timed(lambda: pst.map_lots(cells, besides=False, resamples=RESAMPLES), repeats=2)
    peak = peak_mb()
    looped, _ = timed(lambda: by_loop(marks, LOOPED), repeats=1)
    reference = looped / LOOPED * RESAMPLES
    whole, found = timed(lambda: pst.map_lots(cells, resamples=RESAMPLES), repeats=1)
    size = "2,000 lots x 8 tasters x 16 descriptors, 500 resamples"
    assert isinstance(found, pst.LotMap)
    return [
        {"name": f"map_lots, axes and regions, {size}", "seconds": alone, "reference_seconds": reference,
         "reference": f"one SVD a resample, {LOOPED} of them", "ratio": reference / alone, "peak_mb": peak,
         "bound": "5 s, and faster than the loop", "held": alone < 5 and alone < reference},
        {"name": f"map_lots, with all that stands beside, {size}", "seconds": whole, "bound": "15 s",
         "held": whole < 15},
    ]  # fmt: skip
