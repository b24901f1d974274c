"""Rows that hold one label and nothing else: they head the rows below them."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from panelstats.scores.cells import DESCRIPTOR, LOT, SESSION, STAGE, TASTER
from panelstats.scores.dates import date_in, is_sitting
from panelstats.scores.spelling import plain
from panelstats.sheets.content.roles import CODE, STAGES, UNNAMED, role_of
from panelstats.sheets.content.text import is_empty
from panelstats.sheets.layouts.groups import grouped, headed_by, may_be_groups
from panelstats.sheets.tables.headings import evidence, stripped

if TYPE_CHECKING:
    from panelstats.sheets.tables.headers import Header
    from panelstats.sheets.tables.table import Context, Table


_LIKELY = 2.5  # evidence from which labels are taken for a key (ours)


def banded(table: Table, header: Header, context: Context) -> Table:
    """The table without rows that only head others; what they say becomes a key of the rows below."""
    if not len(table.rows) or len(table.rows) > 20_000:
        return table
    label, band = _bands(table)
    if not band.any() or band.all():
        return table
    role = _role(table, list(label[band]), context)
    if may_be_groups(table, label, band, role):
        return grouped(table, header, (label, band, role), context)
    if not role:
        return table
    names = stripped([_said(x) for x in label[band]]).labels
    told = pd.Series(None, index=range(len(band)), dtype=object)
    told[band] = [STAGES.get(plain(n), n) if role == STAGE else n for n in names]
    told = told.ffill().fillna("")
    note = (f"{role} of {table.sheet.label}", ", ".join(dict.fromkeys(names)), "rows that head the rows below them")
    below = headed_by(table, band, told, role).noting(note)
    return _with_side(below) if (table.cells(0).texts[band] == label[band]).all() else below


def _with_side(table: Table) -> Table:
    """The table whose first column held the heads of its blocks, with the key that the rest of it looks like."""
    if table.roles[0] not in ("", UNNAMED):
        return table
    level = stripped(table.cells(0).said)
    free = [role for role in (LOT, TASTER, DESCRIPTOR) if not table.tells(role)]
    merit, role = max(((evidence(level, role), role) for role in free), default=(0, ""))
    if merit < _LIKELY:
        return table
    note = (f"first column of {table.sheet.label}", role, "its cells under each head look so")
    return table.taking({0: role}, note)


def _bands(table: Table) -> tuple[np.ndarray, np.ndarray]:
    """The one text of every row, and a mask of rows that hold one text only, in one column or merged over all.

    A number alone heads others where it stands first and words stand first elsewhere.
    """
    rows = len(table.rows)
    count, label = np.zeros(rows, np.int64), np.full(rows, "", object)
    for c in range(len(table.headers)):
        texts = table.cells(c).texts
        new = ~table.cells(c).mask(is_empty) & (texts != label)
        count += new
        label = np.where(new, texts, label)
    number = np.array([str(x).replace(".", "").isdigit() for x in label], bool)
    first = table.cells(0).texts
    words = all(not x.isdigit() for x in np.unique(first[count > 1].astype(str)))
    return label, (count == 1) & (~number | (words & (first == label)))


def _said(label: str) -> str:
    head, sign, rest = str(label).partition(":")
    return rest.strip() if sign and role_of(head) and rest.strip() else str(label)


def _role(table: Table, labels: list[str], context: Context) -> str:
    """What the rows that head others name, "" where they are something else."""
    if not table.tells(STAGE) and all(plain(x) in STAGES for x in labels):
        return STAGE
    named = {role_of(x.partition(":")[0]) for x in labels if ":" in x}
    if len(named) == 1 and (role := named.pop()) in (TASTER, LOT, SESSION, DESCRIPTOR) and not table.tells(role):
        return role
    level = stripped(labels)
    if level.prefix and not table.tells(role_of(level.prefix)):
        return role_of(level.prefix)
    if not table.tells(SESSION) and all(date_in(x) or is_sitting(x) for x in labels):
        return SESSION
    if len(set(labels)) < 2:
        return ""
    free = [r for r in (LOT, TASTER, DESCRIPTOR) if not table.tells(r) and not (r == LOT and table.tells(CODE))]
    listed = {role: labels for role, labels in context.room.listed.items() if role != DESCRIPTOR}
    merits = sorted(((evidence(level, r, listed.get(r, ())), r) for r in free), reverse=True)
    return merits[0][1] if merits and merits[0][0] >= 2 else ""
