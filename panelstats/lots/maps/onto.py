"""Lots of another tasting on the axes of a map that was made before."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from panelstats.errors import DesignError
from panelstats.lots.maps.ground import lot_means
from panelstats.scores.cells import CLASS, DESCRIPTOR, LOT

if TYPE_CHECKING:
    from panelstats.scores.cells import Cells

CENTRE = "centre"


def placed_onto(cells: Cells, descriptors: pd.DataFrame) -> pd.DataFrame:
    """The places of lots on stored axes.

    Parameters
    ----------
    cells : Cells
        Trainees' marks do not count.
    descriptors : DataFrame
        Of a map on the scale of points: descriptor, axis_1, ..., centre; a class where there were several.

    Returns
    -------
    DataFrame
        class (as in `descriptors`), lot, axis_1, ..., words (how many of the map's descriptors were scored). Places
        are NaN where these do not fix one.
    """
    names = [str(name) for name in descriptors.columns if str(name).startswith("axis_")]
    if not names:
        raise DesignError("a map without axes holds no place", where="axes", do="read the verdicts of the map")
    by_class = CLASS in descriptors
    parts = []
    for lot_class, table in descriptors.groupby(CLASS, sort=False) if by_class else [("", descriptors)]:
        lots, words, means = lot_means(cells, str(lot_class) if by_class else None)
        stored = table[table[DESCRIPTOR].isin(words)]
        if not len(lots) or not len(stored):
            continue
        mine = [name for name in names if stored[name].notna().all()]  # a class may have fewer axes than another
        gap = means[:, [list(words).index(name) for name in stored[DESCRIPTOR]]] - stored[CENTRE].to_numpy(float)
        place = np.stack([place_of(stored[mine].to_numpy(float), each) for each in gap])
        found = pd.DataFrame({LOT: lots.astype(object)} | dict(zip(mine, place.T, strict=True)))
        found = found.assign(words=np.isfinite(gap).sum(axis=1))
        if by_class:
            found.insert(0, CLASS, lot_class)
        parts.append(found)
    if not parts:
        raise DesignError(
            "no lot has a place on this map", where="scores", do="give lots of its classes, scored on its descriptors"
        )
    whole = pd.concat(parts, ignore_index=True)
    return whole[[name for name in whole if name != "words"] + ["words"]]


def place_of(loadings: np.ndarray, gap: np.ndarray) -> np.ndarray:
    """Least squares of what lies off the centre on the loadings of the descriptors that were scored."""
    known = np.isfinite(gap)
    if np.linalg.matrix_rank(loadings[known]) < loadings.shape[1]:
        return np.full(loadings.shape[1], np.nan)
    return np.asarray(np.linalg.lstsq(loadings[known], gap[known], rcond=None)[0])
