"""The classical analysis of variance of complete data: exact whatever component would be negative."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from scipy.stats import f as f_distribution

from panelstats.models.meansquares import MeanSquares, mean_squares
from panelstats.scores.cells import DESCRIPTOR, SHARED

if TYPE_CHECKING:
    from panelstats.lots.compare.fitted import Fitted

SOURCES = {"lot": "lot", "taster": "taster", "lot_taster": "lot:taster", "pot": "lot:pot", "error": "residual"}
COLUMNS = [DESCRIPTOR, "source", "df", "mean_square", "statistic", "df_error", "p"]


def mean_square_lines(group: Fitted) -> pd.DataFrame:
    """Mean squares of the descriptors that every taster scored from every pot; no rows for the others."""
    grid = group.grid
    looks = grid.looks.reshape(-1, len(grid.descriptors))
    complete = (looks == looks[:1]).all(axis=0) & (looks[0] > 0)
    tables = []
    for shared in (True, False):
        which = np.flatnonzero(complete & ((grid.pots == SHARED) == shared))
        if len(which) and len(grid.lots) > 1 and len(grid.tasters) > 1 and group.compared.all():
            ms = mean_squares(
                grid.centred[..., which],
                shared=shared,
                within_ss=grid.within_ss[..., which].sum(axis=(0, 1, 2)),
                looks=int(looks[0, which[0]]),
            )
            tables.append(_lines(grid.descriptors[which], ms))
    return pd.concat(tables, ignore_index=True) if tables else pd.DataFrame(columns=COLUMNS)


def _lines(descriptors: np.ndarray, ms: MeanSquares) -> pd.DataFrame:
    statistic, df_error = lot_ratio(ms)
    rows = []
    for d, name in enumerate(descriptors):
        for line, source in SOURCES.items():
            if ms.df[line]:
                rows.append((name, source, ms.df[line], getattr(ms, line)[d], np.nan, np.nan))
                if line == "lot":
                    rows[-1] = (*rows[-1][:4], statistic[d], df_error[d])
    table = pd.DataFrame(rows, columns=COLUMNS[:-1])
    return table.assign(p=f_distribution.sf(table["statistic"], table["df"], table["df_error"]))


def lot_ratio(ms: MeanSquares) -> tuple[np.ndarray, np.ndarray]:
    """Lot mean square over its error and the error's df; with shared pots the error is pot + lot:taster - error."""
    with np.errstate(divide="ignore", invalid="ignore"):
        if not ms.df["pot"]:
            return ms.lot / ms.lot_taster, np.full(len(ms.lot), float(ms.df["lot_taster"]))
        error = ms.pot + ms.lot_taster - ms.error
        parts = sum(getattr(ms, line) ** 2 / ms.df[line] for line in ("pot", "lot_taster", "error"))
        usable = error > 0
        return np.where(usable, ms.lot / error, np.nan), np.where(usable, error**2 / parts, np.nan)
