"""Workbooks of difference tests: a sheet to fill in for each taster, and the register that holds the key."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pandas as pd

from panelstats.ourfiles import cell_text, new_workbook
from panelstats.plan.blank.books import set_up
from panelstats.plan.blank.marks import REMARKS
from panelstats.plan.plates import words
from panelstats.sheets.room.room import REGISTERS
from panelstats.speech import Phrase

if TYPE_CHECKING:
    from panelstats.plan.plates.plateplan import PlatePlan

_TOLD = ("plan", "session", "taster", "trial")
TAB = "test"
_ONE_CUP = ("triangle", "duo-trio", "paired", "2-afc", "3-afc")  # kinds answered by one code


def plates_bytes(sets: pd.DataFrame) -> bytes:
    """The workbook of one taster: a row a set, its codes in the order served, a cell to answer; no product, no order.

    Parameters
    ----------
    sets : DataFrame
        Of the taster: plan, session, kind, taster, trial, order, code.
    """
    book, stream = new_workbook(ours=False)
    page = book.add_worksheet(TAB)
    bold, text = book.add_format({"bold": True, "bottom": 1}), book.add_format({"num_format": "@"})
    heads = [*_TOLD, "code", "answer", REMARKS]
    page.write_row(0, 0, heads, bold)
    for r, row in enumerate(sets.to_dict("records"), 1):
        for c, name in enumerate((*_TOLD, "code")):
            page.write_string(r, c, cell_text(served(row) if name == "code" else row[name]), text)
        page.write_blank(r, len(_TOLD) + 1, None, text)
        allowed = [*words.SAID.get(row["kind"], ()), *(row["code"].split() if row["kind"] in _ONE_CUP else ())]
        if allowed:
            told = {"validate": "list", "source": allowed, "error_type": "warning", "input_title": "answer",
                    "input_message": str(Phrase("empty: cannot tell"))}  # fmt: skip
            page.data_validation(r, len(_TOLD) + 1, r, len(_TOLD) + 1, told)
    set_up(page, len(heads), frozen=0, width=13)
    book.close()
    return stream.getvalue()


def served(row: dict) -> str:
    """The cups of a set from left to right, a reference marked R first.

    Examples
    --------
    >>> served({"order": "A:AB", "code": "417 526"})
    'R 417 526'
    """
    return f"R {row['code']}" if ":" in row["order"] else str(row["code"])


def plates_registers(plan: PlatePlan) -> dict[str, pd.DataFrame]:
    """The registers of a plan of difference tests: its sessions, tasters and sets."""
    sets = plan.answers.assign(code=[served(row) for row in plan.answers.to_dict("records")])
    return {
        "sessions": pd.DataFrame({"session": list(dict.fromkeys(sets["session"]))}),
        "tasters": pd.DataFrame({"taster": list(dict.fromkeys(sets["taster"]))}),
        "sets": sets[list(REGISTERS["sets"])],
    }
