"""Where the model of the scores should be believed less: scale ends, heaped scores, unequal tasters, uneven spread."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from scipy.special import fdtrc, stdtr

from panelstats.lots.compare import words
from panelstats.models.blocks import blocks
from panelstats.models.estimable import estimable
from panelstats.models.ranks import mid_ranks
from panelstats.scores.cells import DESCRIPTOR, OWN, POTS, SHARED, STAGE, Cells, cells_from
from panelstats.words import count, listing, number, percent, shortened, stated

if TYPE_CHECKING:
    from panelstats.lots.classfit import ClassFit
    from panelstats.scores.cells import Grid
    from panelstats.scores.table import Scores

# More scores than this at one end of the scale squeeze means and spreads (common practice).
END_SHARE = 0.30
# More scores than this on one value leave little to compare (common practice).
HEAP_SHARE = 0.60
# Fewer degrees of freedom within cells than this leave their error weakly known (ours).
LEAST_WITHIN_DF = 5
# Level of the tests, corrected for the number of descriptors.
FLAG = 0.01


def check_lines(group: ClassFit) -> pd.DataFrame:
    """Checks of one class, a row per descriptor and check that gives cause to doubt."""
    rows = []
    for d, name in enumerate(group.grid.descriptors):
        looks = group.grid.looks[..., d]
        scores = group.grid.mean[..., d][looks > 0]
        layout = (*_unlinked(group, d), *_alone(group, d), *_few_replicates(group, d))
        rows += [(name, *line) for line in (*layout, *_ends(scores), *_heap(scores), *_uneven(group, d))]
    columns = [DESCRIPTOR, "check", "value", "limit", "sentence"]
    return pd.DataFrame(rows, columns=columns).astype({"value": float, "limit": float})


def _unlinked(group: ClassFit, d: int) -> list[tuple[str, float, float, str]]:
    """Groups of lots that no taster joins: compared only on trust that tasters are a random draw."""
    seen = group.grid.looks[..., d].sum(axis=2) > 0
    scored = np.flatnonzero(seen.any(axis=1))
    if seen[scored].all(axis=0).any():  # one taster met them all
        return []
    from scipy.sparse import coo_array  # noqa: PLC0415 - slow to import, and seldom needed
    from scipy.sparse.csgraph import connected_components  # noqa: PLC0415

    lots, tasters = np.nonzero(seen)
    nodes = seen.shape[0] + seen.shape[1]
    edges = coo_array((np.ones(len(lots)), (lots, seen.shape[0] + tasters)), shape=(nodes, nodes))
    _, part = connected_components(edges, directed=False)
    parts = [group.grid.lots[scored[part[scored] == one]] for one in dict.fromkeys(part[scored])]
    if len(parts) < 2:
        return []
    named = "; ".join(", ".join(lots) for lots in parts)
    return [("not linked", float(len(parts)), 1.0, words.NOT_LINKED.format(groups=named))]


def _alone(group: ClassFit, d: int) -> list[tuple[str, float, float, str]]:
    """Lots that one taster of several scored: their means lean on him."""
    tasters = (group.grid.looks[..., d].sum(axis=2) > 0).sum(axis=1)
    lots = group.grid.lots[tasters == 1]
    if not len(lots) or tasters.max() == 1:
        return []
    return [("one taster's lots", float(len(lots)), 0.0, words.ALONE.format(lots=listing(shortened(lots, 6))))]


def _few_replicates(group: ClassFit, d: int) -> list[tuple[str, float, float, str]]:
    """Some cells looked at again, but too few to know the error within them."""
    part = group.part(d)
    df = int(part.can.within_df[part.index == d][0])
    if not 0 < df < LEAST_WITHIN_DF:
        return []
    said = words.FEW_REPEATS.format(looks=count(df, "repeated look"))
    return [("few repeats", float(df), float(LEAST_WITHIN_DF), said)]


def _ends(scores: np.ndarray) -> list[tuple[str, float, float, str]]:
    if np.ptp(scores) == 0:
        return []
    out = []
    for end, at in (("low", scores.min()), ("high", scores.max())):
        share = float((scores == at).mean())
        if share > END_SHARE:
            said = words.AT_END.format(share=percent(share), end=end, score=stated(at))
            out.append(("scale end", share, END_SHARE, said))
    return out


def _heap(scores: np.ndarray) -> list[tuple[str, float, float, str]]:
    middle = len(scores) // 2
    value = np.partition(scores, middle)[middle]  # what more than half of the scores are is their middle too
    share = float((scores == value).mean())
    if np.ptp(scores) == 0 or share <= HEAP_SHARE:
        return []
    said = words.HEAPED.format(share=percent(share), score=stated(value))
    return [("heaped scores", share, HEAP_SHARE, said)]


def _uneven(group: ClassFit, d: int) -> list[tuple[str, float, float, str]]:
    """Tests on the residuals of the additive table of cell means; complete tables only."""
    looks, mean, _ = group.grid.take_descriptors(np.array([d])).over_brews()
    seen = (looks[..., 0] > 0).all(axis=1)
    table = mean[seen][..., 0]
    lots, tasters = table.shape
    if lots < 4 or tasters < 3:
        return []
    residual = table - table.mean(axis=1, keepdims=True) - table.mean(axis=0) + table.mean()
    if not (residual**2).sum() > 1e-12 * np.ptp(table) ** 2:
        return []
    unequal = _unequal_tasters(group, residual) + _unequal_slopes(table, residual, len(group.grid.descriptors))
    return unequal + _spread_with_level(table, residual, len(group.grid.descriptors))


def _unequal_tasters(group: ClassFit, residual: np.ndarray) -> list[tuple[str, float, float, str]]:
    """Largest residual mean square of a taster against the others' (Grubbs' estimates set apart)."""
    lots, tasters = residual.shape
    squares = (residual**2).sum(axis=0)
    worst = int(squares.argmax())
    ratio = squares[worst] / ((squares.sum() - squares[worst]) / (tasters - 1))
    p = fdtrc(lots - 1, (lots - 1) * (tasters - 1), ratio) * tasters * len(group.grid.descriptors)
    if p >= FLAG:
        return []
    said = words.WILD_TASTER.format(taster=group.grid.tasters[worst], ratio=stated(ratio**0.5, ".1f"))
    return [("unequal tasters", float(p), FLAG, said)]


def _unequal_slopes(table: np.ndarray, residual: np.ndarray, descriptors: int) -> list[tuple[str, float, float, str]]:
    """Whether tasters' marks follow the lots more or less steeply than the panel's (Mandel 1961, JASA 56: 878)."""
    lots, tasters = residual.shape
    level = table.mean(axis=1) - table.mean()
    size = (level**2).sum()
    if size == 0:
        return []
    slope = residual.T @ level / size
    between, total = (slope**2).sum() * size, (residual**2).sum()
    df, df_error = tasters - 1, (tasters - 1) * (lots - 2)
    ratio = between / df / max((total - between) / df_error, 1e-300)
    p = float(fdtrc(df, df_error, ratio)) * descriptors
    if p >= FLAG:
        return []
    said = words.UNEQUAL_SLOPES.format(low=number(1 + slope.min(), 1), high=number(1 + slope.max(), 1))
    return [("unequal slopes", p, FLAG, said)]


def _spread_with_level(
    table: np.ndarray, residual: np.ndarray, descriptors: int
) -> list[tuple[str, float, float, str]]:
    """Rank correlation over lots of their mean with the spread of their residuals."""
    level, spread = table.mean(axis=1), (residual**2).sum(axis=1)
    if np.ptp(level) == 0 or np.ptp(spread) == 0:
        return []
    rank = np.corrcoef(mid_ranks(np.stack([level, spread], axis=1)), rowvar=False)[0, 1]
    df = len(level) - 2
    p = float(2 * stdtr(df, -abs(rank) * np.sqrt(df / max((1 + rank) * (1 - rank), 1e-300))))
    if p * descriptors >= FLAG:
        return []
    said = words.UNEVEN_SPREAD.format(way="higher" if rank > 0 else "lower")
    return [("residual spread", p, FLAG, said)]


def moving_together(scores: Scores | Cells, cells: Cells) -> str:
    """A sentence where equal pot numbers of own pots move together, else "".

    Parameters
    ----------
    scores : Scores or Cells
        Only `Scores` still know the pot numbers.
    cells : Cells
        As the lots were compared.

    Notes
    -----
    F of pots within lots against error, p < 0.01 on any descriptor after Bonferroni. Silence proves nothing: few pots
    hide a pot-to-pot SD of half a point.
    """
    own = cells.pots[cells.pots[POTS] == OWN]
    if isinstance(scores, Cells) or own.empty:
        return ""
    stages = set(own[STAGE])
    asked = cells_from(scores, SHARED).select(role="senior")
    by_stage = dict(zip(asked.descriptors[DESCRIPTOR], asked.descriptors[STAGE], strict=True))
    found: dict[str, float] = {}
    for grid in asked.grids():
        keep = np.array([by_stage[d] in stages for d in grid.descriptors])
        if keep.any():
            ours = grid.take_descriptors(keep)
            found |= {d: min(p, found.get(d, 1.0)) for d, p in zip(ours.descriptors, _pot_p(ours), strict=True)}
    named = [d for d, p in found.items() if p * len(found) < FLAG]
    if not named:
        return ""
    return words.MOVING_TOGETHER.format(descriptors=listing(named))


def _pot_p(grid: Grid) -> np.ndarray:
    """P of the F test of pots within lots, by descriptor; 1 where there is none."""
    b = blocks(grid.looks, grid.centred, grid.within_ss, pots=True)
    can = estimable(b, np.ones(len(grid.descriptors)))
    with np.errstate(divide="ignore", invalid="ignore"):
        error = (can.within_ss - can.pot_ss) / can.error_df
        statistic = (can.pot_ss / can.pot_df) / error
    usable = (can.pot_df > 0) & (can.error_df > 0) & (error > 0)
    p = fdtrc(np.maximum(can.pot_df, 1), np.maximum(can.error_df, 1), np.where(usable, statistic, 0.0))
    return np.where(usable, p, 1.0)
