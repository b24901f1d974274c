"""Names that may be one name spelt twice: asked about, always, unless they stand side by side."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import numpy as np

from panelstats.scores.cells import DESCRIPTOR, LOT, POT, SESSION, TASTER
from panelstats.scores.spelling import plain, same
from panelstats.sheets.content.labels import near_misses
from panelstats.sheets.content.roles import CODE, is_descriptor_word
from panelstats.sheets.content.text import Kind

if TYPE_CHECKING:
    from collections.abc import Collection

    from panelstats.sheets.checks.log import Log
    from panelstats.sheets.marks.marks import Marks
    from panelstats.sheets.room.room import Room

_KEYS = (SESSION, LOT, TASTER, POT, CODE, DESCRIPTOR)


def one_name(marks: Marks, room: Room, log: Log) -> Marks:
    """The marks with names joined as the room says; pairs it said nothing about are asked, unless it lists both."""
    for role in (TASTER, DESCRIPTOR, LOT):
        names, register = marks.keys[role].met, room.get(f"{role}s")
        listed = {} if register is None else {plain(v): v for v in register[role] if v}
        met = {plain(n) for n in names}
        near = near_misses([*names, *(v for key, v in listed.items() if key not in met)])
        for pair in [*near, *(_initials(names) if role == TASTER else [])]:
            if {plain(x) for x in pair} <= set(listed) or (plain(pair[0]) == plain(pair[1]) and listed):
                continue
            marks = _settled(marks, role, pair, frozenset(listed), log)
    return marks


def _initials(names: list[str]) -> list[tuple[str, str]]:
    """Pairs of a letter and the name that it may stand for."""
    return [(a, b) for a in names for b in names if len(a) == 1 < len(b) and a.isalpha() and plain(b)[:1] == plain(a)]


def nearly_listed(label: str, listed: Collection[str]) -> bool:
    """Whether a label is one slip away from a listed one: that is asked, not refused."""
    return any(label in pair for pair in near_misses([label, *(v for v in listed if same(v) != same(label))]))


_AGAIN = re.compile(
    r"(?P<base>.*\d)(?:[ ._-]*(?:again|repeat|rpt|rep|dup|duplicate|bis|wdh|r)|[a-e]|[ ]?[/-] ?[2-9]|[ ]?\([2-9]\))",
    re.IGNORECASE,
)


def served_again(marks: Marks, log: Log) -> Marks:
    """Lots named as another with a sign added (`412a`, `412/2`, `412 again`): asked whether they are that lot again."""
    lots, names = marks.keys[LOT], {*marks.keys[LOT].met}
    found = {x: m["base"].strip() for x in sorted(names) if (m := _AGAIN.fullmatch(x)) and m["base"].strip() in names}
    if not found:
        return marks
    again = lots.mask(lambda lot: lot in found)
    first = int(np.flatnonzero(again)[0])
    name = str(lots.at(first))
    pairs = ", ".join(f"{x} ({base})" for x, base in found.items())
    answer = log.inquiry.ask(
        f"Are these lots another lot served again (the lot in brackets), or lots of their own: {pairs}?",
        (*log.key_place(marks, first, LOT), name, "lot"),
        seen=f"{int(again.sum())} marks", guess="served again", allowed=("served again", "lots of their own"),
        reason=f"a lot named as {found[name]!r} with a sign added",
    )  # fmt: skip
    if answer == "served again":
        return _second_pots(marks, found)
    if not answer:
        log.bad |= again
    return marks


def _second_pots(marks: Marks, found: dict[str, str]) -> Marks:
    """The marks of lots served again as those of a further pot of the lot."""
    order = {x: n + 2 for base in set(found.values()) for n, x in enumerate(x for x in found if found[x] == base)}
    if not marks.keys[POT].met:
        marks = marks.under({POT: marks.keys[LOT].map([str(order.get(lot, 1)) for lot in marks.keys[LOT].values])})
    return marks.relabelled(LOT, found)


def _tie(role: str, name: str) -> float:
    """Which of two names met equally often is the likelier: a known word, then the longer one."""
    return 0.5 * (role == DESCRIPTOR and is_descriptor_word(name)) + len(name) / 1000


def _settled(marks: Marks, role: str, pair: tuple[str, str], listed: frozenset[str], log: Log) -> Marks:
    """One pair of names: told apart where both stand at one place, else asked."""
    masks = [marks.named(role, name) for name in pair]
    live = (marks.kind == Kind.NUMBER) & ~log.bad
    times = [int((m & live).sum()) for m in masks]
    if not any(times) or (
        not all(times) and not any(plain(x) in listed for x, n in zip(pair, times, strict=True) if not n)
    ):
        return marks
    place = marks.place(*(key for key in _KEYS if key != role))
    if np.isin(place[masks[0] & live], place[masks[1] & live]).any():
        return marks
    rare = int(np.argmin([times[i] + 1e9 * (plain(pair[i]) in listed) + _tie(role, pair[i]) for i in (0, 1)]))
    slip, usual = pair[rare], pair[1 - rare]
    first = int(np.flatnonzero(masks[rare] & live)[0])
    sheet, row, column = log.key_place(marks, first, role)
    head = slip if row is None else log.tables[marks.table[first]].headers[column]
    register = f"{role}s"
    why = f"a {role} the register {register} does not list" if listed else f"a {role} that is almost {usual!r}"
    answer = log.inquiry.ask(
        f"Is the {role} {slip!r} the same as {usual!r}? Write the right name of {slip!r}.",
        (sheet, row, column, slip, head),
        seen=f"{slip}: {times[rare]} marks, {usual}: {times[1 - rare]} marks", guess=usual, allowed=(usual, slip),
        reason=why,
    )  # fmt: skip
    if not answer:
        log.bad |= masks[rare]
        return marks
    return marks.relabelled(role, {slip: answer})
