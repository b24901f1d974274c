"""Sheets in, nothing lost: read a source, check every cell, and account for all of them."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from panelstats.errors import DesignError, SheetError
from panelstats.scores import account, infer, kinds, names, registers
from panelstats.scores import room as rooms
from panelstats.scores.cells import CLASS, DESCRIPTOR, LOOK, LOT, POSITION, POT, SCORE, SESSION, STAGE, TASTER
from panelstats.scores.check import Log, check, check_lots, check_scale, number_pots
from panelstats.scores.columns import CODE, FAULT, LEFT_OUT, WORD, Wishes
from panelstats.scores.facts import asked_cells, facts_of, faults_of, remarks_of, row_labels, words_of
from panelstats.scores.files import open_source, read_bytes, sheets_of
from panelstats.scores.identity import descriptors_by_stage, labels_met, lots_by_session, roles_of_lots
from panelstats.scores.layouts import left_out, understand
from panelstats.scores.marks import Marks, all_marks
from panelstats.scores.problems import Problems, as_error
from panelstats.scores.servings import combined
from panelstats.scores.table import REMARKS, Scores
from panelstats.scores.text import Kind

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping

    from panelstats.scores.files import Source
    from panelstats.scores.grid import Factor, Sheet
    from panelstats.scores.room import Room
    from panelstats.scores.tables import Note, Table


ROOM = "room.xlsx"


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
    return replace(scores, digest=opened.digest)


def _room_beside(source: Source, notes: list[Note]) -> list[Sheet]:
    """The registers in a workbook room.xlsx that lies beside the file."""
    path = Path(source) if isinstance(source, str | Path) else None
    if path is None or path.is_dir() or path.name == ROOM or not (path.parent / ROOM).is_file():
        return []
    sheets = sheets_of(read_bytes(path.parent / ROOM), ROOM)
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
        raise _no_scores(tables, log)
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
    return _assembled(Reading(tables, marks, log, home, *pots, lots, met, labels, problems, unread))


def _no_scores(tables: list[Table], log: Log) -> SheetError:
    """The error where headers were found and no score under them, or none that may be used."""
    problems = log.problems.frame()
    if len(problems):
        return as_error(problems)
    where = ", ".join(table.sheet.label for table in tables)
    return SheetError(
        "the sheets hold no score",
        where=where,
        do="fill in the scores; a number column that was taken for a fact can be named: columns= (--column)",
    )


@dataclass(frozen=True, eq=False)
class Reading:
    """All that was found, ready to be put together."""

    tables: list[Table]
    marks: Marks
    log: Log
    room: Room
    pot: np.ndarray
    look: np.ndarray
    position: np.ndarray
    lots: pd.DataFrame
    met: pd.DataFrame
    labels: pd.DataFrame
    problems: pd.DataFrame
    unread: list[account.Unread]


def _assembled(found: Reading) -> Scores:
    marks, bad, room, notes = found.marks, found.log.bad, found.room, found.log.notes
    serving = _servings(found)
    faulted, worded = (asked_cells(marks, role, serving, bad) for role in (FAULT, WORD))
    status = _status(marks, bad, faulted, worded)
    tasters, told = registers.tasters_of(labels_met(marks.keys[TASTER], ~bad), room)
    notes += told
    sessions = registers.sessions_of(labels_met(marks.keys[SESSION], ~bad), room)
    if not np.isin(status, (account.SCORED, account.FAULTED)).any():
        raise _no_scores(found.tables, found.log)
    frame = _frame(found, status == account.SCORED, (sessions, found.lots, tasters))
    groups = registers.scores_by(frame, found.lots)
    descriptors, told = registers.descriptors_of(groups, found.met, room)
    notes += told
    pots = _pots(frame, descriptors, found)
    notes += _undeclared_pots(pots, many=len(sessions) > 1)
    remarks = remarks_of(found.tables, marks, found.labels)
    faults = faults_of(marks, found.pot, faulted, remarks)
    return Scores(
        frame, faults, words_of(marks, worded, faults, remarks), remarks[REMARKS],
        _account(found, status), found.problems,
        pd.DataFrame(notes, columns=["what", "value", "why"]).drop_duplicates(ignore_index=True),
        sessions, found.lots, descriptors, tasters, registers.scales_of(groups, descriptors, found.lots, room),
        pots, _headers(found.tables),
    )  # fmt: skip


def _undeclared_pots(pots: pd.DataFrame, *, many: bool) -> list[Note]:
    """What was taken for the pots of each session and stage of which nobody said it."""
    notes = []
    for row in pots[~pots["declared"].astype(bool)].to_dict("records"):
        where = [f" of session {row[SESSION]}"] * many + [f", {row[STAGE]}"] * bool(row[STAGE])
        notes.append(("".join(["pots", *where]), row["pots"], row["reason"]))
    return notes


def _headers(tables: list[Table]) -> pd.DataFrame:
    """What each heading was taken for, in words that `columns=` understands."""
    rows = []
    for table in tables:
        for c, (header, role, name) in enumerate(zip(table.headers, table.roles, table.names, strict=True)):
            if not header or any(labels[c] for labels in table.across.values()):
                continue
            own = role in kinds.MARK_ROLES and not table.is_down
            rows.append((table.sheet.file, table.sheet.name, header, "" if role == LEFT_OUT else name if own else role))
    return pd.DataFrame(rows, columns=["file", "sheet", "header", "word"])


def _account(found: Reading, status: np.ndarray) -> pd.DataFrame:
    parts = [account.account_of(found.tables, found.marks.table, status), account.unread_rows(found.unread)]
    return pd.concat([part for part in parts if len(part)], ignore_index=True)


def _servings(found: Reading) -> np.ndarray:
    """The serving each mark belongs to."""
    keys = found.marks.keys
    return combined(keys[SESSION].codes, keys[LOT].codes, keys[TASTER].codes, found.pot, found.look)


def _status(marks: Marks, bad: np.ndarray, faulted: np.ndarray, worded: np.ndarray) -> np.ndarray:
    """What became of each mark cell."""
    status = np.full(len(marks), account.SCORED)
    status[np.array([r in kinds.BESIDE for r in marks.role.values], bool)[marks.role.codes]] = account.FACTUAL
    status[marks.kind == Kind.BLANK] = account.BLANK
    status[faulted], status[worded] = account.FAULTED, account.WORDED
    status[bad & (marks.kind != Kind.BLANK)] = account.ASIDE
    return status


def _frame(
    found: Reading, keep: np.ndarray, registers_: tuple[pd.DataFrame, pd.DataFrame, pd.DataFrame]
) -> pd.DataFrame:
    sessions, lots, tasters = registers_
    scored = found.met.loc[found.met["kind"] == SCORE, DESCRIPTOR]
    order = {SESSION: sessions[SESSION], LOT: lots[LOT], TASTER: tasters[TASTER], DESCRIPTOR: scored}
    keys = {role: _categorical(found.marks.keys[role].take(keep), list(labels)) for role, labels in order.items()}
    return pd.DataFrame({
        SESSION: keys[SESSION], LOT: keys[LOT], TASTER: keys[TASTER], POT: found.pot[keep].astype(np.int64),
        LOOK: found.look[keep].astype(np.int64), POSITION: found.position[keep], DESCRIPTOR: keys[DESCRIPTOR],
        SCORE: found.marks.number[keep],
    })  # fmt: skip


def _categorical(factor: Factor, labels: list[str]) -> pd.Categorical:
    index = {label: i for i, label in enumerate(labels)}
    codes = np.array([index.get(v, -1) for v in factor.values], np.int32)[factor.codes]
    return pd.Categorical.from_codes(codes, pd.Index(labels, dtype="str"))


def _pots(frame: pd.DataFrame, descriptors: pd.DataFrame, found: Reading) -> pd.DataFrame:
    stages = dict(zip(descriptors[DESCRIPTOR], descriptors[STAGE], strict=True))
    said = {role: any(found.marks.keys[role].values[i] for i in found.marks.keys[role].used()) for role in (CODE, POT)}
    return infer.pots_table(frame, stages, found.room.get("sessions"), by_codes=said[CODE], by_labels=said[POT])
