"""Ways from arrays and check files to what the analyses take."""

import json
from pathlib import Path

import numpy as np
import pandas as pd

import panelstats as pst
from panelstats.panel.tasters.reference import Pool, pool_of

PUBLISHED = Path(__file__).parents[1] / "published"
NAMES = ("alder", "beech", "elm", "hornbeam", "larch", "poplar", "spruce", "sycamore", "yew", "whitebeam", "spindle")


def published(area: str, name: str) -> tuple[pd.DataFrame, dict]:
    """A check file's data and values."""
    folder = PUBLISHED / area
    return pd.read_csv(folder / f"{name}.csv"), json.loads((folder / f"{name}.json").read_text())


def cells_of(frame: pd.DataFrame, **options: object) -> pst.Cells:
    """Cells of a long table with taster, lot, score (and session, pot, descriptor)."""
    sheet = frame.assign(lot=frame["lot"].astype(str))
    for column, value in (("pot", 1), ("session", "one"), ("descriptor", "strength")):
        if column not in sheet:
            sheet[column] = value
    wide = sheet.pivot_table(
        index=["session", "lot", "taster", "pot"], columns="descriptor", values="score", sort=False
    )
    return pst.read_scores(wide.reset_index(), **options).cells(pots="own" if (sheet["pot"] > 1).any() else None)


def pool_of_frame(frame: pd.DataFrame) -> Pool:
    return pool_of(cells_of(frame))


def scores_of(y: np.ndarray, *, sessions: int = 1, shared: bool = False) -> pst.Cells:
    """Cells of an array (lot, taster, pot, descriptor), NaN where missing; lots dealt to the sessions in turn."""
    lot, taster, pot = np.indices(y.shape[:3]).reshape(3, -1)
    frame = pd.DataFrame(
        {
            "session": [f"2031-01-{1 + j * sessions // len(y):02d}" for j in lot],
            "lot": [str(100 + j) for j in lot],
            "taster": [NAMES[i] for i in taster],
            "pot": pot + 1,
        }
    )
    for d in range(y.shape[3]):
        frame[f"word {d + 1}"] = y[..., d].ravel()
    frame = frame[np.isfinite(y).any(axis=3).ravel()]
    return pst.read_scores(frame).cells(pots="shared" if shared else "own")
