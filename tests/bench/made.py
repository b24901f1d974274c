"""Made-up panels of any size as cells, and the measuring of what is done with them."""

from __future__ import annotations

import importlib
import resource
from time import process_time
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from panelstats.scores.cells import Cells, cells_of

if TYPE_CHECKING:
    from collections.abc import Callable

# Standard deviations of lot, taster, lot:taster, pot (where shared) and one look, in points of the scale.
LOT_SD, TASTER_SD, LOT_TASTER_SD, POT_SD, LOOK_SD = 0.8, 0.5, 0.4, 0.25, 0.7


def made_cells(
    lots: int, tasters: int, pots: int, descriptors: int, *, missing: float = 0.0, shared: bool = False, seed: int = 1
) -> Cells:
    """Cells of one session and class; `missing` of the servings were not scored."""
    rng = np.random.default_rng(seed)
    shape = (lots, tasters, pots, descriptors)
    score = (
        5 + rng.normal(0, LOT_SD, (lots, 1, 1, descriptors)) + rng.normal(0, TASTER_SD, (1, tasters, 1, descriptors))
    )
    score = score + rng.normal(0, LOT_TASTER_SD, (lots, tasters, 1, descriptors))
    score = score + (rng.normal(0, POT_SD, (lots, 1, pots, descriptors)) if shared else 0.0)
    score = score + rng.normal(0, LOOK_SD, shape)
    served = rng.random(shape[:3]) >= missing
    return cells_from_array(score, served, shared=shared)


def cells_from_array(score: np.ndarray, served: np.ndarray, *, shared: bool, stage: np.ndarray | None = None) -> Cells:
    """Cells of scores (lot, taster, pot, descriptor); `served` has that shape, or none of descriptors: all alike."""
    served = np.broadcast_to(served if served.ndim == 4 else served[..., None], score.shape)
    lot, taster, pot, descriptor = np.nonzero(served)
    labels = {
        "session": ["one"],
        "lot": [f"{n + 1:05d}" for n in range(score.shape[0])],
        "taster": [f"taster {n + 1}" for n in range(score.shape[1])],
        "descriptor": [f"word {n + 1:05d}" for n in range(score.shape[3])],
    }
    codes = {"session": np.zeros(len(lot), int), "lot": lot, "taster": taster, "descriptor": descriptor}
    keys = pd.DataFrame({k: pd.Categorical.from_codes(codes[k], labels[k]) for k in labels})
    keys["brew"] = pot + 1 if shared else 0
    frame = cells_of(keys, score[served])
    stages = np.full(score.shape[3], "") if stage is None else stage
    pots = pd.DataFrame(
        {"session": "one", "stage": pd.unique(pd.Series(stages)), "pots": "shared" if shared else "own"}
    )
    words = pd.DataFrame({"descriptor": labels["descriptor"], "stage": stages, "step": 0.5, "tolerance": 0.5})
    return Cells(
        frame=frame,
        sessions=pd.DataFrame({"session": ["one"]}),
        lots=pd.DataFrame({"lot": labels["lot"], "class": "", "role": ""}),
        descriptors=words,
        tasters=pd.DataFrame({"taster": labels["taster"], "role": "senior"}),
        pots=pots.assign(declared=True, reason="made"),
    )


def scores_by_look(cells: Cells) -> pd.DataFrame:
    """Scores that make these cells again: of two looks the mean plus and minus what their squares ask for."""
    frame = cells.frame.astype(dict.fromkeys(("lot", "taster", "descriptor"), "str"))
    half = np.sqrt(frame["within_ss"] / 2)
    parts = [frame.assign(score=frame["mean"] + half), frame[frame["looks"] == 2].assign(score=frame["mean"] - half)]
    return pd.concat(parts, ignore_index=True)[["lot", "taster", "descriptor", "score"]]


def timed(work: Callable[[], object], *, repeats: int = 3) -> tuple[float, object]:
    """Best of a few runs in seconds of the processor (others may use the machine too), and the last answer."""
    best, answer = np.inf, None
    for _ in range(repeats):
        start = process_time()
        answer = work()
        best = min(best, process_time() - start)
    return float(best), answer


def peak_mb() -> float:
    """Largest memory this process has held so far, in MB (Linux counts kilobytes)."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def rows_of(module: str) -> list[dict[str, object]]:
    """What one benchmark answers; it stands here so that a new process finds it."""
    return importlib.import_module(f"tests.bench.{module}").run()
