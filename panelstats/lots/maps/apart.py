"""Lots a map leaves out for want of some marks, put where the descriptors they were scored on would have them."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from panelstats.lots.maps.onto import place_of
from panelstats.lots.maps.placed import POINTS
from panelstats.scores.cells import LOT

if TYPE_CHECKING:
    from panelstats.lots.maps.placed import Placed


def apart(placed: Placed) -> pd.DataFrame:
    """The places of lots that were left out, as far as what was scored fixes them.

    Returns
    -------
    DataFrame
        lot, axis_1, ..., words (how many descriptors of the map were scored). Least squares on their loadings; such a
        lot has no say in the axes, and no region.
    """
    names = [f"axis_{at + 1}" for at in range(placed.shown)]
    if placed.scale != POINTS or not placed.shown or not len(placed.ground.apart_lots):
        return pd.DataFrame(columns=[LOT, *names, "words"])
    gaps = placed.ground.apart
    places = np.stack([place_of(placed.axes.loadings[:, : placed.shown], gap) for gap in gaps])
    table = pd.DataFrame({LOT: placed.ground.apart_lots.astype(object)} | dict(zip(names, places.T, strict=True)))
    table = table.assign(words=np.isfinite(gaps).sum(axis=1))
    return table[np.isfinite(places).all(axis=1)].reset_index(drop=True)
