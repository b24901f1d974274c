"""Scales that headings tell, taken off the descriptors' names: `Brisk (1-10)` is brisk, from 1 to 10."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from panelstats.scores.cells import DESCRIPTOR, SCORE
from panelstats.scores.spelling import plain, tidy
from panelstats.sheets.content.limits import limits_beside, span_of
from panelstats.sheets.content.roles import GIVEN
from panelstats.sheets.tables.totalrows import numbers_of

if TYPE_CHECKING:
    from panelstats.sheets.content.limits import Limits
    from panelstats.sheets.room.room import Room
    from panelstats.sheets.tables.table import Note, Table

_BRACKETED = re.compile(r"(?P<name>.*[^\W\d_])\s*[(\[]\s*(?P<high>[5-9]|\d{2,3})\s*[)\]]")
_MOSTLY = 0.9  # share of marks on a scale from which a line over them speaks of them (ours)


def told_limits(tables: list[Table], room: Room) -> tuple[list[Table], dict[str, Limits], list[Note]]:
    """Tables whose descriptors stand without the scales their headings tell, and those scales.

    A heading that the room itself spells with its scale stays; so do headings that tell two scales of one descriptor.

    Returns
    -------
    tables, limits, notes
        Limits by descriptor, as `plain` text.
    """
    given = {plain(name) for table in tables for name in _spelled(table)}
    found: dict[str, tuple[str, Limits]] = {}
    highest = {label: told for table in tables for label, told in _highest_marks(table, room).items()}
    for label in dict.fromkeys(label for table in tables for label in _descriptors(table)):
        told = limits_beside(label) or highest.get(label)
        if told and plain(label) not in room.kinds and plain(label) not in given:
            found[label] = told
    ends: dict[str, set[Limits]] = {}
    for name, limits in found.values():
        ends.setdefault(plain(name), set()).add(limits)
    both = {label for table in tables for label in _falling_together(table, found)}
    found = {k: told for k, told in found.items() if len(ends[plain(told[0])]) == 1 and k not in both}
    over = _over_all(tables, room, {plain(name) for name, _ in found.values()})
    if not found:
        return tables, {plain(name): limits for name, limits in over.items()}, _said_over(over)
    notes = [(f"scale of {name}", span_of(*limits), "its heading says so") for name, limits in found.values()]
    renamed = [_renamed(table, {label: name for label, (name, _) in found.items()}) for table in tables]
    both_told = {plain(name): limits for name, limits in [*over.items(), *found.values()]}
    return renamed, both_told, [*dict.fromkeys(notes), *_said_over(over)]


def _said_over(over: dict[str, Limits]) -> list[Note]:
    return [(f"scale of {name}", span_of(*limits), "a line over the headings says so") for name, limits in over.items()]


def _over_all(tables: list[Table], room: Room, told: set[str]) -> dict[str, Limits]:
    """The scale that lines over the headings tell of descriptors, where these agree and the marks lie on it."""
    said: dict[str, set[Limits | None]] = {}
    for table in tables:
        for name, numbers in _marks_by_name(table, room).items():
            low, high = table.scale or (np.nan, np.nan)
            on_it = len(numbers) and np.mean((numbers >= low) & (numbers <= high)) > _MOSTLY
            said.setdefault(name, set()).add(table.scale if on_it else None)
    one = {name: limits for name, each in said.items() if len(each) == 1 and (limits := next(iter(each)))}
    return {name: limits for name, limits in one.items() if plain(name) not in told}


def _highest_marks(table: Table, room: Room) -> dict[str, tuple[str, Limits]]:
    """Headings such as `Colour (10)` without their number, and that as the highest mark: all have one, no mark above.

    Numbers of pots or looks are small, and two headings differ in nothing else.
    """
    heads = [n for n, r in zip(table.names, table.roles, strict=True) if r in ("", SCORE, GIVEN)]
    found = {head: said for head in heads if (said := _BRACKETED.fullmatch(tidy(head)))}
    names = {plain(said["name"]) for said in found.values()}
    marks = _marks_by_name(table, room)
    fits = all(numbers.max(initial=0) <= float(found[head]["high"]) for head, numbers in marks.items() if head in found)
    if table.is_down or len(heads) < 2 or not len(found) == len(heads) == len(names) or not fits:
        return {}
    return {head: (said["name"], (np.nan, float(said["high"]))) for head, said in found.items()}


def _marks_by_name(table: Table, room: Room) -> dict[str, np.ndarray]:
    """The numbers under each descriptor of a table."""
    marks = [c for c, r in enumerate(table.roles) if r in ("", SCORE) and table.headers[c]]
    if not marks or not len(table.rows):
        return {}
    numbers = numbers_of(table, marks, room)
    down = next(iter(table.factors(DESCRIPTOR).values()), None)
    if down is not None:
        texts = down.texts
        by_row = {str(name): numbers[texts == name].ravel() for name in dict.fromkeys(texts) if name}
        return {name: each[~np.isnan(each)] for name, each in by_row.items()}
    by_name: dict[str, list[np.ndarray]] = {}
    for at, c in enumerate(marks):
        by_name.setdefault(tidy(table.names[c]), []).append(numbers[:, at])
    return {name: (whole := np.concatenate(each))[~np.isnan(whole)] for name, each in by_name.items()}


def _spelled(table: Table) -> list[str]:
    """Names that the room gave headings, but those to which a line below these added a scale."""
    columns = zip(table.names, table.roles, table.headers, strict=True)
    given = [(name, head, limits_beside(name)) for name, role, head in columns if role == GIVEN]
    return [name for name, head, told in given if not told or plain(told[0]) != plain(head)]


def _descriptors(table: Table) -> list[str]:
    """Every label of a table that may name a descriptor."""
    down = [tidy(value) for factor in table.factors(DESCRIPTOR).values() for value in factor.values]
    if down or table.is_down:
        return down
    return [tidy(n) for n, r in zip(table.names, table.roles, strict=True) if r in ("", SCORE, GIVEN)]


def _falling_together(table: Table, found: dict[str, tuple[str, Limits]]) -> list[str]:
    """Labels that would be one descriptor with another of the same table."""
    named: dict[str, set[str]] = {}
    for label in _descriptors(table):
        named.setdefault(plain(found[label][0] if label in found else label), set()).add(label)
    return [label for labels in named.values() if len(set(map(plain, labels))) > 1 for label in labels]


def _renamed(table: Table, names: dict[str, str]) -> Table:
    """The table with other names for descriptors."""
    extra, cells = dict(table.extra), dict(table._cells)
    for column, factor in table.factors(DESCRIPTOR).items():
        mapped = factor.map([names.get(tidy(v), v) for v in factor.values])
        if column is None:
            extra[DESCRIPTOR] = mapped
        else:
            cells[column] = mapped
    return replace(table, names=[names.get(tidy(name), name) for name in table.names], extra=extra, _cells=cells)
