"""Whether the first sessions, which say what is usual of a taster, were themselves moving."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from scipy.special import ndtri

from panelstats.panel.season.charted import AFTER

if TYPE_CHECKING:
    from panelstats.panel.season.charted import Charted

# A baseline is told to move beyond so many standard errors, or more where so many are looked at that one in twenty
# panels would otherwise be told so by luck (ours).
BEYOND, BY_LUCK = 3.0, 0.05


class MovingBaseline(NamedTuple):
    """A baseline that moves: of which taster and column, by how much from its first session to its last, and the error.

    `sessions` are those of the baseline.
    """

    taster: int
    column: int
    change: float
    se: float
    sessions: int


def moving_baselines(charts: Charted) -> list[MovingBaseline]:
    """Every baseline whose straight line is too steep for the errors of its sessions; of charts that say something.

    Notes
    -----
    Weighted least squares with weights 1 / variance, the variances taken as known; the bound after Sidak (1967).
    """
    value = charts.series.value
    counts = np.isfinite(value) & (charts.variance > 0)
    asked = [
        (i, c, np.flatnonzero(counts[:, i, c])[: int(charts.baseline[i, 0])])
        for i, c in np.ndindex(value.shape[1:])
        if counts[:, i, c].sum() >= charts.baseline[i, 0] + AFTER
    ]
    if not asked:
        return []
    bound = max(BEYOND, float(ndtri(1 - (1 - (1 - BY_LUCK) ** (1 / len(asked))) / 2)))
    found = [_fitted(i, c, at, value[at, i, c], 1 / charts.variance[at, i, c]) for i, c, at in asked]
    return [each for each in found if abs(each.change) > bound * each.se]


def _fitted(i: int, c: int, at: np.ndarray, y: np.ndarray, weight: np.ndarray) -> MovingBaseline:
    x = at - (weight @ at) / weight.sum()
    square = weight @ x**2
    run = float(at[-1] - at[0])
    return MovingBaseline(i, c, run * float(weight @ (x * y) / square), run / float(np.sqrt(square)), len(at))
