"""What the columns without a known header hold: scores, a taint noticed or not, or facts of the lot."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from panelstats.scores.cells import DESCRIPTOR, LOT, SCORE, TASTER
from panelstats.scores.spelling import plain, tidy
from panelstats.sheets.content import text
from panelstats.sheets.content.faultwords import fault_word
from panelstats.sheets.content.roles import (
    CODE,
    DERIVED,
    FACT,
    FAULT,
    GIVEN,
    LEFT_OUT,
    MONEY,
    NUMBERING,
    REMARK,
    WORD,
    WORDS,
    is_descriptor_word,
    role_of,
)
from panelstats.sheets.content.text import Kind
from panelstats.sheets.content.totals import is_rank, is_total
from panelstats.sheets.tables.table import doubt

if TYPE_CHECKING:
    from collections.abc import Mapping

    from panelstats.sheets.room.inquiry import Inquiry
    from panelstats.sheets.tables.table import Note, Table

_LIKE_A_MARK = re.compile(r"[+\-\u2212]{1,5}|\(?[+-]?\d[\d.,]{0,6}.{0,6}")
_REGISTER_KIND = {"score": SCORE, "fault": FAULT, "words": WORD, "money": MONEY}
MARK_ROLES = (SCORE, FAULT, WORD)


@dataclass(frozen=True)
class Content:
    """How many cells of a column are numbers, blank, like a mark yet no number, and dates; and the range seen."""

    numbers: int = 0
    blanks: int = 0
    like: int = 0
    dates: int = 0
    others: int = 0
    low: float = np.inf
    high: float = -np.inf

    def __add__(self, other: Content) -> Content:
        return Content(
            self.numbers + other.numbers, self.blanks + other.blanks, self.like + other.like, self.dates + other.dates,
            self.others + other.others, min(self.low, other.low), max(self.high, other.high),
        )  # fmt: skip

    @property
    def filled(self) -> int:
        """Cells that hold anything."""
        return self.numbers + self.like + self.dates + self.others


def content_of(table: Table, column: int, marks: Mapping[str, float]) -> Content:
    """Count what a column holds, each distinct content looked at once."""
    factor = table.cells(column)
    parsed = table.parsed(column, text.decimal_style(factor.values), marks)
    times = np.bincount(factor.codes, minlength=len(factor.values))
    number, blank = parsed.kind == Kind.NUMBER, parsed.kind == Kind.BLANK
    date = parsed.reason == text.A_DATE
    like = np.zeros(len(times), bool)
    for i in np.flatnonzero(~number & ~blank & ~date & (times > 0)):
        like[i] = parsed.reason[i] != text.NOT_A_NUMBER or bool(_LIKE_A_MARK.fullmatch(tidy(factor.values[i])))
    seen = parsed.number[number & (times > 0)]
    other = ~(number | blank | date | like)
    numbers, blanks, alike, dates, others = (int(times[m].sum()) for m in (number, blank, like, date, other))
    return Content(
        numbers, blanks, alike, dates, others, float(seen.min(initial=np.inf)), float(seen.max(initial=-np.inf))
    )


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
    """Give every column of every table its role, the same header the same role in all.

    Parameters
    ----------
    tables : list of Table
        All tables of the source.
    declared : mapping
        Descriptor as `plain` text -> kind, from the register.
    marks : mapping
        The room's marks and their worth.
    inquiry : Inquiry
        Takes what only the room can tell.

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
    _ask(settled, scored, sure, inquiry)
    return settled, notes


# Headings of numbers that are no scores, beside ranks (common practice).
_NO_SCORES = frozenset(["id", "index", "temperature", "temp", "ph", "moisture", "time", "age"])
TEXT = "text, not numbers"
_FEW = 6  # numbers below which a column is too short to look like or unlike another (ours)


def _ask(tables: list[Table], scored: Mapping[str, Content], sure: set[str], inquiry: Inquiry) -> None:
    """Number columns that do not look like the other scores are asked about, not scored."""
    highs = {k: c.high for k, c in scored.items() if c.numbers >= _FEW}
    for key, content in scored.items():
        here = [(t, c) for t in tables if not t.is_down for c in t.where(SCORE) if plain(t.names[c]) == key]
        others = [h for k, h in highs.items() if k != key]
        why = "" if key in sure or not here else _of_nobody(here, tables) or _unlike(here, content, others)
        if why:
            _ask_one(here, why, inquiry)


def _ask_one(here: list[tuple[Table, int]], why: str, inquiry: Inquiry) -> None:
    table, column = here[0]
    name = table.headers[column]
    values = table.cells(column).said[:3]
    answer = inquiry.ask(
        f"What stands under the heading {name!r}?", (table.sheet, None, column, "", name),
        seen=f"{', '.join(values)} ...",
        guess=FACT, allowed=(SCORE, FACT, LEFT_OUT), reason=why,
    )  # fmt: skip
    for one, c in here:
        if answer in (FACT, LEFT_OUT):
            one.roles[c] = answer
        elif not answer:
            one.flaws.append(doubt(column=c))


def _of_nobody(here: list[tuple[Table, int]], tables: list[Table]) -> str:
    """Why numbers may be facts: their sheet has no taster and no word of the sheets that name theirs; "" else."""
    mine = [table for table, _ in here]
    theirs = [t for t in tables if TASTER in t.roles or TASTER in t.across]
    words = {plain(t.names[c]) for t in theirs for c in t.where(SCORE)}
    words |= {plain(v) for t in theirs if DESCRIPTOR in t.extra for v in t.extra[DESCRIPTOR].values}
    words |= {plain(v) for t in theirs for c in t.where(DESCRIPTOR) for v in t.cells(c).values}
    if not words or any(t is other for t in mine for other in theirs):
        return ""
    if any(plain(t.names[c]) in words for t in mine for c in t.where(SCORE)):
        return ""
    return "numbers on a sheet that names no taster, beside sheets that name theirs"


def _unlike(here: list[tuple[Table, int]], content: Content, others: list[float]) -> str:
    """Why a number column does not look like a score, "" where it does."""
    table, column = here[0]
    if plain(table.names[column]) in _NO_SCORES or is_rank(table.names[column]):
        return "a number column whose heading names no score"
    far = bool(others) and content.high > 4 * max(others) > 0
    odd = len(others) >= 3 and content.high > 10 * float(np.median(others)) > 0
    if len(others) >= 2 and content.numbers >= _FEW and (far or odd):
        span = f"{content.low:g} to {content.high:g}"
        return f"a number column unlike the others: it runs {span}, they reach {max(others):g}"
    if others and content.low == 1 and content.high >= 8 and all(_counts_rows(t, c) for t, c in here):
        return "a number column that counts 1, 2, 3 ... for each taster, as ranks and positions do"
    return ""


def _counts_rows(table: Table, column: int) -> bool:
    """Whether every taster's numbers are 1 to n, each once, n at least 8."""
    factor = table.cells(column)
    parsed = table.parsed(column, ".", {})
    number = parsed.number[factor.codes]
    tasters = table.where(TASTER)
    group = table.cells(tasters[0]).codes if tasters else np.zeros(len(number), np.int32)
    frame = pd.DataFrame({"group": group, "number": number})
    seen = frame.groupby("group")["number"].agg(["min", "max", "count", "nunique"])
    return bool(
        ((seen["min"] == 1) & (seen["max"] == seen["count"]) & (seen["nunique"] == seen["count"])).all()
        and seen["count"].min() >= 8
    )


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
        if columns:
            cells = table.cells(columns[0])
            parts.append(table.parsed(columns[0], text.decimal_style(cells.values), marks).number[cells.codes])
        else:
            parts.append(np.full(len(table.rows), np.nan))
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
