"""Scales that headings tell, taken off the descriptors' names: `Brisk (1-10)` is brisk, from 1 to 10."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from panelstats.scores.cells import DESCRIPTOR, SCORE
from panelstats.scores.spelling import plain, tidy
from panelstats.sheets.content.limits import limits_beside, span_of
from panelstats.sheets.content.roles import GIVEN

if TYPE_CHECKING:
    from panelstats.sheets.content.limits import Limits
    from panelstats.sheets.room.room import Room
    from panelstats.sheets.tables.table import Note, Table


def told_limits(tables: list[Table], room: Room) -> tuple[list[Table], dict[str, Limits], list[Note]]:
    """Tables whose descriptors stand without the scales their headings tell, and those scales.

    A heading that the room itself spells with its scale stays; so do headings that tell two scales of one descriptor.

    Returns
    -------
    tables, limits, notes
        Limits by descriptor, as `plain` text.
    """
    given = {plain(n) for t in tables for n, r in zip(t.names, t.roles, strict=True) if r == GIVEN}
    found: dict[str, tuple[str, Limits]] = {}
    for label in dict.fromkeys(label for table in tables for label in _descriptors(table)):
        told = limits_beside(label)
        if told and plain(label) not in room.kinds and plain(label) not in given:
            found[label] = told
    ends: dict[str, set[Limits]] = {}
    for name, limits in found.values():
        ends.setdefault(plain(name), set()).add(limits)
    both = {label for table in tables for label in _falling_together(table, found)}
    found = {k: told for k, told in found.items() if len(ends[plain(told[0])]) == 1 and k not in both}
    if not found:
        return tables, {}, []
    notes = [(f"scale of {name}", span_of(*limits), "its heading says so") for name, limits in found.values()]
    renamed = [_renamed(table, {label: name for label, (name, _) in found.items()}) for table in tables]
    return renamed, {plain(name): limits for name, limits in found.values()}, list(dict.fromkeys(notes))


def _descriptors(table: Table) -> list[str]:
    """Every label of a table that may name a descriptor."""
    down = [tidy(value) for factor in table.factors(DESCRIPTOR).values() for value in factor.values]
    if down or table.is_down:
        return down
    return [tidy(n) for n, r in zip(table.names, table.roles, strict=True) if r in ("", SCORE)]


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
