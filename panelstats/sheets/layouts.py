"""Sheet -> Table: wide, long, anything across, one row of headings or several, one thing a heading or two."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from panelstats.errors import SheetError
from panelstats.scores.cells import DESCRIPTOR, LOOK, LOT, POT, SCORE, SESSION, STAGE, TASTER
from panelstats.sheets.bands import banded
from panelstats.sheets.datarows import data_rows
from panelstats.sheets.dates import is_generic
from panelstats.sheets.derived import without_totals
from panelstats.sheets.grid import Factor
from panelstats.sheets.headers import SEARCHED, Header, find_header, spread_right
from panelstats.sheets.headings import Level, Meaning, evidence, factored, meaning_of, stripped
from panelstats.sheets.keycolumns import filled_down, flawed_columns, nameless, one_column_a_role
from panelstats.sheets.roles import (
    CODE,
    DERIVED,
    FACT,
    GIVEN,
    KEY_ROLES,
    LEFT_OUT,
    NUMBERING,
    STAGES,
    UNNAMED,
    is_descriptor_word,
    role_of,
)  # fmt: skip
from panelstats.sheets.tables import Table, doubt
from panelstats.sheets.text import plain, tidy
from panelstats.sheets.totals import is_total, is_worked_out, may_be_total

if TYPE_CHECKING:
    from panelstats.sheets.grid import Sheet
    from panelstats.sheets.inquiry import Inquiry
    from panelstats.sheets.roles import Wishes
    from panelstats.sheets.room import Room


@dataclass(frozen=True)
class Context:
    """What the reading of one table may lean on: the room, its questions, and whether names tell its taster or lot."""

    wishes: Wishes
    room: Room
    inquiry: Inquiry
    named: frozenset[str] = frozenset()


def understand(sheet: Sheet, context: Context) -> Table | None:
    """The table in a sheet; None where the sheet holds no marks at all.

    Raises
    ------
    SheetError
        Nothing can be taken for headings.
    """
    header = find_header(sheet, context.wishes) if len(sheet) else None
    if header is None:
        if _holds_numbers(sheet):
            raise no_lot(sheet, widest_row(sheet))
        return None
    labels = _labels(header, context.wishes)
    roles, names = _roles(labels, header, context)
    rows = np.arange(header.lower + 1, len(sheet))
    wholes = [joined_heading(header, c) for c in range(len(labels))]
    table = Table(sheet, labels, roles, names, rows, header.lower, wholes=wholes)
    table = flawed_columns(one_column_a_role(table), header)
    table.notes.extend(
        (f"column {h!r} of {sheet.label}", "left out", "worked out from the others, as its heading says")
        for h, r in zip(labels, roles, strict=True) if r == DERIVED
    )  # fmt: skip
    marks = [c for c, role in enumerate(table.roles) if role in ("", GIVEN, SCORE) and labels[c]]
    table = data_rows(table, header.lower, marks)
    table = without_totals(nameless(_keys_above(table, header), header), context.room)
    table = banded(table, context)
    table = filled_down(_laid_out(table, header, context))
    if table.tells(LOT) or table.tells(CODE) or LOT in context.named:
        return table
    return _asked_for_lot(table, context)


def _asked_for_lot(table: Table, context: Context) -> Table | None:
    """The table once somebody says which heading is the lot."""
    heads = tuple(h for h, r in zip(table.headers, table.roles, strict=True) if h and r in ("", FACT, SCORE, NUMBERING))
    if not heads:
        raise no_lot(table.sheet, table.headers)
    free = [c for c, h in enumerate(table.headers) if h in heads]
    guess = max(free, key=lambda c: (len(table.cells(c).used()) > len(table.rows) / 4, -c))
    answer = context.inquiry.ask(
        "Which heading says which lot was tasted?", (table.sheet, None, guess, "", table.headers[guess]),
        seen=", ".join(heads[:20]), guess=table.headers[guess], allowed=heads, reason="",
    )  # fmt: skip
    if not answer:
        raise no_lot(table.sheet, table.headers)
    wishes = context.wishes.and_also(answer, LOT)
    return understand(table.sheet, replace(context, wishes=wishes, named=context.named | {LOT}))


def no_lot(sheet: Sheet, headers: list[str]) -> SheetError:
    """The error for a sheet in which nothing is the lot."""
    found = ", ".join(h for h in headers[:30] if h) or "none"
    return SheetError(
        f"no column says which lot was tasted; headings found: {found}", where=sheet.label,
        do="write lot over the column of lots, or say in room.xlsx which heading is the lot (panelstats start)",
    )  # fmt: skip


def widest_row(sheet: Sheet) -> list[str]:
    """The row among the first that has most cells filled: most likely the headings."""
    rows = [[tidy(v) for v in sheet.row(r)] for r in range(min(SEARCHED, len(sheet)))]
    return max(rows, key=lambda row: sum(map(bool, row)), default=[])


def _holds_numbers(sheet: Sheet) -> bool:
    """Whether any cell begins like a number; a sheet of words alone holds no scores."""
    return any(
        not isinstance(v, str) or tidy(v)[:1].isdigit() for c in sheet.columns for v in c.values if v is not None
    )


def _labels(header: Header, wishes: Wishes) -> list[str]:
    """The heading of each column: its lowest label, or an upper one that names a role where the lower is empty."""
    out = []
    for c in range(len(header.rows[-1])):
        stack = [row[c] for row in header.rows if row[c]]
        named = [x for x in stack if wishes.role(x)[0]]
        lowest = header.rows[-1][c]
        out.append(lowest or (named[-1] if named else ""))
    return out


def _roles(labels: list[str], header: Header, context: Context) -> tuple[list[str], list[str]]:
    roles, names = [], []
    for c, label in enumerate(labels):
        whole = joined_heading(header, c)
        role, name = context.wishes.role(whole) if label and whole != label else ("", None)
        if not role and label:
            role, name = context.wishes.role(label)
        roles.append(DERIVED if label and is_total(label) and role in ("", NUMBERING) else role)
        names.append(name or label)
    keyed = any(r in (LOT, TASTER, DESCRIPTOR, CODE) for r in roles)
    if header.lower >= 0 and labels and not labels[0] and not keyed:
        roles[0] = UNNAMED
    return roles, names


def _keys_above(table: Table, header: Header) -> Table:
    """Keys named in the lines over the headings, where no column tells them."""
    extra, notes = dict(table.extra), list(table.notes)
    for role, value in header.above:
        if role not in table.roles and not (role == LOT and CODE in table.roles):
            extra[role] = Factor.constant(value, len(table.rows))
            notes.append((f"{role} of {table.sheet.label}", value, "named above the headings"))
    return replace(table, extra=extra, notes=notes)


def _laid_out(table: Table, header: Header, context: Context) -> Table:
    """Decide what runs across the sheet: descriptors, or lots, or tasters, or two of them."""
    table = replace(table, extra={k: _refit(f, len(table.rows)) for k, f in table.extra.items()})
    table = _unnamed_side(table, header)
    marks = [c for c, role in enumerate(table.roles) if role in ("", GIVEN, DERIVED) and table.headers[c]]
    table = _corner_swapped(table, [c for c in marks if table.roles[c] == ""])
    if table.is_down and SCORE in table.roles:
        return replace(table, roles=[r or (FACT if h else r) for r, h in zip(table.roles, table.headers, strict=True)])
    table, mapped = _by_register(table, header, marks, context)
    free = [c for c in marks if table.roles[c] != GIVEN and c not in mapped]
    if mapped and not free:
        return table
    levels = _levels(table, header, free)
    if len(levels) > 1 and free:
        return _several_across(table, free, levels, context)
    return _single_across(table, free, context)


def _by_register(table: Table, header: Header, marks: list[int], context: Context) -> tuple[Table, list[int]]:
    """Columns of which the register `headings` says more than one thing, put where it says."""
    across, roles, mapped = dict(table.across), list(table.roles), []
    down = DESCRIPTOR in _told(table, context)
    for c in marks:
        keys = context.wishes.keys(joined_heading(header, c))
        if keys:
            mapped.append(c)
            roles[c] = SCORE if down and roles[c] in ("", GIVEN) else roles[c]
            for role, label in keys.items():
                across.setdefault(role, [""] * len(table.headers))[c] = label
    return replace(table, across=across, roles=roles), mapped


def joined_heading(header: Header, column: int) -> str:
    """The heading of a column in one text: its rows from the top down, spread cells included."""
    stack = [row[column] or next((x for x in reversed(row[:column]) if x), "") for row in header.rows[:-1]]
    return " / ".join(x for x in dict.fromkeys([*stack, header.rows[-1][column]]) if x)


def _refit(factor: Factor, size: int) -> Factor:
    return factor if len(factor.codes) == size else Factor.constant(factor.values[0], size)


def _unnamed_side(table: Table, header: Header) -> Table:
    """A first column without heading whose cells are labels: what it is follows from what it holds."""
    if header.lower < 0 or table.headers[0] or table.roles[0] != UNNAMED:
        return table
    cells = [tidy(v) for v in table.cells(0).values if tidy(v)]
    if sum(map(is_descriptor_word, cells)) * 2 >= len(cells):
        role = DESCRIPTOR
    elif sum(any(ch.isdigit() for ch in v) for v in cells) * 2 > len(cells):
        role = LOT
    else:
        across = [h for h in table.headers[1:] if h]
        role = DESCRIPTOR if across and all(any(ch.isdigit() for ch in h) for h in across) else TASTER
    headers = [role, *table.headers[1:]]
    note = (f"first column of {table.sheet.label}", role, "it has no heading; its cells look so")
    return replace(
        table,
        headers=headers,
        roles=[role, *table.roles[1:]],
        names=[role, *table.names[1:]],
        notes=[*table.notes, note],
    )


def _corner_swapped(table: Table, marks: list[int]) -> Table:
    """The heading `Lot` over descriptors, with lots for headings beside it: it names the row, not the column."""
    for role in (LOT, TASTER):
        columns = table.where(role)
        if len(columns) != 1 or len(marks) < 2 or DESCRIPTOR in table.roles:
            continue
        words = [tidy(v) for v in table.cells(columns[0]).values if tidy(v)]
        heads = [table.headers[c] for c in marks]
        numbered = all(any(ch.isdigit() for ch in h) for h in heads)
        descriptive = any(map(is_descriptor_word, words)) and not any(any(ch.isdigit() for ch in w) for w in words)
        if descriptive and (numbered if role == LOT else not any(map(is_descriptor_word, heads))):
            extra = {k: f for k, f in table.extra.items() if k != role}
            return replace(table, roles=[DESCRIPTOR if r == role else r for r in table.roles], extra=extra)
    return table


def _levels(table: Table, header: Header, marks: list[int]) -> list[Level]:
    """The rows of headings over the columns of marks, spread to the right, each with the word at its side."""
    keys = [r not in ("", GIVEN, DERIVED) for r in table.roles]
    levels = []
    for row in header.rows:
        spread = spread_right(row, keys) if row is not header.rows[-1] and _written_once(row, marks) else row
        labels = [spread[c] for c in marks]
        side = [row[c] for c, key in enumerate(keys) if key and row[c] and row[c] != table.headers[c]]
        if any(labels):
            level = stripped(labels)
            levels.append(replace(level, corner=next((x for x in reversed(side) if role_of(x)), "")))
    if len(levels) > 1:
        levels = [lv for lv in levels[:-1] if len(lv.distinct) > 1 or plain(lv.distinct[0]) in STAGES] + levels[-1:]
    return levels


def _written_once(row: list[str], marks: list[int]) -> bool:
    """Whether a row of headings leaves cells empty between its labels, which then hold to the right."""
    filled = [n for n, c in enumerate(marks) if row[c]]
    return len(filled) < 2 or filled[-1] - filled[0] + 1 > len(filled)


def _told(table: Table, context: Context) -> set[str]:
    told = {r for r in (LOT, TASTER, SESSION, STAGE, DESCRIPTOR, POT, LOOK) if table.tells(r)} | set(context.named)
    return told | ({LOT} if table.tells(CODE) else set())


def _listed(room: Room) -> dict[str, set[str]]:
    out = {}
    for role, name in ((TASTER, "tasters"), (DESCRIPTOR, "descriptors"), (LOT, "lots")):
        register = room.get(name)
        if register is not None:
            out[role] = set(register[role].map(plain))
    return out


def _single_across(table: Table, marks: list[int], context: Context) -> Table:
    """One row of headings, each naming one thing, or two in one text."""
    labels = [table.headers[c] for c in marks if not is_total(table.headers[c])]
    kept = [c for c in marks if not is_total(table.headers[c])]
    told = _told(table, context)
    if len(labels) >= 2:
        for pair in factored(labels):
            meaning = meaning_of(pair, told, _listed(context.room))
            if meaning is not None and _telling(pair, meaning):
                return _placed(table, kept, list(pair), meaning.roles, context.named)
    role = _one_across(table, kept, context)
    level = stripped(labels)
    if role == SCORE:
        notes = [(f"column {table.headers[c]!r}", "the score", "no other column can be") for c in kept]
        return replace(
            table, notes=[*table.notes, *notes], roles=[SCORE if c in kept else r for c, r in enumerate(table.roles)]
        )
    return table if role == DESCRIPTOR else _placed(table, kept, [level], (role,), context.named)


def _telling(pair: tuple[Level, Level], meaning: Meaning) -> bool:
    """Whether two parts of one heading are surely two things: one a known word or sign, and nothing already told."""
    if meaning.rivals or set(meaning.roles) == {STAGE, DESCRIPTOR}:
        return False
    parts = [evidence(level, role) for level, role in zip(pair, meaning.roles, strict=True)]
    return max(parts) >= 3 and min(parts) >= 2


def _one_across(table: Table, marks: list[int], context: Context) -> str:
    """What a single row of headings names: descriptors unless these stand in a column."""
    labels = [table.headers[c] for c in marks]
    told = _told(table, context)
    if table.is_down or DESCRIPTOR in told:
        if LOT not in told:
            return LOT
        return SCORE if TASTER in told or len(marks) == 1 else TASTER
    if not table.tells(TASTER) and marks:
        listed = _listed(context.room).get(TASTER)
        known = listed is not None and {plain(x) for x in labels} <= listed
        if known or (is_descriptor_word(table.sheet.name) and not any(is_descriptor_word(x) for x in labels)):
            return TASTER
        if TASTER not in context.named and len(labels) > 1 and not any(map(is_descriptor_word, labels)):
            return _asked_which(table, marks, context)
    return DESCRIPTOR


def _asked_which(table: Table, marks: list[int], context: Context) -> str:
    """Headings that may be tasters or descriptors of the room's own: asked, unless their looks tell."""
    level = stripped([table.headers[c] for c in marks])
    if level.prefix and role_of(level.prefix) == TASTER:
        return TASTER
    if level.prefix or any(ch.isdigit() for x in level.labels for ch in x) or SCORE in table.roles:
        return DESCRIPTOR
    heads = ", ".join(level.labels[:12])
    answer = context.inquiry.ask(
        f"Are these headings tasters or descriptors: {heads}?",
        (table.sheet, None, marks[0], "", table.headers[marks[0]]),
        seen=heads, guess="tasters", allowed=("tasters", "descriptors"),
        reason="headings that may be tasters or descriptors",
    )  # fmt: skip
    if not answer:
        table.flaws.append(doubt())
    return DESCRIPTOR if answer == "descriptors" else TASTER


def _several_across(table: Table, marks: list[int], levels: list[Level], context: Context) -> Table:
    """Several rows of headings: what each names; asked where nothing tells."""
    told = _told(table, context)
    if DESCRIPTOR not in told and {TASTER, LOT} <= told and all(plain(x) in STAGES for x in levels[0].distinct):
        told = told - {STAGE}
    meaning = meaning_of(levels, told, _listed(context.room))
    if meaning is None or meaning.rivals:
        meaning = _asked_levels(table, levels, meaning, context)
    if meaning is None:
        over = " over ".join(", ".join(lv.distinct[:6]) for lv in levels)
        raise SheetError(
            "rows of headings that nobody could tell apart", where=f"{table.sheet.label}, headings {over}",
            do="write taster, lot or descriptor at the side of each row of headings",
        )  # fmt: skip
    return _placed(table, marks, levels, meaning.roles, context.named)


def _asked_levels(table: Table, levels: list[Level], meaning: Meaning | None, context: Context) -> Meaning | None:
    if meaning is None:
        return None
    ways = (meaning.roles, *meaning.rivals)
    spelled = {" over ".join(f"{role}s" for role in way): way for way in ways}
    over = " over ".join(", ".join(lv.distinct[:6]) for lv in levels)
    answer = context.inquiry.ask(
        f"What do the rows of headings name: {over}?", (table.sheet, None, None, over, ""),
        seen=over, guess=next(iter(spelled)), allowed=tuple(spelled),
        reason="two rows of headings, and nothing tells which is the taster and which the descriptor",
    )  # fmt: skip
    if not answer:
        table.flaws.append(doubt())
    return Meaning(spelled[answer or next(iter(spelled))])


def _placed(
    table: Table, marks: list[int], levels: list[Level], roles: tuple[str, ...], named: frozenset[str] = frozenset()
) -> Table:
    """The table with what each level names put over its columns."""
    across, names, new = dict(table.across), list(table.names), list(table.roles)
    by_role = dict(zip(roles, levels, strict=True))
    for role, level in by_role.items():
        if role == DESCRIPTOR:
            for c, label in zip(marks, level.labels, strict=True):
                names[c] = label or names[c]
        else:
            labels = list(across.get(role, [""] * len(table.headers)))
            for c, label in zip(marks, level.labels, strict=True):
                labels[c] = label
            across[role] = labels
    for n, c in enumerate(marks):
        mine = [level.labels[n] for level in levels]
        if any(map(is_worked_out, mine)) or ("" in mine and any(map(may_be_total, mine))):
            new[c] = DERIVED
        elif DESCRIPTOR not in roles:
            new[c] = SCORE
        elif new[c] == "":
            role = role_of(names[c])
            new[c] = role if role not in KEY_ROLES else ""
    extra = dict(table.extra)
    if DESCRIPTOR not in roles and DESCRIPTOR not in new and DESCRIPTOR not in extra and DESCRIPTOR not in named:
        extra[DESCRIPTOR] = Factor.constant(_sheet_word(table), len(table.rows))
    if STAGE in across and DESCRIPTOR in roles:
        names = [f"{STAGES.get(plain(s), s)} {n}" if s else n for n, s in zip(names, across.pop(STAGE), strict=True)]
    said = " over ".join(f"{role}s" for role in roles)
    notes = [*table.notes, (table.sheet.label, f"{said} across", "its headings say so")]
    worked = dict.fromkeys(
        x for n, c in enumerate(marks) if new[c] == DERIVED for lv in levels if may_be_total(x := lv.labels[n])
    )
    notes += [
        (f"columns {x!r} of {table.sheet.label}", "left out", "worked out from the others, as its heading says")
        for x in worked
    ]
    return replace(table, roles=new, names=names, across=across, extra=extra, notes=notes)


def _sheet_word(table: Table) -> str:
    """The descriptor a whole sheet is about: its name, unless a spreadsheet gave it."""
    name = tidy(table.sheet.name)
    return SCORE if not name or is_generic(name) else name


def left_out(table: Table) -> list[str]:
    """Headers the user asked to leave out."""
    return [h for h, r in zip(table.headers, table.roles, strict=True) if r == LEFT_OUT]
