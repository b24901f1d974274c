"""The fits behind a comparison of lots: classes of a session together, few degrees of freedom steadied."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache, partial
from itertools import groupby
from typing import TYPE_CHECKING, Any, cast

import numpy as np
from scipy.special import chdtrc

from panelstats.models.blocks import side_by_side
from panelstats.models.celltable import CellTable
from panelstats.models.estimable import NO_VARIATION, Estimable, Evidence, decided
from panelstats.models.lending import Lent, lent_by_record, lent_interactions, lent_pots, upper_pot_sd
from panelstats.models.panelfit import (
    PanelFit,
    fitted_lots,
    fitted_random,
    senior_fits,
    senior_grids,
)
from panelstats.scores.cells import DESCRIPTOR, SHARED, STAGE

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from panelstats.models.blocks import Blocks
    from panelstats.models.fewpots import PotRecord
    from panelstats.scores.cells import Cells, Grid

# Under this name the cells keep the fits.
_COMPARED = "compared fits"
# Level at which the variances of classes are shown to be unequal and are no longer pooled (ours).
UNEQUAL = 0.01


@dataclass(frozen=True, eq=False)
class Known:
    """What is known of each descriptor beside the session itself.

    Attributes
    ----------
    stage : dict of str to str
    place : dict of str to int
        Where a descriptor stands in the record; empty without one.
    record : PotRecord or None
        What earlier sessions showed of the pots.
    """

    stage: dict[str, str]
    place: dict[str, int]
    record: PotRecord | None

    def recorded(self, lent: Lent, can: Estimable, names: Iterable[str]) -> Lent:
        """Pot variances as they were lent, the room's record in their place where it knows more."""
        if self.record is None:
            return lent
        index = np.array([self.place.get(str(name), -1) for name in names], int)
        return lent_by_record(lent, can, self.record.of(index))


def compared_fits(
    cells: Cells, *, record: PotRecord | None = None, recorded: Sequence[str] = ()
) -> list[tuple[Grid, list[PanelFit]]]:
    """The fits of every session and class for tests of the lots, trainees left out; made once for all who ask.

    Lots of one class are compared with one another only; classes of a session share their variances unless they are
    shown to differ. Where tasters or lots are few the variance of lot:taster is steadied over descriptors. Where pots
    are few, a record of earlier sessions stands in for them; `recorded` names its descriptors.
    """
    if record is None and _COMPARED in cells._memo:
        return cast("list[tuple[Grid, list[PanelFit]]]", cells._memo[_COMPARED])
    stage = dict(zip(cells.descriptors[DESCRIPTOR], cells.descriptors[STAGE].astype(str), strict=True))
    known = Known(stage, {name: at for at, name in enumerate(recorded)}, record)
    out = []
    for _, classes in groupby(senior_grids(cells), key=lambda grid: grid.session):
        grids = list(classes)
        if len(grids) == 1:
            out.append((grids[0], [_steadied(part, grids[0], known) for part in senior_fits(cells, grids[0])]))
        else:
            out += _pooled(grids, known)
    if record is None:
        cells._memo[_COMPARED] = out
    return out


def _steadied(part: PanelFit, grid: Grid, known: Known) -> PanelFit:
    """A fit with lot:taster steadied where it needs it, and pots as the record knows them."""
    if part.effects is None:
        return part
    can, names = part.can.take(part.can.fits), grid.descriptors[list(part.slot)]
    lent = lent_interactions(can, np.array([known.stage[name] for name in names]))
    pots = known.recorded(part.pots, can, names) if part.shared else part.pots
    if pots is part.pots and not lent.held.any():
        return part
    effects = fitted_lots(part.effects.fit.blocks, can, pots, lent)
    return replace(part, effects=effects, interactions=lent, pots=pots)


@dataclass(frozen=True, eq=False)
class _Unit:
    """Descriptors of one class that are fitted with one design."""

    index: np.ndarray
    names: np.ndarray
    table: CellTable


def _pooled(grids: list[Grid], known: Known) -> list[tuple[Grid, list[PanelFit]]]:
    """Fit all classes of a session with the variances they share."""
    tasters = np.array(list(dict.fromkeys(name for grid in grids for name in grid.tasters)))
    tables = [_table(grid, tasters) for grid in grids]
    fits: list[list[PanelFit]] = [[] for _ in grids]
    flat = _never_differ(grids, tables)
    for pots, cell_means in ((True, False), (False, False), (True, True), (False, True)):
        units = []
        for grid, table in zip(grids, tables, strict=True):
            which = ((grid.pots == SHARED) == pots) & (np.isin(grid.descriptors, flat) == cell_means)
            cells = table.take(which)
            cells = cells.one_look_each() if cell_means else cells
            units.append(_Unit(np.flatnonzero(which), grid.descriptors[which], cells))
        if any(len(unit.index) for unit in units):
            parts = _fit_units(units, known, shared=pots and not cell_means, cell_means=cell_means)
            for mine, part in zip(fits, parts, strict=True):
                mine.extend([part] if len(part.index) else [])
    return list(zip(grids, fits, strict=True))


def _table(grid: Grid, tasters: np.ndarray) -> CellTable:
    """The cells of a class with a column for every taster of the session."""
    column = np.array([int(np.flatnonzero(tasters == name)[0]) for name in grid.tasters])
    arrays = []
    for array in (grid.looks, grid.centred, grid.within_ss):
        wide = np.zeros((len(grid.lots), len(tasters), *array.shape[2:]), array.dtype)
        wide[:, column] = array
        arrays.append(wide)
    return CellTable(*arrays)


def _never_differ(grids: list[Grid], tables: list[CellTable]) -> list[str]:
    """Descriptors whose repeated looks never differ in any class."""
    said: dict[str, list[bool]] = {}
    for grid, table in zip(grids, tables, strict=True):
        repeated = (table.looks.sum(axis=2) > 1).any(axis=(0, 1)) & (table.spread > 0)
        for name, flat, counts in zip(grid.descriptors, table.never_differ_within, repeated, strict=True):
            said.setdefault(str(name), []).extend([bool(flat)] if counts else [])
    return [name for name, flat in said.items() if flat and all(flat)]


def _fit_units(units: list[_Unit], known: Known, *, shared: bool, cell_means: bool) -> list[PanelFit]:
    """One fit of the descriptors of all classes, and a view of it for each class."""
    filled = [unit for unit in units if len(unit.index)]
    seen = _stacked([Evidence.of(unit.table.blocks(pots=shared), unit.table.spread) for unit in filled])
    pool, labels = _pools(filled, seen, known.stage)
    can = decided(seen.together(pool))
    state = np.where(seen.spread == 0, NO_VARIATION, can.state[pool])
    own, fits = replace(decided(seen), state=state), np.flatnonzero(state == "")
    at = np.split(np.arange(len(state)), np.cumsum([len(unit.index) for unit in units])[:-1])
    bare = [
        PanelFit.unfitted(unit.index, own.take(mine), shared=shared, cell_means=cell_means)
        for unit, mine in zip(units, at, strict=True)
    ]
    if not len(fits):
        return bare
    kept = [unit.table.take(state[mine] == "") for unit, mine in zip(units, at, strict=True)]
    b = side_by_side([table.blocks(pots=shared) for table in kept if table.looks.shape[-1]])
    groups, first, place = np.unique(pool[fits], return_index=True, return_inverse=True)
    can_fit = can.take(groups)
    pots = lent_pots(can_fit, labels[groups])
    if shared:
        pots = known.recorded(pots, can_fit, np.concatenate([unit.names for unit in filled])[fits][first])
    whole = _whole(b, can_fit, labels[groups], place, pots)
    slot = {int(one): k for k, one in enumerate(fits)}
    slots = [{int(i): slot[int(one)] for i, one in zip(part.index, mine, strict=True) if int(one) in slot}
             for part, mine in zip(bare, at, strict=True)]  # fmt: skip
    return [replace(part, slot=mine, **whole) if mine else part for part, mine in zip(bare, slots, strict=True)]


def _whole(b: Blocks, can: Estimable, stage: np.ndarray, pool: np.ndarray, pots: Lent) -> dict[str, Any]:
    """What the classes' views have in common, arrays by slot."""
    interactions = lent_interactions(can, stage)
    effects = fitted_lots(b, can, pots, interactions, pool=pool)
    return {
        "effects": effects,
        "loosely": cache(partial(fitted_random, b, can, pots, effects, pool=pool)),
        "pots": pots.of(pool),
        "interactions": interactions.of(pool),
        "pot_sd_upper": upper_pot_sd(can)[pool],
        "classes": np.bincount(pool)[pool],
    }


def _stacked(parts: list[Evidence]) -> Evidence:
    return Evidence(**{name: np.concatenate([getattr(part, name) for part in parts]) for name in vars(parts[0])})


def _pools(units: list[_Unit], seen: Evidence, stage: dict[str, str]) -> tuple[np.ndarray, np.ndarray]:
    """Group of every descriptor of every class, and the stage of each group.

    Classes of one descriptor are one group unless their variances are shown to differ; a class that stands alone is
    steadied with the descriptors of its own. A class of one lot never stands alone: its few marks tell no variance.
    """
    names = np.concatenate([unit.names for unit in units])
    of_class = np.repeat(np.arange(len(units)), [len(unit.index) for unit in units])
    several = np.repeat([unit.table.looks.shape[0] > 1 for unit in units], [len(unit.index) for unit in units])
    pool, labels = np.empty(len(names), int), list[str]()
    for name in dict.fromkeys(names):
        mine = np.flatnonzero(names == name)
        alone = mine[several[mine]]
        if not unequal(seen, alone):
            alone = alone[:0]
        pool[alone] = len(labels) + np.arange(len(alone))
        labels += [f"{stage[str(name)]}, class {k}" for k in of_class[alone]]
        if len(rest := np.setdiff1d(mine, alone)):
            pool[rest] = len(labels)
            labels.append(stage[str(name)])
    return pool, np.array(labels, dtype=str)


def unequal(seen: Evidence, classes: np.ndarray) -> bool:
    """Whether the mean squares of some classes are shown to differ.

    Notes
    -----
    Bartlett's test (1937, Proceedings of the Royal Society A 160: 268) of the mean squares between pots, of lot:taster
    and of what is left within cells, each at 1 % over the three.
    """
    lines = (
        (seen.pot_ss, seen.pot_df), (seen.cross_ss, seen.cross_df), (seen.within_ss - seen.pot_ss, seen.error_df),
    )  # fmt: skip
    return any(_bartlett(ss[classes], df[classes]) < UNEQUAL / len(lines) for ss, df in lines)


def _bartlett(ss: np.ndarray, df: np.ndarray) -> float:
    """P of equal variances; 1 where fewer than two are known; 0 counts as a thousandth of the pooled variance."""
    ss, df = ss[df > 0], df[df > 0].astype(float)
    if len(df) < 2 or not ss.any():
        return 1.0
    if not ss.all():
        ss = np.maximum(ss, 1e-3 * df * ss.sum() / df.sum())
    variance, total = ss / df, df.sum()
    spread = total * np.log(ss.sum() / total) - (df * np.log(variance)).sum()
    shrink = 1 + ((1 / df).sum() - 1 / total) / (3 * (len(df) - 1))
    return float(chdtrc(len(df) - 1, spread / shrink))
