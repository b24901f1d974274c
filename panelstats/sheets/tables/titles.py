"""What the lines over the headings tell: keys of all the marks, facts of their lot, the ends of the scale."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from panelstats.scores.cells import DESCRIPTOR, LOT, POT, SESSION, STAGE, TASTER
from panelstats.scores.dates import date_in, is_day, is_sitting, label_parts
from panelstats.scores.spelling import plain
from panelstats.sheets.content.limits import scale_said
from panelstats.sheets.content.roles import FACT, role_of

if TYPE_CHECKING:
    from collections.abc import Iterable

    from panelstats.sheets.content.limits import Limits

_KEYS = (SESSION, TASTER, LOT, STAGE, DESCRIPTOR, POT)
_COLON = re.compile(r"(?<=[^\W\d_])[.)]?\s*:")
# Words beside a date that is not that of a tasting (common practice).
_OTHER_DAY = re.compile(
    r"\b(?:made|manufactur|pack|print|receiv|sent|dispatch|despatch|due|ship|produc|pluck|issu|invoic|expir|updat|"
    r"revis|creat|version|valid|deliver|arriv|ordered)",
)
# One lot named in a cell: `Lot 4411`, `Lot No. 0123/26`, but no range of lots.
_LOT = re.compile(r"(?:lot|sample)(?: ?no\.?)? ?[#:]? ?(?!\d+ ?-)(\S*\d\S*)", re.IGNORECASE)
_LONGEST = 40  # signs of a line that tells a date and hardly more (ours)


@dataclass
class Told:
    """Keys and facts by name, the scale if one is told, and pairs of a word and what it says that are not used."""

    keys: dict[str, str] = field(default_factory=dict)
    facts: dict[str, str] = field(default_factory=dict)
    scale: Limits | None = None
    unused: list[str] = field(default_factory=list)


def told_above(rows: Iterable[list[str]]) -> Told:
    """What lines tell: `Taster: Alder` in one cell or in two side by side, several in one cell, a date alone."""
    told = Told()
    for row in rows:
        filled = list(dict.fromkeys(c for c in row if c))
        for n, here in enumerate(filled):
            before, after, then = (["", *filled][n], *filled[n + 1 : n + 3], "", "")[:3]
            said, role = pairs_in(here), role_of(here)
            if scale := scale_said(here):
                told.scale = told.scale or scale
            elif said:
                _take(told, said)
            elif lot := lot_named(here):
                told.keys.setdefault(LOT, lot)
            elif is_sitting(here) or _is_date(here, before, len(filled)):
                told.keys.setdefault(SESSION, here if len(here) < 20 else label_parts(here)[0])
            elif role in (*_KEYS, FACT) and after and not role_of(after) and _ends(then):
                (told.facts if role == FACT else told.keys).setdefault(here if role == FACT else role, after)
    return told


def _take(told: Told, said: list[tuple[str, str]]) -> None:
    for head, value in said:
        role = role_of(head)
        if role in _KEYS:
            told.keys.setdefault(role, value)
        elif role == FACT:
            told.facts.setdefault(head, value)
        else:
            told.unused.append(f"{head}: {value}")


def _is_date(here: str, before: str, filled: int) -> bool:
    """Whether a cell tells the day of the tasting: a date alone, or with words that tell of no other day."""
    words = f"{before} {label_parts(here)[1]}"
    beside = filled == 1 or (filled <= 3 and not label_parts(here)[1] and role_of(before) != FACT)
    return bool(date_in(here)) and len(here) < _LONGEST and beside and not _OTHER_DAY.search(plain(words))


def lot_named(text: str) -> str:
    """The one lot that a text names as such, "" where it does not.

    Examples
    --------
    >>> lot_named("Lot 4411"), lot_named("Sample No. 0123/26"), lot_named("Lots 1-10"), lot_named("Lot 1 - 10")
    ('4411', '0123/26', '', '')
    """
    found = _LOT.fullmatch(text)
    return found[1] if found else ""


def pairs_in(text: str) -> list[tuple[str, str]]:
    """The pairs of a word and what it says in one text, each after the word and a colon.

    Examples
    --------
    >>> pairs_in("Date: 3 June 2026 Place: small room"), pairs_in("Session: 3 June: morning")
    ([('Date', '3 June 2026'), ('Place', 'small room')], [('Session', '3 June: morning')])
    """
    heads: list[tuple[int, int]] = []
    for colon in _COLON.finditer(text):
        begin = _head(text, heads[-1][1], colon.start()) if heads else 0
        if begin is not None:
            heads.append((begin, colon.end()))
    ends = [*(begin for begin, _ in heads[1:]), len(text)][: len(heads)]
    pairs = [(text[a:b].rstrip(": "), text[b:c].strip(" ,;|/-")) for (a, b), c in zip(heads, ends, strict=True)]
    return [(head, value) for head, value in pairs if value]


def _head(text: str, start: int, end: int) -> int | None:
    """Where the words before a colon that name a thing begin, None where these are part of what was said before."""
    words = list(re.finditer(r"\S+", text[start:end]))
    for many in (3, 2, 1):
        if len(words) > many and role_of(text[start + words[-many].start() : end]):
            return start + words[-many].start()
    last = words[-1] if len(words) > 1 else None
    day = last is not None and (is_day(last[0]) or date_in(f"1 {last[0]}") is not None)
    return start + last.start() if last is not None and last[0][0].isupper() and not day else None


def _ends(cell: str) -> bool:
    """Whether a pair of a word and what it names ends before a cell: more names would make it a list."""
    return not cell or bool(role_of(cell)) or cell.endswith(":")
