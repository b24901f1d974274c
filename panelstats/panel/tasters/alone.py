"""What a taster's own repeated servings show, nobody else's: their spread, and how much of a mark is the lot."""

from __future__ import annotations

import numpy as np
import pandas as pd
from scipy import special

from panelstats.panel.tasters.repeats import OwnLots
from panelstats.panel.tasters.tables import Assessed
from panelstats.scores.cells import DESCRIPTOR, TASTER


def alone_of(a: Assessed) -> pd.DataFrame:
    """What each taster's own repeated servings show, without anyone else."""
    own, tail = a.bench.own, (1 - a.level) / 2
    with np.errstate(divide="ignore", invalid="ignore"):
        sd = np.sqrt(np.where(own.error_df > 0, own.error_ss / np.maximum(own.error_df, 1), np.nan))
        ends = [sd * np.sqrt(own.error_df / special.chdtri(own.error_df, t)) for t in (tail, 1 - tail)]
    share = _shares(own, tail)
    count = len(a.descriptors)
    return pd.DataFrame(
        {
            TASTER: np.repeat(a.tasters, count),
            DESCRIPTOR: np.tile(a.descriptors, len(a.tasters)),
            "sd": sd.ravel(),
            "sd_low": ends[0].ravel(),
            "sd_high": ends[1].ravel(),
            "df": own.error_df.ravel(),
            **{name: values.ravel() for name, values in share.items()},
        }
    )


def _shares(own: OwnLots, tail: float) -> dict[str, np.ndarray]:
    """Share of one serving's variance that is the lot, its interval, and the p-value that lots do not differ."""
    f, df = own.f, (own.lots_df, own.error_df)
    ends = (f, f / special.fdtri(*df, 1 - tail), f / special.fdtri(*df, tail))
    value, low, high = ((x - 1) / (x - 1 + own.servings) for x in ends)
    return {"lot_share": value, "lot_share_low": low, "lot_share_high": high, "p_lots": special.fdtrc(*df, f)}
