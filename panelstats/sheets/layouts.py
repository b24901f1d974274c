"""Sheet -> Table: wide, long, lots or tasters across, one header row or two."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from panelstats.errors import SheetError
from panelstats.scores.cells import DESCRIPTOR, LOT, SCORE, SESSION, STAGE, TASTER
from panelstats.sheets.datarows import TOTALS, data_rows
from panelstats.sheets.dates import date_in, is_sitting
from panelstats.sheets.grid import Factor
from panelstats.sheets.headers import SEARCHED, Header, find_header
from panelstats.sheets.roles import (
    CODE,
    FACT,
    KEY_ROLES,
    LEFT_OUT,
    NAMELESS,
    STAGES,
    SYNONYMS,
    is_descriptor_word,
    role_of,
)
from panelstats.sheets.tables import Flaw, Table
from panelstats.sheets.text import is_empty, plain, tidy

if TYPE_CHECKING:
    from panelstats.sheets.grid import Sheet
    from panelstats.sheets.roles import Wishes
    from panelstats.sheets.room import Room

_NAME_LOT = 'name the column: columns={"their header": "lot"} (--column "their header=lot"), or leave the sheet out'


def understand(sheet: Sheet, wishes: Wishes, room: Room) -> Table | None:
    """The table in a sheet; None where the sheet holds no marks at all.

    Raises
    ------
    SheetError
        No lot can be found, or two header rows that nobody could tell apart.
    """
    header = find_header(sheet, wishes) if len(sheet) else None
    if header is None:
        if _holds_numbers(sheet):
            raise no_lot(sheet, widest_row(sheet))
        return None
    roles, names = _roles(header.labels, wishes)
    table = Table(sheet, header.labels, roles, names, np.arange(header.lower + 1, len(sheet)), header.lower)
    table = _flawed_columns(_one_column_a_role(table), header)
    table = _nameless(data_rows(_keys_above(table, header), header.lower), header)
    table = _stage_bands(_laid_out(table, header, room))
    if not table.tells(LOT) and not table.tells(CODE):
        raise no_lot(sheet, header.labels)
    return table


def no_lot(sheet: Sheet, headers: list[str]) -> SheetError:
    """The error for a sheet in which nothing is the lot."""
    found = ", ".join(h for h in headers[:30] if h) or "none"
    return SheetError(f"no column says which lot was tasted; headings found: {found}", where=sheet.label, do=_NAME_LOT)


def widest_row(sheet: Sheet) -> list[str]:
    """The row among the first that has most cells filled: most likely the headings."""
    rows = [[tidy(v) for v in sheet.row(r)] for r in range(min(SEARCHED, len(sheet)))]
    return max(rows, key=lambda row: sum(map(bool, row)), default=[])


def _holds_numbers(sheet: Sheet) -> bool:
    """Whether any cell begins like a number; a sheet of words alone holds no scores."""
    return any(
        not isinstance(v, str) or tidy(v)[:1].isdigit() for c in sheet.columns for v in c.values if v is not None
    )


def _roles(labels: list[str], wishes: Wishes) -> tuple[list[str], list[str]]:
    roles, names = [], []
    for label in labels:
        role, name = wishes.role(label) if label else ("", None)
        roles.append(FACT if plain(label) in TOTALS and not role else role)
        names.append(name or label)
    return roles, names


def _one_column_a_role(table: Table) -> Table:
    """Keep one column for each key, the most outspoken; several that the user named join to one key."""
    roles, notes = list(table.roles), list(table.notes)
    for role in KEY_ROLES:
        found = [c for c in table.where(role) if role_of(table.headers[c]) == role]
        if len(found) < 2:
            continue
        keep = min(found, key=lambda c: _outspoken(role, table.headers[c]))
        for c in found:
            if c != keep and plain(table.headers[c]) != plain(table.headers[keep]):
                roles[c] = FACT
                notes.append(
                    (f"column {table.headers[c]!r}", "a fact", f"the column {table.headers[keep]!r} names the {role}")
                )
    return replace(table, roles=roles, notes=notes)


def _outspoken(role: str, header: str) -> int:
    words = list(map(plain, SYNONYMS[role]))
    return words.index(plain(header)) if plain(header) in words else len(words)


def _flawed_columns(table: Table, header: Header) -> Table:
    """A column that stands there twice."""
    flaws = list(table.flaws)
    upper = header.upper or ("",) * len(table.headers)
    seen: dict[tuple[str, str], int] = {}
    for c, label in enumerate(table.headers):
        if not label:
            continue
        key = (plain(upper[c]), plain(label))
        if key in seen and table.roles[c] != LEFT_OUT:
            why = f"the column stands there twice, in columns {seen[key] + 1} and {c + 1}"
            told = (why, "take one away or rename it; to leave both out, columns={...: None} (--column)")
            flaws += [Flaw(None, k, "", *told) for k in (seen[key], c) if Flaw(None, k, "", *told) not in flaws]
        seen.setdefault(key, c)
    return replace(table, flaws=flaws)


def _nameless(table: Table, header: Header) -> Table:
    """Cells with no heading above them."""
    roles, flaws = list(table.roles), list(table.flaws)
    for c, label in enumerate(table.headers):
        cells = table.cells(c)
        filled = [i for i, v in enumerate(cells.values) if not is_empty(v)]
        if label or not filled or roles[c]:
            continue
        roles[c] = NAMELESS
        fields = table.sheet.fields
        if (
            fields is None or c < fields[max(header.lower, 0)]
        ):  # beyond the header's last cell the row itself is the flaw
            first = int(table.rows[np.flatnonzero(np.isin(cells.codes, filled))[0]])
            told = (
                f"{int(np.isin(cells.codes, filled).sum())} cells without a heading, in column {c + 1}",
                "give the column a heading, or empty it",
            )
            flaws.append(Flaw(first, c, tidy(table.sheet.columns[c].at(first)), *told))
    return replace(table, roles=roles, flaws=flaws)


def _keys_above(table: Table, header: Header) -> Table:
    """Keys named in the lines over the header, where no column tells them."""
    extra, notes = dict(table.extra), list(table.notes)
    for role, value in header.above:
        if role not in table.roles and not (role == LOT and CODE in table.roles):
            extra[role] = Factor.constant(value, len(table.rows))
            notes.append((f"{role} of {table.sheet.label}", value, "named above the header"))
    return replace(table, extra=extra, notes=notes)


def _laid_out(table: Table, header: Header, room: Room) -> Table:
    """Decide what runs across the sheet: descriptors, or lots, or tasters, or two of them."""
    table = replace(table, extra={k: Factor.constant(f.values[0], len(table.rows)) for k, f in table.extra.items()})
    marks = [c for c, role in enumerate(table.roles) if role == "" and table.headers[c]]
    if _lots_in_disguise(table, marks):
        roles = [DESCRIPTOR if r == LOT else r for r in table.roles]
        table = replace(table, roles=roles, extra={k: f for k, f in table.extra.items() if k != LOT})
    if table.is_down and SCORE in table.roles:
        return replace(table, roles=[r or (FACT if h else r) for r, h in zip(table.roles, table.headers, strict=True)])
    if header.upper and marks:
        return _two_across(table, header, marks, room)
    role = _one_across(table, marks, room)
    if role == SCORE:
        notes = [(f"column {table.headers[c]!r}", "the score", "no other column can be") for c in marks]
        return replace(
            table, notes=[*table.notes, *notes], roles=[SCORE if c in marks else r for c, r in enumerate(table.roles)]
        )
    return table if role == DESCRIPTOR else _across(table, marks, {role: table.headers})


def _stage_bands(table: Table) -> Table:
    """Rows that hold a stage and nothing else head the rows below them."""
    columns = table.where(DESCRIPTOR)
    if not columns or table.tells(STAGE):
        return table
    first = table.cells(columns[0])
    stages = np.array([STAGES.get(plain(v), "") for v in first.values], object)[first.codes]
    alone = np.ones(len(table.rows), bool)
    for c in range(len(table.headers)):
        if c != columns[0]:
            cells = table.cells(c)
            alone &= np.array([is_empty(v) for v in cells.values], bool)[cells.codes]
    band = alone & (stages != "")
    if not band.any():
        return table
    told = pd.Series(np.where(band, stages, None)).ffill().fillna("").to_numpy(object)
    keep = ~band
    extra = {k: f.take(keep) for k, f in table.extra.items()}
    codes, values = pd.factorize(told[keep])
    extra[STAGE] = Factor(codes.astype(np.int32), list(values))
    return replace(table, rows=table.rows[keep], extra=extra, _cells={}, _parsed={})


def _lots_in_disguise(table: Table, marks: list[int]) -> bool:
    """The heading `Lot` over words, with numbers for headings beside it: it names the row of lots, not the column."""
    columns = table.where(LOT)
    if len(columns) != 1 or len(marks) < 2 or DESCRIPTOR in table.roles:
        return False
    words = [tidy(v) for v in table.cells(columns[0]).values]
    digits = [any(ch.isdigit() for ch in table.headers[c]) for c in marks]
    return (
        all(digits)
        and not any(any(ch.isdigit() for ch in w) for w in words)
        and any(is_descriptor_word(w) for w in words)
    )


def _one_across(table: Table, marks: list[int], room: Room) -> str:
    """The role of a single row of headings: descriptors unless these stand in a column."""
    if table.is_down:
        if not (table.tells(LOT) or table.tells(CODE)):
            return LOT
        return SCORE if table.tells(TASTER) or len(marks) == 1 else TASTER
    labels = [table.headers[c] for c in marks]
    if not table.tells(TASTER) and marks:
        listed = room.get("tasters")
        known = listed is not None and {plain(x) for x in labels} <= set(listed[TASTER].map(plain))
        if known or (is_descriptor_word(table.sheet.name) and not any(is_descriptor_word(x) for x in labels)):
            return TASTER
    return DESCRIPTOR


def _across(table: Table, marks: list[int], labels: dict[str, list[str]]) -> Table:
    roles = [SCORE if c in marks else r for c, r in enumerate(table.roles)]
    across = {role: [x if c in marks else "" for c, x in enumerate(names)] for role, names in labels.items()}
    extra = dict(table.extra)
    if DESCRIPTOR not in roles and DESCRIPTOR not in across and DESCRIPTOR not in extra and table.sheet.name:
        extra[DESCRIPTOR] = Factor.constant(tidy(table.sheet.name), len(table.rows))
    said = ", ".join(f"{role}s" for role in across)
    return replace(
        table,
        roles=roles,
        across=across,
        extra=extra,
        notes=[*table.notes, (table.sheet.label, f"{said} across", "its headings say so")],
    )


def _two_across(table: Table, header: Header, marks: list[int], room: Room) -> Table:
    """Two rows of headings: which is which."""
    upper, lower = list(header.upper), table.headers
    left = [r for r in (LOT, TASTER, DESCRIPTOR) if not (table.tells(r) or (r == LOT and table.tells(CODE)))]
    above = [upper[c] for c in marks]
    if all(plain(x) in STAGES for x in above if x):
        names = [
            f"{STAGES[plain(u)]} {n}" if c in marks and u else n
            for c, (u, n) in enumerate(zip(upper, table.names, strict=True))
        ]
        return replace(table, names=names)
    corner = next((role_of(x) for x in header.corner if x and role_of(x) in left), "")
    first = (
        corner or _looks_like(above, left, room) or (SESSION if all(date_in(x) or is_sitting(x) for x in above) else "")
    )
    rest = [r for r in left if r != first]
    second = rest[0] if len(rest) == 1 else _looks_like([lower[c] for c in marks], rest, room)
    if not first and second:
        first = next((r for r in rest if r != second), "")
    if not first or not second:
        raise SheetError(
            "two rows of headings, and nothing tells which is the taster and which the descriptor",
            where=f"{table.sheet.label}, headings {_once(above)} over {_once([lower[c] for c in marks])}",
            do="write taster, lot or descriptor in the first cell of the upper row, over the first column",
        )
    if second == DESCRIPTOR:
        across = {first: [x if c in marks else "" for c, x in enumerate(upper)]}
        return replace(
            table,
            across=across,
            notes=[*table.notes, (table.sheet.label, f"{first}s over descriptors", "two rows of headings")],
        )
    return _across(table, marks, {first: upper, second: lower})


def _once(labels: list[str]) -> str:
    return ", ".join(dict.fromkeys(labels))


def _looks_like(labels: list[str], left: list[str], room: Room) -> str:
    """The role of a row of labels by its looks: numbers are lots, words of the trade descriptors, else as listed."""
    words = [x for x in dict.fromkeys(labels) if x]
    for role, name in ((TASTER, "tasters"), (DESCRIPTOR, "descriptors"), (LOT, "lots")):
        listed = room.get(name)
        if role in left and listed is not None and words and {plain(w) for w in words} <= set(listed[role].map(plain)):
            return role
    if LOT in left and words and all(any(ch.isdigit() for ch in w) for w in words):
        return LOT
    if DESCRIPTOR in left and sum(map(is_descriptor_word, words)) * 2 >= len(words) > 0:
        return DESCRIPTOR
    return ""


def left_out(table: Table) -> list[str]:
    """Headers the user asked to leave out."""
    return [h for h, r in zip(table.headers, table.roles, strict=True) if r == LEFT_OUT]
