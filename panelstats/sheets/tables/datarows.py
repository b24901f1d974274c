"""Which rows of a table hold marks: not the blank ones, the repeated headings, the totals, the notes."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from panelstats.scores.cells import DESCRIPTOR, LOT, TASTER
from panelstats.scores.spelling import plain, tidy
from panelstats.sheets.content.limits import with_line_of_limits
from panelstats.sheets.content.roles import CODE, DERIVED, FACT, role_of
from panelstats.sheets.content.text import are_numbers, has_digit, is_empty
from panelstats.sheets.content.totals import is_total
from panelstats.sheets.tables.table import Flaw

if TYPE_CHECKING:
    from panelstats.sheets.tables.table import Table

NOTES_SEARCHED = 30  # rows at the foot among which notes are looked for
_NOTE_WORDS = frozenset([
    "scale", "legend", "key", "note", "signed", "signature", "best", "worst", "remark", "tasters", "lots", "poor",
    "average",
])  # fmt: skip


def data_rows(table: Table, top: int, marks: list[int]) -> Table:
    """The rows below the headings but blank ones, headings again and notes, which are said; ragged ones are flaws."""
    sheet, rows = table.sheet, table.rows
    blank, header = np.ones(len(rows), bool), np.ones(len(rows), bool)
    for column in sheet.columns:
        below = column.take(rows)
        empty = below.mask(is_empty)
        blank &= empty
        header &= empty | (below.codes == column.codes[top])
    header &= ~blank & (top >= 0)
    kept = rows[~(blank | header)]
    table = left_out(table, rows[header], "the header again") if header.any() else table
    while top >= 0 and len(kept) > 1 and (found := _told_below(table, sheet.line(int(kept[0])), marks)):
        names, why = found
        line = sheet.line(int(kept[0]))
        measured = {c: FACT for c in marks if table.roles[c] == "" and role_of(f"{names[c]} {line[c]}") == FACT}
        table, kept = replace(left_out(table, kept[:1], why), names=names).taking(measured), kept[1:]
    foot = _foot_notes(table, kept, marks) if top >= 0 else kept[:0]
    if len(foot):
        said = ", ".join(cell for r in foot[:4] for cell in sheet.line(int(r)) if cell)
        said = said if len(said) < 80 else f"{said[:77]}..."
        table, kept = left_out(table, foot, f"a note or legend, no scores: {said}"), kept[~np.isin(kept, foot)]
    return replace(table, rows=kept, flaws=[*table.flaws, *_ragged(table, kept, top)], _cells={}, _parsed={})


def left_out(table: Table, rows: np.ndarray, why: str) -> Table:
    """The table with a note on rows that are left out, as a person counts them."""
    some = ", ".join(str(int(r) + table.sheet.first_row) for r in rows[:10]) + (" ..." if len(rows) > 10 else "")
    return table.noting((f"{table.sheet.label}, row {some}", "left out", why))


def _told_below(table: Table, line: list[str], marks: list[int]) -> tuple[list[str], str] | None:
    """Names of columns with what the line below the headings tells of their scales, and what it says; None if none."""
    line = [cell if role != DERIVED else "" for cell, role in zip(line, table.roles, strict=True)]
    names, said = with_line_of_limits(table.names, line, marks), ", ".join(dict.fromkeys(filter(None, line)))
    why = f"units or weights, no scores: {said[:60]}" if names == table.names else f"limits of scales: {said[:60]}"
    return (names, why) if names else None


def _foot_notes(table: Table, rows: np.ndarray, marks: list[int]) -> np.ndarray:
    """Rows at the foot that are notes: far fewer marks than the rest, and something no row of scores has."""
    if len(rows) < 2 or not marks:
        return rows[:0]
    body = [table.sheet.line(int(r)) for r in rows[: max(len(rows) // 2, 1)][:200]]
    counts = [(len(full), numbers) for full, numbers in (_marks(line, marks) for line in body)]
    usual = tuple(float(np.median(c)) for c in zip(*counts, strict=True))
    if not usual[0]:
        return rows[:0]  # nothing was scored: no line has fewer marks than the rest
    run: list[tuple[int, bool]] = []
    for r in rows[:0:-1][:NOTES_SEARCHED]:
        line = table.sheet.line(int(r))
        full, numbers = _marks(line, marks)
        apart = not np.isin(np.arange(r - 4, r), rows).all()  # a blank line stands not far above
        note = not any(map(is_total, line)) and _is_note(table, line, (full, numbers), usual, apart)
        if not note and not (len(full) <= usual[0] / 3 and (usual[0] >= 3 or not full)):
            break
        run.append((int(r), note))
    while run and not run[-1][1] and not (any(note for _, note in run) and run[-1][0] - 1 not in rows):
        run.pop()  # a sparse row over the notes is one of them only where a blank row sets it apart
    return np.array(sorted(r for r, _ in run), rows.dtype)


def _marks(line: list[str], marks: list[int]) -> tuple[list[str], int]:
    full = [line[c] for c in marks if line[c]]
    return full, int(are_numbers(full).sum())


def _is_note(
    table: Table, line: list[str], marks: tuple[list[str], int], usual: tuple[float, ...], apart: bool
) -> bool:
    """Whether a line at the foot cannot be a row of scores: keys missing and no marks, words where marks stand, ..."""
    full, numbers = marks
    filled = [c for c in line if c]
    keys = [c for role in (LOT, CODE, TASTER, DESCRIPTOR) for c in table.where(role)]
    missing = any(not line[c] for c in keys)
    text = " ".join(filled)
    wordy = "=" in text or bool(_NOTE_WORDS & {*plain(text).split()}) or filled[0][-1] == ":" or filled[0][0] == "*"
    if not full:
        return missing or wordy or len(filled) == 1 or (apart and _of_its_own(table, line, keys))
    if usual[0] < 2:
        return missing and (wordy or numbers == 0)
    strange = _strange_key(table, line, keys)
    numeric = usual[1] >= 0.8 * usual[0]  # rows of this table hold numbers, hardly a word
    if len(full) <= usual[0] / 3:
        return missing or wordy or strange or (numeric and numbers < len(full))
    fewer = numeric and numbers < 0.6 * usual[1]
    return fewer and ((numbers < len(full) and (wordy or missing)) or (apart and strange))


def _of_its_own(table: Table, line: list[str], keys: list[int]) -> bool:
    """Whether a line without marks is of another kind than the rows: a strange key, or two keys that no row has."""
    met = [{plain(table.sheet.columns[c].at(int(r))) for r in table.rows[: len(table.rows) // 2 + 1]} for c in keys]
    new = [plain(line[c]) not in labels for c, labels in zip(keys, met, strict=True)]
    return _strange_key(table, line, keys) or (len(new) > 1 and all(new))


def _strange_key(table: Table, line: list[str], keys: list[int]) -> bool:
    """Whether a key is a word where all others are numbers, or the reverse."""
    for c in keys:
        others = [tidy(table.sheet.columns[c].at(int(r))) for r in table.rows[: max(len(table.rows) // 2, 1)][:50]]
        digits = [has_digit(v) for v in others if v]
        if digits and line[c] and (line[c].isdigit() if not any(digits) else all(digits) and not has_digit(line[c])):
            return True
    return False


def _ragged(table: Table, rows: np.ndarray, top: int) -> list[Flaw]:
    """Rows of a text file with fewer cells than the header, or with more that are not empty."""
    fields = table.sheet.fields
    if fields is None or top < 0:
        return []
    width = max((c + 1 for c, h in enumerate(table.headers) if h), default=0)
    odd = rows[(fields[rows] < width) | (fields[rows] > max(int(fields[top]), width))]
    flaws = []
    for row in odd:
        beyond = [c for c in range(width, len(table.sheet.columns)) if not is_empty(table.sheet.columns[c].at(row))]
        if fields[row] < width or beyond:
            reason = f"a row of {fields[row]} cells under a header of {width}"
            do = "give the row as many cells as the header; quote a cell that holds the delimiter"
            flaws.append(Flaw(int(row), None, "", reason, do))
    return flaws
