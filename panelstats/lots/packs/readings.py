"""Weighings as densities: one row each, refused where a mass or volume cannot be."""

from __future__ import annotations

import numpy as np
import pandas as pd

from panelstats.errors import DesignError
from panelstats.words import listing

GRADE, STATE, LOT, DENSITY = "grade", "state", "lot", "density"


# Grams and millilitres beyond which nothing was weighed for a pack, and computing would lose its digits (ours).
_WEIGHED = 1e-6, 1e12


def readings_of(densities: pd.DataFrame, state: str | None) -> pd.DataFrame:
    """lot, grade, state, density of each weighing; lots without a name are one lot each."""
    missing = [name for name in ("mass", "volume") if name not in densities]
    if missing:
        raise DesignError("no weighings", where=f"columns {list(map(str, densities.columns))}",
                          do=f"give {listing(missing)}, as read_densities does")  # fmt: skip
    out = pd.DataFrame({name: densities.get(name, "") for name in (LOT, GRADE, STATE)})
    out = out.fillna("").astype(str)
    mass, volume = (pd.to_numeric(densities[name], errors="coerce") for name in ("mass", "volume"))
    wrong = ~((mass > 0) & (volume > 0))
    if wrong.any():
        raise DesignError("mass and volume must be above 0", where=_place(densities, int(np.flatnonzero(wrong)[0])),
                          do="correct the weighing, or leave its row out")  # fmt: skip
    beyond = ~(mass.between(*_WEIGHED) & volume.between(*_WEIGHED))
    if beyond.any():
        raise DesignError("no mass or volume that anybody weighs, by its size",
                          where=_place(densities, int(np.flatnonzero(beyond)[0])),
                          do="correct the weighing, or leave its row out")  # fmt: skip
    nameless = out[LOT] == ""
    out.loc[nameless, LOT] = [f"row {at + 1}" for at in np.flatnonzero(nameless)]
    out = out.assign(**{DENSITY: (mass / volume).to_numpy()})
    if state is None:
        return out
    mine = out[out[STATE].str.casefold() == state.casefold()]
    if not len(mine):
        known = [name for name in dict.fromkeys(out[STATE]) if name]
        raise DesignError("no weighing of that state", where=f"state={state!r}", do=f"choose one of {known}")
    return mine


def _place(densities: pd.DataFrame, at: int) -> str:
    """Where a weighing stands."""
    row = densities.iloc[at]
    beside = [f"{name} {row[name]}" for name in ("file", "sheet", "row", LOT) if name in densities]
    mass, volume = ("no number" if pd.isna(row[name]) else row[name] for name in ("mass", "volume"))
    return f"{', '.join(beside) or f'row {at + 1}'}: mass {mass}, volume {volume}"
