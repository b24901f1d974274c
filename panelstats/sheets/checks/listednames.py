"""Names that a register does not list: which listed name each is, or a new one, is asked."""

from __future__ import annotations

from dataclasses import replace
from difflib import get_close_matches
from typing import TYPE_CHECKING

import numpy as np

from panelstats.scores.cells import DESCRIPTOR, LOT, TASTER
from panelstats.scores.spelling import plain
from panelstats.sheets.checks.derived import surely_figures
from panelstats.sheets.checks.nearnames import nearly_listed
from panelstats.sheets.content.roles import role_of
from panelstats.sheets.content.text import Kind
from panelstats.sheets.marks.kinds import BESIDE

if TYPE_CHECKING:
    from collections.abc import Collection

    from panelstats.sheets.checks.check import Log
    from panelstats.sheets.marks.marks import Marks
    from panelstats.sheets.room.inquiry import Inquiry
    from panelstats.sheets.room.room import Room

REGISTER_OF = {TASTER: "tasters", DESCRIPTOR: "descriptors", LOT: "lots"}
_EACH = 20  # names up to which each is asked about (ours)


def known_names(marks: Marks, room: Room, what: tuple[str, Collection[str]], log: Log, inquiry: Inquiry) -> Marks:
    """The marks with names as the room says; those a register should list and does not are asked about.

    A register that lists most names, or one near, or none at all, is held to have forgotten or misspelt the rest; one
    that lists a few of many is none of names, and the rest stands, said. Lots that plans brought count for none.

    Parameters
    ----------
    marks : Marks
        Keys in one spelling.
    room : Room
        The registers.
    what : tuple
        The key, and labels that are known whatever its register lists.
    log : Log
        Takes notes, and the marks that must wait.
    inquiry : Inquiry
        Takes the questions.
    """
    role, sure = what
    table = room.get(REGISTER_OF[role])
    if table is None:
        return marks
    listed = {plain(v): str(v) for v in table[role] if v}
    if role == LOT and listed.keys() <= _planned(room):  # plans brought all it lists: it was never a list of these
        return marks
    if role != LOT:
        marks = _as_listed(marks, role, listed, log)
    names = _met(marks, role)
    unknown = [n for n in names if n not in sure and plain(n) not in listed]
    if role != LOT:  # averages and totals need no place in a register
        figures = surely_figures(marks, role, unknown)
        names, unknown = ([n for n in some if n not in figures] for some in (names, unknown))
    most, none = (len(names) - len(unknown)) * 2 >= len(names), len(unknown) == len(names)
    free: list[str] = []
    for name in unknown:
        if nearly_listed(name, listed.values()):
            continue
        near = [] if role == LOT else get_close_matches(plain(name), listed, n=1, cutoff=0.75)
        if not (most or none or near):
            free.append(name)
            continue
        why = (
            f"none of the {role}s is one that the register {REGISTER_OF[role]} lists"
            if none and not near
            else f"a {role} the register {REGISTER_OF[role]} does not list"
        )
        if len(unknown) > _EACH:
            _refused(marks, role, name, why, log)
        else:
            guess = listed[near[0]] if near else name
            marks = _asked(marks, (role, name, guess, why), list(listed.values()), log, inquiry)
    if free:
        some = ", ".join(free[:10]) + (f" and {len(free) - 10:,} more" if len(free) > 10 else "")
        why = f"the register {REGISTER_OF[role]} lists none of them and few others"
        log.notes.append((f"several {role}s: {some}", "read as they stand", why))
    return marks


def _planned(room: Room) -> set[str]:
    """The lots that plans serve under codes."""
    codes = room.get("codes")
    return set() if codes is None or "plan" not in codes else {plain(v) for v in codes.loc[codes["plan"] != "", LOT]}


def _as_listed(marks: Marks, role: str, listed: dict[str, str], log: Log) -> Marks:
    """The marks with names that a register lists in the register's spelling, said."""
    labels = marks.keys[role]
    names = [listed.get(plain(v), v) for v in labels.values]
    log.notes += [
        (f"{role} {old!r}", new, f"as the register {REGISTER_OF[role]} spells it")
        for old, new in zip(labels.values, names, strict=True) if old != new
    ]  # fmt: skip
    return replace(marks, keys={**marks.keys, role: labels.map(names)})


def _met(marks: Marks, role: str) -> list[str]:
    """Labels in use, descriptors that are none left out."""
    labels = marks.keys[role]
    names = [str(labels.values[i]) for i in labels.used() if labels.values[i]]
    return [n for n in names if not (role == DESCRIPTOR and role_of(n) in BESIDE)]


def _of(marks: Marks, role: str, name: str) -> np.ndarray:
    labels = marks.keys[role]
    return np.array([v == name for v in labels.values], bool)[labels.codes]


def _refused(marks: Marks, role: str, name: str, why: str, log: Log) -> None:
    told = (why, f"correct it, or add it to the register {REGISTER_OF[role]}")
    log.rows(marks, _of(marks, role, name), role, told)


def _asked(marks: Marks, about: tuple[str, str, str, str], listed: list[str], log: Log, inquiry: Inquiry) -> Marks:
    """The marks of one name under the listed one it is; they wait while nobody said."""
    role, name, guess, why = about
    mask = _of(marks, role, name)
    live = np.flatnonzero(mask & ~log.bad & (marks.kind != Kind.BLANK))
    if not len(live):
        return marks
    first = int(live[0])
    table = log.tables[marks.table[first]]
    columns = table.where(role)
    column = columns[0] if columns else int(marks.column[first])
    register = REGISTER_OF[role]
    answer = inquiry.ask(
        f"The register {register} does not list the {role} {name!r}. Which is it? Write its name there, or {name!r} "
        "if it is one of its own.",
        (table.sheet, int(marks.row[first]) if columns else None, column, name, table.headers[column]),
        seen=f"{len(live)} marks; listed: {', '.join(listed[:12])}{' ...' * (len(listed) > 12)}", guess=guess,
        allowed=(name, *listed), reason=why,
    )  # fmt: skip
    if not answer:
        log.bad |= mask
        return marks
    labels = marks.keys[role]
    if answer != name:
        log.notes.append((f"{role} {name!r}", answer, "as the room answered"))
    return replace(marks, keys={**marks.keys, role: labels.map([answer if v == name else v for v in labels.values])})
