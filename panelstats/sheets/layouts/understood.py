"""Sheet -> Table: wide, long, anything across, one row of headings or several, one thing a heading or two."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from panelstats.errors import SheetError
from panelstats.scores.cells import DESCRIPTOR, LOT, SCORE, TASTER
from panelstats.scores.spelling import plain, tidy
from panelstats.sheets.content.roles import CODE, DERIVED, FACT, GIVEN, LEFT_OUT, NUMBERING, UNNAMED
from panelstats.sheets.content.totals import is_total, may_be_total
from panelstats.sheets.files.grid import Factor
from panelstats.sheets.layouts.across import laid_across
from panelstats.sheets.layouts.bands import banded
from panelstats.sheets.layouts.byname import NO_LOT, ask_by_name, guesses, hides_keys, lots_by_invoice
from panelstats.sheets.layouts.corners import with_side
from panelstats.sheets.layouts.groups import FACTS
from panelstats.sheets.layouts.laying import told_roles, with_one_word
from panelstats.sheets.layouts.nested import unnested, unsummed
from panelstats.sheets.tables.datarows import data_rows
from panelstats.sheets.tables.headers import SEARCHED, Header, find_header, title_word
from panelstats.sheets.tables.keycolumns import (
    as_above,
    filled_down,
    flawed_columns,
    listed_codes,
    lots_made_dates,
    marked_cups,
    marked_notes,
    nameless,
    one_column_a_role,
)
from panelstats.sheets.tables.lotrows import rows_of_facts
from panelstats.sheets.tables.table import Context, Table, doubt
from panelstats.sheets.tables.totalrows import without_totals

if TYPE_CHECKING:
    from panelstats.sheets.content.wishes import Wishes
    from panelstats.sheets.files.grid import Sheet
    from panelstats.sheets.tables.lotrows import LotRow


def understand(sheet: Sheet, context: Context) -> Table | None:
    """The table in a sheet; None where the sheet holds no marks at all.

    Raises
    ------
    SheetError
        Nothing can be taken for headings.
    """
    told = rows_of_facts(sheet, context.wishes)
    asked = dict(context.inquiry.asked)
    if told and (table := _without(sheet, told, context)):
        return table
    context.inquiry.asked = asked
    return _understood(sheet, (), context)


def _without(sheet: Sheet, told: tuple[LotRow, ...], context: Context) -> Table | None:
    """The table without rows of facts about the lots, None where lots turn out not to run across."""
    try:
        table = _understood(sheet, told, context)
    except SheetError:
        return None
    return replace(table, told=(*table.told, *told)) if table is not None and LOT in table.across else None


def _understood(sheet: Sheet, told: tuple[LotRow, ...], context: Context) -> Table | None:
    apart = [each.row for each in told]
    header = find_header(sheet, context.wishes, apart) if len(sheet) else None
    if header is None:
        if _holds_numbers(sheet):
            raise no_lot(sheet, widest_row(sheet))
        return None
    table = _headed(sheet, header, apart, context)
    table = marked_notes(table, context.wishes)
    marks = [c for c, role in enumerate(table.roles) if role in ("", GIVEN, SCORE) and table.headers[c]]
    table = data_rows(table, header.lower, marks)
    table = listed_codes(_keys_above(table, header), context.room)
    table = without_totals(nameless(table, header), context.room)
    table = unnested(banded(table, header, context), context)
    if not context.asked and hides_keys(table, context):
        return _asked_by_name(table, context, lotless=False)
    asked, before = dict(context.inquiry.asked), replace(table, flaws=list(table.flaws))
    table = lots_made_dates(as_above(_laid_out(table, header, context)))
    table = _with_facts(unsummed(filled_down(table)), header, context)
    if table.tells(LOT) or table.tells(CODE) or LOT in context.named:
        return table
    if context.asked:
        raise no_lot(sheet, table.headers)
    context.inquiry.asked = asked  # what was asked of a layout without a lot falls with it
    if columns := lots_by_invoice(before, context.wishes):
        return _by_invoice(before, columns, context)
    return _asked_by_name(before, context, lotless=True)


def _headed(sheet: Sheet, header: Header, apart: list[int], context: Context) -> Table:
    """The table below its headings, each column with the role that its heading names."""
    labels = _labels(header, context.wishes)
    roles, names = _roles(labels, header, context)
    rows = np.arange(header.lower + 1, len(sheet))
    rows = rows[~np.isin(rows, apart)]
    wholes = [joined_heading(header, c) for c in range(len(labels))]
    table = Table(sheet, labels, roles, names, rows, header.lower, wholes=wholes)
    table = replace(table, title=title_word(header), scale=header.told.scale)
    table = flawed_columns(one_column_a_role(marked_cups(table, context.wishes)), header)
    why = "worked out from the others, as its heading says"
    worked = [head for head, role in zip(labels, roles, strict=True) if role == DERIVED]
    table = table.noting(*((f"column {head!r} of {sheet.label}", "left out", why) for head in worked))
    why = "a row of labels over the headings, and nothing tells what they name"
    lost = [", ".join(dict.fromkeys(filter(None, row))) for row in header.lost]
    return table.noting(*((f"headings {labels} of {sheet.label}", "left out", why) for labels in lost))


def _asked_by_name(table: Table, context: Context, *, lotless: bool) -> Table | None:
    """The table as the answers say, or else as guessed; while one is open all its marks wait."""
    found = guesses(table, context, lotless=lotless)
    if lotless and LOT not in found.values():
        raise no_lot(table.sheet, table.headers)
    answers = ask_by_name(table, found, context, lotless=lotless)
    wishes = context.wishes
    for c, guess in found.items():
        word, head = answers[c] or guess, table.headers[c]
        wishes = wishes.and_also(head, head if word == SCORE else word)
    said = understand(table.sheet, replace(context, wishes=wishes, asked=True))
    waiting = frozenset(c for c, answer in answers.items() if not answer)
    if said is None or not waiting:
        return said
    return replace(said, flaws=[*said.flaws, doubt()], waiting=waiting)


def _by_invoice(table: Table, columns: list[int], context: Context) -> Table | None:
    """The table whose lots are told by invoice, or by garden and invoice."""
    wishes = context.wishes
    for c in columns:
        wishes = wishes.and_also(table.headers[c], LOT)
    found = understand(table.sheet, replace(context, wishes=wishes))
    heads = ", ".join(table.headers[c] for c in columns)
    told = (f"lot of {table.sheet.label}", heads, "no column is headed lot, and an invoice of a garden is one")
    return found and found.noting(told)


def no_lot(sheet: Sheet, headers: list[str]) -> SheetError:
    """The error for a sheet in which nothing is the lot."""
    found = ", ".join(h for h in headers[:30] if h) or "none"
    return SheetError(
        f"{NO_LOT}; headings found: {found}", where=sheet.label,
        do="write lot over the column of lots, or say in room.xlsx, sheet headings, which heading is the lot",
    )  # fmt: skip


def widest_row(sheet: Sheet) -> list[str]:
    """The row among the first that has most cells filled: most likely the headings."""
    rows = sheet.lines(0, SEARCHED)
    return max(rows, key=lambda row: sum(map(bool, row)), default=[])


def _holds_numbers(sheet: Sheet) -> bool:
    """Whether any cell begins like a number; a sheet of words alone holds no scores."""
    cells = (value for column in sheet.columns for value in column.values if value is not None)
    return any(not isinstance(value, str) or tidy(value)[:1].isdigit() for value in cells)


def _labels(header: Header, wishes: Wishes) -> list[str]:
    """The heading of each column: its lowest label, or an upper one that names a role where the lower is empty."""
    # Every heading is asked for: what was said of one is met wherever it stands.
    named = [
        [x for x in column if x and (wishes.role(x)[0] or may_be_total(x))] for column in zip(*header.rows, strict=True)
    ]
    return [lowest or (some[-1] if some else "") for lowest, some in zip(header.rows[-1], named, strict=True)]


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
    told = {
        role: value for role, value in header.told.keys.items()
        if role not in table.roles and not (role == LOT and CODE in table.roles)
    }  # fmt: skip
    extra = {role: Factor.constant(value, len(table.rows)) for role, value in told.items()}
    notes = [(f"{role} of {table.sheet.label}", value, "named above the headings") for role, value in told.items()]
    return table.noting(*notes, extra={**table.extra, **extra})


def _with_facts(table: Table, header: Header, context: Context) -> Table:
    """Facts over groups of lots, or in the lines over a table of one lot, are theirs; what nobody uses is said.

    A garden or grade over a table of many lots is that of all, unless a column tells it.
    """
    for name in FACTS:
        if name in table.extra:
            table = table.with_fact(name, table.extra[name].texts)
    facts, unused = header.told.facts, list(header.told.unused)
    one = LOT in table.extra or (LOT in context.named and not table.tells(LOT))
    known = {*map(plain, table.names)}
    for name, value in facts.items():
        kind = context.wishes.role(name)[1] or plain(name)
        if one or (kind in (*FACTS, "estate") and kind not in known):
            table = table.with_fact(name.rstrip(" :"), np.full(len(table.rows), value, object))
        else:
            unused.append(f"{name.rstrip(' :')}: {value}")
    where = f"over the headings of {table.sheet.label}"
    return table.noting(*((where, said, "not used") for said in dict.fromkeys(unused)))


def _laid_out(table: Table, header: Header, context: Context) -> Table:
    """Decide what runs across the sheet: descriptors, or lots, or tasters, or two of them."""
    marks = [c for c, role in enumerate(table.roles) if role in ("", GIVEN, DERIVED) and table.headers[c]]
    table = with_side(table, header, [c for c in marks if table.roles[c] == ""])
    marks = [c for c in marks if table.roles[c] in ("", GIVEN, DERIVED)]
    if table.is_down and SCORE in table.roles:
        return replace(table, roles=[r or (FACT if h else r) for r, h in zip(table.roles, table.headers, strict=True)])
    table, mapped = _by_register(table, header, marks, context)
    settled = (GIVEN, DERIVED) if mapped else (GIVEN,)
    free = [c for c in marks if table.roles[c] not in settled and c not in mapped]
    if mapped and not free:
        return table
    return laid_across(table, header, free, context)


def _by_register(table: Table, header: Header, marks: list[int], context: Context) -> tuple[Table, list[int]]:
    """Columns of which the register `headings` says more than one thing, put where it says."""
    across, roles, mapped = dict(table.across), list(table.roles), []
    down = DESCRIPTOR in told_roles(table, context)
    plainly = []
    for c in marks:
        whole = joined_heading(header, c)
        keys = context.wishes.keys(whole)
        if keys:
            mapped.append(c)
            if roles[c] in ("", GIVEN) and not (down or context.wishes.scores(whole) or DESCRIPTOR in context.named):
                plainly.append(c)
            roles[c] = SCORE if (down or c in plainly) and roles[c] in ("", GIVEN) else roles[c]
            for role, label in keys.items():
                across.setdefault(role, [""] * len(table.headers))[c] = label
    table = replace(table, across=across, roles=roles)
    return (with_one_word(table, context.named) if plainly else table), mapped


def joined_heading(header: Header, column: int) -> str:
    """The heading of a column in one text: its rows from the top down, spread cells included."""
    stack = [row[column] or next((x for x in reversed(row[:column]) if x), "") for row in header.rows[:-1]]
    return " / ".join(x for x in dict.fromkeys([*stack, header.rows[-1][column]]) if x)


def left_out(table: Table) -> list[str]:
    """Headers the user asked to leave out."""
    return [h for h, r in zip(table.headers, table.roles, strict=True) if r == LEFT_OUT]
