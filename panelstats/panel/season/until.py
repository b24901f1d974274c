"""The sessions up to a day: the answer as it stood then."""

from __future__ import annotations

from typing import TYPE_CHECKING

from panelstats.errors import DesignError
from panelstats.scores.cells import SESSION
from panelstats.scores.dates import date_in

if TYPE_CHECKING:
    import datetime as dt

    import pandas as pd


def sessions_until(register: pd.DataFrame, until: str | None) -> list[str]:
    """The sessions of a register up to one of them, or up to a date; all of them for None.

    Raises
    ------
    DesignError
        `until` is neither a session nor a date, the sessions have no dates, or all of them are later.
    """
    names = [str(name) for name in register[SESSION]]
    if until is None:
        return names
    if until in names:
        return names[: names.index(until) + 1]
    day, dates = date_in(until), _dates(register, names)
    if day is None or not all(dates.values()):
        raise DesignError("neither a session nor a date", where=f"until={until!r}",
                          do=f"name a session, such as {names[-1]}")  # fmt: skip
    kept = [name for name, date in dates.items() if date is not None and date <= day]
    if not kept:
        raise DesignError("no session up to then", where=f"until={until!r}", do=f"the first is {names[0]}")
    return kept


def _dates(register: pd.DataFrame, names: list[str]) -> dict[str, dt.date | None]:
    """The date of each session: as registered, else as its name tells."""
    said = register["date"].astype(str) if "date" in register else [""] * len(names)
    return {name: date_in(each) or date_in(name) for name, each in zip(names, said, strict=True)}
