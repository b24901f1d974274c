"""Whether a session is a day of many lots tasted once, or a panel that compares a few."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from panelstats.scores.cells import SHARED

if TYPE_CHECKING:
    from panelstats.scores.cells import Cells

# All of these are ours: a class of so many lots is no longer compared pair by pair, ...
FEW_TASTERS, MANY, VERY_MANY = 3, 12, 40
ALONE = 0.8  # ... where so large a share of its lots was seen in one cup by each taster.


def one_look(cells: Cells) -> bool:
    """Whether the session's largest class is a day of one look.

    Parameters
    ----------
    cells : Cells
        One session; trainees do not count.

    Notes
    -----
    At least 12 lots by three tasters or fewer, or more than 40 lots by any number; four in five of them from one pot,
    looked at once by each taster.
    """
    largest = max(cells.select(role="senior").grids(), key=lambda grid: len(grid.lots), default=None)
    if largest is None:
        return False
    looks = largest.looks
    cups = np.where(largest.pots == SHARED, (looks > 0).any(axis=1).sum(axis=1), looks.sum(axis=2).max(axis=1))
    alone = (cups.max(axis=1) <= 1).mean()
    tasters = np.median((looks > 0).any(axis=(2, 3)).sum(axis=1))
    many = MANY if tasters <= FEW_TASTERS else VERY_MANY + 1
    return bool(alone >= ALONE and len(largest.lots) >= many)
