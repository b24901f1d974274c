"""What the invented tasters write beside the scores."""

from __future__ import annotations

import numpy as np
import pandas as pd

# Words of ISO 6078 for liquors that stand out on a descriptor; none of them names a fault.
ABOVE = {"colour": "coloury", "bright": "bright", "strength": "strong", "body": "thick", "brisk": "brisk"}
BELOW = {"colour": "light", "bright": "dull", "strength": "plain", "body": "thin", "brisk": "flat"}
STANDS_OUT = 2.0  # points from the taster's own mean of the class before a word is written
WRITES = 0.5  # share of such servings that get their word
SAID = ["smoky", "slight smoke", "smoke?"]


def remarks(rng: np.random.Generator, sheet: pd.DataFrame, group: np.ndarray) -> np.ndarray:
    """A remark for each row of a wide sheet, "" for most: the word for the descriptor that stands out most.

    Parameters
    ----------
    sheet : DataFrame
        A row per serving.
    group : ndarray, one value per row
        What is compared with what: taster and class.
    """
    names = [name for name in ABOVE if name in sheet]
    apart = (sheet[names] - sheet[names].groupby(group).transform("mean")).fillna(0.0).to_numpy()
    most = np.abs(apart).argmax(axis=1)
    size = np.take_along_axis(apart, most[:, None], axis=1)[:, 0]
    word = np.where(size > 0, np.array([*map(ABOVE.get, names)])[most], np.array([*map(BELOW.get, names)])[most])
    written = (np.abs(size) >= STANDS_OUT) & (rng.random(len(sheet)) < WRITES)
    return np.where(written, word, "").astype(object)
