"""How a source would be read, for whoever wants to know before it is: the public face of an examination."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import pandas as pd

from panelstats.arguments import checked
from panelstats.scores.cells import DESCRIPTOR, LOT, TASTER
from panelstats.scores.spelling import plain, tidy
from panelstats.sheets.reading import account
from panelstats.sheets.reading.assemble import account_table, headings_table, statuses
from panelstats.sheets.reading.examine import examine
from panelstats.sheets.reading.marksmet import marks_met

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from panelstats.sheets.files.grid import Sheet
    from panelstats.sheets.files.sources import Source
    from panelstats.sheets.reading.examine import Found
    from panelstats.sheets.tables.table import Table

_SHOWN = 40  # rows from the top that a view of a sheet shows
_IN_DOUBT = 60  # rows further down that it shows because something is wrong in them
_LONGEST = 80  # signs of a cell that it shows
HEADING, READ, BESIDE = "heading", "read", "beside"


class View(NamedTuple):
    """The top of a sheet and its rows in doubt: for each row the number a person sees, what it is, its cells.

    `kind` of a row is "heading", "read" (marks were looked for in it) or "beside" (a title, a total, a blank).
    """

    file: str
    sheet: str
    rows: list[tuple[int, str, list[str]]]
    length: int


@dataclass(frozen=True, eq=False)
class Examination:
    """How a source would be read, and what has to be answered first.

    Attributes
    ----------
    columns : DataFrame
        heading, where, means, why: what each heading is taken for; file, sheet and column (from 0) say where it stands,
        descriptor what it scores.
    questions : DataFrame
        what, where, seen, guess, answer: what only the room can answer; `answer` is "" while it is open.
    places : DataFrame
        A row for each question: file, sheet, row (as a person counts; 0: a whole column or sheet), column (from 0; -1:
        a whole row or sheet), heading, value, allowed (the answers understood, a tuple; empty: any text).
    account : DataFrame
        file, sheet, seen, scores, blanks, faults, words, facts, set_aside, as if problems were set aside.
    files : DataFrame
        file, lots, tasters, words: how many of each a file holds.
    marks : DataFrame
        mark, descriptor, guess (NaN: none), times, seen: marks that nobody has said the worth of.
    views : tuple of View
        The first 40 rows of each sheet, and those in which something is in doubt.
    problems : DataFrame
        Everything that stands in the way, as a `SheetError` would carry it.
    notes : DataFrame
        what, value, why: everything nobody declared.
    """

    columns: pd.DataFrame
    questions: pd.DataFrame
    places: pd.DataFrame
    account: pd.DataFrame
    files: pd.DataFrame
    marks: pd.DataFrame
    views: tuple[View, ...]
    problems: pd.DataFrame
    notes: pd.DataFrame


@checked()
def examine_sheets(
    source: Source,
    *,
    room: str | Path | Mapping[str, pd.DataFrame] | None = None,
    columns: Mapping[str, str | None] | None = None,
) -> Examination:
    """How a source would be read, without refusing anything that its sheets hold.

    Parameters
    ----------
    source, room, columns
        As for `read_scores`.

    Raises
    ------
    SheetError
        There is no such file.
    DesignError
        An argument no sheet could satisfy.

    Examples
    --------
    >>> import pandas as pd
    >>> sheet = pd.DataFrame({"lot": ["101", "102"], "taster": "alder", "brisk": ["7.5", "good"]})
    >>> examine_sheets(sheet).columns[["heading", "means"]].to_numpy().tolist()
    [['lot', 'lot'], ['taster', 'taster'], ['brisk', 'score']]
    """
    return examination_of(examine(source, room=room, columns=columns))


def examination_of(found: Found) -> Examination:
    """An examination as tables."""
    heads = headings_table(found.tables)
    told = {n[0]: n[2] for n in found.notes}
    why = [told.get(h) or told.get(f"column {h!r}", "") for h in heads["heading"]]
    if found.reading is None:
        counted = account.unread_rows(found.unread)
    else:
        counted = account_table(found.reading, statuses(found.reading)[0])
    notes = pd.DataFrame(found.notes, columns=["what", "value", "why"]).drop_duplicates(ignore_index=True)
    shown = ["heading", "where", "means", "why", "file", "sheet", "column", DESCRIPTOR]
    return Examination(
        heads.rename(columns={"at": "column"}).assign(why=why)[shown], found.inquiry.frame().drop(columns="allowed"),
        _places(found), counted, _files(found), _marks(found), _views(found), found.problems, notes,
    )  # fmt: skip


def _places(found: Found) -> pd.DataFrame:
    """Where each question arose, and what may be answered."""
    rows = []
    for question in found.inquiry.asked.values():
        sheet, row, column, value, heading = question.cell
        at = -1 if column is None else int(column) + sheet.first_column
        number = 0 if row is None else int(row) + sheet.first_row
        rows.append((sheet.file, sheet.name, number, at, heading, value, question.allowed))
    return pd.DataFrame(rows, columns=["file", "sheet", "row", "column", "heading", "value", "allowed"])


def _files(found: Found) -> pd.DataFrame:
    """How many lots, tasters and words each file holds, of marks that can be used."""
    counts = {"lots": LOT, "tasters": TASTER, "words": DESCRIPTOR}
    if found.reading is None:
        return pd.DataFrame(columns=["file", *counts])
    marks, usable = found.reading.marks, found.reading.usable
    files = list(dict.fromkeys(table.sheet.file for table in found.tables))
    at = np.array([files.index(table.sheet.file) for table in found.tables])[marks.table]
    keys = pd.DataFrame({name: marks.keys[role].codes for name, role in counts.items()})[usable]
    table = keys.groupby(at[usable]).nunique()
    return table.reset_index(drop=True).assign(file=[files[n] for n in table.index])[["file", *counts]]


def _marks(found: Found) -> pd.DataFrame:
    known = {plain(mark) for mark in found.room.worth}
    table = marks_met(found).reindex(columns=["mark", DESCRIPTOR, "guess", "times", "seen"])
    return table[[plain(mark) not in known for mark in table["mark"]]].reset_index(drop=True)


def _views(found: Found) -> tuple[View, ...]:
    doubted: dict[tuple[str, str], set[int]] = {}
    for file, sheet, row in found.problems[["file", "sheet", "row"]].itertuples(index=False):
        doubted.setdefault((file, sheet), set()).add(int(row))
    return tuple(
        _view(sheet, [t for t in found.tables if (t.sheet.file, t.sheet.name) == (sheet.file, sheet.name)],
              doubted.get((sheet.file, sheet.name), set()))
        for sheet in found.sheets
    )  # fmt: skip


def _view(sheet: Sheet, tables: list[Table], doubted: set[int]) -> View:
    """The rows of a sheet as a person would see them, with what each was taken for."""
    read = {int(r) + t.sheet.first_row - sheet.first_row for t in tables for r in t.rows[: _SHOWN + 1]}
    top = {t.top + t.sheet.first_row - sheet.first_row for t in tables if t.top >= 0}
    below = sorted(r - sheet.first_row for r in doubted)
    shown = [*range(min(_SHOWN, len(sheet))), *[r for r in below if _SHOWN <= r < len(sheet)][:_IN_DOUBT]]
    rows = []
    if sheet.headers is not None:
        rows.append((0, HEADING, [tidy(each) for each in sheet.headers]))
    for r in shown:
        kind = HEADING if r in top else READ if r in read or r >= _SHOWN else BESIDE
        rows.append((r + sheet.first_row, kind, [tidy(cell)[:_LONGEST] for cell in sheet.row(r)]))
    return View(sheet.file, sheet.name, rows, len(sheet))
