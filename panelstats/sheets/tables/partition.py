"""A sheet cut into the tables that stand on it; titles, legends and footnotes are dropped and said."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from panelstats.scores.cells import DESCRIPTOR, LOT, SESSION, STAGE, TASTER
from panelstats.scores.spelling import plain, tidy
from panelstats.sheets.content.roles import CODE, are_grades, role_of
from panelstats.sheets.content.text import Kind, are_numbers, parse
from panelstats.sheets.tables.headers import STRONG, best_row, find_header, is_title
from panelstats.sheets.tables.headings import evidence, stripped
from panelstats.sheets.tables.table import doubt
from panelstats.sheets.tables.whose import GARDEN, asked_whose, fact_of, share_no_lot

if TYPE_CHECKING:
    from panelstats.sheets.content.wishes import Wishes
    from panelstats.sheets.files.grid import Sheet
    from panelstats.sheets.tables.table import Context, Note, Table

LARGEST = 20_000  # rows of a sheet in which several tables are looked for (ours: nobody stacks tables by thousands)
_Span = tuple[int, int]


@dataclass
class Cutting:
    """The parts of one sheet, and what was dropped; a fact and what each part says of it, a doubt whose they are."""

    parts: list[Sheet] = field(default_factory=list)
    notes: list[Note] = field(default_factory=list)
    fact: str = ""
    said: tuple[str, ...] = ()
    doubtful: bool = False

    def settled(self, part: int, table: Table) -> Table:
        """The table of a part with its garden or grade, and with the doubt while nobody said whose the tables are."""
        if self.fact:
            note = (fact_of(self.fact, table.sheet.label), self.said[part], "named above the headings")
            table = table.with_fact(self.fact, np.full(len(table.rows), self.said[part], object)).noting(note)
        return replace(table, flaws=[*table.flaws, doubt()]) if self.doubtful else table


def tables_on(sheet: Sheet, context: Context) -> Cutting:
    """The parts of a sheet that hold a table each, in reading order."""
    wishes = context.wishes
    if sheet.headers is not None or len(sheet) > LARGEST or not len(sheet):
        return Cutting([sheet])
    filled = sheet.filled
    found = Cutting()
    for left, right in _across(sheet, filled, wishes, found):
        for (top, bottom), above in _down(sheet, filled, (left, right), wishes):
            found.parts.append(sheet.part((top, bottom), (left, right), above))
    if len(found.parts) == 1 and not found.notes and len(found.parts[0]) == len(sheet):
        return Cutting([sheet])
    if len(found.parts) > 1:
        _title(found, context)
        found.notes.append((sheet.label, f"{len(found.parts)} tables on one sheet", "each has its own headings"))
    return found


def _title(found: Cutting, context: Context) -> None:
    """Let parts whose titles differ know what their titles name: a taster, a lot, a pot ..."""
    parts, wishes = found.parts, context.wishes
    titles, told = [], set()
    for part in parts:
        header = find_header(part, wishes)
        lines = () if header is None else header.titles
        single = [c for line in lines if len(cells := list(dict.fromkeys(c for c in line if c))) == 1 for c in cells]
        titles.append(single[-1] if single else "")
        told |= {wishes.role(c)[0] for row in (header.rows if header else ()) for c in row if c}
    if not all(titles) or len(set(titles)) < 2 or any(":" in t for t in titles):
        return
    level = stripped(titles)
    free = [r for r in (LOT, TASTER, DESCRIPTOR, SESSION, STAGE) if r not in told and not (r == LOT and CODE in told)]
    merits = sorted(((evidence(level, r), r) for r in free), reverse=True)
    role = role_of(level.prefix) if level.prefix else merits[0][1] if merits and merits[0][0] >= 2 else ""
    if not role or role in told:
        return
    known = level.prefix or {*map(plain, level.distinct)} <= {*context.room.listed.get(TASTER, ())}
    if role == TASTER and not known and share_no_lot([_lots(part, wishes) for part in parts]):
        graded = are_grades(level.distinct)
        role, sure = ("grade", True) if graded else asked_whose(level.distinct, parts[0], context.inquiry)
        found.doubtful, found.said = not sure, level.labels
        found.fact = role if role in ("grade", GARDEN) else ""
    if role and not found.fact:
        pairs = zip(parts, level.labels, strict=True)
        found.parts = [replace(part, above=(*part.above, [f"{role}: {x}"])) for part, x in pairs]


def _lots(part: Sheet, wishes: Wishes) -> set[str]:
    """The labels below the heading of lots, as `plain` text."""
    header = find_header(part, wishes)
    column = next(
        (c for row in (header.rows if header else ()) for c, x in enumerate(row) if wishes.role(x)[0] == LOT), None
    )
    if header is None or column is None:
        return set()
    return {plain(part.line(r)[column]) for r in range(header.lower + 1, len(part))} - {""}


def _runs(mask: np.ndarray) -> list[_Span]:
    """Where a mask is true without a gap: (start, end) each, end excluded."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], mask, [False]]).astype(np.int8)))
    return [(int(a), int(b)) for a, b in zip(edges[::2], edges[1::2], strict=True)]


def _lines(sheet: Sheet, rows: _Span, columns: _Span) -> list[list[str]]:
    return sheet.lines(*rows, *columns)


def _across(sheet: Sheet, filled: np.ndarray, wishes: Wishes, found: Cutting) -> list[_Span]:
    """Groups of columns with headings of their own; a legend at the side is dropped."""
    groups = _runs(np.asarray(filled.any(axis=0)))
    if len(groups) == 1:
        return [span for group in groups for span in _repeated(sheet, group, wishes)] or [(0, filled.shape[1])]
    paired = [g for g in groups[1:] if _are_pairs([line for line in _lines(sheet, (0, len(sheet)), g) if any(line)])]
    headed = [g for g in groups if _has_header(sheet, g, wishes) or _is_block(sheet, g, wishes)]
    headed = [g for g in headed if g not in paired]
    if not headed:
        return [(0, filled.shape[1])]
    tall = max(int(filled[:, a:b].any(axis=1).sum()) for a, b in headed)
    spans: list[list[int]] = []
    start = 0
    for group in groups:
        if group in headed:
            spans.append([group[0] if spans else start, group[1]])
        elif group not in paired and _is_legend(sheet, filled, group, tall):
            start = group[1]
            text = ", ".join(c for line in _lines(sheet, (0, len(sheet)), group) for c in line if c)
            found.notes.append((sheet.label, f"beside the scores: {_short(text)}", "a legend or a note, no scores"))
        elif spans:
            spans[-1][1] = group[1]
    return [span for a, b in spans for span in _repeated(sheet, (a, b), wishes)]


def _has_header(sheet: Sheet, group: _Span, wishes: Wishes) -> bool:
    """Whether a group of columns has a row of headings that tells what its rows are."""
    rows = _lines(sheet, (0, min(40, len(sheet))), group)
    best = best_row(rows, wishes)
    return best is not None and any(wishes.role(c)[0] in (*STRONG, TASTER) for c in rows[best] if c)


def _is_block(sheet: Sheet, group: _Span, wishes: Wishes) -> bool:
    """Whether a group of columns is a table under lines that tell its lot, its taster or its day."""
    part = sheet.part((0, len(sheet)), group)
    header = find_header(part, wishes)
    told = header is not None and {LOT, TASTER, SESSION} & {*header.told.keys}
    return bool(told) and header is not None and _heads_numbers(sheet, (header.lower + 1, len(sheet)), group)


def _is_legend(sheet: Sheet, filled: np.ndarray, group: _Span, tall: int) -> bool:
    """A few short lines beside a taller table, words in most of them."""
    used = np.flatnonzero(filled[:, group[0] : group[1]].any(axis=1)).tolist()
    lines = [[c for c in _lines(sheet, (r, r + 1), group)[0] if c] for r in used]
    wordy = sum(bool((parse(line).kind == Kind.PROBLEM).any()) for line in lines)
    return len(used) * 2 <= tall and wordy * 2 > len(used)


def _repeated(sheet: Sheet, group: _Span, wishes: Wishes) -> list[_Span]:
    """Columns whose headings start again with the same key: tables side by side without a gap."""
    rows = _lines(sheet, (0, min(40, len(sheet))), group)
    best = best_row(rows, wishes)
    if best is None:
        return [group]
    labels = rows[best]
    keys = [c for c, label in enumerate(labels) if label and wishes.role(label)[0] in (*STRONG, TASTER)]
    if not keys or keys[0] > 0:
        return [group]
    starts = [c for c in keys if labels[c].casefold() == labels[keys[0]].casefold()]
    widths = {b - a for a, b in zip(starts, [*starts[1:], len(labels)], strict=True)}
    if len(starts) < 2 or min(widths) < 2:
        return [group]
    return [(group[0] + a, group[0] + b) for a, b in zip(starts, [*starts[1:], len(labels)], strict=True)]


def _down(sheet: Sheet, filled: np.ndarray, columns: _Span, wishes: Wishes) -> list[tuple[_Span, list[list[str]]]]:
    """Tables one under another in a group of columns, each with the lines above it."""
    segments = [
        part
        for run in _runs(np.asarray(filled[:, slice(*columns)].any(axis=1)))
        for part in _cut(sheet, run, columns, wishes)
    ]
    tables: list[tuple[list[int], list[list[str]]]] = []
    pending: list[_Span] = []
    over: list[list[str]] = []
    for top, bottom in segments:
        header = find_header(sheet.part((top, bottom), columns), wishes)
        if bottom < len(sheet) and _are_pairs(_lines(sheet, (top, bottom), columns)):
            pending.append((top, bottom))
        elif header is not None and _heads_numbers(sheet, (top + header.lower + 1, bottom), columns):
            titles = [line for a, b in pending for line in _lines(sheet, (a, b), columns)]
            # Pairs set apart over all tables hold for those below with no line of their own.
            over = over if tables else [line for line in titles if _are_pairs([line])]
            tables.append(([top, bottom], titles or ([] if header.titles else over)))
            pending = []
        elif tables and (_holds_marks(sheet, (top, bottom), columns) or bottom - top > 3):
            tables[-1][0][1] = bottom
            pending = []
        else:
            pending.append((top, bottom))
    if not tables:
        return [((0, len(sheet)), [])]
    tables[-1][0][1] = len(sheet)
    return [((a, b), titles) for (a, b), titles in tables]


def _are_pairs(lines: list[list[str]]) -> bool:
    """Whether every line is a known word and what it says: what is told of the table below."""
    pairs = [list(dict.fromkeys(c for c in line if c)) for line in lines]
    return all(len(pair) == 2 and role_of(pair[0]) and not role_of(pair[1]) for pair in pairs)


def _heads_numbers(sheet: Sheet, rows: _Span, columns: _Span) -> bool:
    """Whether any number stands in the lines below a row of headings."""
    below = _lines(sheet, (rows[0], min(rows[1], rows[0] + 20)), columns)
    return any(are_numbers([c for c in line[1:] if c]).any() for line in below)


def _holds_marks(sheet: Sheet, rows: _Span, columns: _Span) -> bool:
    """Whether lines hold more numbers than words beyond their first cell."""
    cells = [c for line in _lines(sheet, rows, columns) for c in line[1:] if c]
    numbers = int(are_numbers(cells).sum())
    return numbers > len(cells) - numbers


def _cut(sheet: Sheet, run: _Span, columns: _Span, wishes: Wishes) -> list[_Span]:
    """A run of filled rows cut before each new row of headings, the title lines over it included."""
    first = _lines(sheet, (run[0], min(run[1], run[0] + 40)), columns)
    best = best_row(first, wishes)
    if best is None:
        return [run]
    head, top = first[best], run[0] + best
    again = _heads_again(sheet, columns, head, wishes)[top + 2 : run[1] - 1]
    starts = []
    for row in (np.flatnonzero(again) + top + 2).tolist():
        title = row
        while title - 1 > top and _one_line(_lines(sheet, (title - 1, title), columns)[0]):
            title -= 1
        if title < row or _lines(sheet, (row, row + 1), columns)[0] != head:
            starts.append(title)
    return list(pairwise([run[0], *starts, run[1]]))


def _heads_again(sheet: Sheet, columns: _Span, head: list[str], wishes: Wishes) -> np.ndarray:
    """Which rows name the same keys as the headings, over other columns; or where these name none, all the same."""
    keys = [c for c, label in enumerate(head) if label and wishes.role(label)[0] in (*STRONG, TASTER, LOT)]
    same, fold = np.ones(len(sheet), bool), str.casefold if keys else str
    for c in keys or range(len(head)):
        same &= sheet.columns[columns[0] + c].mask(lambda v, label: fold(tidy(v)) == fold(label), head[c])
    return same


def _one_line(line: list[str]) -> bool:
    """A line of text in one cell, or of a pair such as `Taster: Alder`."""
    cells = list(dict.fromkeys(c for c in line if c))
    return (0 < len(cells) <= 2 and not are_numbers(cells[-1:]).any()) or is_title(line)


def _short(text: str) -> str:
    return text if len(text) <= 80 else f"{text[:77]}..."
