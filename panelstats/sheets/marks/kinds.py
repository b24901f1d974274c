"""What the columns without a known header hold: scores, a taint noticed or not, or facts of the lot."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from panelstats.scores.cells import DESCRIPTOR, LOT, SCORE
from panelstats.scores.spelling import plain
from panelstats.sheets.content.faultwords import fault_word
from panelstats.sheets.content.roles import (
    CODE,
    DERIVED,
    FACT,
    FAULT,
    GIVEN,
    MONEY,
    NUMBERING,
    REMARK,
    WORD,
    WORDS,
    is_descriptor_word,
    role_of,
)
from panelstats.sheets.content.totals import is_total
from panelstats.sheets.marks.contents import Content, content_of
from panelstats.sheets.marks.unlike import ask_about_unlike

if TYPE_CHECKING:
    from collections.abc import Mapping

    from panelstats.sheets.room.inquiry import Inquiry
    from panelstats.sheets.tables.table import Note, Table

_REGISTER_KIND = {"score": SCORE, "fault": FAULT, "words": WORD, "money": MONEY}
MARK_ROLES = (SCORE, FAULT, WORD)
TEXT = "text, not numbers"


BESIDE = (FACT, MONEY, REMARK, WORDS, NUMBERING, DERIVED)


def mark_role(descriptor: object, declared: Mapping[str, str]) -> str:
    """What the marks under a descriptor are: scores, a fault or word noticed or not, or money."""
    name = plain(descriptor)
    if name in declared:
        return _REGISTER_KIND[declared[name] or "score"]
    if fault_word(name):
        return FAULT
    role = role_of(descriptor)
    return role if role in BESIDE or role == FAULT else SCORE


def settle(
    tables: list[Table], declared: Mapping[str, str], marks: Mapping[str, float], inquiry: Inquiry
) -> tuple[list[Table], list[Note]]:
    """Give every column of every table its role, the same header the same role in all, as declared first of all.

    Returns
    -------
    tables, notes
        Tables whose roles are all known, and what was inferred (what, value, why).
    """
    contents: dict[str, Content] = {}
    asked: dict[str, str] = {}
    for table in tables:
        for c in _open(table, declared):
            key = plain(table.names[c])
            contents[key] = contents.get(key, Content()) + content_of(table, c, marks)
            asked[key] = table.roles[c]
    kinds = {key: _kind(key, asked[key], content, declared) for key, content in contents.items()}
    notes: list[Note] = [(name, role, why) for name, (role, why) in kinds.items() if why]
    settled = []
    for table in tables:
        roles = list(table.roles)
        for c in _open(table, declared):
            roles[c] = kinds[plain(table.names[c])][0]
        settled.append(replace(table, roles=roles))
    unsaid = {
        k for k, (role, _) in kinds.items()
        if role == SCORE and k not in declared and asked[k] != GIVEN and not is_descriptor_word(k)
    }  # fmt: skip
    constant = _constant_within_lot(settled, unsaid, marks)
    notes += [(name, FACT, "the same in every row of a lot while other columns differ") for name in constant]
    for table in settled:
        for c, role in enumerate(table.roles):
            if role == SCORE and not table.is_down and plain(table.names[c]) in constant:
                table.roles[c] = FACT
    scored = {k: c for k, c in contents.items() if kinds[k][0] == SCORE and k not in constant}
    sure = {k for k, role in asked.items() if role in (GIVEN, SCORE)} | set(declared)
    ask_about_unlike(settled, scored, sure, marks, inquiry)
    return settled, notes


def _open(table: Table, declared: Mapping[str, str]) -> list[int]:
    """Columns of a table of descriptors whose role is still to be told: no known header, or declared a descriptor."""
    if table.is_down or DESCRIPTOR in table.extra:
        return []
    asked = ("", GIVEN, SCORE, FAULT)
    return [
        c
        for c, (r, head) in enumerate(zip(table.roles, table.headers, strict=True))
        if head and (r in asked or (plain(table.names[c]) in declared and (r != DERIVED or is_total(head))))
    ]


def _kind(name: str, role: str, content: Content, declared: Mapping[str, str]) -> tuple[str, str]:
    """The role of a column, and why where that was not said by anybody."""
    if name in declared:
        return _REGISTER_KIND.get(declared[name] or "score", SCORE), ""
    if role == GIVEN:
        return SCORE, ""
    if fault_word(name) or role == FAULT:
        return FAULT, "named for a fault: noticed or not, never averaged"
    return _by_content(content, role)


def _by_content(content: Content, role: str) -> tuple[str, str]:
    """The role a column has by what it holds: scores where at least half of what is filled looks like marks."""
    if not content.filled:
        return FACT, "an empty column"
    if content.dates * 2 > content.filled and content.numbers * 5 < content.filled:
        return FACT, "dates"
    if (content.numbers + content.like + (content.dates if content.numbers else 0)) * 2 >= content.filled:
        return SCORE, "" if role == SCORE else "numbers under a heading of its own"
    return FACT, TEXT


def _constant_within_lot(tables: list[Table], open_names: set[str], marks: Mapping[str, float]) -> list[str]:
    """Number columns that never differ within a lot, where at least ten lots have rows that differ in another."""
    used = [t for t in tables if not t.is_down and not t.across and (t.where(LOT) or t.where(CODE))]
    names = list(dict.fromkeys(plain(t.names[c]) for t in used for c in t.where(SCORE)))
    if len(names) < 2 or not open_names & set(names):
        return []
    lots = _lot_codes(used)
    differ = {name: _lots_that_differ(lots, _numbers(used, name, marks)) for name in names}
    return [n for n in names if n in open_names and not differ[n] and any(d >= 10 for k, d in differ.items() if k != n)]


def _lot_codes(tables: list[Table]) -> np.ndarray:
    """A code per row of all tables: which lot it speaks of."""
    index: dict[str, int] = {}
    codes = []
    for table in tables:
        lot = table.cells((table.where(LOT) or table.where(CODE))[0])
        codes.append(np.array([index.setdefault(plain(v), len(index)) for v in lot.values], np.int64)[lot.codes])
    return np.concatenate(codes)


def _numbers(tables: list[Table], name: str, marks: Mapping[str, float]) -> np.ndarray:
    """The numbers under one heading in all tables, NaN where there are none."""
    parts = []
    for table in tables:
        columns = [c for c in table.where(SCORE) if plain(table.names[c]) == name]
        parts.append(table.numbers(columns[0], marks) if columns else np.full(len(table.rows), np.nan))
    return np.concatenate(parts)


def _lots_that_differ(lots: np.ndarray, number: np.ndarray) -> int:
    """How many lots have two rows with different numbers."""
    lots, number = lots[~np.isnan(number)], number[~np.isnan(number)]
    size = int(lots.max(initial=-1)) + 1
    first = np.full(size, np.nan)
    first[lots[::-1]] = number[::-1]
    differ = np.zeros(size, bool)
    differ[lots[number != first[lots]]] = True
    return int(differ.sum())
