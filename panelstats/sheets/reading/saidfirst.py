"""What stands at the head of every answer: whatever changed who or what was read, in sentences."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from panelstats.scores.cells import LOT, SESSION, TASTER
from panelstats.sheets.content.roles import LEFT_OUT

if TYPE_CHECKING:
    from panelstats.sheets.tables.table import Note, Table

_HALF = 0.6  # share of the busiest taster's marks below which a sheet is called unfinished (ours)
_MOST = 8  # sentences
_GROUPS = 3  # groups of lots named by their tasters
_NAMED = 6  # sessions named one by one, the latest


def said_first(frame: pd.DataFrame, tables: list[Table], notes: list[Note]) -> tuple[str, ...]:
    """Sentences about what was left out, older sessions, unfinished sheets and files that speak of one session."""
    lines = [
        f"{what} left out: {why}." if value == LEFT_OUT else f"{what} not read: {why}."
        for what, value, why in dict.fromkeys(notes)
        if value in (LEFT_OUT, "not read") and _weighs(why)
    ]
    lines += [f"The headings are {value}." for what, value, _ in notes if what == "headings"]
    session = frame[SESSION].cat.codes.to_numpy()
    last = frame.loc[session == session.max(initial=0), [TASTER, LOT]]
    lines = [*_sessions(frame), *_unfinished(last), *_unjoined(last), *_two_files(tables), *dict.fromkeys(lines)]
    more = len(lines) - _MOST
    return (*lines[:_MOST], *([f"{more} more such remarks stand below."] if more > 0 else []))


def _weighs(why: str) -> bool:
    """Whether leaving something out changes who or what was read: a repeated heading does not."""
    return why not in ("the header again", "left out as asked")


def _sessions(frame: pd.DataFrame) -> list[str]:
    names = [str(frame[SESSION].cat.categories[code]) for code in np.unique(frame[SESSION].cat.codes)]
    if len(names) < 2:
        return []
    some = ", ".join(names[-_NAMED:])
    if len(names) > _NAMED:
        return [f"{len(names)} sessions were read: the last {_NAMED} are {some}; the latest is {names[-1]}."]
    return [f"{len(names)} sessions were read: {some}; the latest is {names[-1]}."]


def _unfinished(last: pd.DataFrame) -> list[str]:
    """Tasters who scored far fewer cells than the others in the latest session."""
    done = last.groupby(TASTER, observed=True).size()
    if len(done) < 2:
        return []
    most = int(done.max())
    return [
        f"{name} scored {n} cells of {most} that another taster scored." for name, n in done.items() if n < _HALF * most
    ]


def _unjoined(last: pd.DataFrame) -> list[str]:
    """Whether the lots of the latest session fall into groups that no taster joins; told by who scored each."""
    groups: list[tuple[list[str], set[int]]] = []
    names_of, lots_of = last[TASTER].cat, last[LOT].cat
    codes = names_of.codes.to_numpy()
    for taster in pd.unique(codes).tolist():
        names, joined = [str(names_of.categories[taster])], {*np.unique(lots_of.codes[codes == taster]).tolist()}
        for group in [group for group in groups if group[1] & joined]:
            groups.remove(group)
            names, joined = [*group[0], *names], joined | group[1]
        groups.append((names, joined))
    if len(groups) < 2:
        return []
    them = "; ".join(", ".join(names) for names, _ in groups[:_GROUPS])
    return [f"{len(groups)} groups of lots are joined by no taster (those of {them}): compare within a group only."]


def _two_files(tables: list[Table]) -> list[str]:
    """Sessions of which one taster's marks stand in two files or sheets."""
    met: dict[tuple[str, str], dict[str, None]] = {}
    for table in tables:
        for session in _labels(table, SESSION):
            for taster in _labels(table, TASTER):
                met.setdefault((session, taster), {})[table.sheet.label] = None
    found = {(s, tuple(places)): None for (s, _), places in met.items() if len(places) > 1}
    return [
        f"Session {session} stands in {', '.join(places[:3])}; they were read together." for session, places in found
    ][:2]


def _labels(table: Table, role: str) -> list[str]:
    columns = table.where(role)
    factor = table.cells(columns[0]) if columns else table.extra.get(role)
    if role in table.across or factor is None:
        return [x for x in dict.fromkeys(table.across.get(role, [])) if x]
    return [*map(str, factor.met)][:50]
