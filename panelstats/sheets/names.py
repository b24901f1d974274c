"""Names of files and sheets, and dates: what they tell about sessions, tasters and stages."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from panelstats.scores.cells import SESSION, STAGE, TASTER
from panelstats.sheets.dates import date_in, is_sitting
from panelstats.sheets.grid import Factor
from panelstats.sheets.roles import STAGES
from panelstats.sheets.text import plain, tidy

if TYPE_CHECKING:
    from panelstats.sheets.tables import Table

EMPTY_SESSION = "its session column is empty: all of it is one session"
_GENERIC = re.compile(
    r"(?:sheet|tabelle|feuil|feuille|hoja|foglio|blad|data|scores?|table|dataframe|export|book|results?)\s*\d*|"
)


def from_names(tables: list[Table]) -> tuple[list[Table], list[tuple[str, str, str]]]:
    """Session, taster and stage of each table from the names of its sheet and file, where no column tells them."""
    notes: list[tuple[str, str, str]] = []
    free = [_free_label(t, tables) for t in tables]
    varied = len(set(free)) > 1
    new = []
    for table, label in zip(tables, free, strict=True):
        extra = dict(table.extra)
        size = len(table.rows)
        stage = STAGES.get(plain(table.sheet.name), "")
        if stage and not table.tells(STAGE):
            extra[STAGE] = Factor.constant(stage, size)
        if not table.tells(TASTER):
            name = label if varied and label else "one taster"
            extra[TASTER] = Factor.constant(name, size)
            why = "from the name of the sheet or file" if varied and label else "no column names the taster"
            notes.append((f"taster of {table.sheet.label}", name, why))
        empty = table.is_empty(SESSION) and SESSION not in table.across
        if empty or not table.tells(SESSION):
            name = _sitting(table) or (label if varied and table.tells(TASTER) and not _is_taster(table, label) else "")
            extra[SESSION] = Factor.constant(name or "1", size)
            if empty:
                notes.append((f"session of {table.sheet.label}", name or "1", EMPTY_SESSION))
            elif name:
                notes.append((f"session of {table.sheet.label}", name, "from the name of the sheet or file"))
        new.append(replace(table, extra=extra))
    return new, notes


def _sitting(table: Table) -> str:
    """The label of a sheet or file that is a date or a numbered sitting."""
    for label in (table.sheet.name, Path(table.sheet.file).stem):
        date = date_in(label)
        if date:
            return date.isoformat() if date.year > 1 else tidy(label)
        if is_sitting(label):
            return tidy(label)
    return ""


def _free_label(table: Table, tables: list[Table]) -> str:
    """The name of a sheet (or file) that is neither a date, nor a sitting, nor a stage, nor a spreadsheet's own."""
    stem = Path(table.sheet.file).stem
    alone = sum(t.sheet.file == table.sheet.file for t in tables) == 1
    for label in (stem, table.sheet.name) if alone else (table.sheet.name, stem):
        word = plain(label)
        if (
            word
            and not _GENERIC.fullmatch(word)
            and not date_in(label)
            and not is_sitting(label)
            and word not in STAGES
        ):
            return tidy(label)
    return ""


def _is_taster(table: Table, label: str) -> bool:
    """Whether the label only repeats the one taster whose sheet it is."""
    columns = table.where(TASTER)
    if not columns:
        return False
    factor = table.cells(columns[0])
    names = {plain(factor.values[c]) for c in factor.used()} - {""}
    return len(names) == 1 and names.pop() in plain(label)
