"""Forms to tick: numbers of a scale as headings, and a sign under the one that was given."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from panelstats.scores.cells import DESCRIPTOR, LOT, SCORE, TASTER
from panelstats.scores.spelling import tidy
from panelstats.sheets.content.roles import CODE, is_descriptor_word, role_of, two_roles
from panelstats.sheets.content.text import TWO_TICKS, has_digit
from panelstats.sheets.files.grid import factor

if TYPE_CHECKING:
    from panelstats.sheets.files.grid import Sheet
    from panelstats.sheets.tables.table import Context

_TICKS = frozenset(["x", "✓", "✔", "•", "●", "☑", "☒", "✗", "✘", "✕", "×", "■", "√"])
_LARGEST = 20_000  # rows of a sheet beyond which nobody ticks (ours)
_HIGHEST, _FEWEST = 10, 3  # the highest number of a scale to tick, and how many it has at the least (ours)
_SCORES, _LOTS, _WORDS = "scores", "lots", "descriptors"


@dataclass(frozen=True)
class _Form:
    """Numbers of a scale in one row of headings, by column, and what is ticked under them, by row."""

    head: int
    numbers: dict[int, int]
    ticked: dict[int, list[int]]
    over: list[list[str]]  # the lines above it, up to the last form

    @property
    def once(self) -> int:
        """Rows with one tick."""
        return sum(len(columns) == 1 for columns in self.ticked.values())

    @property
    def is_scale(self) -> bool:
        """Whether hardly a row has two ticks, as where one number of a scale is chosen."""
        return self.once >= 2 and 5 * sum(len(columns) > 1 for columns in self.ticked.values()) <= self.once


def scored_by_ticks(sheet: Sheet, context: Context) -> Sheet:
    """The sheet with the number over each tick as the score of its row, in one column for all the numbers.

    Parameters
    ----------
    sheet : Sheet
        As it was read.
    context : Context
        Takes the question where the numbers may be lots or descriptors, too.
    """
    signs = any(type(v) is str and v.strip().casefold() in _TICKS for column in sheet.columns for v in column.values)
    if not signs or sheet.headers is not None or len(sheet) > _LARGEST:
        return sheet
    lines = sheet.lines(0, len(sheet))
    forms = [form for form in _forms(sheet, lines) if form.is_scale]
    if not forms or not (all(_is_told(form, lines, context) for form in forms) or _asked(sheet, forms[0], context)):
        return sheet
    cells = [sheet.row(r) for r in range(len(sheet))]
    spoiled = dict(sheet.spoiled)
    at: dict[tuple[int, int], tuple[int, int]] = {}
    for form in forms:
        left = min(form.numbers)
        for r in (form.head, *form.ticked):
            cells[r] = ["" if c in form.numbers else value for c, value in enumerate(cells[r])]
            at |= {(r, c): (r, left) for c in form.numbers}
        _headed(form, lines, cells)
        for r, columns in form.ticked.items():
            cells[r][left] = " and ".join(str(form.numbers[c]) for c in columns)
            if len(columns) > 1:
                spoiled[r, left] = TWO_TICKS
            elif columns:
                cells[r][left] = float(form.numbers[columns[0]])
    chosen = {place for form in forms for r, columns in form.ticked.items() for place in ((r, c) for c in columns)}
    return replace(
        sheet, columns=[factor(column) for column in zip(*cells, strict=True)], spoiled=spoiled,
        struck={at.get(p, p): said for p, said in sheet.struck.items() if p not in at or p in chosen},
        comments={at.get(place, place): said for place, said in sheet.comments.items()},
    )  # fmt: skip


def _forms(sheet: Sheet, lines: list[list[str]]) -> list[_Form]:
    """Rows of headings that count along a scale, each with the rows of ticks and blanks below it."""
    found, last = [], 0
    for head, line in enumerate(lines):
        for numbers in _scales(line):
            ticked: dict[int, list[int]] = {}
            for r in range(head + 1, len(lines)):
                here = [c for c in numbers if lines[r][c]]
                if any(lines[r][c].casefold() not in _TICKS for c in here):
                    break
                kept = [c for c in here if sheet.struck.get((r, c)) != ""]  # a tick struck out was taken back
                if any(lines[r]):
                    ticked[r] = kept or here
            found.append(_Form(head, numbers, ticked, lines[last:head]))
        last = head + 1 if found and found[-1].head == head else last
    return found


def _scales(line: list[str]) -> list[dict[int, int]]:
    """Numbers next to one another that count from 0 or 1 on, or down to it: {column: number}."""
    runs: list[dict[int, int]] = []
    for c, label in enumerate(line):
        number = int(label) if label.isascii() and label.isdigit() and len(label) < 3 else None
        run = runs[-1] if runs and c - 1 in runs[-1] else {}
        steps = {b - a for a, b in zip([*run.values()], [*run.values()][1:], strict=False)}
        if number is None:
            continue
        if run and abs(number - run[c - 1]) == 1 and {number - run[c - 1]} >= steps:
            run[c] = number
        else:
            runs.append({c: number})
    return [run for run in runs if len(run) >= _FEWEST and min(run.values()) < 2 and max(run.values()) <= _HIGHEST]


def _is_told(form: _Form, lines: list[list[str]], context: Context) -> bool:
    """Whether lots are told elsewhere, and descriptors too, or every row is ticked once: the numbers are a scale."""
    told = {role_of(c) for line in (*form.over, lines[form.head]) for c in line if c} | set(context.named)
    told |= {role for c in lines[form.head] if c for role in two_roles(c)}
    sides = [[lines[r][c] for r in form.ticked if lines[r][c]] for c in range(min(form.numbers))]
    lots = {LOT, CODE} & told or any(side and all(map(has_digit, side)) for side in sides)
    words = DESCRIPTOR in told or any(side and all(map(is_descriptor_word, side)) for side in sides)
    return bool(lots) and (words or form.once == len(form.ticked))


def _asked(sheet: Sheet, form: _Form, context: Context) -> bool:
    """Whether the room says that numbers over ticks are scores."""
    shown = ", ".join(map(str, form.numbers.values()))
    answer = context.inquiry.ask(
        f"What are the numbers over the ticks: {shown}?",
        (sheet, form.head, min(form.numbers), shown, ""), seen=shown, guess=_SCORES,
        allowed=(_SCORES, _LOTS, _WORDS), reason="ticks under numbers that may be scores, lots or descriptors",
    )  # fmt: skip
    return answer == _SCORES


def _headed(form: _Form, lines: list[list[str]], cells: list[list[object]]) -> None:
    """Head the scores by the one descriptor named above them, and a column of labels without heading by its looks."""
    left, head = min(form.numbers), cells[form.head]
    alone = [only[0] for line in form.over if len(only := [c for c in line if c]) == 1 and is_descriptor_word(only[0])]
    head[left] = alone[-1] if alone and not any(role_of(c) == DESCRIPTOR for c in lines[form.head]) else SCORE.title()
    for c in range(left):
        side = [lines[r][c] for r in form.ticked if lines[r][c]]
        if side and not tidy(head[c]):
            words = sum(map(is_descriptor_word, side)) * 2 >= len(side)
            head[c] = (DESCRIPTOR if words else LOT if all(map(has_digit, side)) else TASTER).title()
            return
