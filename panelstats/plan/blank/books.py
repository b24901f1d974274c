"""Workbooks: a sheet to fill in for each taster, and the registers that hold the key to the codes."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from panelstats.ourfiles import cell_text, new_workbook
from panelstats.plan.blank.marks import KEYS, REMARKS, scale_of
from panelstats.plan.session.brew import FACTS
from panelstats.sheets.room.room import REGISTERS
from panelstats.speech import Phrase, said

if TYPE_CHECKING:
    from xlsxwriter import Workbook
    from xlsxwriter.worksheet import Worksheet

    from panelstats.plan.session.servingplan import ServingPlan

_LONGEST_TAB = 31  # characters: limit kept by every spreadsheet program
_LONGEST_TITLE, _LONGEST_NOTE = 32, 250  # characters of what is shown beside a cell


def sheet_bytes(servings: pd.DataFrame, descriptors: pd.DataFrame) -> bytes:
    """The workbook of one taster: a tab a session, a row a cup, cells to fill in; neither lot nor role.

    Parameters
    ----------
    servings : DataFrame
        Of the taster: plan, session, taster, position, code.
    descriptors : DataFrame
        As `marked` gives them.
    """
    book, stream = new_workbook(ours=False)
    tabs: set[str] = set()
    for session, rows in servings.groupby("session", sort=False):
        page = book.add_worksheet(_tab(str(session), tabs))
        _fill(book, page, rows.sort_values("position"), descriptors)
    book.close()
    return stream.getvalue()


def _tab(session: str, taken: set[str]) -> str:
    """A name for a tab: no sign that workbooks forbid, none twice."""
    plain = re.sub(r"[\[\]:*?/\\']", "-", cell_text(session)).strip() or "session"
    name, number = plain[:_LONGEST_TAB], 2
    while name.casefold() in taken or name.casefold() == "history":
        end = f" {number}"
        name, number = plain[: _LONGEST_TAB - len(end)] + end, number + 1
    taken.add(name.casefold())
    return name


def _fill(book: Workbook, page: Worksheet, rows: pd.DataFrame, descriptors: pd.DataFrame) -> None:
    """Keys as text, empty cells with their scale as validation."""
    bold, text = book.add_format({"bold": True, "bottom": 1}), book.add_format({"num_format": "@"})
    heads = [*KEYS, *descriptors["descriptor"], REMARKS]
    page.write_row(0, 0, [cell_text(head) for head in heads], bold)
    for r, row in enumerate(rows[list(KEYS)].itertuples(index=False), 1):
        for c, (name, value) in enumerate(zip(KEYS, row, strict=True)):
            if name == "position":
                page.write_number(r, c, int(value))
            else:
                page.write_string(r, c, cell_text(value), text)
    for c, (_, mark) in enumerate(descriptors.iterrows(), len(KEYS)):
        _validate(page, c, len(rows), mark)
    set_up(page, len(heads), frozen=len(KEYS), width=11)


def set_up(page: Worksheet, columns: int, *, frozen: int, width: float) -> None:
    """A sheet to fill in that prints across A4, its heads on every leaf, with room for remarks in the last column."""
    page.freeze_panes(1, frozen)
    page.set_landscape()
    page.set_paper(9)
    page.fit_to_pages(1, 0)
    page.repeat_rows(0)
    page.set_column(0, columns - 2, width)
    page.set_column(columns - 1, columns - 1, 36)


def _validate(page: Worksheet, column: int, rows: int, mark: pd.Series) -> None:
    """The scale of a descriptor; a warning lets a blank's own sign through."""
    words = filter(None, [said(str(mark["stage"])), scale_of(mark), str(Phrase("empty: not scored"))])
    told = {"input_title": str(mark["descriptor"])[:_LONGEST_TITLE], "input_message": ", ".join(words)[:_LONGEST_NOTE]}
    if np.isfinite(mark["low"]) and np.isfinite(mark["high"]):
        told_wrong = Phrase("The scale goes from {scale}.").format(scale=scale_of(mark))
        rule = {"validate": "decimal", "criteria": "between", "minimum": mark["low"], "maximum": mark["high"],
                "error_type": "warning", "error_message": told_wrong}  # fmt: skip
    else:
        rule = {"validate": "any"}
    page.data_validation(1, column, rows, column, rule | told)


def registers_of(plan: ServingPlan, descriptors: pd.DataFrame) -> dict[str, pd.DataFrame]:
    """The registers that say all a reader of the filled sheets would ask."""
    sessions = list(dict.fromkeys(plan.servings["session"]))
    lots = plan.lots.fillna("")
    return {
        "sessions": pd.DataFrame({
            "session": sessions, "pots": "own" if plan.service == "tray" else "shared",
            "order": "randomised" if plan.randomised else "as listed", "blind": "yes", "opened": "",
            **{name: plan.brews[name].tolist() for name in FACTS},
        }),
        "lots": lots[[*[n for n in REGISTERS["lots"] if n in lots], *[n for n in lots if n not in REGISTERS["lots"]]]],
        "descriptors": descriptors,
        "tasters": pd.DataFrame({"taster": list(plan.tasters)}),
        "codes": plan.codes,
    }  # fmt: skip
