"""What a plan is asked for: checked, in one order whatever the order it was given in."""

from __future__ import annotations

import hashlib
import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from panelstats.arguments.amounts import from_one, size_or_zero
from panelstats.arguments.objects import table as tabled
from panelstats.arguments.wording import texts
from panelstats.errors import DesignError
from panelstats.scores.cells import CLASS, LOT, ROLE
from panelstats.scores.spelling import natural

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping, Sequence

BENCH, TRAY = "bench", "tray"
RANDOM, BY_CLASS = "random", "class"
CONTROL_ROLES = ("control", "standard")
MOST_CUPS = 1_000_000  # of one plan (ours)


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
    joined: int = 0  # tasters at the end of the list who joined a plan that was made
    left_out: Mapping[str, frozenset[str]] = field(default_factory=dict)  # taster -> what is never served to them
    strong: frozenset[str] = frozenset()  # lots kept from a control
    pot_minutes: float | None = None
    zeros: bool = True  # whether codes may hold the digit 0
    stop: frozenset[str] = frozenset()  # never a code
    had: frozenset[tuple[str, str]] = frozenset()  # (lot, code) of earlier sessions

    @property
    def names(self) -> list[str]:
        """Lots, then controls: what orders number from 0."""
        return self.lots + self.controls

    def barred(self, taster: str) -> list[int]:
        """Numbers of what a taster is never served."""
        return self.numbers(self.left_out.get(taster, frozenset()))

    def numbers(self, names: Collection[str]) -> list[int]:
        """Numbers of some of the names."""
        return [at for at, name in enumerate(self.names) if name in names]

    def rng(self, *stream: int | str) -> np.random.Generator:
        """A source of draws of its own for a session, a round or a taster: no other one moves it."""
        return draws(self.seed, *stream)

    def session(self, number: int) -> str:
        """Name of a session."""
        return self.sessions[number] if self.sessions else str(number + 1)


def draws(seed: int, *stream: int | str) -> np.random.Generator:
    """The source of draws of one stream, told by numbers and names."""
    return np.random.default_rng(np.random.SeedSequence([seed, *map(_entropy, stream)]))


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
    """Tasters in natural order, those who joined later after them, in the order in which they joined.

    Raises
    ------
    DesignError
        Nobody, a name twice, or an empty one.
    """
    _unique([*tasters, *joining], "taster")
    if not tasters:
        raise DesignError("nobody tastes", where="tasters=[]", do="name one taster or more")
    return [*sorted(tasters, key=natural), *joining]


def left_out(
    excluded: Mapping[str, Collection[str]] | None, names: list[str], tasters: list[str]
) -> dict[str, frozenset[str]]:
    """What is never served to whom.

    Raises
    ------
    DesignError
        A taster or lot of another plan, or a lot or taster of which nothing is left.
    """
    out = {str(taster): frozenset(map(str, lots)) for taster, lots in (excluded or {}).items()}
    for taster, lots in out.items():
        strange = sorted(lots - set(names), key=natural) or ([] if taster in tasters else [taster])
        if strange:
            raise DesignError("an exclusion of nothing that is served", where=f"excluded: {taster!r}: {strange[0]!r}",
                              do="name tasters, lots and controls of this plan")  # fmt: skip
        if lots >= set(names):
            raise DesignError("nothing is left to taste", where=f"excluded: {taster!r}", do="leave the taster out")
    for name in names:
        if all(name in out.get(taster, ()) for taster in tasters):
            raise DesignError("nobody may taste it", where=f"excluded: lot {name!r}", do="leave the lot out")
    return out


def _strong(names: Collection[str], lots: list[str]) -> frozenset[str]:
    """Lots that are kept from a control."""
    strange = sorted({name.strip() for name in names} - set(lots), key=natural)
    if strange:
        raise DesignError("a strong lot that is not planned", where=f"strong: {strange[0]!r}",
                          do="name lots of this plan, no controls")  # fmt: skip
    return frozenset(name.strip() for name in names)


def _unique(names: Collection[str], what: str) -> list[str]:
    seen: set[str] = set()
    for name in names:
        told = str(name)
        if not isinstance(name, str) or not told.strip():
            raise DesignError(f"a {what} without a name", where=f"{what}s: {name!r}",
                              do="name it by text, or leave it out")  # fmt: skip
        if told.strip().casefold() in seen:
            raise DesignError(f"a {what} twice", where=f"{what}s: {name!r}",
                              do="name each once; the plan serves it as often as asked")  # fmt: skip
        seen.add(told.strip().casefold())
    return [str(name).strip() for name in names]


def digest_of(parts: Sequence[str]) -> str:
    """A short id that no spreadsheet takes for a number."""
    return f"p{hashlib.sha256(chr(0).join(parts).encode('utf-8', 'surrogatepass')).hexdigest()[:7]}"


def repeats_of(repeats: float, lots: int) -> int:
    """Hidden repeats a sheet: a number of them, or a share of its lots rounded up.

    Examples
    --------
    >>> repeats_of(2, 30), repeats_of(0.1, 24), repeats_of(0, 5)
    (2, 3, 0)
    """
    return math.ceil(repeats * lots - 1e-9) if 0 < repeats < 1 else int(repeats)


def requested(
    lots: pd.DataFrame | Sequence[str],
    tasters: Collection[str],
    joining: Collection[str],
    controls: Sequence[str],
    repeats: float,
    sessions: int | Sequence[str] | None,
    excluded: Mapping[str, Collection[str]] | None,
    strong: Collection[str],
    **rest: object,
) -> Request:
    """All that was asked for, in one order."""
    register, hidden = lots_register(lots, controls)
    own = [name for name in register["lot"] if name not in set(hidden)]
    if not own:
        raise DesignError("no lots to taste", where="lots=[]", do="name the lots beside the controls")
    people = names_in_order(tasters, joining)
    asked = Request(
        lots=own, controls=hidden, register=register, tasters=people, joined=len(joining),
        left_out=left_out(excluded, [*own, *hidden], people), strong=_strong(strong, own),
        repeats=repeats_of(repeats, len(own)), sessions=_sessions(sessions), **rest,  # type: ignore[arg-type]
    )  # fmt: skip
    _bounded(asked)
    if asked.order == BY_CLASS and asked.service == TRAY:
        raise DesignError("trays have an order for each taster", where="order='class', service='tray'",
                          do="use order='random', or service='bench'")  # fmt: skip
    if asked.order == BY_CLASS and asked.every < 2:
        raise DesignError("controls leave no room between them", where=f"every={asked.every}", do="give 2 or more")
    if asked.strong and (asked.service == TRAY or asked.order == BY_CLASS):
        raise DesignError("strong lots are kept from controls in random rows alone",
                          where=f"strong={sorted(asked.strong, key=natural)}",
                          do="leave it out (on trays every lot changes its neighbours), or use order='random', "
                             "service='bench'")  # fmt: skip
    if asked.service == BENCH and asked.per_lot is not None:
        raise DesignError("all walk along one row", where=f"tasters_per_lot={asked.per_lot}",
                          do="leave it out, or use service='tray'")  # fmt: skip
    return asked


def _bounded(asked: Request) -> None:
    """Refuse what no room pours: more cups than a year of the largest sale, more sessions than cups."""
    cups = (len(asked.names) + asked.repeats) * asked.pots * len(asked.tasters)
    if cups > MOST_CUPS:
        raise DesignError(f"a plan of {cups:,} cups, and {MOST_CUPS:,} at most", where=f"{len(asked.lots):,} lots",
                          do="plan sale by sale")  # fmt: skip


def _sessions(sessions: int | Sequence[str] | None) -> list[str] | None:
    """Names of the sessions asked for."""
    if sessions is None:
        return None
    if isinstance(sessions, int):
        from_one("sessions", sessions, {})
        if sessions > MOST_CUPS:
            raise DesignError("more sessions than cups", where=f"sessions={sessions}", do="give a smaller number")
        return [str(each + 1) for each in range(sessions)]
    texts("sessions", sessions)
    names = [str(name).strip() for name in sessions]
    if not names or "" in names or len(set(names)) < len(names):
        raise DesignError("sessions need a name each", where=f"sessions={names}",
                          do="give different names, or a number")  # fmt: skip
    return names


# --- rules of what only a plan is asked -------------------------------------------------------------------------------


def excluded_rule(name: str, value: object, _: Mapping[str, object]) -> None:
    """Lots by the taster who is not served them."""
    if not hasattr(value, "items"):
        raise DesignError("lots are excluded by taster", where=f"{name}={value!r}", do="give {'elm': ['411', '412']}")
    for taster, lots in value.items():
        texts(f"{name}[{taster!r}]", lots)


def brew_rule(name: str, value: object, _: Mapping[str, object]) -> None:
    """Facts of a brew by their names, or a table of them."""
    if not hasattr(value, "items"):
        raise DesignError("a brew is told by name", where=f"{name}={value!r}", do="give {'grams': 5.6, 'minutes': 6}")


def repeats_rule(name: str, value: object, given: Mapping[str, object]) -> None:
    """Hidden repeats: a whole number, or a share."""
    size_or_zero(name, value, given)
    if float(value) >= 1 and float(value) != int(float(value)):  # type: ignore[arg-type]
        raise DesignError("repeats are a number or a share", where=f"{name}={value!r}",
                          do="give a whole number, or a share below 1")  # fmt: skip


def codes_rule(name: str, value: object, given: Mapping[str, object]) -> None:
    """A register of codes."""
    tabled(name, value, given)
    if not {"lot", "code"} <= set(value.columns):  # type: ignore[attr-defined]
        raise DesignError("no register of codes", where=f"{name}: columns {list(map(str, value.columns))}",  # type: ignore[attr-defined]
                          do="give the columns lot and code")  # fmt: skip


def variances_rule(name: str, value: object, _: Mapping[str, object]) -> None:
    """Variances by name."""
    if not hasattr(value, "items"):
        raise DesignError("variances are named", where=f"{name}={value!r}", do="give {'pot': ..., 'look': ...}")


def limit_rule(name: str, value: object, given: Mapping[str, object]) -> None:
    """Pots of a sitting: two at least."""
    from_one(name, value, given)
    if value < 2:  # type: ignore[operator]
        raise DesignError("one pot a sitting joins nothing", where=f"{name}={value!r}", do="give 2 or more")
