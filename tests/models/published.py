"""Published and recomputed panels as arrays; their sources stand in tests/published/models/README.md."""

import json
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd

FOLDER = Path(__file__).parents[1] / "published" / "models"


@dataclass
class Panel:
    lots: list
    descriptors: list
    looks: np.ndarray  # (lot, taster, pot, descriptor)
    mean: np.ndarray
    truth: dict


def frame(name):
    table = pd.read_csv(FOLDER / f"{name}.csv")
    return table.astype({key: str for key in ("lot", "taster") if key in table})


def truth(name):
    return json.loads((FOLDER / f"{name}.json").read_text())


def panel(name):
    table = frame(name)
    axes = [sorted(table[key].unique()) for key in ("lot", "taster", "pot")]
    descriptors = list(dict.fromkeys(table["descriptor"]))
    looks = np.zeros((*(len(axis) for axis in axes), len(descriptors)), int)
    mean = np.zeros(looks.shape)
    for row in table.itertuples():
        at = (
            axes[0].index(row.lot),
            axes[1].index(row.taster),
            axes[2].index(row.pot),
            descriptors.index(row.descriptor),
        )
        looks[at] += 1
        mean[at] = row.score
    assert looks.max() == 1
    return Panel(axes[0], descriptors, looks, mean, truth(name))
