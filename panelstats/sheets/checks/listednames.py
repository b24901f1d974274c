"""Names that a register does not list: which listed name each is, or a new one, is asked."""

from __future__ import annotations

from difflib import get_close_matches
from typing import TYPE_CHECKING

import numpy as np

from panelstats.scores.cells import DESCRIPTOR, LOT
from panelstats.scores.spelling import plain
from panelstats.sheets.checks.derived import surely_figures
from panelstats.sheets.checks.nearnames import nearly_listed
from panelstats.sheets.content.roles import role_of
from panelstats.sheets.content.text import Kind
from panelstats.sheets.marks.kinds import BESIDE

if TYPE_CHECKING:
    from collections.abc import Collection

    from panelstats.sheets.checks.log import Log
    from panelstats.sheets.marks.marks import Marks
    from panelstats.sheets.room.room import Room

_EACH = 20  # names up to which each is asked about (ours)


def known_names(marks: Marks, room: Room, what: tuple[str, Collection[str]], log: Log) -> Marks:
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
    """
    role, sure = what
    register = f"{role}s"
    table = room.get(register)
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
            f"none of the {role}s is one that the register {register} lists"
            if none and not near
            else f"a {role} the register {register} does not list"
        )
        if len(unknown) > _EACH:
            told = (why, f"correct it, or add it to the register {register}")
            log.rows(marks, marks.named(role, name), role, told)
        else:
            guess = listed[near[0]] if near else name
            marks = _asked(marks, (role, name, guess, why), list(listed.values()), log)
    if free:
        some = ", ".join(free[:10]) + (f" and {len(free) - 10:,} more" if len(free) > 10 else "")
        why = f"the register {register} lists none of them and few others"
        log.notes.append((f"several {role}s: {some}", "read as they stand", why))
    return marks


def _planned(room: Room) -> set[str]:
    """The lots that plans serve under codes."""
    codes = room.get("codes")
    return set() if codes is None or "plan" not in codes else {plain(v) for v in codes.loc[codes["plan"] != "", LOT]}


def _as_listed(marks: Marks, role: str, listed: dict[str, str], log: Log) -> Marks:
    """The marks with names that a register lists in the register's spelling, said."""
    register = f"{role}s"
    other = {v: new for v in marks.keys[role].values if (new := listed.get(plain(v), v)) != v}
    log.notes += [(f"{role} {old!r}", new, f"as the register {register} spells it") for old, new in other.items()]
    return marks.relabelled(role, other)


def _met(marks: Marks, role: str) -> list[str]:
    """Labels in use, descriptors that are none left out."""
    return [n for n in marks.keys[role].met if not (role == DESCRIPTOR and role_of(n) in BESIDE)]


def _asked(marks: Marks, about: tuple[str, str, str, str], listed: list[str], log: Log) -> Marks:
    """The marks of one name under the listed one it is; they wait while nobody said."""
    role, name, guess, why = about
    register = f"{role}s"
    mask = marks.named(role, name)
    live = np.flatnonzero(mask & ~log.bad & (marks.kind != Kind.BLANK))
    if not len(live):
        return marks
    sheet, row, column = log.key_place(marks, int(live[0]), role)
    answer = log.inquiry.ask(
        f"The register {register} does not list the {role} {name!r}. Which is it? Write its name there, or {name!r} "
        "if it is one of its own.",
        (sheet, row, column, name, log.tables[marks.table[live[0]]].headers[column]),
        seen=f"{len(live)} marks; listed: {', '.join(listed[:12])}{' ...' * (len(listed) > 12)}", guess=guess,
        allowed=(name, *listed), reason=why,
    )  # fmt: skip
    if not answer:
        log.bad |= mask
        return marks
    if answer != name:
        log.notes.append((f"{role} {name!r}", answer, "as the room answered"))
    return marks.relabelled(role, {name: answer})
