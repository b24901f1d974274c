"""Marks that sag along the one row of all tasters: each taster's straight line over it taken out."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from panelstats.scores.cells import CLASS, DESCRIPTOR, LOT, MEAN, POSITION, SESSION, TASTER, Cells
from panelstats.scores.places import one_order, places

if TYPE_CHECKING:
    import pandas as pd

    from panelstats.scores.table import Scores


def without_row(scores: Scores | Cells, cells: Cells) -> Cells:
    """The cells less each taster's line over the places, in the sessions in which all met the lots in one order.

    Notes
    -----
    Only where the order was told, lot by lot or by the register. Lines by least squares, a slope for each session,
    taster and descriptor, within class. Where all walk one row, marks that fall along it agree with one another and say
    nothing of the lots.
    """
    if isinstance(scores, Cells):
        return cells
    rows = scores.frame.assign(**{POSITION: places(scores)})
    keys = [SESSION, LOT, TASTER]
    where = rows.groupby(keys, observed=True)[POSITION].mean()
    parts = where.reset_index().groupby(SESSION, observed=True)
    orders = {str(name): part.pivot_table(POSITION, LOT, TASTER, observed=True) for name, part in parts}
    walked = {name for name, order in orders.items() if one_order(order)}
    if not walked:
        return cells
    frame = cells.frame.merge(where.rename(POSITION), left_on=keys, right_index=True, how="left")
    here = (frame[SESSION].astype(str).isin(walked) & frame[POSITION].notna()).to_numpy()
    off = np.zeros(len(frame))
    off[here] = _lines(frame[here], dict(zip(cells.lots[LOT].astype(str), cells.lots[CLASS], strict=True)))
    return replace(cells, frame=cells.frame.assign(**{MEAN: frame[MEAN].to_numpy() - off}), _memo={})


def _lines(frame: pd.DataFrame, classes: dict[str, object]) -> np.ndarray:
    """Height of each taster's line at every cell, about 0 in each class."""
    keys = [frame[name].astype(str) for name in (SESSION, TASTER, DESCRIPTOR)]
    within = [*keys, frame[LOT].astype(str).map(classes)]
    x, y = (frame[name] - frame.groupby(within)[name].transform("mean") for name in (POSITION, MEAN))
    products, squares = ((x * other).groupby(keys).transform("sum") for other in (y, x))
    return (x * products / squares.where(squares > 0, np.inf)).to_numpy()
