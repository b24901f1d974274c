"""Sheets in, nothing lost: read a source, check every cell, and account for all of them."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from panelstats.arguments import checked
from panelstats.errors import DesignError, SheetError
from panelstats.scores.cells import CLASS, LOT
from panelstats.scores.table import Scores
from panelstats.sheets import account, kinds, names, registers
from panelstats.sheets import room as rooms
from panelstats.sheets.assemble import Reading, assembled, no_scores
from panelstats.sheets.check import Log, check, check_lots, check_scale
from panelstats.sheets.facts import facts_of, row_labels
from panelstats.sheets.files import input_files, open_source, read_bytes, sheets_of
from panelstats.sheets.identity import descriptors_by_stage, labels_met, lots_by_session, roles_of_lots
from panelstats.sheets.layouts import left_out, understand
from panelstats.sheets.marks import all_marks
from panelstats.sheets.pots import number_pots
from panelstats.sheets.problems import Problems, as_error
from panelstats.sheets.roles import Wishes

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping

    from panelstats.sheets.files import Source
    from panelstats.sheets.grid import Sheet
    from panelstats.sheets.room import Room
    from panelstats.sheets.tables import Note, Table


ROOM = "room.xlsx"


@checked()
def read_scores(
    source: Source,
    *,
    room: str | Path | Mapping[str, pd.DataFrame] | None = None,
    columns: Mapping[str, str | None] | None = None,
    leave_out: Collection[str] = (),
    set_aside: bool = False,
) -> Scores:
    """Read score sheets; every cell becomes a score, a blank, a fault, a word, a fact, or a problem that is told.

    Parameters
    ----------
    source : str, Path, DataFrame, or list of these
        A file, a folder, several of them, or a table.
    room : str, Path or mapping, optional
        A workbook or folder of registers, or {register name: DataFrame}; registers found in the source are used, too.
    columns : mapping, optional
        {their header: our word}; None leaves a column out. It always wins.
    leave_out : collection of str, optional
        Sheets (or files) not to read.
    set_aside : bool
        Leave problem cells out instead of stopping; the account and every page say so.

    Returns
    -------
    Scores

    Raises
    ------
    SheetError
        Anything that cannot be read as it stands; all problems at once, with their table on the error.
    DesignError
        An argument no sheet could satisfy.

    Examples
    --------
    >>> import pandas as pd
    >>> read_scores(pd.DataFrame({"lot": ["101", "102"], "taster": ["alder", "alder"], "brisk": ["7.5", "6"]}))
    <Scores: 2 scores, 2 lots, 1 taster, 1 descriptor, 1 session>
    """
    opened = open_source(source)
    sheets, declared, notes = _sorted_out(opened.sheets, set(map(str, leave_out)))
    if room is None:
        declared += _room_beside(source, notes)
    home = rooms.read_room(room, declared)
    unread = [account.Unread(file, "", 0, error) for file, error in opened.unread]
    tables = _tables(sheets, Wishes({**home.wishes, **(columns or {})}), home, (notes, unread))
    scores = _scores(tables, home, (notes, unread), set_aside=set_aside)
    return replace(scores, digest=opened.digest, files=files_read(source, room))


def files_read(source: Source, room: str | Path | Mapping[str, pd.DataFrame] | None = None) -> tuple[Path, ...]:
    """Every file that `read_scores` opens for a source and its room, absolute; known even where reading fails.

    Parameters
    ----------
    source, room
        As for `read_scores`.
    """
    if room is None:
        beside = _beside(source)
        return input_files(source) + ((beside.absolute(),) if beside else ())
    return input_files(source) + (input_files(room) if isinstance(room, str | Path) else ())


def _beside(source: Source) -> Path | None:
    """The workbook room.xlsx that lies beside the file."""
    path = Path(source) if isinstance(source, str | Path) else None
    if path is None or path.is_dir() or path.name == ROOM or not (path.parent / ROOM).is_file():
        return None
    return path.parent / ROOM


def _room_beside(source: Source, notes: list[Note]) -> list[Sheet]:
    """The registers in a workbook room.xlsx that lies beside the file."""
    beside = _beside(source)
    if beside is None:
        return []
    sheets = sheets_of(read_bytes(beside), ROOM)
    found = [sheet for sheet in sheets if rooms.is_register(sheet, ROOM)]
    notes += [(sheet.label, "a register", "it lies beside the file") for sheet in found if len(sheet) > 1]
    return found


def _names(sheet: Sheet) -> set[str]:
    """What a sheet may be called when it is left out."""
    return {sheet.name, sheet.file, Path(sheet.file).stem} - {""}


def _sorted_out(sheets: list[Sheet], leave_out: set[str]) -> tuple[list[Sheet], list[Sheet], list[Note]]:
    """Score sheets and registers apart; sheets the user leaves out are said."""
    known = {label for sheet in sheets for label in _names(sheet)}
    for name in sorted(leave_out - known):
        raise DesignError(
            f"nothing is named {name!r}", where=f"leave_out={name!r}", do=f"use one of {', '.join(sorted(known)[:30])}"
        )
    kept, declared, notes = [], [], []
    for sheet in sheets:
        if leave_out & _names(sheet):
            notes.append((sheet.label, "not read", "left out as asked"))
        elif rooms.is_register(sheet, Path(sheet.file).stem):
            declared.append(sheet)
            notes.append((sheet.label, "a register", "its name and first column say so"))
        else:
            kept.append(sheet)
            notes += [(sheet.label, text, "found on opening") for text in sheet.mended]
    return kept, declared, notes


def _tables(
    sheets: list[Sheet], wishes: Wishes, home: Room, told: tuple[list[Note], list[account.Unread]]
) -> list[Table]:
    """The sheets understood; those that cannot be are kept as unread."""
    notes, unread = told
    tables = []
    for sheet in sheets:
        try:
            table = understand(sheet, wishes, home)
        except SheetError as error:
            unread.append(account.Unread(sheet.file, sheet.name, account.filled_cells(sheet), error))
            continue
        if table is not None:
            tables.append(table)
        elif account.filled_cells(sheet):
            unread.append(account.Unread(sheet.file, sheet.name, account.filled_cells(sheet), None))
            notes.append((sheet.label, "holds no scores", "nothing in it is a number"))
    if not tables:
        raise _nothing(sheets, unread)
    wishes.refuse_unmet([h for t in tables for h in t.headers])
    for table in tables:
        notes += table.notes
        notes += [(f"{table.sheet.label}, column {h!r}", "left out", "as asked with columns=") for h in left_out(table)]
    return tables


def _nothing(sheets: list[Sheet], unread: list[account.Unread]) -> SheetError:
    """The error where no table is left: what stopped each file, or that there was none."""
    problems = _unread_problems(unread).frame()
    if len(problems):
        return as_error(problems)
    where = ", ".join(s.label for s in sheets) or "the source"
    return SheetError("there is nothing to read", where=where, do="give a file or folder that holds score sheets")


def _unread_problems(unread: list[account.Unread]) -> Problems:
    problems = Problems()
    for one in unread:
        if one.error is not None:
            problems.add_unread(one.file, one.sheet, one.error)
    return problems


def _scores(
    tables: list[Table], home: Room, before: tuple[list[Note], list[account.Unread]], *, set_aside: bool
) -> Scores:
    notes, unread = before
    tables, told = names.from_names(tables)
    notes += told
    tables, told = kinds.settle(tables, home.kinds, home.worth)
    notes += told
    marks = all_marks(tables, home)
    log = Log(tables, np.zeros(len(marks), bool), _unread_problems(unread), notes)
    if not len(marks):
        raise no_scores(tables, log)
    marks = check(marks, home, log)
    marks, written = lots_by_session(marks, home, log)
    check_lots(marks, written, home, log)
    marks, met = descriptors_by_stage(marks, home)
    pots = number_pots(marks, roles_of_lots(written, home), log)
    labels = row_labels(tables, marks, pots[0])
    lots, told = registers.lots_of(
        labels_met(marks.keys[LOT], ~log.bad), written, home, facts_of(tables, marks, labels)
    )
    notes += told
    check_scale(marks, home.scales, dict(zip(lots[LOT], lots[CLASS], strict=True)), log)
    problems = log.problems.frame()
    if len(problems) and not set_aside:
        raise as_error(problems)
    return assembled(Reading(tables, marks, log, home, *pots, lots, met, labels, problems, unread))
