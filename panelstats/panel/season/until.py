"""The sessions up to a day: the answer as it stood then."""

from __future__ import annotations

from typing import TYPE_CHECKING

from panelstats.errors import DesignError
from panelstats.scores.cells import SESSION, Cells
from panelstats.sheets.dates import date_in

if TYPE_CHECKING:
    import datetime as dt


def sessions_until(cells: Cells, until: str | None) -> Cells:
    """The cells of the sessions up to one of them, or up to a date.

    Raises
    ------
    DesignError
        `until` is neither a session nor a date, the sessions have no dates, or all of them are later.
    """
    if until is None:
        return cells
    names = [str(name) for name in cells.sessions[SESSION]]
    if until in names:
        kept = set(names[: names.index(until) + 1])
    else:
        day, dates = date_in(until), _dates(cells, names)
        if day is None or not all(dates.values()):
            raise DesignError("neither a session nor a date", where=f"until={until!r}",
                              do=f"name a session, such as {names[-1]}")  # fmt: skip
        kept = {name for name, date in dates.items() if date is not None and date <= day}
    if not kept:
        raise DesignError("no session up to then", where=f"until={until!r}", do=f"the first is {names[0]}")
    return cells.where(cells.frame[SESSION].astype(str).isin(kept).to_numpy())


def _dates(cells: Cells, names: list[str]) -> dict[str, dt.date | None]:
    """The date of each session: as registered, else as its name tells."""
    said = cells.sessions["date"].astype(str) if "date" in cells.sessions else [""] * len(names)
    return {name: date_in(each) or date_in(name) for name, each in zip(names, said, strict=True)}
