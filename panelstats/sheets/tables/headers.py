"""Where the headings of a table stand: one row or several, and what the lines above them tell."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cache
from typing import TYPE_CHECKING

from panelstats.scores.cells import DESCRIPTOR, LOT, SESSION, TASTER
from panelstats.scores.dates import is_day
from panelstats.scores.spelling import tidy
from panelstats.sheets.content.limits import heads_nothing, without_limits
from panelstats.sheets.content.roles import (
    CODE,
    FACT,
    MONEY,
    NUMBERING,
    REMARK,
    WORDS,
    is_descriptor_word,
    role_of,
    two_roles,
)
from panelstats.sheets.content.text import are_numbers, has_digit
from panelstats.sheets.tables.titles import Told, lot_named, told_above

if TYPE_CHECKING:
    from collections.abc import Sequence

    from panelstats.sheets.content.wishes import Wishes
    from panelstats.sheets.files.grid import Sheet

SEARCHED = 40  # rows in which headings are looked for
STRONG = (LOT, CODE, DESCRIPTOR)
_FACTS = {FACT, MONEY, REMARK, WORDS, NUMBERING}
_DEEPEST = 4  # rows of headings
_WORDS = 2  # words of a title that names a descriptor and no more (ours)


@dataclass(frozen=True)
class Header:
    """The headings: `lower` is the row next to the marks (-1 for a DataFrame), `rows` their cells from the top down.

    `told` is what the lines over the headings tell, `titles` all these lines; `lost` are rows of labels over the
    headings that none of them goes with.
    """

    lower: int
    rows: tuple[list[str], ...]
    told: Told = field(default_factory=Told)
    titles: tuple[list[str], ...] = ()
    lost: tuple[list[str], ...] = ()


def find_header(sheet: Sheet, wishes: Wishes, apart: Sequence[int] = ()) -> Header | None:
    """The headings of a table, None where no row looks like one; rows `apart` are none of them."""
    if sheet.headers is not None:
        return Header(-1, ([tidy(h) for h in sheet.headers],))
    rows = sheet.lines(0, SEARCHED)
    for r in apart:
        rows[r] = [""] * len(rows[r])
    ways = (best_row(rows, wishes), _bare(rows), _words_over_numbers(rows))
    best = next((row for row in ways if row is not None), None)
    if best is None:
        return None
    heads = [c for c, label in enumerate(rows[best]) if not _role(label, wishes)]
    first, last = _upwards(rows, best, heads, apart), _downwards(rows, best, wishes)
    lost = _labels_over(rows, first, heads, apart)
    titles = (*sheet.above, *(row for r, row in enumerate(rows[:first]) if any(row) and r not in lost))
    return Header(last, tuple(rows[first : last + 1]), told_above(titles), titles, tuple(rows[r] for r in lost))


def _role(text: str, wishes: Wishes) -> str:
    return (wishes.role(text)[0] or next(iter(two_roles(text)), "")) if text else ""


def best_row(rows: list[list[str]], wishes: Wishes) -> int | None:
    """The row that names most roles, a lot, a code or a descriptor among them; ties go to the upper one."""
    widest = max((sum(map(bool, row)) for row in rows), default=0)
    role = cache(lambda text: _role(text, wishes))
    best, most = None, (False, 0)
    for number, row in enumerate(rows):
        filled = [c for c in row if c]
        if len(set(filled)) < 2 or len(filled) * 2 < widest or is_title(row):
            continue
        if len(filled) > 2 and _tells_keys(row, next(filter(any, rows[number + 1 :]), [])):
            continue
        roles = [*filter(None, map(role, filled))]
        strength = (any(r in STRONG for r in roles), len(roles))
        if (strength[0] or TASTER in roles) and strength > most:
            best, most = number, strength
    return best


def is_title(row: list[str]) -> bool:
    """Whether a line is made of pairs such as `Taster: Alder`."""
    named = [c for c in row if c and role_of(c)]
    ended = [c for c in row if c.endswith(":")]
    return bool(named) and all(c in ended for c in named) and len(ended) * 2 <= sum(map(bool, row))


def _numeric(cells: list[str]) -> list[bool]:
    return [bool(c) and bool(n) for c, n in zip(cells, are_numbers(cells), strict=True)]


def _bare(rows: list[list[str]]) -> int | None:
    """The row over the first that holds a label and then numbers, where it heads these and nothing heads the labels."""
    for number in range(len(rows) - 1):
        (first, *labels), (below_first, *below) = rows[number], rows[number + 1]
        if not any(below) and number + 2 < len(rows):  # a line that heads those below it
            below = rows[number + 2][1:]
        headed = [b for b, label in zip(below, labels, strict=True) if label]
        if first or len(headed) < 2 or not below_first:
            continue
        full = [b for b in headed if b]
        if sum(_numeric(full)) * 2 > len(full) and full:
            return number
    return None


def _words_over_numbers(rows: list[list[str]]) -> int | None:
    """The first row of words alone, three or more, with as many cells below it and numbers among these twice over.

    Lines of one cell, which head those below them, are passed over.
    """
    for number in range(len(rows) - 2):
        filled = [c for c, label in enumerate(rows[number]) if label]
        lines = [row for row in rows[number + 1 : number + 5] if sum(map(bool, row)) > 1][:2]
        below = [[row[c] for c in filled] for row in lines]
        full = len(below) == 2 and all(sum(map(bool, line)) * 4 >= len(filled) * 3 for line in below)
        if len(filled) < 3 or any(_numeric([rows[number][c] for c in filled])) or not full:
            continue
        if all(any(_numeric(line)) for line in below):
            return number
    return None


def _upwards(rows: list[list[str]], best: int, heads: list[int], apart: Sequence[int]) -> int:
    """The uppermost row of headings: rows over the best that head the columns it does not name."""
    first = best
    while first > 0 and best - first < _DEEPEST - 1:
        upper = next((r for r in range(first - 1, -1, -1) if r not in apart), 0)
        row = rows[upper]
        over = [row[c] for c in heads if row[c]]
        repeated = _repeats(rows[first : best + 1], heads)
        if is_title(row) or _tells_keys(row, rows[first]) or (len(over) < 2 and not (over and repeated)):
            break
        if not repeated and (len(set(over)) < 2 or heads_nothing(over) or any(map(lot_named, row))):
            break
        if sum(map(bool, row)) == 1 and not over:
            break
        first = upper
    return first


def _tells_keys(row: list[str], below: list[str]) -> bool:
    """Whether a line is made of keys, each beside the one label it has in the table below: `Lot | K101`."""
    filled = [(c, label) for c, label in enumerate(row) if label]
    pairs = [*zip(filled[::2], filled[1::2], strict=False)]
    fits = {LOT: has_digit, SESSION: is_day, TASTER: lambda label: not is_descriptor_word(label) and _scored(below)}
    return len(filled) % 2 == 0 and all(
        at == c + 1 and (role := role_of(head)) in fits and fits[role](label) for (c, head), (at, label) in pairs
    )


def _scored(row: list[str]) -> bool:
    """Whether a label of a row is a descriptor, or the heading of descriptors."""
    return any(is_descriptor_word(label) or role_of(label) == DESCRIPTOR for label in row)


def _labels_over(rows: list[list[str]], first: int, heads: list[int], apart: Sequence[int]) -> list[int]:
    """Rows next over the headings that hold different labels over half of the marks or more, and nothing beside."""
    found = []
    for r in range(first - 1, -1, -1):
        if not any(rows[r]) and r not in apart:
            break
        labels = [rows[r][c] for c in heads if rows[r][c]]
        if len(set(labels)) > 1 and len(labels) * 2 >= len(heads) and len(labels) == sum(map(bool, rows[r])):
            found.append(r)
    return found


def _repeats(rows: list[list[str]], columns: list[int]) -> bool:
    """Whether rows of headings, taken together, head two columns alike: something above must tell these apart."""
    keys = [c not in columns for c in range(len(rows[0]))]
    spread = [spread_right(row, keys) for row in rows[:-1]]
    labels = [(*(row[c] for row in spread), rows[-1][c]) for c in columns if any(row[c] for row in rows)]
    return len(set(labels)) < len(labels)


def _downwards(rows: list[list[str]], best: int, wishes: Wishes) -> int:
    """The lowest row of headings: rows below the best that name nothing at the side and head numbers."""
    last = best
    while last + 2 < len(rows) and last - best < _DEEPEST - 1 and _continues(rows, best, last, wishes):
        last += 1
    return last


def _continues(rows: list[list[str]], best: int, last: int, wishes: Wishes) -> bool:
    """Whether the row below is one of headings too."""
    low, after = rows[last + 1], rows[last + 2]
    lowest = rows[last + 3] if last + 3 < len(rows) and last - best < _DEEPEST - 2 else after  # one row more
    roles = [_role(c, wishes) for c in rows[best]]
    side = [c for c, role in enumerate(roles) if role]
    if {_role(low[c], wishes) for c in side or [0] if low[c] != rows[last][c]} & _FACTS:
        return False  # a row of facts about the lots, not of headings
    spread = spread_right(rows[best], [bool(r) for r in roles])
    columns = [c for c, label in enumerate(spread) if label and not roles[c]]
    below = [low[c] for c in columns if low[c]]
    numbers = sum(_numeric([row[c] for row in (after, lowest) for c in columns]))
    if len(below) < 2 or (heads_nothing(below) and not all(_numeric(below))):
        return False
    if not any(_numeric(below)):
        named = all(not low[c] or low[c] == rows[best][c] or _role(low[c], wishes) for c in side)
        return numbers > 0 and all(any(ch.isalpha() for ch in b) for b in below) and named
    repeated = len({spread[c] for c in columns}) < len(columns)
    empty = all(not low[c] or low[c] == rows[best][c] for c in side) and any(after[c] for c in side)
    return bool(side) and empty and repeated and numbers > 0


def spread_right(row: list[str], stop: list[bool]) -> list[str]:
    """Labels carried to the right over empty cells, not over key columns."""
    out, last = [], ""
    for cell, key in zip(row, stop, strict=True):
        last = "" if key else (cell or last)
        out.append(last)
    return out


def title_word(header: Header) -> str:
    """The descriptor that a line over the headings names and nothing else: a word of the trade, or two."""
    alone = [filled[0] for row in header.titles if len(filled := [cell for cell in row if cell]) == 1]
    named = [text for text in alone if len(without_limits(text).split()) <= _WORDS and is_descriptor_word(text)]
    return named[-1] if named else ""
