"""The walk along the row: one order for all or one for each, and marks that fall as palates tire."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

ONE, EACH, LISTED = "one", "each", "listed"


@dataclass(frozen=True)
class Walk:
    """Orders of tasting.

    Attributes
    ----------
    orders : {"one", "each", "listed", ""}
        One order for all, one for each taster, that of the sheet for all and not written down, or none.
    fall : float
        Points by which marks fall from the first serving of the row to the last.
    """

    orders: str = ""
    fall: float = 0.0

    @property
    def recorded(self) -> bool:
        """Whether the place of each serving is written down."""
        return self.orders in (ONE, EACH)

    def positions(self, lots: int, tasters: int, pots: int, rng: np.random.Generator) -> np.ndarray:
        """Place in the row from 1, (lot, taster, pot); a lot's pots stand together."""
        each = tasters if self.orders == EACH else 1
        rows = [np.arange(lots) if self.orders == LISTED else rng.permutation(lots) for _ in range(each)]
        place = np.array([row[:, None] * pots + np.arange(pots) for row in rows])  # (taster or 1, lot, pot)
        return 1 + np.broadcast_to(place.transpose(1, 0, 2), (lots, tasters, pots))

    def tired(self, position: np.ndarray) -> np.ndarray:
        """What the walk takes off each mark, (lot, taster, pot)."""
        return -self.fall * (position - 1) / max(position.max() - 1, 1)
