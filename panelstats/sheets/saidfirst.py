"""What stands at the head of every answer: whatever changed who or what was read, in sentences."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pandas as pd

from panelstats.scores.cells import LOT, SESSION, TASTER
from panelstats.speech import Phrase
from panelstats.words import listing

if TYPE_CHECKING:
    from panelstats.sheets.tables import Note, Table

_LEFT = ("left out", "not read")
_HALF = 0.6  # share of the busiest taster's marks below which a sheet is called unfinished (ours)
_MOST = 8  # sentences
_GROUPS = 3  # groups of lots named by their tasters
_NAMED = 6  # sessions named one by one, the latest


def said_first(frame: pd.DataFrame, tables: list[Table], notes: list[Note]) -> tuple[str, ...]:
    """Sentences about what was left out, older sessions, unfinished sheets and files that speak of one session.

    Parameters
    ----------
    frame : DataFrame
        The scores.
    tables : list of Table
        Where they came from.
    notes : list of tuple
        (what, value, why) of everything nobody declared.
    """
    lines = [f"{what} {value}: {why}." for what, value, why in dict.fromkeys(notes) if value in _LEFT and _weighs(why)]
    lines += [
        Phrase("The {what} are {value}.").format(what=what, value=value)
        for what, value, _ in notes
        if what == "headings"
    ]
    last = (
        frame[frame[SESSION] == frame[SESSION].cat.categories[frame[SESSION].cat.codes.max()]] if len(frame) else frame
    )
    lines = [*_sessions(frame), *_unfinished(last), *_unjoined(last), *_two_files(tables), *dict.fromkeys(lines)]
    more = len(lines) - _MOST
    return (*lines[:_MOST], *([Phrase("{more} more such remarks stand below.").format(more=more)] if more > 0 else []))


def _weighs(why: str) -> bool:
    """Whether leaving something out changes who or what was read: a repeated heading does not."""
    return why not in ("the header again", "left out as asked")


def _sessions(frame: pd.DataFrame) -> list[str]:
    names = [str(s) for s in frame[SESSION].cat.categories if (frame[SESSION] == s).any()] if len(frame) else []
    if len(names) < 2:
        return []
    last = Phrase("the last {named} are ").format(named=_NAMED) if len(names) > _NAMED else ""
    return [
        Phrase("{names} sessions were read: {last}{names_2}; the latest is {names_3}.").format(
            names=len(names), last=last, names_2=", ".join(names[-_NAMED:]), names_3=names[-1]
        )
    ]


def _unfinished(last: pd.DataFrame) -> list[str]:
    """Tasters who scored far fewer cells than the others in the latest session."""
    done = last.groupby(TASTER, observed=True).size()
    if len(done) < 2:
        return []
    most = int(done.max())
    return [
        Phrase("{name} scored {n} cells of {most} that another taster scored.").format(name=name, n=n, most=most)
        for name, n in done.items()
        if n < _HALF * most
    ]


def _unjoined(last: pd.DataFrame) -> list[str]:
    """Whether the lots of the latest session fall into groups that no taster joins; told by who scored each."""
    groups: list[tuple[list[str], set[str]]] = []
    scored = last[[TASTER, LOT]].drop_duplicates().astype(str)
    for taster, lots in scored.groupby(TASTER, sort=False)[LOT]:
        names, joined = [str(taster)], set(lots)
        for group in [group for group in groups if group[1] & joined]:
            groups.remove(group)
            names, joined = [*group[0], *names], joined | group[1]
        groups.append((names, joined))
    if len(groups) < 2:
        return []
    told = "; ".join(Phrase("those of {names}").format(names=listing(names)) for names, _ in groups[:_GROUPS])
    return [
        Phrase("{groups} groups of lots are joined by no taster ({told}): compare within a group only.").format(
            groups=len(groups), told=told
        )
    ]


def _two_files(tables: list[Table]) -> list[str]:
    """Sessions of which one taster's marks stand in two files or sheets."""
    met: dict[tuple[str, str], dict[str, None]] = {}
    for table in tables:
        for session in _labels(table, SESSION):
            for taster in _labels(table, TASTER):
                met.setdefault((session, taster), {})[table.sheet.label] = None
    found = {(s, tuple(places)): None for (s, _), places in met.items() if len(places) > 1}
    return [
        Phrase("Session {s} stands in {places}; they were read together.").format(s=s, places=" and ".join(places[:3]))
        for s, places in found
    ][:2]


def _labels(table: Table, role: str) -> list[str]:
    columns = table.where(role)
    factor = table.cells(columns[0]) if columns else table.extra.get(role)
    if role in table.across or factor is None:
        return [x for x in dict.fromkeys(table.across.get(role, [])) if x]
    return [str(factor.values[i]) for i in factor.used()][:50]
