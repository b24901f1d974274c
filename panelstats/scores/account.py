"""The account: every cell of every sheet is a score, a blank, a fault, a word, a fact, or set aside."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from panelstats.scores.columns import NAMELESS
from panelstats.scores.facts import FACT_ROLES
from panelstats.scores.table import ACCOUNT
from panelstats.scores.text import is_empty

if TYPE_CHECKING:
    from panelstats.errors import SheetError
    from panelstats.scores.grid import Sheet
    from panelstats.scores.tables import Table

SCORED, BLANK, FAULTED, WORDED, FACTUAL, ASIDE = range(6)


def account_of(tables: list[Table], table: np.ndarray, status: np.ndarray) -> pd.DataFrame:
    """Count the cells of each sheet.

    Parameters
    ----------
    tables : list of Table
        All tables of the source.
    table, status : ndarray of int
        Table of each mark cell, and what became of it.

    Returns
    -------
    DataFrame
        file, sheet, seen, scores, blanks, faults, words, facts, set_aside; seen is counted on its own, from the sizes of
        the tables.
    """
    counts = np.zeros((len(tables), 6), int)
    np.add.at(counts, (table, status), 1)
    rows = []
    for number, one in enumerate(tables):
        beside = [c for c, role in enumerate(one.roles) if role in FACT_ROLES]
        filled = sum(_filled(one, c) for c in beside)
        marks = int((table == number).sum())
        scores, blanks, faults, words, facts, aside = counts[number]
        nameless = sum(_filled(one, c) for c in one.where(NAMELESS))
        marks, aside = marks + nameless, aside + nameless
        blanks += len(beside) * len(one.rows) - filled
        rows.append(
            (
                one.sheet.file,
                one.sheet.name,
                marks + len(beside) * len(one.rows),
                scores,
                blanks,
                faults,
                words,
                facts + filled,
                aside,
            )
        )
    return pd.DataFrame(rows, columns=ACCOUNT)


def unread_rows(unread: list[Unread]) -> pd.DataFrame:
    """Rows of the account for files and sheets that were not read: nothing of a file, all cells of a sheet."""
    rows = [
        (u.file, u.sheet, u.cells, 0, 0, 0, 0, u.cells if u.error is None else 0, u.cells if u.error else 0)
        for u in unread
    ]
    return pd.DataFrame(rows, columns=ACCOUNT)


@dataclass(frozen=True)
class Unread:
    """A file or sheet that gave no scores: `cells` filled ones; `error` None where it holds no numbers."""

    file: str
    sheet: str
    cells: int
    error: SheetError | None


def filled_cells(sheet: Sheet) -> int:
    """How many cells of a sheet show anything."""
    return sum(int(np.array([not is_empty(v) for v in c.values], bool)[c.codes].sum()) for c in sheet.columns)


def _filled(table: Table, column: int) -> int:
    factor = table.cells(column)
    full = np.array([not is_empty(v) for v in factor.values], bool)
    return int(full[factor.codes].sum())
