"""What is marked on a sheet: descriptors with their scales."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from panelstats.arguments.wording import texts
from panelstats.errors import DesignError
from panelstats.sheets.room.room import REGISTERS
from panelstats.speech import Phrase
from panelstats.words import FROM_TO, stated

if TYPE_CHECKING:
    from collections.abc import Sequence

KEYS = ("plan", "session", "taster", "position", "code")
REMARKS = "remarks"
SCALE = ("low", "high", "step")
# Where no descriptors are given: a short sheet of the three stages, 0 to 10 in halves (ours; words of ISO 6078).
USUAL = (("black", "dry leaf"), ("even", "dry leaf"), ("coppery", "infused leaf"), ("bright", "infused leaf"),
         ("colour", "liquor"), ("strength", "liquor"), ("brisk", "liquor"))  # fmt: skip


def marked(descriptors: pd.DataFrame | Sequence[str] | None) -> pd.DataFrame:
    """The register of descriptors: descriptor, stage, kind, low, high, step, and what else was given.

    Raises
    ------
    DesignError
        No descriptor, one twice or without a name, a word that names a column of the sheet, or a scale upside down.
    """
    if descriptors is None:
        table = pd.DataFrame(USUAL, columns=["descriptor", "stage"]).assign(low=0.0, high=10.0, step=0.5)
    elif isinstance(descriptors, pd.DataFrame):
        table = descriptors.reset_index(drop=True)
    else:
        texts("descriptors", descriptors)
        table = pd.DataFrame({"descriptor": list(descriptors)})
    names = [str(name).strip() for name in table.get("descriptor", [])]
    _check(names)
    table = table.assign(descriptor=names)
    for column in SCALE:
        given = table[column] if column in table else pd.Series(np.nan, index=table.index)
        table[column] = pd.to_numeric(given, errors="coerce")
    upside = table["low"] >= table["high"]
    if upside.any():
        row = table[upside].iloc[0]
        where = f"{row['descriptor']}: {row['low']:g} to {row['high']:g}"
        raise DesignError("a scale that ends before it begins", where=where,
                          do="give low and high in this order")  # fmt: skip
    table["stage"] = table["stage"].fillna("") if "stage" in table else ""
    table["kind"] = "score"
    known = [name for name in REGISTERS["descriptors"] if name in table]
    return table[[*known, *[name for name in table if name not in known]]]


def _check(names: list[str]) -> None:
    if not names or "" in names:
        raise DesignError("nothing to mark", where=f"descriptors={names}", do="name each descriptor")
    folded = [name.casefold() for name in names]
    for at, name in enumerate(folded):
        if name in folded[:at]:
            raise DesignError("a descriptor twice", where=f"descriptors: {names[at]!r}",
                              do="give it another name under its second stage")  # fmt: skip
        if name in (*KEYS, REMARKS, "lot", "pot", "look"):
            raise DesignError("a descriptor named as a column of the sheet", where=f"descriptors: {names[at]!r}",
                              do="give it another name")  # fmt: skip


def scale_of(row: pd.Series) -> str:
    """The scale in words, "" where none is declared.

    Examples
    --------
    >>> scale_of(pd.Series({"low": 0.0, "high": 10.0, "step": 0.5}))
    '0 to 10 by 0.5'
    """
    if not (np.isfinite(row["low"]) and np.isfinite(row["high"])):
        return ""
    ends = {"low": stated(row["low"]), "high": stated(row["high"])}
    if np.isfinite(row["step"]):
        return Phrase("{low} to {high} by {step}").format(**ends, step=stated(row["step"]))
    return FROM_TO.format(**ends)
