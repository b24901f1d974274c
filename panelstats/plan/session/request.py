"""What a plan is asked for: checked, in one order whatever the order it was given in."""

from __future__ import annotations

import hashlib
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from panelstats.errors import DesignError
from panelstats.scores.cells import CLASS, LOT, ROLE
from panelstats.scores.spelling import natural

if TYPE_CHECKING:
    from collections.abc import Collection, Sequence

BENCH, TRAY = "bench", "tray"
RANDOM, BY_CLASS = "random", "class"
CONTROL_ROLES = ("control", "standard")


@dataclass(frozen=True, eq=False)
class Request:
    """A tasting as asked for; lots, controls and tasters by name, in natural order."""

    lots: list[str]
    controls: list[str]
    register: pd.DataFrame  # what is known of lots and controls: lot, class, role, ...
    tasters: list[str]
    service: str
    pots: int
    limit: int
    repeats: int
    seed: int
    sessions: list[str] | None
    per_lot: int | None
    order: str
    every: int
    flight: int

    @property
    def names(self) -> list[str]:
        """Lots, then controls: what orders number from 0."""
        return self.lots + self.controls

    @property
    def plan_id(self) -> str:
        """Digest of all that was asked for."""
        asked = [self.lots, self.controls, self.tasters, self.service, self.pots, self.limit, self.repeats, self.seed,
                 self.sessions, self.per_lot, self.order, self.every, self.flight]  # fmt: skip
        return hashlib.sha256(repr(asked).encode("utf-8", "surrogatepass")).hexdigest()[:8]

    def rng(self, *stream: int | str) -> np.random.Generator:
        """A source of draws of its own for a session, a round or a taster: no other one moves it."""
        return np.random.default_rng(np.random.SeedSequence([self.seed, *map(_entropy, stream)]))

    def session(self, number: int) -> str:
        """Name of a session."""
        return self.sessions[number] if self.sessions else str(number + 1)


def _entropy(part: int | str) -> int:
    if isinstance(part, int):
        return part
    return int.from_bytes(hashlib.sha256(part.encode("utf-8", "surrogatepass")).digest()[:8], "big")


def lots_register(lots: pd.DataFrame | Sequence[str], controls: Sequence[str]) -> tuple[pd.DataFrame, list[str]]:
    """What is known of every lot, in natural order, and which are controls.

    Raises
    ------
    DesignError
        No lot, a lot twice, an empty name, or a table without lots.
    """
    if isinstance(lots, pd.DataFrame):
        if LOT not in lots:
            raise DesignError("the table names no lots", where=f"columns {list(map(str, lots.columns))}",
                              do="give a column lot")  # fmt: skip
        table = lots.reset_index(drop=True)
        table[LOT] = _unique(table[LOT].fillna("").astype(str), "lot")
    else:
        table = pd.DataFrame({LOT: _unique(lots, "lot")})
    _unique(controls, "control")
    role = table[ROLE].fillna("").astype(str).str.casefold() if ROLE in table else pd.Series("", index=table.index)
    known = [*controls] or table.loc[role.isin(CONTROL_ROLES), LOT].tolist()
    extra = [name for name in known if name not in set(table[LOT])]
    table = pd.concat([table, pd.DataFrame({LOT: extra})], ignore_index=True)
    role = role.reindex(table.index, fill_value="")
    table[ROLE] = role.where(~table[LOT].isin(known) | role.isin(CONTROL_ROLES), "control")
    table[CLASS] = table[CLASS].fillna("").astype(str) if CLASS in table else ""
    at = sorted(table.index, key=lambda row: [*natural(table[LOT][row]), (2, 0, table[LOT][row])])
    return table.loc[at].reset_index(drop=True), sorted(known, key=natural)


def names_in_order(tasters: Collection[str], joining: Collection[str]) -> list[str]:
    """Tasters in natural order, those who joined later after them.

    Raises
    ------
    DesignError
        Nobody, a name twice, or an empty one.
    """
    _unique([*tasters, *joining], "taster")
    if not tasters:
        raise DesignError("nobody tastes", where="tasters=[]", do="name one taster or more")
    return [*sorted(tasters, key=natural), *sorted(joining, key=natural)]


def _unique(names: Collection[str], what: str) -> list[str]:
    seen: set[str] = set()
    for name in names:
        told = str(name)
        if not isinstance(name, str) or not told.strip():
            raise DesignError(
                f"a {what} without a name", where=f"{what}s: {name!r}", do="name it by text, or leave it out"
            )
        if told.strip().casefold() in seen:
            raise DesignError(
                f"a {what} twice", where=f"{what}s: {name!r}", do="name each once; the plan serves it as often as asked"
            )
        seen.add(told.strip().casefold())
    return [str(name).strip() for name in names]


def repeats_of(repeats: float, lots: int) -> int:
    """Hidden repeats a sheet: a number of them, or a share of its lots rounded up.

    Examples
    --------
    >>> repeats_of(2, 30), repeats_of(0.1, 24), repeats_of(0, 5)
    (2, 3, 0)
    """
    return math.ceil(repeats * lots - 1e-9) if 0 < repeats < 1 else int(repeats)
