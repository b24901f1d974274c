"""Rows of labels over groups of lots, each lot under one of them: a fact of the lots, or else a key."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from panelstats.scores.cells import CLASS, DESCRIPTOR, LOT, SESSION, TASTER
from panelstats.scores.spelling import plain
from panelstats.sheets.content.roles import LEFT_OUT, UNNAMED, are_grades, is_descriptor_word, is_grade
from panelstats.sheets.content.text import has_digit
from panelstats.sheets.files.grid import text_factor
from panelstats.sheets.layouts.overheads import levels_over
from panelstats.sheets.tables.headings import factored, meaning_of, stripped, telling
from panelstats.sheets.tables.table import doubt

if TYPE_CHECKING:
    from panelstats.sheets.tables.headers import Header
    from panelstats.sheets.tables.table import Context, Table

FACTS = ("garden", "grade", CLASS)
_KEYS = {f"{role}s": role for role in (TASTER, DESCRIPTOR, SESSION)}
_MOST_WORDS = 4  # words of a label over a group of lots (ours)
_Bands = tuple[np.ndarray, np.ndarray, str]


def headed_by(table: Table, band: np.ndarray, told: pd.Series, role: str) -> Table:
    """The table without the rows that only head others, what these say as a key, or a fact, of the rows below."""
    below = table.only(~band)
    return replace(below, extra={**below.extra, role: text_factor(told[~band].to_numpy(object))})


def may_be_groups(table: Table, label: np.ndarray, band: np.ndarray, role: str) -> bool:
    """Whether rows of one label may head groups of lots: no lot stands under two of them.

    Tasters and descriptors head the same lots again and again.
    """
    side = table.where(LOT)[0] if table.where(LOT) else 0
    words = {*map(plain, label[band])}
    short = all(len(word.split()) <= _MOST_WORDS and ":" not in word for word in words)
    lots = table.cells(side).texts
    named = table.roles[side] == LOT or (table.roles[side] in ("", UNNAMED) and all(map(has_digit, lots[~band])))
    if (
        role not in ("", TASTER, DESCRIPTOR)
        or stripped(list(label[band])).prefix
        or not (named and short and len(words) > 1 and band[0])
    ):
        return False
    under = pd.DataFrame({LOT: lots, "label": pd.Series(label).where(band).ffill()})[~band]
    heads = under.groupby(LOT)["label"].nunique()
    return bool(heads.max() == 1 and len(heads) > len(words) and not is_descriptor_word(label[band][0]))


def grouped(table: Table, header: Header, bands: _Bands, context: Context) -> Table:
    """The table with what stands over its groups of lots as a fact of them, or as the key that the room says it is.

    Parameters
    ----------
    table : Table
        Rows that may hold marks.
    header : Header
        Its headings.
    bands : tuple
        The one text of every row, a mask of the rows that hold no more, and the key these look like, "" for none.
    context : Context
        What the room said.
    """
    label, band, role = bands
    names = list(dict.fromkeys(label[band]))
    listed = {plain(name) for name in names} <= {*context.room.listed.get(TASTER, ())}
    told = pd.Series(label, dtype=object).where(band).ffill().fillna("")
    tasters = _names_tasters(table, header, context)
    grades = all(map(is_grade, names))
    what = f"{', '.join(names[:6])}"
    if listed and not tasters:
        note = (f"{role} of {table.sheet.label}", what, "rows that head the rows below them")
        return headed_by(table, band, told, TASTER).noting(note)
    likely = "grade" if grades else "garden" if tasters or role != TASTER else f"{TASTER}s"
    answer = "grade" if grades and (tasters or are_grades(names)) else ""
    if not answer:
        keys = [word for word, key in _KEYS.items() if not table.tells(key) and not (tasters and key == TASTER)]
        answer = context.inquiry.ask(
            f"What do the rows over groups of lots tell: {what}?",
            (table.sheet, int(table.rows[band][0]), None, names[0], ""), seen=what, guess=likely,
            allowed=(*FACTS, *keys, LEFT_OUT),
            reason="rows of one label over groups of lots, and nothing tells what they name",
        )  # fmt: skip
    said = answer or likely
    if said in _KEYS:
        found = headed_by(table, band, told, _KEYS[said])
    else:
        found = headed_by(table, band, told, said) if said in FACTS else table.only(~band)
    note = (f"rows {what} of {table.sheet.label}", said, "each heads a group of lots")
    return found.noting(note, flaws=found.flaws if answer else [*found.flaws, doubt()])


def _names_tasters(table: Table, header: Header, context: Context) -> bool:
    """Whether a column, a line above, the names of sheets or the headings tell the tasters."""
    if table.tells(TASTER) or TASTER in context.named:
        return True
    marks = [c for c, role in enumerate(table.roles) if role == "" and table.headers[c]]
    levels = levels_over(table, header, marks)
    told = {LOT} | {role for role in (SESSION, DESCRIPTOR) if table.tells(role)}
    rows = meaning_of(levels, told, context.room.listed) if len(levels) > 1 else None
    if rows is not None and TASTER in rows.roles:
        return True
    for pair in factored([table.headers[c] for c in marks]) if len(levels) < 2 <= len(marks) else ():
        meaning = meaning_of(pair, told, context.room.listed)
        if meaning is not None and TASTER in meaning.roles and telling(pair, meaning):
            return True
    return {*map(plain, (table.headers[c] for c in marks))} <= {*context.room.listed.get(TASTER, ())}
