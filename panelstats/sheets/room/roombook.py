"""room.xlsx as a workbook: questions first, lists with the words they allow, what each column is for."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from panelstats.ourfiles import MARK, cell_text, new_workbook, properties
from panelstats.sheets.room.room import ALLOWED, REGISTERS

if TYPE_CHECKING:
    from pathlib import Path

    from xlsxwriter import Workbook
    from xlsxwriter.worksheet import Worksheet

ROOM_MARK = f"{MARK}-room"  # tells a room.xlsx of ours; not the mark of results, which any run may replace
ORDER = ("questions", "headings", "sessions", "lots", "descriptors", "tasters", "codes", "sets", "marks", "room")
# What each register is for, and how to fill what is not obvious: shown as a comment on its first cell.
_HELP = {
    "questions": (
        "What the sheets alone do not tell. Write the answer in the yellow cell: one of the words its list offers, or "
        "yes where our guess is right. What stays empty is asked again."
    ),
    "headings": (
        "What each heading of the sheets means here. means: lot, taster, pot, session, code, position, look, score, "
        "descriptor, stage, remark, fact, left out. descriptor, taster, pot, lot, session, look: where a heading names "
        "one of them. Later sheets with the same headings are read the same way."
    ),
    "sessions": (
        "pots: shared (one brew for all), own (a brew for each taster), same (one pot tasted again). Left empty, "
        "shared is taken and the page says so. order: randomised or as listed. blind: yes, partly, no. "
        "opened: day and hour at which the key to the codes was opened."
    ),
    "lots": (
        "Comparisons are made within a class. role: control, standard, trial, repeat, or empty. A lot listed here "
        "once is one lot, however many sessions it was tasted in."
    ),
    "descriptors": (
        "kind: score, fault (noticed or not), words (a word to mark), money. low, high, step: the scale; filled "
        "in, every score is held to it. tolerance: the smallest difference that matters, in points. wanted: more, "
        "less, either."
    ),
    "tasters": "role: senior or trainee.",
    "codes": "Which lot (and pot) each blind code stands for. Needed only where sheets carry codes.",
    "sets": "The sets of planned difference tests: what was served in which order, and the right answer.",
    "marks": (
        'What a mark such as "+", "good" or "7/8" is worth here, in points. Put a number in place of ?, or empty the '
        "cell to make the mark a blank. Where a guess is shown and right, answering the question with yes is enough."
    ),
    "room": "language: in which pages, workbooks and messages are written, en or de. --lang wins over it.",
}
_MEANS = (
    "score", "lot", "taster", "pot", "session", "code", "position", "look", "descriptor", "stage", "remark", "words",
    "fact", "money", "fault", "left out",
)  # fmt: skip
_WIDTHS = {"what": 60, "where": 28, "seen": 44, "guess": 22, "answer": 22, "heading": 30, "mark": 18}
_PLANNED = ("sets",)  # registers that only a plan fills: no sheet of their own while there is none
_HIDDEN = ("allowed", "guess", "times", "seen")  # columns of our own that tell a list or a comment, not registers
_LIST_LIMIT = 255  # characters a drop-down list of a workbook may hold


def is_room(path: Path) -> bool:
    """Whether a file is a room.xlsx that this package wrote."""
    return path.is_file() and f'name="{ROOM_MARK}"'.encode() in properties(path)


def room_bytes(tables: dict[str, pd.DataFrame]) -> bytes:
    """The workbook of a room's questions and registers, those that are there."""
    book, stream = new_workbook(ours=False)
    book.set_custom_property(ROOM_MARK, "room")
    for name in ORDER:
        if name in tables and (name not in _PLANNED or len(tables[name])):
            _write(book, name, tables[name])
    book.close()
    return stream.getvalue()


def starter_bytes() -> bytes:
    """A blank score sheet with its registers."""
    book, stream = new_workbook(ours=False)
    page = book.add_worksheet("scores")
    head = ["session", "lot", "taster", "pot", "colour", "brightness", "strength", "briskness", "smoky", "remarks"]
    bold = book.add_format({"bold": True, "bottom": 1})
    page.write_row(0, 0, head, bold)
    page.write_comment(
        0, 0, "A row for each pot a taster tastes. Replace the descriptors by your own; leave empty what was not "
        "scored. Under a fault write yes, or how strongly.",
    )  # fmt: skip
    page.freeze_panes(1, 0)
    page.set_column(0, len(head) - 1, 12)
    for name in ("sessions", "lots", "descriptors", "tasters", "codes", "marks"):
        _write(book, name, pd.DataFrame(columns=list(REGISTERS[name])))
    book.close()
    return stream.getvalue()


def _write(book: Workbook, name: str, table: pd.DataFrame) -> None:
    page = book.add_worksheet(name)
    columns = [c for c in table.columns if c in REGISTERS[name] or c not in _HIDDEN]
    bold = book.add_format({"bold": True, "bottom": 1})
    body = book.add_format({"text_wrap": name == "questions", "valign": "top"})
    fill = book.add_format({"bg_color": "#FFF2CC", "border": 1, "text_wrap": True, "valign": "top"})
    page.write_row(0, 0, columns, bold)
    page.write_comment(0, 0, _HELP[name], {"x_scale": 3, "y_scale": 2})
    for r, row in enumerate(table.to_dict("records"), 1):
        for c, column in enumerate(columns):
            asked = (name, column) in (("questions", "answer"), ("marks", "worth"))
            _cell(page, (r, c), row[column], fill if asked and row[column] in ("", "?", None) else body)
        _offer(page, name, r, row, columns)
    _lists(page, name, columns, len(table))
    page.freeze_panes(1, 0)
    for c, column in enumerate(columns):
        page.set_column(c, c, _WIDTHS.get(column, 14))


def _cell(page: Worksheet, at: tuple[int, int], value: object, style: object) -> None:
    if isinstance(value, float | np.floating):
        if np.isfinite(value):
            page.write_number(*at, value, style)
    elif value is not None and value is not pd.NA and str(value) != "":
        page.write_string(*at, cell_text(value), style)
    else:
        page.write_blank(*at, None, style)


def _offer(page: Worksheet, name: str, row: int, said: dict, columns: list[str]) -> None:
    """The answers a question allows, or the guess beside a mark."""
    if name == "questions":
        allowed = [a for a in str(said.get("allowed") or "").split(", ") if a and a != "nan"]
        words = list(dict.fromkeys(["yes", *allowed]))
        at = columns.index("answer")
        if allowed and len(",".join(words)) <= _LIST_LIMIT and not any("," in w for w in words):
            page.data_validation(
                row, at, row, at,
                {"validate": "list", "source": words, "error_type": "warning", "input_title": "Answer",
                 "input_message": f"yes: our guess is right. Or: {', '.join(allowed)}"[:250]},
            )  # fmt: skip
    if name == "marks" and isinstance(said.get("guess"), float) and np.isfinite(said["guess"]):
        where = f" It stands {said['times']:g} times, first in {said['seen']}." if said.get("seen") else ""
        page.write_comment(row, columns.index("worth"), f"Our guess: {said['guess']:g}.{where}")


def _lists(page: Worksheet, name: str, columns: list[str], rows: int) -> None:
    """Drop-down lists of the words a column allows, with room for rows to be added."""
    lists = {column: words for (register, column), words in ALLOWED.items() if register == name}
    if name == "headings":
        lists["means"] = _MEANS
    for column, words in lists.items():
        if column in columns:
            at = columns.index(column)
            page.data_validation(
                1, at, rows + 200, at,
                {"validate": "list", "source": list(words), "error_type": "warning", "input_title": column,
                 "input_message": f"one of: {', '.join(words)}; or empty"[:250]},
            )  # fmt: skip
