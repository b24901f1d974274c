"""How a source would be read: its tables, what each heading is taken for, and what only the room can answer."""

from __future__ import annotations

import shlex
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from panelstats.errors import DesignError, SheetError
from panelstats.scores.cells import CLASS, DESCRIPTOR, LOT, TASTER
from panelstats.scores.spelling import plain
from panelstats.sheets.checks.check import check, check_lots, check_scale
from panelstats.sheets.checks.contradictions import check_facts
from panelstats.sheets.checks.derived import mark_derived
from panelstats.sheets.checks.identity import descriptors_by_stage, governed, labels_met, lots_by_session, roles_of_lots
from panelstats.sheets.checks.log import Log
from panelstats.sheets.checks.pots import number_pots
from panelstats.sheets.checks.struck import ask_about_struck, comments_said
from panelstats.sheets.content.roles import DERIVED, FACT, role_of
from panelstats.sheets.content.wishes import Wishes
from panelstats.sheets.files.opened import open_source, room_beside
from panelstats.sheets.files.sources import ROOM, files_read, kept_apart
from panelstats.sheets.layouts.understood import left_out, understand
from panelstats.sheets.marks import kinds
from panelstats.sheets.marks.facts import facts_of, facts_said, row_labels
from panelstats.sheets.marks.marks import all_marks
from panelstats.sheets.marks.wordscores import ask_about_words
from panelstats.sheets.reading import account
from panelstats.sheets.reading.assemble import Reading
from panelstats.sheets.room import registers
from panelstats.sheets.room.inquiry import Inquiry
from panelstats.sheets.room.lists import A_LIST, list_kind
from panelstats.sheets.room.problems import Problems
from panelstats.sheets.room.readroom import is_register, read_room
from panelstats.sheets.room.room import REGISTERS, Room
from panelstats.sheets.tables.copies import without_copies
from panelstats.sheets.tables.namekeys import NameKey, keys_on, met_by, named_by_keys, without_keys
from panelstats.sheets.tables.names import from_names, told_by_names
from panelstats.sheets.tables.partition import tables_on
from panelstats.sheets.tables.table import Context
from panelstats.sheets.tables.ticks import scored_by_ticks
from panelstats.sheets.tables.toldlimits import told_limits

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Mapping

    from panelstats.sheets.files.grid import Sheet
    from panelstats.sheets.files.sources import Source
    from panelstats.sheets.tables.table import Note, Table

_NARROW = 4  # columns of a list or a legend, at the most (ours)
_APART = "a room keeps its pages, its drafts and removed sheets in folders of these names"


@dataclass
class Found:
    """All that an examination found.

    `reading` is None where no table holds marks. `problems` and the open questions of `inquiry` are what stands in the
    way of reading; `start` is the command that writes room.xlsx.
    """

    inquiry: Inquiry
    sheets: list[Sheet] = field(default_factory=list)
    tables: list[Table] = field(default_factory=list)
    keys: list[NameKey] = field(default_factory=list)
    notes: list[Note] = field(default_factory=list)
    unread: list[account.Unread] = field(default_factory=list)
    reading: Reading | None = None
    room: Room = field(default_factory=Room)
    digest: str = ""
    files: tuple[Path, ...] = ()
    start: str = "panelstats start"

    @property
    def problems(self) -> pd.DataFrame:
        """Every problem, and every open question that changes what is read, a row each."""
        found = _unread_problems(self.unread) if self.reading is None else self.reading.log.problems
        whole = Problems(list(found.found))
        for question in self.inquiry.open:
            if question.reason:
                sheet, row, column, value, heading = question.cell
                do = f"answer it in room.xlsx, sheet questions ({self.start} writes it)"
                do = f"{do}; our guess: {question.guess}" if question.guess else do
                whole.add(sheet, (row, column), value, (heading, question.reason, do))
        return whole.frame()


def examine(
    source: Source,
    *,
    room: str | Path | Mapping[str, pd.DataFrame] | None = None,
    columns: Mapping[str, str | None] | None = None,
    leave_out: Collection[str] = (),
    progress: Callable[[str], None] | None = None,
) -> Found:
    """Look at everything a source holds, without judging whether it may be read.

    Parameters
    ----------
    source, room, columns, leave_out, progress
        As for `read_scores`.

    Raises
    ------
    SheetError
        There is no such file, or a register that cannot be obeyed.
    DesignError
        An argument no sheet could satisfy.
    """
    opened = open_source(source, progress)
    sheets, declared, notes = _sorted_out(opened.sheets, set(map(str, leave_out)))
    if room is None:
        declared += _declared_beside(source, notes)
    home = read_room(room, declared)
    found = Found(Inquiry.of(home.get("questions")), sheets, room=home, digest=opened.digest)
    found.files = files_read(source, room)
    if isinstance(source, str | Path):
        found.start += f" {shlex.quote(str(source))}"
    found.notes += notes + [(each, "not read", _APART) for each in kept_apart(source)]
    found.unread += [account.Unread(file, "", 0, error) for file, error in opened.unread]
    _find_tables(found, Wishes(columns, home.headings))
    if found.tables:
        _find_marks(found)
    return found


def _declared_beside(source: Source, notes: list[Note]) -> list[Sheet]:
    """The registers in a workbook room.xlsx that lies beside the file."""
    sheets = room_beside(source)
    found = [sheet for sheet in sheets if is_register(sheet, "room")]
    notes += [(sheet.label, "a register", "it lies beside the file") for sheet in found if len(sheet) > 1]
    return found


def _names(sheet: Sheet) -> set[str]:
    """What a sheet may be called when it is left out."""
    return {sheet.name, sheet.file, Path(sheet.file).stem} - {""}


def _sorted_out(sheets: list[Sheet], leave_out: set[str]) -> tuple[list[Sheet], list[Sheet], list[Note]]:
    """Score sheets and registers apart; sheets the user leaves out are said."""
    known = {label for sheet in sheets for label in _names(sheet)}
    for name in sorted(leave_out - known):
        do = f"use one of {', '.join(sorted(known)[:30])}"
        raise DesignError(f"nothing is named {name!r}", where=f"leave_out={name!r}", do=do)
    kept, declared, notes = [], [], []
    for sheet in sheets:
        if leave_out & _names(sheet):
            notes.append((sheet.label, "not read", "left out as asked"))
        elif register := is_register(sheet, Path(sheet.file).stem):
            declared.append(sheet)
            heads = sheet.headers or sheet.row(0)
            named = plain(sheet.name or Path(sheet.file).stem) in REGISTERS
            why = "its name and first column say so" if named else f"its headings are those of the register {register}"
            notes.append((sheet.label, "a register", why))
            told = register == "codes" and not named and FACT in map(role_of, heads)
            kept += [sheet] if told else []  # what it says of the lots besides
        elif kind := list_kind(sheet):
            notes.append((sheet.label, A_LIST, kind))
        else:
            kept.append(sheet)
            notes += [(sheet.label, text, "found on opening") for text in sheet.mended]
            notes += comments_said(sheet)
    declared.sort(key=lambda sheet: sheet.file == ROOM)  # the room's own word comes last: it wins
    return kept, declared, notes


def _find_tables(found: Found, wishes: Wishes) -> None:
    """The tables on the sheets; sheets that cannot be understood are kept as unread."""
    kept, told = without_copies(found.sheets, wishes, found.inquiry)
    found.notes += told
    context = Context(wishes, found.room, found.inquiry, told_by_names(kept))
    for sheet in kept:
        _read_named(found, scored_by_ticks(sheet, context), context)
    _forgive_legends(found)
    if found.tables:
        wishes.refuse_unmet([h for t in found.tables for h in t.headers])
    for table in found.tables:
        found.notes += table.notes
        found.notes += [(f"{table.sheet.label}, column {h!r}", "left out", "as asked") for h in left_out(table)]
    if wishes.since:
        found.notes.append(("headings", f"read as on {wishes.since[-1]}", "room.xlsx remembers what they mean"))


def _read_named(found: Found, sheet: Sheet, context: Context) -> None:
    """The tables on a sheet; keys of names are set apart where its tables meet what they name."""
    keys, asked, marks = keys_on(sheet), dict(found.inquiry.asked), list(found.inquiry.marks)
    tables, unread, notes = list(found.tables), list(found.unread), list(found.notes)
    _read_sheet(found, without_keys(sheet, keys), context)
    met = [key for key in keys if met_by(key, found.tables[len(tables) :])]
    if met != keys:
        found.inquiry.asked, found.inquiry.marks = asked, marks
        found.tables, found.unread, found.notes = tables, unread, notes
        _read_sheet(found, without_keys(sheet, met), context)
    found.keys += met


def _read_sheet(found: Found, sheet: Sheet, context: Context) -> None:
    cutting = tables_on(sheet, context)
    found.notes += cutting.notes
    for number, part in enumerate(cutting.parts):
        try:
            table = understand(part, context)
        except SheetError as error:
            small = len(part.columns) <= _NARROW
            found.unread.append(account.Unread(part.file, part.name, int(part.filled.sum()), error, small))
            continue
        if table is not None:
            found.tables.append(cutting.settled(number, table))
        elif cells := int(part.filled.sum()):
            found.unread.append(account.Unread(part.file, part.name, cells, None))
            found.notes.append((part.label, "holds no scores", "nothing in it is a number"))


def _forgive_legends(found: Found) -> None:
    """Small sheets of words and a few numbers beside sheets of scores are legends, not unreadable score sheets."""
    most = max((len(t.rows) * len(t.headers) for t in found.tables), default=0)
    for n, one in enumerate(found.unread):
        if one.error is not None and 0 < one.cells * 4 <= most and one.small:
            found.unread[n] = account.Unread(one.file, one.sheet, one.cells, None)
            label = f"{one.file}, sheet {one.sheet}" if one.sheet else one.file
            found.notes.append((label, "not read", "a few words and figures without a lot: no scores"))


def _find_marks(found: Found) -> None:
    home, notes = found.room, found.notes
    tables, told = from_names(found.tables, home.listed.get(TASTER, ()), found.inquiry)
    notes += told
    tables, told = named_by_keys(tables, found.keys, found.inquiry)
    notes += told
    tables, limits, told = told_limits(tables, home)
    notes += told
    home = replace(home, limits=limits)
    tables, told = kinds.settle(tables, home.kinds, home.worth, found.inquiry)
    notes += told
    worth = ask_about_words(tables, home, found.inquiry, notes)
    found.tables = tables
    marks = all_marks(tables, home, worth)
    log = Log(tables, np.zeros(len(marks), bool), found.inquiry, _unread_problems(found.unread), notes)
    if not len(marks):
        return
    ask_about_struck(marks, log)
    home = governed(home, marks.keys[DESCRIPTOR])
    marks = check(marks, home, log)
    marks, written = lots_by_session(marks, home, log)
    marks = check_lots(marks, written, home, log)
    marks, met = descriptors_by_stage(marks, home)
    marks = mark_derived(marks, home, log)
    live = ~marks.of(DERIVED)
    met = met[met[DESCRIPTOR].isin(marks.keys[DESCRIPTOR].take(live).met)].reset_index(drop=True)
    pots = number_pots(marks, roles_of_lots(written, home), log)
    labels = row_labels(tables, marks, pots[0])
    usable = ~log.bad & live
    facts = facts_said(tables, marks, labels, written)
    check_facts(facts, written, home, log)
    lots, told = registers.lots_of(labels_met(marks.keys[LOT], usable), written, home, facts_of(facts))
    notes += told
    check_scale(marks, home, dict(zip(lots[LOT], lots[CLASS], strict=True)), log)
    found.reading = Reading(tables, marks, log, home, *pots, lots, met, labels, usable, found.unread)


def _unread_problems(unread: list[account.Unread]) -> Problems:
    problems = Problems()
    for one in unread:
        if one.error is not None:
            problems.add_unread(one.file, one.sheet, one.error)
    return problems
