"""Fit all descriptors of one session and class: what can be fitted, with which pots, few pots steadied."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, cast

import numpy as np

from panelstats.models.blocks import Blocks, blocks, for_random_lots
from panelstats.models.degrees import Contrasts, LotEffects
from panelstats.models.estimable import ROUNDING, Estimable, estimable
from panelstats.models.fewpots import steadied_pots
from panelstats.models.meansquares import mean_squares, variances
from panelstats.models.mixed import Fit, fit
from panelstats.models.reml import LOT, LOT_POT, RESIDUAL
from panelstats.scores.cells import DESCRIPTOR, SHARED, STAGE

if TYPE_CHECKING:
    import pandas as pd

    from panelstats.scores.cells import Cells, Grid

REML, STEADIED = "reml", "steadied"
# Under this name the cells keep their fits.
_SENIOR = "senior fits"
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
    random : Fit or None
        Lots random.
    pot_rule : ndarray of str, shape (fitted,)
        "reml" or "steadied".
    pot_df, pot_sd, pot_sd_upper : ndarray, shape (fitted,)
        Degrees of freedom behind the pot variance, its SD, and the one-sided upper 95 % limit of it.
    """

    shared: bool
    cell_means: bool
    index: np.ndarray
    can: Estimable
    slot: dict[int, int]
    effects: LotEffects | None
    random: Fit | None
    pot_rule: np.ndarray
    pot_df: np.ndarray
    pot_sd: np.ndarray
    pot_sd_upper: np.ndarray

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
        """Variances in the order of `reml.SOURCES`, lots fixed."""
        return self.effects.fit.variances[self.slot]

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


def senior_fits(cells: Cells) -> list[tuple[Grid, list[PanelFit]]]:
    """The fits of every session and class, trainees left out; made once for all who ask.

    Examples
    --------
    >>> import pandas as pd, panelstats as pst
    >>> sheet = pd.DataFrame({"lot": [12, 12, 14, 14], "taster": ["elm", "yew"] * 2, "brisk": [6, 5, 4, 4]})
    >>> cells = pst.read_scores(sheet).cells()
    >>> senior_fits(cells) is senior_fits(cells)
    True
    """
    if _SENIOR not in cells._memo:
        register = cells.descriptors.set_index(DESCRIPTOR)[STAGE]
        cells._memo[_SENIOR] = [(grid, _of_grid(grid, register)) for grid in cells.select(role="senior").grids()]
    return cast("list[tuple[Grid, list[PanelFit]]]", cells._memo[_SENIOR])


def _of_grid(grid: Grid, register: pd.Series) -> list[PanelFit]:
    stage = register.loc[grid.descriptors].to_numpy(str)
    return panel_fits(grid.looks, grid.centred, grid.within_ss, shared=grid.pots == SHARED, stage=stage)


def panel_fits(
    looks: np.ndarray,
    mean: np.ndarray,
    within_ss: np.ndarray,
    *,
    shared: np.ndarray,
    stage: np.ndarray,
    lots_random: bool = True,
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
    lots_random : bool
        Also fit the model with lots random.
    group : ndarray of int, shape (taster,), optional
        Groups of tasters that never meet one lot, each with a mean of its own where lots are random.

    Returns
    -------
    list of PanelFit
        Descriptors that are fitted with one design stand together; each descriptor is in exactly one.
    """
    out = []
    random = _Random(group) if lots_random else None
    for pots in (True, False):
        index = np.flatnonzero(shared == pots)
        if not len(index):
            continue
        cells = _Cells(looks[..., index], mean[..., index], within_ss[..., index])
        flat = cells.never_differ_within
        if not flat.all():
            out.append(_fit_part(cells.take(~flat), index[~flat], stage, pots=pots, random=random))
        if flat.any():
            one_look = cells.take(flat).one_look_each()
            out.append(_fit_part(one_look, index[flat], stage, pots=False, cell_means=True, random=random))
    return out


@dataclass(frozen=True, eq=False)
class _Cells:
    """The three arrays of a grid, axes (lot, taster, brew, descriptor)."""

    looks: np.ndarray
    mean: np.ndarray
    within_ss: np.ndarray

    def take(self, keep: np.ndarray) -> _Cells:
        return _Cells(self.looks[..., keep], self.mean[..., keep], self.within_ss[..., keep])

    def one_look_each(self) -> _Cells:
        """Cell means as single looks."""
        looks = self.looks.sum(axis=2, keepdims=True)
        mean = (self.looks * self.mean).sum(axis=2, keepdims=True) / np.maximum(looks, 1)
        return _Cells((looks > 0).astype(looks.dtype), mean, np.zeros_like(mean))

    @property
    def spread(self) -> np.ndarray:
        """Largest less smallest mean, and more where looks behind one mean differed, shape (D,)."""
        high = np.where(self.looks > 0, self.mean, -np.inf).max(axis=(0, 1, 2))
        low = np.where(self.looks > 0, self.mean, np.inf).min(axis=(0, 1, 2))
        return np.maximum(high - low, np.sqrt(self.within_ss.max(axis=(0, 1, 2))))

    @property
    def never_differ_within(self) -> np.ndarray:
        """Whether cells were looked at more than once and never with another score, shape (D,)."""
        looks = self.looks.sum(axis=2, keepdims=True)
        mean = (self.looks * self.mean).sum(axis=2, keepdims=True) / np.maximum(looks, 1)
        within = (self.within_ss + self.looks * (self.mean - mean) ** 2).sum(axis=(0, 1, 2))
        scores, cells, spread = looks.sum(axis=(0, 1, 2)), (looks > 0).sum(axis=(0, 1, 2)), self.spread
        return (within <= ROUNDING * scores * spread**2) & (scores > cells) & (spread > 0)

    def blocks(self, *, pots: bool) -> Blocks:
        return blocks(self.looks, self.mean, self.within_ss, pots=pots)


@dataclass(frozen=True, eq=False)
class _Random:
    """Asks for the fit with lots random; the groups of tasters whose lots have means of their own."""

    group: np.ndarray | None


def _fit_part(
    cells: _Cells, index: np.ndarray, stage: np.ndarray, *, pots: bool, random: _Random | None, cell_means: bool = False
) -> PanelFit:
    """Fit descriptors of one design."""
    whole = cells.blocks(pots=pots)
    can = estimable(whole, cells.spread)
    at = {int(index[d]): k for k, d in enumerate(can.fits)}
    if not at:
        none = np.zeros(0)
        return PanelFit(pots, cell_means, index, can, at, None, None, none.astype(str), none, none, none)
    can_fit, ours = can.of(can.fits), cells.take(can.fits)
    b = whole if len(can.fits) == len(index) else ours.blocks(pots=pots)
    few = steadied_pots(can_fit, stage[list(at)])
    held = can_fit.held.copy()
    held[few.steadied, LOT_POT] = True
    values = np.zeros_like(held, dtype=float)
    values[:, LOT_POT] = np.where(few.steadied, few.variance, 0.0)
    values[:, RESIDUAL] = NEXT_TO_NOTHING * can_fit.within_ss / np.maximum(can_fit.within_df, 1)
    start = None if few.steadied.any() else _closed_form(ours, pots=pots)
    fixed = fit(b, held, start=start, values=values)
    effects = LotEffects(fixed, np.where(few.steadied, few.variance_of_variance, 0.0))
    loosely = None
    if random is not None and (b.p > 1).any():
        loose = held.copy()
        loose[:, LOT] = b.p < 2
        loosely = fit(
            for_random_lots(b, random.group), loose, start=_with_lots(effects), values=values, lots_random=True
        )
    rule = np.where(few.steadied, STEADIED, REML)
    sd = np.sqrt(fixed.variances[:, LOT_POT])
    return PanelFit(pots, cell_means, index, can, at, effects, loosely, rule, few.df, sd, few.upper_sd)


def _with_lots(effects: LotEffects) -> np.ndarray:
    """The variances of a fit with lots fixed and the spread of its lots: where the fit with lots random starts."""
    rows, lots = effects.fit.blocks.row_descriptor, effects.fit.blocks.p
    mean = np.bincount(rows, effects.mean) / lots
    start = effects.fit.variances.copy()
    start[:, LOT] = np.bincount(rows, (effects.mean - mean[rows]) ** 2) / np.maximum(lots - 1, 1)
    return start


def _closed_form(cells: _Cells, *, pots: bool) -> np.ndarray | None:
    """REML variances of complete data, None where cells are missing or uneven."""
    looks = cells.looks
    lots, tasters = looks.shape[:2]
    if lots < 2 or tasters < 2 or looks.min() == 0 or looks.min() != looks.max():
        return None
    ss = cells.within_ss.sum(axis=(0, 1, 2))
    return variances(mean_squares(cells.mean, shared=pots, within_ss=ss, looks=int(looks.max())))
