"""Registers found and read: which sheets are registers, and what they say, checked as they are read."""

from __future__ import annotations

import math
import re
from pathlib import Path
from typing import TYPE_CHECKING

import pandas as pd

from panelstats.errors import DesignError, SheetError
from panelstats.scores.cells import DESCRIPTOR, LOOK, LOT, POT, SCORE, SESSION, TASTER
from panelstats.scores.dates import date_in
from panelstats.scores.spelling import plain, tidy
from panelstats.sheets.content.roles import CODE, FACT, NUMBERING, PLAN, REMARK, role_of, without_unit
from panelstats.sheets.files.opened import read_bytes, sheets_of
from panelstats.sheets.files.sources import ROOM, find_files, passed_over
from panelstats.sheets.room.lists import list_kind
from panelstats.sheets.room.oneregister import Listed, one_register
from panelstats.sheets.room.room import ALLOWED, REGISTERS, UNSAID, Room

if TYPE_CHECKING:
    from collections.abc import Mapping

    from panelstats.sheets.files.grid import Sheet

# How binding a list is: one among the sheets, one in room.xlsx, one that was named as the room's.
_AMONG, _BESIDE, _NAMED = range(3)
_NUMBERS = {
    "descriptors": ("low", "high", "step", "tolerance", "weight"),
    "sessions": ("grams", "millilitres", "minutes"),
    "codes": ("look",),
    "marks": ("worth",),
    "densities": ("mass", "volume"),
}
_ONE_CODE = re.compile(r"(?:blind |cup |sample )?code ?(?:no\.? ?)?(?:\d|[a-f])")
_ISO = re.compile(r"\d{4}-\d{1,2}-\d{1,2}")
_SIZES = {
    "densities": ("mass", "volume"),
    "descriptors": ("step", "tolerance"),
    "sessions": ("grams", "millilitres", "minutes"),
}
_OF_A_KEY = {CODE, LOT, POT, LOOK, SESSION, TASTER, PLAN, FACT, REMARK, NUMBERING}


def is_register(sheet: Sheet, stem: str) -> str:
    """The register a sheet is, by its name and first columns, or as a key of codes; "" where it is none."""
    name = plain(sheet.name or stem)
    if not len(sheet):
        return ""
    if name not in REGISTERS:
        return by_headings(sheet)
    return name if REGISTERS[name][0] in [_word(name, head) for head in sheet.headers or sheet.row(0)] else ""


def by_headings(sheet: Sheet) -> str:
    """The register that the headings of a sheet are of, whatever it is called; "" where they may be of scores."""
    heads = [tidy(head) for head in (sheet.headers or sheet.row(0))]
    words, roles = {plain(head) for head in heads if head}, {role_of(head) for head in heads if head}
    numbered = {CODE if _numbers_a_code(head) else role_of(head) for head in heads if head}
    if {CODE, LOT} <= numbered <= _OF_A_KEY:
        return "codes"
    if {"low", "high"} <= words and DESCRIPTOR in roles and not roles & {LOT, TASTER, SCORE}:
        return "descriptors"
    if TASTER in roles and "role" in words and not roles & {LOT, CODE, DESCRIPTOR, SCORE}:
        role = sheet.columns[[plain(head) for head in heads].index("role")]
        return "tasters" if {plain(v) for v in role.values} <= {"role", "", *ALLOWED["tasters", "role"]} else ""
    return list_kind(sheet) if list_kind(sheet) == "densities" else ""


def _numbers_a_code(head: object) -> bool:
    """Whether a heading is that of one of several codes of a lot: `Code 1`, `Code B`."""
    return _ONE_CODE.fullmatch(plain(head)) is not None


def _word(register: str, header: object) -> str:
    """A register's own word for a header: its columns first, then the synonyms of sheets."""
    text = without_unit(header)
    return text if text in REGISTERS[register] else (role_of(header) or text)


def read_room(room: str | Path | Mapping[str, pd.DataFrame] | None, found: list[Sheet]) -> Room:
    """The room's registers: those given, then those found among the sheets.

    Parameters
    ----------
    room : str, Path, mapping or None
        A workbook or folder of registers, or {register name: DataFrame}.
    found : list of Sheet
        Sheets of the source itself that are registers.
    """
    lists: dict[str, list[Listed]] = {}
    for sheet in found:
        name = is_register(sheet, Path(sheet.file).stem)
        rank = _BESIDE if Path(sheet.file).name == ROOM else _AMONG
        lists.setdefault(name, []).append(_listed(name, _as_frame(sheet), sheet.label, rank))
    if isinstance(room, str | Path):
        for _, error in passed_over(room):
            raise error
        for path in find_files(room):
            for sheet in sheets_of(read_bytes(path), path.name):
                name = is_register(sheet, path.stem)
                if name:
                    lists.setdefault(name, []).append(_listed(name, _as_frame(sheet), sheet.label, _NAMED))
        if not lists:
            do = f"name its sheets or files {', '.join(REGISTERS)}"
            raise SheetError("no register was found", where=str(room), do=do)
    elif room is not None:
        for name, frame in room.items():
            if name not in REGISTERS:
                do = f"use one of {', '.join(REGISTERS)}"
                raise DesignError(f"there is no register {name!r}", where="room=", do=do)
            told = _listed(name, frame.reset_index(drop=True), f"register {name}", _NAMED)
            lists.setdefault(name, []).append(told)
    tables = {name: one_register(name, some) for name, some in lists.items()}
    return Room({name: table for name, table in tables.items() if len(table)})


def _as_frame(sheet: Sheet) -> pd.DataFrame:
    headers = sheet.headers or tuple(tidy(v) for v in sheet.row(0))
    start = 0 if sheet.headers else 1
    data = {c: [*map(column.at, range(start, len(sheet)))] for c, column in enumerate(sheet.columns)}
    frame = pd.DataFrame(data, dtype=object)
    frame.columns = pd.Index(headers, dtype=object)
    return frame.loc[:, [h != "" for h in headers]]


def _listed(name: str, frame: pd.DataFrame, label: str, rank: int) -> Listed:
    frame = _a_row_a_code(frame) if name == "codes" else frame
    words = [_word(name, h) if _word(name, h) in REGISTERS[name] else plain(h) for h in frame.columns]
    if REGISTERS[name][0] not in words:
        what = f"the register {name} has no column {REGISTERS[name][0]}"
        raise SheetError(what, where=label, do="give it one, spelt so")
    if len(set(words)) < len(words):
        where = f"{label}: {', '.join(words)}"
        raise SheetError(f"the register {name} has a column twice", where=where, do="keep one of them")
    cells = {w: [tidy(v) for v in frame.iloc[:, c]] for c, w in enumerate(words)}
    table = pd.DataFrame(cells, index=frame.index, dtype=object)
    table = table[(table != "").any(axis=1)]
    places = (table.index.to_numpy() + 2).tolist()
    if name == "marks" and "worth" in table:
        table["unsaid"] = table["worth"] == UNSAID
    for column in table:
        said = [(v, f"{label}, row {row}, column {column}") for row, v in zip(places, table[column], strict=True)]
        if column in _NUMBERS.get(name, ()):
            table[column] = [_number(v, name, str(column), where) for v, where in said]
        elif (name, column) == ("sessions", "date"):
            table[column] = [_day(v, where) for v, where in said]
        elif (name, column) in ALLOWED:
            table[column] = [_allowed(v, ALLOWED[name, str(column)], where) for v, where in said]
    if name == "descriptors" and {"low", "high"} <= {*table}:
        for row, low, high in zip(places, table["low"], table["high"], strict=True):
            if low >= high:
                where = f"{label}, row {row}, column high, value {high:g}, with low {low:g}"
                raise SheetError("a scale must end above where it begins", where=where, do="correct low or high")
    return Listed(rank, label, table)


def _a_row_a_code(frame: pd.DataFrame) -> pd.DataFrame:
    """A key of codes with a row for each, where it has columns `Code 1` and `Code 2`; others as they are."""
    several = [str(head) for head in frame.columns if _numbers_a_code(head)]
    if not several:
        return frame
    parts = [frame.drop(columns=[x for x in several if x != head]).rename(columns={head: CODE}) for head in several]
    rows = pd.concat(parts)
    return rows[rows[CODE].map(tidy) != ""]


def _number(text: str, register: str, column: str, where: str) -> float:
    if text in ("", UNSAID):
        return float("nan")
    try:
        value = float(text.replace(",", "."))
    except ValueError:
        value = float("nan")
    if not math.isfinite(value):
        do = "write a plain number or leave it empty"
        raise SheetError("not a number in a register", where=f"{where}, value {text!r}", do=do)
    if column in _SIZES.get(register, ()) and value <= 0:
        do = "correct it, or leave it empty"
        raise SheetError(f"a {column} is a number above 0", where=f"{where}, value {text!r}", do=do)
    return value


def _day(text: str, where: str) -> str:
    """A date as written; one that no calendar has is not passed over."""
    if _ISO.fullmatch(text) and date_in(text) is None:
        raise SheetError("no such day", where=f"{where}, value {text!r}", do="correct it, or leave it empty")
    return text


def _allowed(text: str, allowed: tuple[str, ...], where: str) -> str:
    word = plain(text)
    if word and word not in allowed:
        do = f"write {', '.join(allowed)}, or leave it empty"
        raise SheetError("a word the register does not know", where=f"{where}, value {text!r}", do=do)
    return word
