"""Workbooks: every sheet's cells, merged cells filled, error cells and formulas without a value marked."""

from __future__ import annotations

import io
import re
import zipfile
from html import unescape
from operator import itemgetter
from typing import TYPE_CHECKING, Any

import numpy as np

from panelstats.errors import SheetError
from panelstats.ourfiles import BROKEN_ZIP, MARK, properties
from panelstats.sheets.content import text
from panelstats.sheets.files.cellfacts import CellFacts, column_index, ods_facts, xlsx_facts, xlsx_styles
from panelstats.sheets.files.delimited import WIDEST, not_a_sheet
from panelstats.sheets.files.grid import Factor, Sheet, factor
from panelstats.sheets.files.isolated import pages
from panelstats.sheets.files.nativeworker import LOCKED, WIDE

if TYPE_CHECKING:
    from collections.abc import Iterable
    from pathlib import Path

    from panelstats.sheets.files.nativeworker import Page

RESULTS, MARKED = "results", "marked copy"  # what a workbook of ours says it is
LARGEST = 1_000_000_000  # bytes a workbook may unpack to
MOST_SHEETS = 1_000  # sheets of a workbook that are read (ours)
_SHEETS = ("xl/worksheets/", "xl/chartsheets/", "xl/dialogsheets/")
CRAMMED = 400  # times a workbook may grow in unpacking; sheets of plain scores grow by about ten to fifty
MOST_CELLS = 40_000_000  # cells, empty ones too, for which the reader makes room: about 1.3 GB
_CELL = re.compile(rb'<c r="([A-Z]{1,3})(\d{1,7})"([^>]*?)(?:/>|>(.*?)</c>)', re.S)


def read_workbook(data: bytes, file: str) -> list[Sheet]:
    """All sheets of a workbook in any format of a spreadsheet, hidden ones too; `file` names it in messages.

    Raises
    ------
    SheetError
        The workbook is locked, damaged, or unpacks to more than any score sheet.
    """
    _refuse_bombs(data, file)
    parts, facts = _sheet_parts(data)
    for name, part in parts.items():
        _refuse_far_cells(part, f"{file}, sheet {name}")
    found = pages(data, WIDEST, sound=bool(parts))
    if isinstance(found, tuple):
        raise _refusal(found, file)
    facts = facts or ods_facts(data)
    return [_sheet(page, (parts.get(page[0]), facts.get(page[0], CellFacts())), file) for page in found]


def _refusal(found: tuple[str, str], file: str) -> SheetError:
    """What the native reader could not get over, as an error."""
    what, where = found
    if what == LOCKED:
        return SheetError(
            "the workbook is locked with a password", where=file, do="save a copy without password and read that"
        )
    if what == WIDE:
        name, width = where.split("\n")
        return not_a_sheet(f"{file}, sheet {name}", f"a row of {int(width):,} cells is no row of a score sheet")
    return _damaged(file)


def ours(book: bytes | Path) -> str:
    """What a workbook of ours is, by the property we give it: results, or a marked copy; "" for anybody else's."""
    said = properties(io.BytesIO(book) if isinstance(book, bytes) else book)
    found = re.search(rf'name="{MARK}".*?<vt:lpwstr>([^<]*)<'.encode(), said, re.S)
    return found[1].decode() if found else ""


def _damaged(file: str) -> SheetError:
    return SheetError(
        "the workbook is damaged or cut short",
        where=file,
        do="fetch or save it again, or open it in a spreadsheet and save a copy",
    )


def _refuse_bombs(data: bytes, file: str) -> None:
    if not data.startswith(b"PK"):
        return
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            unpacked = sum(part.file_size for part in archive.infolist())
            sheets = sum(part.filename.startswith(_SHEETS) for part in archive.infolist())
    except BROKEN_ZIP as error:
        raise _damaged(file) from error
    if sheets > MOST_SHEETS:
        raise not_a_sheet(file, f"the workbook has {sheets:,} sheets, and {MOST_SHEETS:,} at most are read")
    if unpacked > LARGEST or (unpacked > 100_000_000 and unpacked > CRAMMED * len(data)):
        raise not_a_sheet(file, f"the workbook unpacks to {unpacked / 1e6:,.0f} MB, more than any score sheet needs")


def _sheet(page: Page, told: tuple[bytes | None, CellFacts], file: str) -> Sheet:
    name, shown, rows, merged = page
    part, facts = told
    merged = merged or facts.merged
    mended = []
    if merged and rows:
        mended += _fill_merged(rows, merged)
    mended += facts.notes
    if not shown:
        mended.append("a hidden sheet, read like the others")
    columns = _columns(rows)
    # The reader shows error cells and unvalued formulas as empty: without an empty cell there is none of them.
    spoiled = _spoiled(part) if part and any("" in column.values for column in columns) else {}
    spoiled |= {place: text.AN_ERROR for place in facts.errors if place[0] < len(rows) and place[1] < len(columns)}
    inside = {p for p in (*facts.struck, *facts.comments) if p[0] < len(rows) and p[1] < len(columns)}
    return Sheet(
        file, name, columns, 1, tuple(mended), spoiled,
        struck={p: left for p, left in facts.struck.items() if p in inside},
        comments={p: said for p, said in facts.comments.items() if p in inside},
    )  # fmt: skip


def _refuse_far_cells(part: bytes, where: str) -> None:
    """Refuse a sheet stretched by a stray cell far out: the reader would make room for every cell before it."""
    last, widest = _extent(part)
    if last * widest > MOST_CELLS:
        raise SheetError(
            f"a cell far out stretches the sheet to {last:,} rows and {widest:,} columns", where=where,
            do="delete the rows and columns beyond the last score, save, and read it again",
        )  # fmt: skip


def _extent(part: bytes) -> tuple[int, int]:
    """Last row and (26 at least) last column any cell of a sheet names in its XML: every `r="..."`, all at once."""
    raw = np.frombuffer(part + b"0" * 12, np.uint8)
    named = (raw[:-2] == ord("r")) & (raw[1:-1] == ord("=")) & (raw[2:] == ord('"'))
    at = np.flatnonzero(named) + 3
    first = raw[at]
    rows = at[(first >= ord("0")) & (first <= ord("9"))]
    row = np.zeros(len(rows), np.int64)
    for _ in range(7):
        digit = (raw[rows] >= ord("0")) & (raw[rows] <= ord("9"))
        row = np.where(digit, row * 10 + raw[rows] - 48, row)
        rows = rows + digit
    cells = at[_capital(first) & (raw[at - 4] <= ord(" "))]
    second = _capital(raw[cells + 1])
    if not second.any():
        return int(row.max(initial=0)), 26
    cells = cells[second]
    two = (raw[cells].astype(np.int64) - 64) * 26 + raw[cells + 1] - 64
    three = _capital(raw[cells + 2])
    return int(row.max(initial=0)), int(np.where(three, two * 26 + raw[cells + 2] - 64, two).max())


def _capital(raw: np.ndarray) -> np.ndarray:
    return (raw >= ord("A")) & (raw <= ord("Z"))


def _columns(rows: list[list[Any]]) -> list[Factor]:
    if not rows:
        return []
    return [factor([*map(itemgetter(c), rows)]) for c in range(len(rows[0]))]


def _fill_merged(rows: list[list[Any]], merged: Iterable[tuple[tuple[int, int], tuple[int, int]]]) -> list[str]:
    """Give every empty cell of a merged block the block's content, and say so; blocks may reach beyond the cells."""
    filled = hidden = 0
    for (top, left), (bottom, right) in merged:
        value = rows[top][left] if top < len(rows) and left < len(rows[top]) else ""
        filled += value != ""
        for row in range(top, min(bottom, len(rows) - 1) + 1):
            for column in range(left, min(right, len(rows[row]) - 1) + 1):
                if (row, column) == (top, left):
                    continue
                if rows[row][column] == "":
                    rows[row][column] = value
                else:  # a spreadsheet shows it no more, but it is there: nothing is dropped
                    hidden += 1
    told = [f"{filled} merged cells filled"] if filled else []
    return told + ([f"{hidden} cells hidden under merged ones read like the others"] if hidden else [])


def _sheet_parts(data: bytes) -> tuple[dict[str, bytes], dict[str, CellFacts]]:
    """The XML of each sheet of an .xlsx, and what it says of its cells, by the sheet's name."""
    if not data.startswith(b"PK"):
        return {}, {}
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        names = set(archive.namelist())
        if not {"xl/workbook.xml", "xl/_rels/workbook.xml.rels"} <= names:
            return {}, {}
        try:
            book, rels = archive.read("xl/workbook.xml"), archive.read("xl/_rels/workbook.xml.rels")
            target = dict(_pairs(rels, rb"Relationship", rb"Id", rb"Target"))
            paths = {}
            for name, rel in _pairs(book, rb"sheet", rb"name", rb"r:id"):
                path = target.get(rel, b"").decode().lstrip("/")
                path = path if path.startswith("xl/") else f"xl/{path}"
                if path in names:
                    paths[unescape(name.decode())] = path
            found: dict[str, bytes] = {}
            for part in names:
                content = archive.read(part)  # held to its checksum, whatever it is
                found |= {label: content for label, path in paths.items() if path == part}
            styles = xlsx_styles(archive)
            facts = {label: xlsx_facts(archive, path, found[label], styles) for label, path in paths.items()}
        except BROKEN_ZIP:
            return {}, {}
    return found, facts


def _pairs(xml: bytes, tag: bytes, key: bytes, value: bytes) -> list[tuple[bytes, bytes]]:
    out = []
    for element in re.findall(rb"<(?:\w+:)?" + tag + rb"\s[^>]*>", xml):
        first, second = (re.search(rb"\s" + name + rb'="([^"]*)"', element) for name in (key, value))
        if first and second:
            out.append((first[1], second[1]))
    return out


def _spoiled(part: bytes) -> dict[tuple[int, int], str]:
    """Cells that hold an error, or a formula whose value was never stored."""
    if b't="e"' not in part and b"<f" not in part:
        return {}
    found = {}
    for match in _CELL.finditer(part):
        column, row, attributes, content = match.groups()
        if b't="e"' in attributes:
            found[int(row) - 1, column_index(column.decode())] = text.AN_ERROR
        elif content and b"<f" in content and not re.search(rb"<v>[^<]+</v>", content) and b't="str"' not in attributes:
            found[int(row) - 1, column_index(column.decode())] = text.NO_VALUE
    return found
