"""Every check a mark must pass, and what each finding tells a person to do."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np

from panelstats.scores.cells import DESCRIPTOR, LOT, POT, SCORE, SESSION, STAGE, TASTER
from panelstats.scores.dates import same_dates
from panelstats.scores.spelling import plain, tidy
from panelstats.sheets.checks.codes import decode
from panelstats.sheets.checks.doubtful import ask_about_errors, outside
from panelstats.sheets.checks.listednames import known_names
from panelstats.sheets.checks.nearnames import one_name, served_again
from panelstats.sheets.checks.zeros import ask_about_zeros
from panelstats.sheets.content import text
from panelstats.sheets.content.faultwords import NOT_A_MARK
from panelstats.sheets.content.limits import span_of
from panelstats.sheets.content.roles import CODE
from panelstats.sheets.content.text import Kind
from panelstats.sheets.marks.kinds import BESIDE
from panelstats.sheets.marks.marks import Marks, one_spelling
from panelstats.sheets.room.problems import Problems

if TYPE_CHECKING:
    from panelstats.sheets.room.inquiry import Inquiry
    from panelstats.sheets.room.room import Room
    from panelstats.sheets.tables.table import Flaw, Table

# What to do about each kind of problem cell, in the words of the person who holds the sheet.
ACTIONS = {
    text.NOT_A_NUMBER: "write the score as a number, empty the cell, or say in the register marks what this means",
    text.A_RANGE: "write one number, or say in the register marks what this means",
    text.A_DATE: "type the score again as a number: a spreadsheet may have made a date of it",
    text.A_TRUTH: "write the score as a number, or leave the cell empty",
    text.AN_ERROR: "mend the formula or type the score",
    text.NO_VALUE: "open the workbook in a spreadsheet, let it calculate, save it; or type the score",
    text.A_PERCENTAGE: "write the score on its own scale, without a percent sign",
    text.SCIENTIFIC: "type the score again in plain digits",
    text.OTHER_DECIMAL: "use one decimal sign throughout the file",
    text.TOO_LONG: "empty the cell and put the text under remarks",
    NOT_A_MARK: "write yes, no, or how strongly, or leave the cell empty",
}

# Sizes of marks beyond which no scale of a tasting room lies, and computing would lose their digits (ours).
LEAST_POINTS, MOST_POINTS = 1e-6, 1e15
_EACH = 6  # rows up to which each is told; of more only the first, with their number (ours)


@dataclass
class Log:
    """What the checks find: problems, notes (what, value, why), and a mask of the marks that cannot be used.

    `facts` counts the cells of each table that contradict what is said of their lot before.
    """

    tables: list[Table]
    bad: np.ndarray
    problems: Problems = field(default_factory=Problems)
    notes: list[tuple[str, str, str]] = field(default_factory=list)
    facts: Counter[int] = field(default_factory=Counter)

    def cells(self, marks: Marks, mask: np.ndarray, reason: str, action: str) -> None:
        """One problem for each cell."""
        mask = mask & ~self.bad
        for i in np.flatnonzero(mask):
            table = self.tables[marks.table[i]]
            value = table.sheet.columns[marks.column[i]].at(marks.row[i])
            told = (table.headers[marks.column[i]], reason, action)
            self.problems.add(table.sheet, (marks.row[i], marks.column[i]), value, told)
        self.bad |= mask

    def contents(self, marks: Marks, mask: np.ndarray, reason: str, action: str) -> None:
        """One problem for each distinct content of each table and column, at its first cell."""
        mask = mask & ~self.bad
        first: dict[tuple[int, str, str], list[int]] = {}
        for i in np.flatnonzero(mask).tolist():
            table = self.tables[marks.table[i]]
            value = tidy(table.sheet.columns[marks.column[i]].at(marks.row[i]))
            first.setdefault((int(marks.table[i]), table.headers[marks.column[i]], value), []).append(i)
        for (number, header, value), cells in first.items():
            sheet, i = self.tables[number].sheet, cells[0]
            told = f"{reason}, {len(cells)} cells" if len(cells) > 1 else reason
            self.problems.add(sheet, (marks.row[i], marks.column[i]), value, (header, told, action))
        self.bad |= mask

    def flaw(self, marks: Marks, number: int, flaw: Flaw) -> None:
        """One problem for a row or column of a table as a whole."""
        table = self.tables[number]
        header = "" if flaw.column is None else table.headers[flaw.column]
        if flaw.reason:
            self.problems.add(table.sheet, (flaw.row, flaw.column), flaw.value, (header, flaw.reason, flaw.action))
        mask = marks.table == number
        if flaw.row is not None:
            mask = mask & (marks.row == flaw.row)
        if flaw.column is not None:
            mask = mask & (marks.column == flaw.column)
        self.bad |= mask

    def one(self, marks: Marks, mask: np.ndarray, role: str, told: tuple[str, str]) -> None:
        """One problem for all of some marks, at the first of them."""
        mask = mask & ~self.bad
        live = np.flatnonzero(mask & (marks.kind != Kind.BLANK))
        if len(live):
            i = int(live[0])
            table = self.tables[marks.table[i]]
            columns = table.where(role) or [int(marks.column[i])]
            reason, action = told
            value = marks.keys[role].at(i)
            self.problems.add(table.sheet, (int(marks.row[i]), columns[0]), value, (role, reason, action))
        self.bad |= mask

    def rows(self, marks: Marks, mask: np.ndarray, role: str, told: tuple[str, str]) -> None:
        """One problem for each row whose key `role` cannot be used; only rows that hold a mark count."""
        mask = mask & ~self.bad
        live = mask & (marks.kind != Kind.BLANK)
        reason, action = told
        places: dict[int, dict[int, int]] = {}
        for i in np.flatnonzero(live).tolist():
            places.setdefault(int(marks.table[i]), {}).setdefault(int(marks.row[i]), i)
        for number, rows in places.items():
            table = self.tables[number]
            columns = table.where(role)
            header = table.headers[columns[0]] if columns else role
            many = len(rows) > _EACH
            what = f"{reason}, {len(rows)} rows" if many else reason
            for row, i in list(rows.items())[: 1 if many else None]:
                value = table.sheet.columns[columns[0]].at(row) if columns else marks.keys[role].at(i)
                where = (row, columns[0] if columns else None)
                self.problems.add(table.sheet, where, value, (header, what, action))
        self.bad |= mask


def check(marks: Marks, room: Room, log: Log, inquiry: Inquiry) -> Marks:
    """All checks in order; the keys that come back are final, and `log.bad` marks what cannot be used.

    Parameters
    ----------
    marks : Marks
        Every mark of the source.
    room : Room
        The registers.
    log : Log
        Takes problems and notes.
    inquiry : Inquiry
        Takes names that may be one name spelt twice.
    """
    for number, table in enumerate(log.tables):
        for flaw in table.flaws:
            log.flaw(marks, number, flaw)
    marks = _spellings(marks, log)
    beside = np.array([r in BESIDE for r in marks.role.values], bool)[marks.role.codes]
    ask_about_errors(marks, beside, log, inquiry)
    for reason in dict.fromkeys(marks.reason.values):
        if reason:
            here = marks.reason.values.index(reason)
            mask = (marks.reason.codes == here) & (marks.kind == Kind.PROBLEM) & ~beside
            log.contents(marks, mask, reason, ACTIONS.get(reason, ACTIONS[text.NOT_A_NUMBER]))
    size = np.abs(marks.number)
    beyond = (marks.kind == Kind.NUMBER) & ((size > MOST_POINTS) | (size > 0) & (size < LEAST_POINTS)) & ~beside
    log.contents(marks, beyond, "no mark of any scale, by its size", "correct it, or write all marks in another unit")
    marks = decode(marks, room, log)
    for role in (SESSION, LOT, TASTER, DESCRIPTOR):
        missing = marks.keys[role]
        mask = np.array([v == "" for v in missing.values], bool)[missing.codes]
        log.rows(marks, mask, role, (f"a row with marks but without a {role}", f"write the {role} in its row"))
    for role in (TASTER, DESCRIPTOR):
        answered = {v for v in marks.keys[role].values if inquiry.answered_of(str(v))}
        marks = known_names(marks, room, (role, answered), log, inquiry)
    ask_about_zeros(marks, log, inquiry)
    return served_again(one_name(marks, room, log, inquiry), log, inquiry)


def check_lots(marks: Marks, written: dict[str, str], room: Room, log: Log, inquiry: Inquiry) -> Marks:
    """The marks with lots the register does not list asked about; one is known by its label or as written on sheets."""
    register = room.get("lots")
    if register is None:
        return marks
    listed = set(register[LOT].map(plain))
    known = {label for label, lot in written.items() if plain(label) in listed or plain(lot) in listed}
    lots = marks.keys[LOT]
    return known_names(marks, room, (LOT, {lots.values[i] for i in lots.used()} & known), log, inquiry)


def _spellings(marks: Marks, log: Log) -> Marks:
    """One spelling for each label, and one way of writing each date."""
    keys = dict(marks.keys)
    for role in (SESSION, LOT, TASTER, DESCRIPTOR, STAGE, CODE, POT):
        keys[role], joined = one_spelling(keys[role])
        log.notes += [(f"{role} {old!r}", new, "another spelling of the same name") for old, new in joined]
    dates = same_dates([v for v in keys[SESSION].values if v])
    if dates:
        log.notes += [
            (f"session {old!r}", new, "one date written two ways") for old, new in dates.items() if old != new
        ]
        keys[SESSION] = keys[SESSION].map([dates.get(v, v) for v in keys[SESSION].values])
    return replace(marks, keys=keys)


def check_scale(marks: Marks, room: Room, lot_class: dict[str, str], log: Log, inquiry: Inquiry) -> None:
    """Scores outside the declared scale or off its step.

    Parameters
    ----------
    marks : Marks
        Keys final.
    room : Room
        Its scales.
    lot_class : dict
        Lot -> class.
    log : Log
        Takes problems.
    inquiry : Inquiry
        Takes the questions.
    """
    scales = room.scales
    if not scales:
        return
    names, lots = marks.keys[DESCRIPTOR], marks.keys[LOT]
    for (name, group), (low, high, step) in scales.items():
        hit = np.array([plain(v) == plain(name) for v in names.values], bool)[names.codes]
        hit &= (marks.kind == Kind.NUMBER) & np.array([v == SCORE for v in marks.role.values], bool)[marks.role.codes]
        if group:
            hit &= np.array([lot_class.get(v, "") == group for v in lots.values], bool)[lots.codes]
        elif any(other == name and g for other, g in scales):
            own = {g for other, g in scales if other == name and g}
            hit &= np.array([lot_class.get(v, "") not in own for v in lots.values], bool)[lots.codes]
        score, span = marks.number, span_of(low, high)
        told = ("outside the scale", span, f"change low and high in the register descriptors (now {span})")
        outside(marks, hit & ((score < low) | (score > high)), (name, *told), log, inquiry)
        log.cells(marks, hit & ((score < low) | (score > high)), told[0], f"correct it, or {told[2]}")
        if step > 0:
            start = 0.0 if np.isnan(low) else low
            ratio = (score - start) / step
            told = (
                "off the step of the scale",
                f"by {step:g}",
                f"change step in the register descriptors (now {step:g})",
            )
            outside(marks, hit & (np.abs(ratio - np.round(ratio)) > 1e-6), (name, *told), log, inquiry)
