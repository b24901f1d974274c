"""Pots declared own whose scores move together: were they shared after all?"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy.stats import f as f_distribution

from panelstats.models.blocks import Blocks, blocks
from panelstats.models.estimable import estimable
from panelstats.scores.cells import DESCRIPTOR, OWN, POTS, SHARED, STAGE, Cells, cells_from
from panelstats.words import listing

if TYPE_CHECKING:
    from panelstats.scores.table import Scores

# Level at which the movement is reported; it is never acted on silently.
TOGETHER = 0.01


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
            b = blocks(ours.looks, ours.centred, ours.within_ss, pots=True)
            p = _pot_p(b, len(ours.descriptors))
            found |= {d: min(p_d, found.get(d, 1.0)) for d, p_d in zip(ours.descriptors, p, strict=True)}
    named = [d for d, p in found.items() if p * len(found) < TOGETHER]
    if not named:
        return ""
    return (
        f"Pots were taken as own, but scores of equal pot numbers move together on {listing(named)}: were the pots "
        "shared? If so, declare pots = shared: the intervals given here are then too short."
    )


def _pot_p(b: Blocks, size: int) -> np.ndarray:
    can = estimable(b, np.ones(size))
    with np.errstate(divide="ignore", invalid="ignore"):
        error = (can.within_ss - can.pot_ss) / can.error_df
        statistic = (can.pot_ss / can.pot_df) / error
    usable = (can.pot_df > 0) & (can.error_df > 0) & (error > 0)
    p = f_distribution.sf(np.where(usable, statistic, 0.0), np.maximum(can.pot_df, 1), np.maximum(can.error_df, 1))
    return np.where(usable, p, 1.0)
