"""What stands in the corner of a table: it names the column below it, the row beside it, or both."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from panelstats.scores.cells import DESCRIPTOR, LOT, TASTER
from panelstats.sheets.content.roles import UNNAMED, is_descriptor_word, two_roles
from panelstats.sheets.content.text import has_digit
from panelstats.sheets.tables.headings import evidence, stripped

if TYPE_CHECKING:
    from panelstats.sheets.tables.headers import Header
    from panelstats.sheets.tables.table import Table


def with_side(table: Table, header: Header, marks: list[int]) -> Table:
    """The table with the key that its first column holds, where its corner leaves that open; nothing is across yet."""
    return _corner_swapped(_corner_of_two(_unnamed_side(table, header), marks), marks)


def _corner_of_two(table: Table, marks: list[int]) -> Table:
    """A corner such as `Lot / Taster`: of the two, the side is what its cells look more like."""
    named = two_roles(table.headers[0])
    over = stripped([table.headers[c] for c in marks if c])
    if not named or table.roles[0] or not over.distinct:
        return table
    side = stripped(table.cells(0).said)
    fits = {role: evidence(side, role) + evidence(over, other) for role, other in (named, reversed(named))}
    role = max(fits, key=lambda role: (fits[role], -named.index(role)))
    note = (f"first column of {table.sheet.label}", role, "its corner names two things; its cells look so")
    return table.taking({0: role}, note)


def _unnamed_side(table: Table, header: Header) -> Table:
    """A first column without heading whose cells are labels: what it is follows from what it holds."""
    if header.lower < 0 or table.headers[0] or table.roles[0] != UNNAMED:
        return table
    cells = table.cells(0).said
    if sum(map(is_descriptor_word, cells)) * 2 >= len(cells):
        role = DESCRIPTOR
    elif sum(map(has_digit, cells)) * 2 > len(cells):
        role = LOT
    else:
        across = [h for h in table.headers[1:] if h]
        role = DESCRIPTOR if across and all(map(has_digit, across)) else TASTER
    note = (f"first column of {table.sheet.label}", role, "it has no heading; its cells look so")
    named = replace(table, headers=[role, *table.headers[1:]], names=[role, *table.names[1:]])
    return named.taking({0: role}, note)


def _corner_swapped(table: Table, marks: list[int]) -> Table:
    """The heading `Lot` over descriptors, with lots for headings beside it: it names the row, not the column."""
    for role in (LOT, TASTER):
        columns = table.where(role)
        if len(columns) != 1 or not marks or DESCRIPTOR in table.roles:
            continue
        words, heads = table.cells(columns[0]).said, [table.headers[c] for c in marks]
        numbered = all(map(has_digit, heads))
        descriptive = any(map(is_descriptor_word, words)) and not any(map(has_digit, words))
        if descriptive and (numbered if role == LOT else not any(map(is_descriptor_word, heads))):
            extra = {k: f for k, f in table.extra.items() if k != role}
            return replace(table, extra=extra).taking({columns[0]: DESCRIPTOR})
    return table
