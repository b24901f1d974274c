"""What the columns without a known header hold: scores, a taint noticed or not, or facts of the lot."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from panelstats.scores import text
from panelstats.scores.cells import DESCRIPTOR, LOT, SCORE, TASTER
from panelstats.scores.columns import CODE, FACT, FAULT, GIVEN, MONEY, REMARK, WORD, WORDS
from panelstats.scores.faultwords import fault_word
from panelstats.scores.text import Kind, plain

if TYPE_CHECKING:
    from collections.abc import Mapping

    from panelstats.scores.layouts import Table

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
        like[i] = parsed.reason[i] != text.NOT_A_NUMBER or bool(_LIKE_A_MARK.fullmatch(text.tidy(factor.values[i])))
    seen = parsed.number[number & (times > 0)]
    other = ~(number | blank | date | like)
    return Content(
        *(int(times[m].sum()) for m in (number, blank, like, date, other)),
        low=float(seen.min(initial=np.inf)), high=float(seen.max(initial=-np.inf)),
    )  # fmt: skip


def mark_role(descriptor: object, declared: Mapping[str, str]) -> str:
    """What the marks under a descriptor are: scores, a fault or word noticed or not, or money."""
    name = plain(descriptor)
    if name in declared:
        return _REGISTER_KIND[declared[name] or "score"]
    return FAULT if fault_word(name) or name in ("fault", "taint") else SCORE


def settle(
    tables: list[Table], declared: Mapping[str, str], marks: Mapping[str, float]
) -> tuple[list[Table], list[tuple[str, str, str]], dict[str, Content]]:
    """Give every column of every table its role, the same header the same role in all.

    Parameters
    ----------
    tables : list of Table
        All tables of the source.
    declared : mapping
        Descriptor as `plain` text -> kind, from the register.
    marks : mapping
        The room's marks and their worth.

    Returns
    -------
    tables, notes, contents
        Tables whose roles are all known, what was inferred (what, value, why), and content by score header.
    """
    contents: dict[str, Content] = {}
    asked: dict[str, str] = {}
    for table in tables:
        for c in _open(table, declared):
            key = plain(table.names[c])
            contents[key] = contents.get(key, Content()) + content_of(table, c, marks)
            asked[key] = table.roles[c]
    kinds = {key: _kind(key, asked[key], content, declared) for key, content in contents.items()}
    notes = [(name, role, why) for name, (role, why) in kinds.items() if why]
    settled = []
    for table in tables:
        roles = list(table.roles)
        for c in _open(table, declared):
            roles[c] = kinds[plain(table.names[c])][0]
        settled.append(replace(table, roles=roles))
    constant = _constant_within_lot(
        settled, {k for k, (role, _) in kinds.items() if role == SCORE and k not in declared}
    )
    notes += [(name, FACT, "the same in every row of a lot while other columns differ") for name in constant]
    for table in settled:
        for c, role in enumerate(table.roles):
            if role == SCORE and not table.is_long and plain(table.names[c]) in constant:
                table.roles[c] = FACT
    scored = {k: contents[k] for k, (role, _) in kinds.items() if role == SCORE and k not in constant}
    return settled, notes, scored


def _open(table: Table, declared: Mapping[str, str]) -> list[int]:
    """Columns whose role is still to be told: no known header, or declared a descriptor; in a long table none."""
    long = table.is_long
    found = []
    for c, role in enumerate(table.roles):
        if not table.headers[c] and not any(text.tidy(v) for v in table.cells(c).values):
            continue
        key = plain(table.names[c])
        if role in ("", GIVEN) or (not long and (role in (SCORE, FAULT) or key in declared)):
            found.append(c)
    return found


def _kind(name: str, role: str, content: Content, declared: Mapping[str, str]) -> tuple[str, str]:
    """The role of a column, and why where that was not said by anybody."""
    if name in declared:
        return _REGISTER_KIND.get(declared[name] or "score", SCORE), ""
    if role == GIVEN:
        return SCORE, ""
    if fault_word(name) or role == FAULT:
        return FAULT, "named for a fault: noticed or not, never averaged"
    if not content.filled:
        return FACT, "an empty column"
    if content.dates * 2 > content.filled:
        return FACT, "dates"
    if (content.numbers + content.like) * 2 >= content.filled:
        return SCORE, "" if role == SCORE else "numbers under a heading of its own"
    return FACT, "text, not numbers"


def _constant_within_lot(tables: list[Table], open_names: set[str]) -> list[str]:
    """Score columns that never differ within a lot, where at least ten lots have rows that differ elsewhere."""
    frames = []
    for table in tables:
        lots = table.where(LOT) or table.where(CODE)
        if table.is_long or not lots:
            continue
        columns = {plain(table.names[c]): table.cells(c).codes for c in table.where(SCORE)}
        lot = table.cells(lots[0])
        frames.append(
            pd.DataFrame(
                {
                    "lot of the row": np.array([text.tidy(v) for v in lot.values], object)[lot.codes],
                    **columns,
                }
            )
        )
    if not frames or not open_names:
        return []
    found = None
    for frame in frames:
        spread = frame.groupby("lot of the row").agg(["min", "max"])
        names = [c for c in frame.columns if c != "lot of the row"]
        differs = pd.DataFrame({n: spread[n]["min"] != spread[n]["max"] for n in names})
        many = differs.sum() >= 10
        flat = {n for n in names if not differs[n].any() and many.drop(n).any() and n in open_names}
        found = flat if found is None else found & flat
    return sorted(found or ())


def has_tasters(table: Table) -> bool:
    """Whether a column or the layout names the taster of each row."""
    return bool(table.where(TASTER)) or TASTER in table.extra


def remark_columns(table: Table) -> list[int]:
    """Columns of free remarks and of words marked."""
    return [*table.where(REMARK), *table.where(WORDS)]


def descriptor_of(table: Table, column: int) -> str:
    """The descriptor a score column of a wide table stands for."""
    return table.names[column] if table.names[column] else DESCRIPTOR
