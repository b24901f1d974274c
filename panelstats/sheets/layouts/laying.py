"""Putting what headings name over the columns of a table."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from panelstats.scores.cells import DESCRIPTOR, LOOK, LOT, POT, SCORE, SESSION, STAGE, TASTER
from panelstats.scores.dates import is_generic, is_sitting
from panelstats.scores.spelling import plain, tidy
from panelstats.sheets.content.roles import CODE, DERIVED, KEY_ROLES, STAGES, role_of
from panelstats.sheets.content.totals import is_worked_out, may_be_total
from panelstats.sheets.files.grid import Factor

if TYPE_CHECKING:
    from panelstats.sheets.tables.headings import Level
    from panelstats.sheets.tables.table import Context, Table


def told_roles(table: Table, context: Context) -> set[str]:
    """Roles that columns, lines above the headings, or names of sheets tell already."""
    told = {r for r in (LOT, TASTER, SESSION, STAGE, DESCRIPTOR, POT, LOOK) if table.tells(r)} | set(context.named)
    return told | ({LOT} if table.tells(CODE) else set())


def placed(
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
    table = replace(table, roles=new)
    if DESCRIPTOR not in (*roles, *named):
        table = with_one_word(table, named)
    if STAGE in across and DESCRIPTOR in roles:
        names = [f"{STAGES.get(plain(s), s)} {n}" if s else n for n, s in zip(names, across.pop(STAGE), strict=True)]
    way = " over ".join(f"{role}s" for role in roles)
    notes = [(table.sheet.label, f"{way} across", "its headings say so")]
    derived = [n for n, c in enumerate(marks) if new[c] == DERIVED]
    worked = dict.fromkeys(x for n in derived for level in levels if may_be_total(x := level.labels[n]))
    why = "worked out from the others, as its heading says"
    notes += [(f"columns {x!r} of {table.sheet.label}", "left out", why) for x in worked]
    return table.noting(*notes, names=names, across=across)


def with_one_word(table: Table, named: frozenset[str]) -> Table:
    """The table with the descriptor that all its marks are of, where nothing on it tells one.

    `named` are the keys that names of sheets and files tell: a name that tells one is no descriptor's.
    """
    if table.tells(DESCRIPTOR):
        return table
    word = Factor.constant(SCORE if named and not table.title else _sheet_word(table), len(table.rows))
    return replace(table, extra={**table.extra, DESCRIPTOR: word})


def _sheet_word(table: Table) -> str:
    """The descriptor a whole sheet is about: its title or its name, unless a spreadsheet gave it."""
    if table.title:
        return table.title
    name = tidy(table.sheet.name)
    return SCORE if not name or is_generic(name) or is_sitting(name) else name
