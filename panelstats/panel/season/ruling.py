"""Hidden controls as judge: where tasters have moved apart and the scores cannot say who, whose controls moved."""

from __future__ import annotations

import numpy as np
import pandas as pd
from scipy.special import ndtri

from panelstats.panel.season.moved import LEAST_SIDE, LEVEL, steps
from panelstats.panel.season.tables import ALARM, CALL, CHANGE, CONTROLS, HIGH, LEVEL_CHART, LOW, REASON, SINCE, Judged
from panelstats.panel.season.words import APART, NOT_TOGETHER, SPLIT
from panelstats.scores.cells import DESCRIPTOR, TASTER

# Chance that a control of anybody is said to have moved where none did (Bonferroni over the tasters).
RISK = 0.05
BOUND, Z = "bound", "z"
COLUMNS = [DESCRIPTOR, TASTER, SINCE, CHANGE, LOW, HIGH, Z, BOUND]


def rulings(judged: dict[str, Judged], table: pd.DataFrame, sessions: np.ndarray) -> pd.DataFrame:
    """What hidden controls say of each descriptor on which tasters have moved apart.

    Parameters
    ----------
    judged : dict of str to Judged
    table : DataFrame
        The calls of the season.
    sessions : ndarray of str

    Returns
    -------
    DataFrame
        descriptor, taster, since (the best step of the level that alarmed), change of the mean on controls with its
        interval low, high, z and the bound on its size: a row for each taster with controls before and since.

    Notes
    -----
    Means before and since, weighted by the precision of the sessions; the bound is that of the normal distribution at
    5 % over the tasters.
    """
    if LEVEL_CHART not in judged or CONTROLS not in judged:
        return pd.DataFrame(columns=COLUMNS)
    level = table[(table["chart"] == LEVEL_CHART) & (table[ALARM] != "")]
    open_ = level[level[REASON].isin([SPLIT, NOT_TOGETHER]) | (level[CALL] == APART)]
    words = [judged[LEVEL_CHART].columns.index(name) for name in dict.fromkeys(open_[DESCRIPTOR])]
    parts = [_ruling(judged[CONTROLS], c, _onset(judged[LEVEL_CHART], c), sessions) for c in words]
    return pd.concat(parts, ignore_index=True) if parts else pd.DataFrame(columns=COLUMNS)


def _onset(level: Judged, column: int) -> int:
    """The best step in the level of the taster who alarmed farthest, by session."""
    charts = level.charts
    who = int(np.where(charts.alarmed[:, column], charts.peak[:, column], 0.0).argmax())
    value, variance = charts.series.value[:, who, column], charts.variance[:, who, column]
    at = np.flatnonzero(np.isfinite(value) & (variance > 0))
    fit = steps(value[at], 1 / variance[at], at)
    return int(fit.places[fit.best])


def _ruling(controls: Judged, column: int, onset: int, sessions: np.ndarray) -> pd.DataFrame:
    value, variance = (each[:, :, column] for each in (controls.charts.series.value, controls.charts.variance))
    late = np.arange(len(value))[:, None] >= onset
    there = np.isfinite(value) & (variance > 0)
    sides = [there & here for here in (~late, late)]
    kept = np.all([side.sum(axis=0) >= LEAST_SIDE for side in sides], axis=0)
    weight = np.where(there, 1 / np.where(there, variance, 1.0), 0.0)
    total = [np.where(side, weight, 0.0).sum(axis=0)[kept] for side in sides]
    mean = [(np.where(side, weight * np.nan_to_num(value), 0.0).sum(axis=0)[kept]) / w
            for side, w in zip(sides, total, strict=True)]  # fmt: skip
    change, sd = mean[1] - mean[0], np.sqrt(1 / total[0] + 1 / total[1])
    reach = float(ndtri((1 + LEVEL) / 2)) * sd
    bound = float(-ndtri(RISK / 2 / max(int(kept.sum()), 1)))
    return pd.DataFrame(
        {DESCRIPTOR: controls.columns[column], TASTER: np.array(controls.tasters, dtype=object)[kept],
         SINCE: str(sessions[onset]), CHANGE: change, LOW: change - reach, HIGH: change + reach, Z: change / sd,
         BOUND: bound}
    )[COLUMNS]  # fmt: skip
