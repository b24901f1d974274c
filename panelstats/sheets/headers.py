"""Where the header of a sheet stands: one row or two, and what the lines above it tell."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

from panelstats.scores.cells import DESCRIPTOR, LOT, SESSION, STAGE, TASTER
from panelstats.sheets.dates import is_sitting
from panelstats.sheets.roles import CODE, FACT, KEY_ROLES, MONEY, NUMBERING, REMARK, STAGES, WORDS, role_of
from panelstats.sheets.text import Kind, parse, plain, tidy

if TYPE_CHECKING:
    from panelstats.sheets.grid import Sheet
    from panelstats.sheets.roles import Wishes

SEARCHED = 40  # rows in which a header is looked for
_STRONG = (LOT, CODE, DESCRIPTOR)
_TOLD_ABOVE = (SESSION, TASTER, LOT, STAGE, DESCRIPTOR)


@dataclass(frozen=True)
class Header:
    """The header: `lower` is the row next to the marks (-1 for a DataFrame), `labels` its cells.

    `upper` holds the cells of a second header row above, spread to the right as merged cells are, () where none is;
    `corner` is what stands in that row over the key columns. `above` tells keys named in the lines over the header.
    """

    lower: int
    labels: list[str]
    upper: tuple[str, ...] = ()
    corner: tuple[str, ...] = ()
    above: tuple[tuple[str, str], ...] = ()


def find_header(sheet: Sheet, wishes: Wishes) -> Header | None:
    """The header of a sheet, None where no row looks like one."""
    if sheet.headers is not None:
        return Header(-1, [tidy(h) for h in sheet.headers])
    rows = [[tidy(v) for v in sheet.row(r)] for r in range(min(SEARCHED, len(sheet)))]
    best = _best(rows, wishes)
    if best is None:
        best = _bare(rows)
        return None if best is None else Header(best, [DESCRIPTOR, *rows[best][1:]], above=tuple(_above(rows[:best])))
    lower, upper = _two(rows, best, wishes)
    first = lower if upper is None else upper
    above = tuple(_above(rows[:first]))
    labels = list(rows[lower])
    if upper is None:
        return Header(lower, labels, above=above)
    labels = [low or (up if _role(up, wishes) else "") for low, up in zip(labels, rows[upper], strict=True)]
    keys = [bool(_role(label, wishes)) for label in labels]
    spread = _spread(rows[upper], keys)
    corner = tuple(
        "" if not key or up == label else up for up, label, key in zip(rows[upper], labels, keys, strict=True)
    )
    return Header(lower, labels, tuple(spread), corner, above)


def _role(text: str, wishes: Wishes) -> str:
    return wishes.role(text)[0] if text else ""


def _best(rows: list[list[str]], wishes: Wishes) -> int | None:
    """The row that names most roles, a lot, a code or a descriptor among them; ties go to the upper one."""
    widest = max((sum(map(bool, row)) for row in rows), default=0)
    best, most = None, (False, 0)
    for number, row in enumerate(rows):
        filled = [c for c in row if c]
        if len(set(filled)) < 2 or len(filled) * 2 < widest or _is_title(row):
            continue
        roles = [r for r in (_role(c, wishes) for c in filled) if r]
        strength = (any(r in _STRONG for r in roles), len(roles))
        if (strength[0] or TASTER in roles) and strength > most:
            best, most = number, strength
    return best


def _is_title(row: list[str]) -> bool:
    """Whether a line is made of pairs such as `Taster: Alder`."""
    named = [c for c in row if role_of(c)]
    ended = [c for c in row if c.endswith(":")]
    return bool(named) and all(c in ended for c in named) and len(ended) * 2 <= sum(map(bool, row))


def _bare(rows: list[list[str]]) -> int | None:
    """A row of lot numbers over columns of numbers, words down the side, and no heading over these."""
    for number in range(len(rows) - 1):
        first, *lots = rows[number]
        below_first, *below = rows[number + 1]
        wide = sum(map(bool, lots)) >= 2
        if (
            not first
            and wide
            and all(any(d.isdigit() for d in c) for c in lots if c)
            and _words([below_first])
            and not _words(below)
        ):
            return number
    return None


def _words(cells: list[str]) -> bool:
    """Whether cells are words, no number among them."""
    parsed = parse([c for c in cells if c])
    return bool((parsed.kind == Kind.PROBLEM).any()) and not (parsed.kind == Kind.NUMBER).any()


def _two(rows: list[list[str]], best: int, wishes: Wishes) -> tuple[int, int | None]:
    """The lower and upper header row; upper None where one row is all."""
    if best + 2 < len(rows) and _continues(rows, best, wishes):
        return best + 1, best
    if best >= 1 and not _is_title(rows[best - 1]):
        open_columns = [not _role(c, wishes) and bool(c) for c in rows[best]]
        spread = _spread(rows[best - 1], [not o for o in open_columns])
        labels = [s for s, o in zip(spread, open_columns, strict=True) if o]
        lower = [c for c, o in zip(rows[best], open_columns, strict=True) if o]
        staged = any(plain(s) in STAGES for s in labels)
        if len(set(labels)) > 1 and (staged or len(set(lower)) < len(lower)):
            return best, best - 1
    return best, None


def _continues(rows: list[list[str]], best: int, wishes: Wishes) -> bool:
    """Whether the row below the best is a header too: words over the marks, numbers below them."""
    heads = {_role(low, wishes) for up, low in zip(rows[best], rows[best + 1], strict=True) if low != up}
    if heads & {FACT, MONEY, REMARK, WORDS, NUMBERING}:
        return False  # a row of facts about the lots, not of headings
    here = _spread(rows[best], [bool(_role(c, wishes)) for c in rows[best]])
    columns = [c for c, label in enumerate(here) if label and not _role(label, wishes)]
    below, after = ([rows[best + k][c] for c in columns] for k in (1, 2))
    numbers = (parse(after).kind == Kind.NUMBER).any() if after else False
    return (
        len([b for b in below if b]) >= 2
        and _words(below)
        and all(any(ch.isalpha() for ch in b) for b in below if b)
        and bool(numbers)
    )


def _spread(row: list[str], stop: list[bool]) -> list[str]:
    """Labels carried to the right over empty cells, not over key columns."""
    out, last = [], ""
    for cell, key in zip(row, stop, strict=True):
        last = "" if key else (cell or last)
        out.append(last)
    return out


def _above(rows: list[list[str]]) -> list[tuple[str, str]]:
    """Keys told above the header: `Taster: Alder` in one cell, or in two side by side."""
    found: dict[str, str] = {}
    for row in rows:
        filled = list(dict.fromkeys(c for c in row if c))
        for here, after in pairwise([*filled, ""]):
            head, sign, rest = here.partition(":")
            if sign and rest.strip() and role_of(head) in _TOLD_ABOVE:
                found.setdefault(role_of(head), rest.strip())
            elif is_sitting(here):
                found.setdefault(SESSION, here)
            elif role_of(here) in _TOLD_ABOVE and after and role_of(after) not in KEY_ROLES:
                found.setdefault(role_of(here), after)
    return list(found.items())
