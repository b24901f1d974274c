"""How a session is brewed: leaf, water, time and vessel, as the register `sessions` keeps them."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from panelstats.errors import DesignError
from panelstats.speech import Phrase, said
from panelstats.words import stated

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

SIZES = ("grams", "millilitres", "minutes")
FACTS = ("vessel", *SIZES, "milk")
STANDS = 6.0  # minutes: ISO 3103:2019, black tea
_UNITS = {
    "grams": Phrase("{n} g of leaf"), "millilitres": Phrase("{n} ml of water"), "minutes": Phrase("{n} minutes")
}  # fmt: skip


def brews_of(brew: Mapping[str, object] | pd.DataFrame | None, sessions: Sequence[str]) -> pd.DataFrame:
    """Session, vessel, grams, millilitres, minutes, milk: a row for each session, what nobody told is empty.

    Raises
    ------
    DesignError
        A fact that no brew has, a size that is not above 0, or a session of another plan.
    """
    told = pd.DataFrame([dict(brew)]) if brew is not None and not isinstance(brew, pd.DataFrame) else brew
    table = pd.DataFrame({"session": list(sessions)})
    if told is None:
        told = table[[]]
    strange = [name for name in told if name not in ("session", *FACTS)]
    if strange:
        raise DesignError("no such fact of a brew", where=f"brew: {strange[0]!r}", do=f"use {', '.join(FACTS)}")
    for name in SIZES:
        sizes = pd.to_numeric(told[name], errors="coerce") if name in told else pd.Series(dtype=float)
        wrong = sizes.isna() & told[name].notna() | (sizes <= 0) | np.isinf(sizes) if name in told else sizes
        if name in told and wrong.any():
            raise DesignError(f"{name} of a brew are a number above 0", where=f"brew: {told[name][wrong].iloc[0]!r}",
                              do="correct it, or leave it out")  # fmt: skip
    if "session" in told:
        other = sorted(set(told["session"].astype(str)) - set(sessions))
        if other or told["session"].duplicated().any():
            raise DesignError("a brew for each session of the plan, once", where=f"brew: sessions {other or 'twice'}",
                              do=f"use {', '.join(sessions)}")  # fmt: skip
        table = table.merge(told.assign(session=told["session"].astype(str)), how="left", on="session")
    elif len(told):
        table = table.assign(**{str(name): value for name, value in told.iloc[0].items()})
    table = table.reindex(columns=["session", *FACTS])
    numbers = {name: pd.to_numeric(table[name], errors="coerce") for name in SIZES}
    texts = {name: table[name].astype(object).where(table[name].notna(), "").astype(str) for name in ("vessel", "milk")}
    return table.assign(**numbers, **texts)


def brew_in_words(row: pd.Series) -> str:
    """A brew as the kitchen reads it; "" where nothing is told.

    Examples
    --------
    >>> brew_in_words(brews_of({"grams": 5.6, "millilitres": 285, "minutes": 6, "vessel": "large pot"}, ["1"]).iloc[0])
    'large pot, 5.6 g of leaf, 285 ml of water, 6 minutes'
    """
    parts = [row["vessel"]]
    parts += [told.format(n=stated(row[name])) for name, told in _UNITS.items() if row[name] == row[name]]
    parts += [Phrase("milk: {milk}").format(milk=said(row["milk"]))] if row["milk"] else []
    return ", ".join(part for part in parts if part)
