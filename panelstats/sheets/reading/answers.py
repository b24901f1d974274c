"""Answers of difference tests, weighings of leaf and lists of stock in: the same files and care, a row for each."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from panelstats.arguments import checked
from panelstats.errors import SheetError
from panelstats.scores.spelling import tidy
from panelstats.sheets.content.text import Kind, decimal_style, is_empty, parse
from panelstats.sheets.content.wishes import Wishes
from panelstats.sheets.files.opened import open_source
from panelstats.sheets.reading.plannedsets import planned_sets, with_sets
from panelstats.sheets.room.lists import NEEDED, ORDER, list_kind, word_of
from panelstats.sheets.room.problems import Problems, as_error
from panelstats.sheets.tables.headers import SEARCHED

if TYPE_CHECKING:
    from collections.abc import Mapping

    from panelstats.sheets.files.grid import Factor, Sheet
    from panelstats.sheets.files.sources import Source

_NUMBERS = {
    "answers": (),
    "densities": ("mass", "volume", "replicate", "taps"),
    "stock": ("kilograms", "cost", "least", "most"),
    "lots": (),
}


@checked()
def read_answers(source: Source, *, columns: Mapping[str, str | None] | None = None) -> pd.DataFrame:
    """Read the answers of difference tests; blanks stay blanks.

    Parameters
    ----------
    source : str, Path, DataFrame, or list of these
        Files, folders or tables with the columns taster and answer, and of session, test, kind, trial, order, code what
        there is; sheets without these two columns are not answers and are passed over. Answers that carry the id of
        a plan get order and codes from the register `sets` among the sheets.

    Returns
    -------
    DataFrame
        session, test, kind, taster, trial, order, answer, code as tidy text ("" where nothing stands), then file, sheet
        and row, so that whoever judges an answer can say where it stands.

    Raises
    ------
    SheetError
        No sheet holds answers, or cells that no answer can be (dates, error cells, a row without taster, or
        without session or test where other rows have one); all at once.

    Examples
    --------
    >>> import pandas as pd
    >>> said = {"Assessor": ["alder", "beech"], "kind": "triangle", "order": "ABA", "answer": ["2", None]}
    >>> sheet = pd.DataFrame(said)
    >>> read_answers(sheet)[["taster", "answer"]].values.tolist()
    [['alder', '2'], ['beech', '']]
    """
    return _read(source, "answers", columns)


@checked()
def answers_in(source: Source) -> pd.DataFrame | None:
    """The answers that stand among other sheets, as `read_answers` gives them; None where there are none.

    Parameters
    ----------
    source : str, Path, DataFrame, or list of these
        As for `read_answers`.

    Examples
    --------
    >>> import pandas as pd
    >>> answers_in(pd.DataFrame({"lot": ["101"], "brisk": [7]})) is None
    True
    """
    opened, wishes = open_source(source), Wishes(None)
    here = any(_header(sheet, "answers", wishes)[0] is not None for sheet in opened.sheets)
    return read_answers(source) if here else None


@checked()
def read_densities(source: Source, *, columns: Mapping[str, str | None] | None = None) -> pd.DataFrame:
    """Read weighings of leaf in a vessel.

    Parameters
    ----------
    source : str, Path, DataFrame, or list of these
        Files, folders or tables with the columns mass (g) and volume (ml), and of lot, grade, state, replicate, taps
        what there is.

    Returns
    -------
    DataFrame
        lot, grade, state as tidy text; replicate, mass, volume, taps as numbers (NaN where empty); then file, sheet,
        row.

    Raises
    ------
    SheetError
        No sheet holds weighings, or cells that are no numbers; all at once.
    """
    return _read(source, "densities", columns)


@checked()
def read_stock(source: Source, *, columns: Mapping[str, str | None] | None = None) -> pd.DataFrame:
    """Read a list of the stock to mix from.

    Parameters
    ----------
    source : str, Path, DataFrame, or list of these
        Files, folders or tables with the column lot, and of kilograms, cost (of a kilogram), least and most (shares of
        a blend) what there is.

    Returns
    -------
    DataFrame
        lot as tidy text; kilograms, cost, least, most as numbers (NaN where empty); then file, sheet, row.

    Raises
    ------
    SheetError
        No sheet has a column lot, or cells that are no numbers; all at once.

    Examples
    --------
    >>> import pandas as pd
    >>> read_stock(pd.DataFrame({"Lot no": [411, 412], "Kg": [300, 120]}))[["lot", "kilograms"]].values.tolist()
    [['411', 300.0], ['412', 120.0]]
    """
    return _read(source, "stock", columns)


def read_lots(source: Source, *, columns: Mapping[str, str | None] | None = None) -> pd.DataFrame:
    """Read a list of lots to be tasted: lot, and of kind, grade, elevation, class, garden, role what there is.

    Raises
    ------
    SheetError
        No sheet has a column lot.

    Examples
    --------
    >>> import pandas as pd
    >>> read_lots(pd.DataFrame({"Lot no": [411, 412], "Grade": ["dust", "dust"]}))[["lot", "grade"]].values.tolist()
    [['411', 'dust'], ['412', 'dust']]
    """
    return _read(source, "lots", columns)


def _read(source: Source, name: str, columns: Mapping[str, str | None] | None) -> pd.DataFrame:
    opened, wishes, problems = open_source(source), Wishes(columns), Problems()
    for file, error in opened.unread:
        problems.add_unread(file, "", error)
    parts, headers = [], []
    sets = planned_sets(opened.sheets) if name == "answers" else None
    stock = [sheet for sheet in opened.sheets if name == "stock" and list_kind(sheet) == name]
    for sheet in stock or opened.sheets:  # every sheet of scores names lots too
        top, words = _header(sheet, name, wishes)
        headers += words
        if top is not None:
            parts.append(_part(sheet, top, words, (name, problems), sets))
    found = problems.frame()
    if len(found):
        raise as_error(found, may_go_on=False)
    if not parts:
        raise _none(opened.sheets, name, headers)
    wishes.refuse_unmet(headers)
    return pd.concat(parts, ignore_index=True)


def _none(sheets: list[Sheet], name: str, headers: list[str]) -> SheetError:
    needed = " and ".join(NEEDED[name])
    where = ", ".join(sheet.label for sheet in sheets) or "the source"
    found = ", ".join(dict.fromkeys(h for h in headers if h)) or "none"
    return SheetError(
        f"no sheet holds {name}", where=f"{where}; headings found: {found}",
        do=f"give it the columns {needed}, or say which they are: columns={{'their header': 'our word'}}",
    )  # fmt: skip


def _header(sheet: Sheet, name: str, wishes: Wishes) -> tuple[int | None, list[str]]:
    """The header row and its words in the register's language; None where the columns needed are not there."""
    if sheet.headers is not None:
        words = [word_of(h, name, wishes) for h in sheet.headers]
        return (-1 if set(NEEDED[name]) <= set(words) else None), words
    first: list[str] = []
    for row in range(min(SEARCHED, len(sheet))):
        words = [word_of(tidy(v), name, wishes) for v in sheet.row(row)]
        if set(NEEDED[name]) <= set(words):
            return row, words
        first = first or [w for w in words if w]
    return None, first


def _part(
    sheet: Sheet, top: int, words: list[str], what: tuple[str, Problems], sets: pd.DataFrame | None
) -> pd.DataFrame:
    """The rows of one sheet, those of planned sets with what was served."""
    name, problems = what
    rows = np.arange(top + 1, len(sheet))
    below = [column.take(rows) for column in sheet.columns]
    rows = rows[~np.logical_and.reduce([np.ones(len(rows), bool), *(column.mask(is_empty) for column in below)])]
    table: dict[str, object] = {}
    for word in ORDER[name]:
        here = words.index(word) if word in words else None
        if here is None:
            table[word] = np.full(len(rows), np.nan) if word in _NUMBERS[name] else np.full(len(rows), "", object)
            continue
        told = _numbers if word in _NUMBERS[name] else _texts
        table[word] = told(sheet, sheet.columns[here].compact(rows), (here, word, rows), problems)
    for word in ("taster", "session", "test") if name == "answers" else ():
        empty = np.asarray(table[word]) == ""
        if word != "taster" and empty.all():  # nobody told sessions or tests apart: all are of one
            continue
        for at in np.flatnonzero(empty):
            why = (word, f"an answer without a {word}", f"write the {word} in its row")
            problems.add(sheet, (int(rows[at]), words.index(word)), "", why)
    place = {"file": sheet.file, "sheet": sheet.name, "row": rows + sheet.first_row}
    found = pd.DataFrame({**table, **place})
    if sets is not None:

        def tell(at: int, word: str, why: tuple[str, str]) -> None:
            column = words.index(word) if word in words else None
            problems.add(sheet, (int(rows[at]), column), found[word][at], (word, *why))

        found = with_sets(found, sets, tell)
    return found.drop(columns="plan", errors="ignore")


def _texts(sheet: Sheet, cells: Factor, where: tuple[int, str, np.ndarray], problems: Problems) -> np.ndarray:
    column, word, rows = where
    texts = cells.texts
    odd = cells.mask(lambda v: isinstance(v, dt.date | dt.time) and word != "session")
    for at, row in enumerate(rows):
        why = sheet.spoiled.get((int(row), column)) or ("a date where an answer belongs" if odd[at] else "")
        if why:
            problems.add(sheet, (int(row), column), texts[at], (word, why, "type it again as text"))
    return texts


def _numbers(sheet: Sheet, cells: Factor, where: tuple[int, str, np.ndarray], problems: Problems) -> np.ndarray:
    column, word, rows = where
    parsed = parse(cells.values, decimal=decimal_style(cells.values))
    codes = cells.codes
    for at in np.flatnonzero(parsed.kind[codes] == Kind.PROBLEM).tolist():
        told = (word, str(parsed.reason[codes[at]]), "write a plain number, or leave the cell empty")
        problems.add(sheet, (int(rows[at]), column), cells.at(at), told)
    return parsed.number[codes]
