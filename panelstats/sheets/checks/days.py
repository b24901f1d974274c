"""Times of day beside the dates of sessions: a session is a day, whatever the clock showed at each row."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import numpy as np

from panelstats.scores.cells import DESCRIPTOR, LOOK, LOT, POT, SESSION, TASTER
from panelstats.scores.dates import date_in
from panelstats.scores.spelling import tidy
from panelstats.sheets.content.text import Kind
from panelstats.sheets.files.grid import Factor
from panelstats.sheets.tables.table import doubt

if TYPE_CHECKING:
    from panelstats.sheets.checks.log import Log
    from panelstats.sheets.marks.marks import Marks

_TIMED = re.compile(
    r"(?P<day>.*?)(?:^|[\s,T]+)(?P<hour>[01]?\d|2[0-3])[:.h](?P<minute>[0-5]\d)(?::[0-5]\d(?:\.\d+)?)?\s*(?P<half>[ap]m)?",
    re.IGNORECASE,
)
_NOON = 12
_OWN, _ONE = "sittings of their own", "one session"
_SERVING = (LOT, TASTER, DESCRIPTOR, POT, LOOK)


def without_times(marks: Marks, log: Log) -> Marks:
    """The marks with days for sessions; asked where a taster scored the same lot at two times of one day.

    Parameters
    ----------
    marks : Marks
        Every mark of the source.
    log : Log
        Takes notes, the question, and marks that must wait.
    """
    sessions = marks.keys[SESSION]
    timed = [_timed(tidy(label)) for label in sessions.values]
    if not any(timed):
        return marks
    days = [
        day if day is not None else tidy(label) for label, day in zip(sessions.values, map(_day, timed), strict=True)
    ]
    merged = marks.under({SESSION: sessions.map(days)})
    clock = [
        label
        for label, m in zip(sessions.values, timed, strict=True)
        if m and (int(m["hour"]), int(m["minute"])) > (0, 0)
    ]
    shown = ", ".join(map(tidy, clock[:6]))
    again = _again(merged) & ~_again(marks)
    if again.any():
        table = int(marks.table[again][0])
        answer = log.inquiry.ask(
            f"Are the times of one day sittings of their own: {shown}?",
            (log.tables[table].sheet, int(marks.row[again][0]), None, shown, ""), seen=shown, guess=_OWN,
            allowed=(_OWN, _ONE), reason="one taster scored the same lot at two times of one day",
        )  # fmt: skip
        for number in np.unique(marks.table[again]) if not answer else ():
            log.flaw(marks, int(number), doubt())
        if answer != _ONE:
            return _by_half(marks, timed, days)
    if clock:
        log.notes.append(("times of day beside the dates", shown, "not used: a session is a day"))
    return merged


def _timed(label: str) -> re.Match[str] | None:
    """A label as a day and a time, or a time alone; None where it tells no time."""
    found = _TIMED.fullmatch(label)
    return found if found and (not found["day"] or date_in(found["day"])) else None


def _day(timed: re.Match[str] | None) -> str | None:
    return None if timed is None else timed["day"].strip(" ,") or "1"


def _again(marks: Marks) -> np.ndarray:
    """Marks of a serving that another mark of the same session is of."""
    filled = np.flatnonzero(marks.kind != Kind.BLANK)
    place = marks.place(SESSION, *_SERVING, rows=filled)
    _, back, times = np.unique(place, return_inverse=True, return_counts=True)
    again = np.zeros(len(marks), bool)
    again[filled] = times[back] > 1
    return again


def _by_half(marks: Marks, timed: list[re.Match[str] | None], days: list[str]) -> Marks:
    """The marks with mornings and afternoons for sessions, with times where these tell them apart no better."""
    halves = [day if m is None else f"{day} {_half(m)}" for m, day in zip(timed, days, strict=True)]
    sessions: Factor = marks.keys[SESSION]
    split = marks.under({SESSION: sessions.map(halves)})
    return marks if (_again(split) & ~_again(marks)).any() else split


def _half(timed: re.Match[str]) -> str:
    late = (timed["half"] or "").casefold() == "pm" or (not timed["half"] and int(timed["hour"]) >= _NOON)
    return "afternoon" if late else "morning"
