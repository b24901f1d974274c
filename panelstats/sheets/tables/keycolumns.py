"""Key columns put in order: one column a key, each with a heading, labels written once carried down."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from panelstats.scores.cells import DESCRIPTOR, LOOK, LOT, POSITION, POT, SESSION, STAGE, TASTER
from panelstats.scores.spelling import plain, tidy
from panelstats.sheets.content.roles import (
    CODE,
    FACT,
    KEY_ROLES,
    LEFT_OUT,
    NAMELESS,
    NUMBERING,
    REMARK,
    STAGES,
    SYNONYMS,
    role_of,
)
from panelstats.sheets.content.text import are_numbers, is_ditto, is_empty
from panelstats.sheets.tables.table import Flaw

if TYPE_CHECKING:
    from panelstats.sheets.content.wishes import Wishes
    from panelstats.sheets.room.room import Room
    from panelstats.sheets.tables.headers import Header
    from panelstats.sheets.tables.table import Table

_ONCE_WRITTEN = (SESSION, LOT, TASTER, STAGE, DESCRIPTOR, CODE)
_NOTE = "note"
_ODD = 0.05  # share of rows that may say the same by a slip of the pen (ours)
_ONCE = 1.5  # rows a label, on the average, from which a column is one of labels written once (ours)


def one_column_a_role(table: Table) -> Table:
    """Keep one column for each key, the most outspoken; several that the user named join to one key."""
    for role in KEY_ROLES:
        found = [c for c in table.where(role) if role_of(table.headers[c]) == role]
        keep = min(found, key=lambda c: _outspoken(role, table.headers[c]), default=-1)
        for c in found:
            header, kept = table.headers[c], table.headers[keep]
            if plain(header) != plain(kept):
                why = f"the column {kept!r} names the {role}"
                table = table.taking({c: FACT}, (f"column {header!r}", "a fact", why))
    return table


def marked_cups(table: Table, wishes: Wishes) -> Table:
    """The table with `Cup` beside `Leaf` and `Infusion` as a stage that was marked, where it tells no rows apart."""
    stages = {c: STAGES[word] for c, head in enumerate(table.headers) if (word := plain(head)) in STAGES}
    cups = [c for c in table.where(POT) if c in stages and not wishes.says(table.headers[c])]
    others = {stage for c, stage in stages.items() if c not in cups}
    if not cups or not others or stages[cups[0]] in others or (len(cups) == 1 and _tells_apart(table, cups[0])):
        return table
    return table.taking(dict.fromkeys(cups, ""))


def marked_notes(table: Table, wishes: Wishes) -> Table:
    """The table with a column headed `Note` that holds numbers as one of marks: German and French call a mark so."""
    notes = [c for c in table.where(REMARK) if plain(table.headers[c]).split()[:1] == [_NOTE]]
    said = {c: table.cells(c).said for c in notes if not wishes.says(table.headers[c])}
    return table.taking({c: "" for c, texts in said.items() if are_numbers(texts).sum() * 2 > len(texts)})


def _tells_apart(table: Table, column: int) -> bool:
    """Whether rows filled in a column say the same in all other keys, more than a few of them."""
    table = filled_down(table.only(~table.cells(column).mask(is_empty)))
    keys = [c for role in (SESSION, LOT, TASTER, CODE, LOOK) for c in table.where(role)]
    return bool(pd.DataFrame({c: table.cells(c).codes for c in keys}).duplicated().mean() > _ODD)


def _outspoken(role: str, header: str) -> int:
    words = list(map(plain, SYNONYMS[role]))
    return words.index(plain(header)) if plain(header) in words else len(words)


def listed_codes(table: Table, room: Room) -> Table:
    """The table with a column of cups or numbers as that of codes, where no lot is told and the room lists them so."""
    register = room.get("codes")
    if register is None or table.tells(LOT) or table.tells(CODE):
        return table
    listed = {*register[CODE]}
    for c in (*table.where(POT), *table.where(NUMBERING)):
        met = {*table.cells(c).said}
        if met and 2 * len(met & listed) >= len(met):
            what = f"column {table.headers[c]!r} of {table.sheet.label}"
            return table.taking({c: CODE}, (what, CODE, "the register codes lists what it holds"))
    return table


def flawed_columns(table: Table, header: Header) -> Table:
    """A column that stands there twice, under the same headings."""
    flaws = list(table.flaws)
    seen: dict[tuple[str, ...], int] = {}
    spread = [_carried(row) for row in header.rows[:-1]]
    for c, label in enumerate(table.headers):
        if not label:
            continue
        key = (*(plain(row[c]) for row in spread), plain(label))
        if key in seen and table.roles[c] != LEFT_OUT:
            why = f"the column stands there twice, in columns {seen[key] + 1} and {c + 1}"
            told = (why, "take one away or rename it; or write in room.xlsx, sheet headings, that it is left out")
            flaws += [Flaw(None, k, "", *told) for k in (seen[key], c) if Flaw(None, k, "", *told) not in flaws]
        seen.setdefault(key, c)
    return replace(table, flaws=flaws)


def _carried(row: list[str]) -> list[str]:
    return pd.Series([x or None for x in row], dtype=object).ffill().fillna("").tolist()


def nameless(table: Table, header: Header) -> Table:
    """Cells with no heading above them."""
    roles, flaws = list(table.roles), list(table.flaws)
    for c, label in enumerate(table.headers):
        if label or roles[c] or not (cells := table.cells(c)).said:
            continue
        roles[c] = NAMELESS
        fields = table.sheet.fields
        if fields is None or c < fields[max(header.lower, 0)]:  # beyond the last heading the row itself is the flaw
            filled = table.rows[~cells.mask(is_empty)]
            first, what = int(filled[0]), f"{len(filled)} cells without a heading, in column {c + 1}"
            value = tidy(table.sheet.columns[c].at(first))
            flaws.append(Flaw(first, c, value, what, "give the column a heading, or empty it"))
    return replace(table, roles=roles, flaws=flaws)


def as_above(table: Table) -> Table:
    """Signs that stand for what stands above them are given it, in every column that holds no marks."""
    for c, role in enumerate(table.roles):
        if role not in (*_ONCE_WRITTEN, FACT):
            continue
        signs = table.cells(c).mask(is_ditto)
        if not signs.any():
            continue
        said = ~signs & ~table.cells(c).mask(is_empty)
        carried = np.maximum.accumulate(np.where(said, np.arange(len(said)), -1))
        if (lost := np.flatnonzero(signs & (carried < 0))).size:
            first = int(table.rows[lost[0]])
            why = "a sign for what stands above, and nothing stands there"
            flaw = Flaw(first, c, tidy(table.sheet.columns[c].at(first)), why, "write out what is meant")
            table = replace(table, flaws=[*table.flaws, flaw])
        place = np.where(signs & (carried >= 0), carried, np.arange(len(said)))
        what = f"column {table.headers[c]!r} of {table.sheet.label}"
        told = what, "signs for what stands above", "each is given what stands there"
        table = table.noting(told, _cells={**table._cells, c: table.cells(c).take(place)})
    return table


def lots_made_dates(table: Table) -> Table:
    """Dates among the labels of lots that are none: a spreadsheet makes them of "1-12" or "12/24"."""
    if len(found := table.where(LOT)) != 1:
        return table
    cells = table.cells(found[0])
    dates = cells.mask(isinstance, date)
    others = ~dates & ~cells.mask(is_empty)
    if not dates.any() or not others.any():
        return table
    why, do = "a date among lots that are none", "type the lot again, as text: a spreadsheet may have made a date of it"
    flaws = [Flaw(int(table.rows[n]), found[0], tidy(cells.at(int(n))), why, do) for n in np.flatnonzero(dates)]
    return replace(table, flaws=[*table.flaws, *flaws])


def filled_down(table: Table) -> Table:
    """Labels written once over the rows they speak for are given to each of these rows."""
    once = {table.where(role)[0]: role for role in _ONCE_WRITTEN if len(table.where(role)) == 1}
    empty = {column: table.cells(column).mask(is_empty) for column in once}
    for column in sorted(once, key=lambda column: empty[column].sum()):  # inner keys before those around them
        table = _down(table, once[column], column, empty[column])
    return table


def _down(table: Table, role: str, column: int, empty: np.ndarray) -> Table:
    filled = int((~empty).sum())
    if not 0 < filled < len(empty) or empty[0] or len(empty) < max(_ONCE * filled, 3):
        return table
    if not _blocks_differ(table, column, empty):
        return table
    carried = np.maximum.accumulate(np.where(empty, 0, np.arange(len(empty))))
    what = f"{role} of {table.sheet.label}", f"column {table.headers[column]!r}"
    told = (*what, "written once, it holds for the rows below")
    return table.noting(told, _cells={**table._cells, column: table.cells(column).take(carried)})


def _blocks_differ(table: Table, column: int, empty: np.ndarray) -> bool:
    """Whether the rows under each label differ in another key, as rows of one label do."""
    block = np.cumsum(~empty)
    keys = [c for c, role in enumerate(table.roles) if role in (*_ONCE_WRITTEN, POT, POSITION) and c != column]
    if not keys:
        return True
    frame = pd.DataFrame({"block": block, **{str(c): table.cells(c).codes for c in keys}})
    return bool(frame.duplicated().mean() < _ODD)
