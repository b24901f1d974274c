"""One session and class with its models fitted: what the tables and sentences about lots are made from."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from panelstats.models.multiplicity import adjusted
from panelstats.models.panel import PanelFit, panel_fits
from panelstats.scores.cells import DESCRIPTOR, LOT, ROLE, SESSION, SHARED, STAGE

if TYPE_CHECKING:
    from collections.abc import Mapping

    import pandas as pd

    from panelstats.scores.cells import Cells, Grid

# Up to so many lots of a class every pair is compared and lettered (common practice; letters grow without bound).
FEW_LOTS = 20
# Lots of these roles are shown but enter no pair and no test of the lots.
ASIDE = ("control", "standard")


@dataclass(frozen=True, eq=False)
class Fitted:
    """A grid, its fits and the test of its lots; arrays run over the grid's descriptors.

    Attributes
    ----------
    grid : Grid
    fits : list of PanelFit
    compared : ndarray of bool, shape (L,)
        Lots that are compared: neither control nor standard.
    statistic, df, df_error, p, p_adjusted : ndarray, shape (D,)
        Test that the compared lots are equal; NaN where there is none.
    tolerance, step : ndarray, shape (D,)
        Smallest difference that matters and step of the scale, in points; NaN where not known.
    stage : ndarray of str, shape (D,)
    level : float
    among_sessions : bool
        Whether other sessions were fitted too, so that sentences must name theirs.
    """

    grid: Grid
    fits: list[PanelFit]
    compared: np.ndarray
    statistic: np.ndarray
    df: np.ndarray
    df_error: np.ndarray
    p: np.ndarray
    p_adjusted: np.ndarray
    tolerance: np.ndarray
    step: np.ndarray
    stage: np.ndarray
    level: float
    among_sessions: bool

    @property
    def count(self) -> int:
        """Number of lots that are compared."""
        return int(self.compared.sum())

    def part(self, d: int) -> PanelFit:
        """The fit that holds a descriptor."""
        return next(part for part in self.fits if d in part.index)

    def state(self, d: int) -> str:
        """Why a descriptor was not fitted; empty where it was."""
        part = self.part(d)
        return str(part.can.state[np.flatnonzero(part.index == d)[0]])

    def passed(self, d: int) -> bool:
        """Whether the lots are shown to differ, after allowing for the number of descriptors."""
        return bool(self.p_adjusted[d] < 1 - self.level)


def fitted(cells: Cells, *, tolerance: float | Mapping[str, float] | None, across: str, level: float) -> list[Fitted]:
    """Fit every session and class; trainees' scores do not count."""
    roles = dict(zip(cells.lots[LOT], cells.lots[ROLE], strict=True))
    register = cells.descriptors.set_index(DESCRIPTOR)
    out = []
    for grid in cells.select(role="senior").grids():
        stage = register.loc[grid.descriptors, STAGE].to_numpy(str)
        fits = panel_fits(grid.looks, grid.centred, grid.within_ss, shared=grid.pots == SHARED, stage=stage)
        compared = np.array([roles[lot] not in ASIDE for lot in grid.lots])
        tests = _tests(fits, compared, len(grid.descriptors))
        out.append(
            Fitted(
                grid=grid,
                fits=fits,
                compared=compared,
                statistic=tests[0],
                df=tests[1],
                df_error=tests[2],
                p=tests[3],
                p_adjusted=adjusted(tests[3], across),
                tolerance=tolerances(register, grid.descriptors, tolerance),
                step=register.loc[grid.descriptors, "step"].to_numpy(float),
                stage=stage,
                level=level,
                among_sessions=len(set(cells.frame[SESSION])) > 1,
            )
        )
    return out


def _tests(fits: list[PanelFit], compared: np.ndarray, d: int) -> np.ndarray:
    """Statistic, df, error df and p of the lot test by descriptor."""
    out = np.full((4, d), np.nan)
    for part in fits:
        if part.effects is not None:
            test = part.effects.test(compared)
            out[:, list(part.slot)] = test.statistic, test.df, test.df_error, test.p
    return out


def tolerances(
    register: pd.DataFrame, descriptors: np.ndarray, asked: float | Mapping[str, float] | None
) -> np.ndarray:
    """Tolerance of each descriptor in points: what was asked for, else the register's."""
    known = register.loc[descriptors, "tolerance"].to_numpy(float)
    if asked is None:
        return known
    if isinstance(asked, int | float):
        return np.full(len(descriptors), float(asked))
    return np.array([asked.get(name, now) for name, now in zip(descriptors, known, strict=True)], dtype=float)
