"""Every check a mark must pass, and what each finding tells a person to do."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from panelstats.scores.cells import DESCRIPTOR, LOT, POT, SCORE, SESSION, STAGE, TASTER
from panelstats.scores.dates import same_dates
from panelstats.scores.spelling import plain
from panelstats.sheets.checks.codes import decode
from panelstats.sheets.checks.days import without_times
from panelstats.sheets.checks.doubtful import ask_about_errors, outside
from panelstats.sheets.checks.identity import listed_by_stage
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

if TYPE_CHECKING:
    from panelstats.sheets.checks.log import Log
    from panelstats.sheets.room.room import Room

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
    text.TWO_TICKS: "leave one tick in the row",
    NOT_A_MARK: "write yes, no, or how strongly, or leave the cell empty",
}

# Sizes of marks beyond which no scale of a tasting room lies, and computing would lose their digits (ours).
LEAST_POINTS, MOST_POINTS = 1e-6, 1e15


def check(marks: Marks, room: Room, log: Log) -> Marks:
    """All checks in order; the keys that come back are final, and `log.bad` marks what cannot be used."""
    for number, table in enumerate(log.tables):
        for flaw in table.flaws:
            log.flaw(marks, number, flaw)
    marks = _spellings(without_times(marks, log), log)
    beside = marks.of(*BESIDE)
    ask_about_errors(marks, beside, log)
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
        told = (f"a row with marks but without a {role}", f"write the {role} in its row")
        log.rows(marks, marks.named(role, ""), role, told)
    for role in (TASTER, DESCRIPTOR):
        answered = {v for v in marks.keys[role].values if log.inquiry.answered_of(str(v))}
        answered |= listed_by_stage(marks, room) if role == DESCRIPTOR else set()
        marks = known_names(marks, room, (role, answered), log)
    ask_about_zeros(marks, log)
    return served_again(one_name(marks, room, log), log)


def check_lots(marks: Marks, written: dict[str, str], room: Room, log: Log) -> Marks:
    """The marks with lots the register does not list asked about; one is known by its label or as written on sheets."""
    listed = room.listed.get(LOT, ())
    known = {label for label, lot in written.items() if plain(label) in listed or plain(lot) in listed}
    return known_names(marks, room, (LOT, known), log)


def _spellings(marks: Marks, log: Log) -> Marks:
    """One spelling for each label, and one way of writing each date."""
    keys = dict(marks.keys)
    for role in (SESSION, LOT, TASTER, DESCRIPTOR, STAGE, CODE, POT):
        keys[role], joined = one_spelling(keys[role])
        log.notes += [(f"{role} {old!r}", new, "another spelling of the same name") for old, new in joined]
    dates = same_dates([v for v in keys[SESSION].values if v])
    if dates:
        log.notes += [(f"session {o!r}", new, "one date written two ways") for o, new in dates.items() if o != new]
        keys[SESSION] = keys[SESSION].map([dates.get(v, v) for v in keys[SESSION].values])
    return marks.under(keys)


def check_scale(marks: Marks, room: Room, lot_class: dict[str, str], log: Log) -> None:
    """Scores outside the scale declared for their descriptor and the class of their lot, or off its step."""
    scales, names, lots = room.scales, marks.keys[DESCRIPTOR], marks.keys[LOT]
    scored = marks.of(SCORE) & (marks.kind == Kind.NUMBER)
    for (name, group), (low, high, step) in scales.items():
        own = {group} if group else {g for other, g in scales if other == name and g}
        hit = scored & names.mask(lambda label, mine: plain(label) == mine, plain(name))
        hit &= lots.mask(lambda lot, own: lot_class.get(lot, "") in own, own) == bool(group)
        score, span = marks.number, span_of(low, high)
        told = ("outside the scale", span, f"change low and high in the register descriptors (now {span})")
        outside(marks, hit & ((score < low) | (score > high)), (name, *told), log)
        log.cells(marks, hit & ((score < low) | (score > high)), told[0], f"correct it, or {told[2]}")
        if step > 0:
            start = 0.0 if np.isnan(low) else low
            ratio = (score - start) / step
            do = f"change step in the register descriptors (now {step:g})"
            told = ("off the step of the scale", f"by {step:g}", do)
            outside(marks, hit & (np.abs(ratio - np.round(ratio)) > 1e-6), (name, *told), log)
