"""Names of files and sheets, and dates: what they tell about sessions, tasters and stages."""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from panelstats.scores.cells import SESSION, STAGE, TASTER
from panelstats.scores.columns import STAGES
from panelstats.scores.files import natural
from panelstats.scores.grid import Factor
from panelstats.scores.text import plain, tidy

if TYPE_CHECKING:
    from panelstats.scores.tables import Table

_GENERIC = re.compile(
    r"(?:sheet|tabelle|feuil|feuille|hoja|foglio|blad|data|scores?|table|dataframe|export|book|results?)\s*\d*|"
)
_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
_MONTH = rf"({'|'.join(_MONTHS)})[a-z]*"
_ISO = re.compile(r"(\d{4})[-_./]?(\d{2})[-_./]?(\d{2})")
_NUMERIC = re.compile(r"(\d{1,2})[-_./](\d{1,2})[-_./](\d{4}|\d{2})")
_NAMED = re.compile(
    rf"(\d{{1,2}})[-_. ]?{_MONTH}[-_., ]*(\d{{4}}|\d{{2}})?|{_MONTH}[-_. ]?(\d{{1,2}})(?:[-_., ]+(\d{{4}}))?"
)
_SITTING = re.compile(r".*\b(?:week|wk|sale|session|sitting|day)[-_ ]?(?:no\.?[-_ ]?)?(\d{1,4})\b.*")


def date_in(label: str, *, month_first: bool = False) -> dt.date | None:
    """The date a label holds, None where it holds none; without a year, the year 1.

    Examples
    --------
    >>> date_in("row 2024-03-01"), date_in("1 March 2024"), date_in("01/03/2024"), date_in("week 14")
    (datetime.date(2024, 3, 1), datetime.date(2024, 3, 1), datetime.date(2024, 3, 1), None)
    """
    text = plain(label)
    try:
        if found := _ISO.search(text):
            return dt.date(*map(int, found.groups()))
        if found := _NUMERIC.search(text):
            day, month, year = map(int, found.groups())
            if month_first:
                day, month = month, day
            return dt.date(year + 2000 * (year < 100), month, day)
        if found := _NAMED.search(text):
            day, month_name, year = (found[1], found[2], found[3]) if found[1] else (found[5], found[4], found[6])
            short = int(year or 1)
            return dt.date(short + 2000 * (1 < short < 100), _MONTHS.index(month_name) + 1, int(day))
    except ValueError:
        return None
    return None


def session_order(labels: list[str]) -> list[str]:
    """Session labels by date where all have one, else in natural order."""
    first = month_first(labels)
    dates = {label: date_in(label, month_first=first) for label in labels}
    if labels and all(dates.values()):
        return sorted(labels, key=lambda label: (dates[label], natural(label)))
    return sorted(labels, key=natural)


def month_first(labels: list[str]) -> bool:
    """Whether dates such as 3/14/2024 show that the month stands first."""
    pairs = [m for m in (_NUMERIC.fullmatch(plain(label)) for label in labels) if m]
    return any(int(m[2]) > 12 for m in pairs) and not any(int(m[1]) > 12 for m in pairs)


def same_dates(labels: list[str]) -> dict[str, str]:
    """Dates written two ways become one, as year-month-day; nothing changes where one way is used."""
    first = month_first(labels)
    dates = {label: date_in(label, month_first=first) for label in labels if label}
    if not dates or not all(d and d.year > 1 for d in dates.values()):
        return {}
    styles = {re.sub(r"\d+", "0", label) for label in dates}
    return {label: d.isoformat() for label, d in dates.items() if d} if len(styles) > 1 else {}


def is_sitting(label: str) -> bool:
    """Whether a label is a numbered sitting, such as `week 14` or `Sale 3`."""
    return bool(_SITTING.fullmatch(plain(label)))


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
        if not table.tells(SESSION):
            name = _sitting(table) or (label if varied and table.tells(TASTER) and not _is_taster(table, label) else "")
            extra[SESSION] = Factor.constant(name or "1", size)
            if name:
                notes.append((f"session of {table.sheet.label}", name, "from the name of the sheet or file"))
        new.append(replace(table, extra=extra))
    return new, notes


def _sitting(table: Table) -> str:
    """The label of a sheet or file that is a date or a numbered sitting."""
    for label in (table.sheet.name, Path(table.sheet.file).stem):
        date = date_in(label)
        if date:
            return date.isoformat() if date.year > 1 else tidy(label)
        if _SITTING.fullmatch(plain(label)):
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
            and not _SITTING.fullmatch(word)
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
