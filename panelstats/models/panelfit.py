"""Fit all descriptors of one table of scores: what can be fitted, with which pots, few pots steadied."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache, partial
from typing import TYPE_CHECKING, cast

import numpy as np

from panelstats.models.blocks import Blocks, for_random_lots
from panelstats.models.celltable import CellTable
from panelstats.models.contrasts import Contrasts
from panelstats.models.degrees import LotEffects
from panelstats.models.estimable import Estimable, estimable
from panelstats.models.lending import Lent, held_covariance, lent_pots, upper_pot_sd
from panelstats.models.meansquares import mean_squares, variances
from panelstats.models.mixed import Fit, fit
from panelstats.models.reml import LOT, LOT_POT, LOT_TASTER, RESIDUAL
from panelstats.scores.cells import DESCRIPTOR, SHARED, STAGE

if TYPE_CHECKING:
    from collections.abc import Callable

    from panelstats.scores.cells import Cells, Grid

# Under these names the cells keep their grids and fits.
_GRIDS, _SENIOR = "senior grids", "senior fits"
# A residual that the scores do not show is held at this share of the mean square within cells.
NEXT_TO_NOTHING = 1e-4


@dataclass(frozen=True, eq=False)
class PanelFit:
    """The fit of D descriptors of one grid.

    Attributes
    ----------
    shared : bool
        Whether pots are a factor of the model.
    cell_means : bool
        Whether looks within a cell never differed, so that cell means were fitted instead.
    index : ndarray of int, shape (D,)
        Where each descriptor stands in the grid.
    can : Estimable
        What can be estimated, for all D.
    slot : dict of int to int
        From a descriptor's place in the grid to its place in the fit; only those that could be fitted.
    effects : LotEffects or None
        Lots fixed.
    loosely : callable
        Makes the fit with lots random, once: many who ask for the lots need only the other.
    pots, interactions : Lent
        How lot:pot and lot:taster came to their values, by slot.
    pot_sd_upper : ndarray, by slot
        One-sided upper 95 % limit of the SD between pots.
    classes : ndarray of int, by slot
        Classes of lots that share the variances.
    """

    shared: bool
    cell_means: bool
    index: np.ndarray
    can: Estimable
    slot: dict[int, int]
    effects: LotEffects | None
    loosely: Callable[[], Fit | None]
    pots: Lent
    interactions: Lent
    pot_sd_upper: np.ndarray
    classes: np.ndarray

    @staticmethod
    def unfitted(index: np.ndarray, can: Estimable, *, shared: bool, cell_means: bool) -> PanelFit:
        """Descriptors of which none was fitted."""
        none = Lent.none(0)
        return PanelFit(shared, cell_means, index, can, {}, None, lambda: None, none, none, np.zeros(0),
                        np.zeros(0, int))  # fmt: skip

    @property
    def random(self) -> Fit | None:
        """The fit with lots random; None where no descriptor has two lots."""
        return self.loosely()

    def of(self, d: int) -> DescriptorFit | None:
        """The fit of the descriptor that stands at `d` in the grid; None where it could not be fitted."""
        if self.effects is None or d not in self.slot:
            return None
        return DescriptorFit(self, self.effects, self.slot[d], int(np.flatnonzero(self.index == d)[0]))


@dataclass(frozen=True, eq=False)
class DescriptorFit:
    """One descriptor's view of a fit.

    Attributes
    ----------
    part : PanelFit
    effects : LotEffects
        Lots fixed.
    slot, place : int
        Where the descriptor stands among those fitted, and among all of the part.
    """

    part: PanelFit
    effects: LotEffects
    slot: int
    place: int

    @property
    def variances(self) -> np.ndarray:
        """Variances in the order of `reml.SOURCES`, lots fixed; one held below 0 is none to plan with."""
        return np.maximum(self.effects.fit.variances[self.slot], 0.0)

    @property
    def held(self) -> np.ndarray:
        """Components that are not in the model or held at a given value."""
        return self.effects.fit.held[self.slot]

    @property
    def rows(self) -> np.ndarray:
        """Where its lots stand in `effects.mean`."""
        return self.effects.rows_of(self.slot)

    @property
    def lots(self) -> np.ndarray:
        """Place in the grid of each lot that was scored."""
        return self.effects.fit.blocks.row_lot[self.rows]

    @property
    def mean(self) -> np.ndarray:
        """Estimate of each of these lots."""
        return self.effects.mean[self.rows]

    def pairs(self, first: np.ndarray, second: np.ndarray) -> Contrasts:
        """Differences between lots, both counted in `lots`."""
        return self.effects.pairs(self.slot, first, second)


def senior_grids(cells: Cells) -> list[Grid]:
    """The grids of every session and class, trainees left out; made once for all who ask.

    Examples
    --------
    >>> import pandas as pd, panelstats as pst
    >>> sheet = pd.DataFrame({"lot": [12, 12, 14, 14], "taster": ["elm", "yew"] * 2, "brisk": [6, 5, 4, 4]})
    >>> cells = pst.read_scores(sheet).cells()
    >>> senior_grids(cells) is senior_grids(cells)
    True
    """
    if _GRIDS not in cells._memo:
        cells._memo[_GRIDS] = list(cells.select(role="senior").grids())
    return cast("list[Grid]", cells._memo[_GRIDS])


def senior_fits(cells: Cells, grid: Grid) -> list[PanelFit]:
    """The fits of one of the `senior_grids` by itself; made once for all who ask."""
    made = cast("dict[Grid, list[PanelFit]]", cells._memo.setdefault(_SENIOR, {}))
    if grid not in made:
        stage = cells.descriptors.set_index(DESCRIPTOR)[STAGE].loc[grid.descriptors].to_numpy(str)
        shared = grid.pots == SHARED
        made[grid] = panel_fits(grid.looks, grid.centred, grid.within_ss, shared=shared, stage=stage)
    return made[grid]


def panel_fits(
    looks: np.ndarray,
    mean: np.ndarray,
    within_ss: np.ndarray,
    *,
    shared: np.ndarray,
    stage: np.ndarray,
    group: np.ndarray | None = None,
) -> list[PanelFit]:
    """Fit every descriptor of a grid that can be fitted.

    Parameters
    ----------
    looks, mean, within_ss : ndarray, shape (lot, taster, brew, descriptor)
        As in `blocks`; every descriptor has a score.
    shared : ndarray of bool, shape (descriptor,)
        Whether brews are pots shared by the tasters.
    stage : ndarray of str, shape (descriptor,)
        Descriptors of one stage lend each other the variance of their pots.
    group : ndarray of int, shape (taster,), optional
        Groups of tasters that never meet one lot, each with a mean of its own where lots are random.

    Returns
    -------
    list of PanelFit
        Descriptors that are fitted with one design stand together; each descriptor is in exactly one.
    """
    out = []
    for pots in (True, False):
        if not len(index := np.flatnonzero(shared == pots)):
            continue
        cells = CellTable(looks[..., index], mean[..., index], within_ss[..., index])
        flat = cells.never_differ_within
        if not flat.all():
            out.append(_fit_part(cells.take(~flat), index[~flat], stage, pots=pots, group=group))
        if flat.any():
            cells = cells.take(flat).one_look_each()
            out.append(_fit_part(cells, index[flat], stage, pots=False, cell_means=True, group=group))
    return out


def _fit_part(
    cells: CellTable,
    index: np.ndarray,
    stage: np.ndarray,
    *,
    pots: bool,
    group: np.ndarray | None,
    cell_means: bool = False,
) -> PanelFit:
    """Fit descriptors of one design."""
    whole = cells.blocks(pots=pots)
    can = estimable(whole, cells.spread)
    bare = PanelFit.unfitted(index, can, shared=pots, cell_means=cell_means)
    at = {int(index[d]): k for k, d in enumerate(can.fits)}
    if not at:
        return bare
    can_fit, ours = can.take(can.fits), cells.take(can.fits)
    b = whole if len(can.fits) == len(index) else ours.blocks(pots=pots)
    lent, none = lent_pots(can_fit, stage[list(at)]), Lent.none(len(at))
    start = None if lent.held.any() else _closed_form(ours, pots=pots)
    effects = fitted_lots(b, can_fit, lent, none, start=start)
    loosely = cache(partial(fitted_random, b, can_fit, lent, effects, group=group))
    return replace(
        bare, slot=at, effects=effects, loosely=loosely, pots=lent, interactions=none,
        pot_sd_upper=upper_pot_sd(can_fit), classes=np.ones(len(at), int),
    )  # fmt: skip


def fitted_lots(
    b: Blocks,
    can: Estimable,
    pots: Lent,
    interactions: Lent,
    *,
    start: np.ndarray | None = None,
    pool: np.ndarray | None = None,
) -> LotEffects:
    """The fit with lots fixed, components held where they are lent; `can` and what is lent by group of `pool`."""
    held, values = _held(can, pots, interactions)
    found = fit(b, held, start=start, values=values, pool=pool)
    covariance = held_covariance(pots, interactions, can)
    return LotEffects(found, covariance if pool is None else covariance[pool])


def fitted_random(
    b: Blocks,
    can: Estimable,
    pots: Lent,
    effects: LotEffects,
    *,
    group: np.ndarray | None = None,
    pool: np.ndarray | None = None,
) -> Fit | None:
    """The fit with lots random, lot:taster estimated; None where no descriptor has two lots."""
    places = np.arange(len(b.p)) if pool is None else pool
    lots = np.zeros(len(can.state), int)
    np.maximum.at(lots, places, b.p)
    if not (lots > 1).any():
        return None
    held, values = _held(can, pots, Lent.none(len(lots)))
    held[:, LOT] = lots < 2
    start = np.zeros((len(lots), 5))
    np.add.at(start, places, _with_lots(effects))
    start = np.maximum(start / np.bincount(places)[:, None], 0.0)
    return fit(for_random_lots(b, group), held, start=start, values=values, lots_random=True, pool=pool)


def _held(can: Estimable, pots: Lent, interactions: Lent) -> tuple[np.ndarray, np.ndarray]:
    """Components that are not estimated, and their values."""
    held = can.held.copy()
    held[pots.held, LOT_POT] = held[interactions.held, LOT_TASTER] = True
    values = np.zeros_like(held, dtype=float)
    values[:, LOT_POT], values[:, LOT_TASTER] = pots.variance, interactions.variance
    values[:, RESIDUAL] = NEXT_TO_NOTHING * can.within_ss / np.maximum(can.within_df, 1)
    return held, values


def _with_lots(effects: LotEffects) -> np.ndarray:
    """The variances of a fit with lots fixed and the spread of its lots: where the fit with lots random starts."""
    rows, lots = effects.fit.blocks.row_descriptor, effects.fit.blocks.p
    mean = np.bincount(rows, effects.mean) / lots
    start = effects.fit.variances.copy()
    start[:, LOT] = np.bincount(rows, (effects.mean - mean[rows]) ** 2) / np.maximum(lots - 1, 1)
    return start


def _closed_form(cells: CellTable, *, pots: bool) -> np.ndarray | None:
    """REML variances of complete data, None where cells are missing or uneven."""
    looks = cells.looks
    lots, tasters = looks.shape[:2]
    if lots < 2 or tasters < 2 or looks.min() == 0 or looks.min() != looks.max():
        return None
    ss = cells.within_ss.sum(axis=(0, 1, 2))
    return variances(mean_squares(cells.mean, shared=pots, within_ss=ss, looks=int(looks.max())))
