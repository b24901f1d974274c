"""Which pot and which look each mark stands for; servings scored twice are told."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from panelstats.scores.cells import DESCRIPTOR, LOOK, LOT, POSITION, POT, SESSION, TASTER
from panelstats.scores.grids import rank_within
from panelstats.scores.spelling import natural
from panelstats.sheets.checks.rivals import one_sheet_holds
from panelstats.sheets.content.roles import CODE
from panelstats.sheets.content.text import Kind
from panelstats.sheets.marks.kinds import BESIDE
from panelstats.sheets.marks.servings import combined, occurrence, sorted_labels, twice, whole_numbers

if TYPE_CHECKING:
    from panelstats.sheets.checks.log import Log
    from panelstats.sheets.marks.marks import Marks


def number_pots(marks: Marks, roles: dict[str, str], log: Log) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Pot, look and position of every mark, its keys final; servings scored twice become problems.

    Returns
    -------
    pot, look, position : ndarray
        Integers from 1; position NaN where not recorded.
    """
    group = marks.place(SESSION, LOT)
    pot = _pots(marks, group, log)
    look, odd = whole_numbers(marks.keys[LOOK])
    log.rows(marks, odd, LOOK, ("a look that is no whole number", "number the looks 1, 2, ..."))
    place, odd = whole_numbers(marks.keys[POSITION])
    log.rows(marks, odd, POSITION, ("a position that is no whole number", "number the positions 1, 2, ..."))
    look = np.maximum(look, 1)
    pot, clash = _met_again(marks, roles, combined(group, marks.keys[TASTER].codes, look), pot, log)
    if clash.any():
        key = combined(group, marks.keys[TASTER].codes, look, pot, marks.keys[DESCRIPTOR].codes)
        told = (
            "the same serving is scored twice",
            "keep one, give each its pot number or look, or mark the lot as repeat in the register lots",
        )
        clash = one_sheet_holds(marks, clash, key, log)
        log.rows(marks, clash, LOT if any(t.tells(LOT) for t in log.tables) else CODE, told)
    return pot, look, np.where(place > 0, place, np.nan)


def _pots(marks: Marks, group: np.ndarray, log: Log) -> np.ndarray:
    """Pot numbers: as written, else by code within the lot, else 1."""
    labels = marks.keys[POT]
    if labels.met:
        empty = marks.named(POT, "")
        live = empty & (marks.kind == Kind.NUMBER) & ~log.bad
        if live.any() and not empty[~log.bad].all():
            log.rows(marks, empty, POT, ("a pot without number, while other rows have one", "write the pot's number"))
        number, odd = whole_numbers(labels)
        if not odd.any():
            return np.maximum(number, 1)
        log.notes.append(("pots", "numbered within each lot", "their labels are no whole numbers"))
        return rank_within(group, sorted_labels(labels, natural).codes) + 1
    if marks.keys[CODE].met:
        return rank_within(group, sorted_labels(marks.keys[CODE], natural).codes) + 1
    return np.ones(len(marks), np.int64)


def _met_again(
    marks: Marks, roles: dict[str, str], serving: np.ndarray, pot: np.ndarray, log: Log
) -> tuple[np.ndarray, np.ndarray]:
    """Number the pots of controls, standards and repeats met again; the mask of all other marks met twice."""
    key = combined(serving, pot, marks.keys[DESCRIPTOR].codes)
    live = (marks.kind == Kind.NUMBER) & ~log.bad & ~marks.of(*BESIDE)
    clash = np.zeros(len(marks), bool)
    clash[live] = twice(key[live])
    if not clash.any():
        return pot, clash
    whole = marks.keys[LOT].mask(lambda lot: roles.get(lot, "") in ("control", "standard", "repeat"))
    if (clash & whole).any() and not marks.keys[POT].met:
        order = np.lexsort((marks.row, marks.table))
        pot = pot.copy()
        ordered = order[whole[order]]
        pot[ordered] = occurrence(key[ordered])
        log.notes += [
            (f"pots of {lot}", "numbered in the order of the sheet", "met again, and its role says so")
            for lot in sorted(marks.keys[LOT].take(clash & whole).met)
        ]
        clash &= ~whole
    return pot, clash
