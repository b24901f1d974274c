"""Sheets written as files of every kind a room sends."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from html import escape
from pathlib import Path
from zipfile import ZIP_STORED, ZipFile

from openpyxl import Workbook
from openpyxl.comments import Comment
from openpyxl.styles import Font, PatternFill
from openpyxl.utils import get_column_letter

from tests.habits.cells import Cell, Grid

Book = Mapping[str, Grid]  # {tab: sheet}


def write(path: Path, book: Book, *, encoding: str = "utf-8", delimiter: str = ",", decimal: str = ".") -> None:
    """Write a book as its ending says; a text file holds one sheet, an .xls is a web page as spreadsheets save it."""
    path.parent.mkdir(parents=True, exist_ok=True)
    if path.suffix == ".xlsx":
        _xlsx(path, book)
    elif path.suffix == ".ods":
        _ods(path, book)
    elif path.suffix == ".xls":
        path.write_text(_page(book), encoding="utf-8")
    else:
        (grid,) = book.values()
        path.write_bytes(_delimited(grid, delimiter, decimal).encode(encoding))


def text_of(value: object, decimal: str = ".") -> str:
    """A value as a text file shows it."""
    if value is None:
        return ""
    if isinstance(value, dt.datetime | dt.date):
        return value.strftime("%Y-%m-%d")
    if isinstance(value, float):
        return f"{value:g}".replace(".", decimal)
    return str(value)


def _xlsx(path: Path, book: Book) -> None:
    made = Workbook()
    made.remove(made.worksheets[0])
    for tab, grid in book.items():
        sheet = made.create_sheet(tab)
        for r, c, cell in grid.cells():
            _xlsx_cell(sheet, r + 1, c + 1, cell)
    made.save(path)


def _xlsx_cell(sheet: object, r: int, c: int, cell: Cell) -> None:
    if cell.hide_row:
        sheet.row_dimensions[r].hidden = True
    if cell.hide_column:
        sheet.column_dimensions[get_column_letter(c)].hidden = True
    if cell.value is None:
        return
    at = sheet.cell(r, c, cell.value)
    if isinstance(cell.value, str) and not cell.form:
        at.data_type = "s"
    if cell.form:
        at.number_format = cell.form
    if cell.struck:
        at.font = Font(strike=True)
    if cell.fill:
        at.fill = PatternFill("solid", start_color=cell.fill)
    if cell.comment:
        at.comment = Comment(cell.comment, "room")
    if cell.span != (1, 1):
        sheet.merge_cells(start_row=r, start_column=c, end_row=r + cell.span[0] - 1, end_column=c + cell.span[1] - 1)


def _delimited(grid: Grid, delimiter: str, decimal: str) -> str:
    def quoted(text: str) -> str:
        return '"' + text.replace('"', '""') + '"' if any(c in text for c in (delimiter, '"', "\n")) else text

    width = grid.width
    rows = [[text_of(c.value, decimal) for c in row] + [""] * (width - len(row)) for row in grid.rows]
    return "".join(delimiter.join(map(quoted, row)) + "\r\n" for row in rows)


def _page(book: Book) -> str:
    """A web page, as spreadsheets and registers of other programs save one under .xls."""
    tables = "".join(
        "<table>"
        + "".join("<tr>" + "".join(f"<td>{escape(text_of(c.value))}</td>" for c in row) + "</tr>" for row in grid.rows)
        + "</table>"
        for grid in book.values()
    )
    return f'<html><head><meta charset="utf-8"/><title>sheet</title></head><body>{tables}</body></html>'


_SPACES = " ".join(
    f'xmlns:{short}="urn:oasis:names:tc:opendocument:xmlns:{name}:1.0"'
    for short, name in (("office", "office"), ("table", "table"), ("text", "text"), ("style", "style"),
                        ("fo", "xsl-fo-compatible"))
)  # fmt: skip
_MIME = "application/vnd.oasis.opendocument.spreadsheet"


def _ods(path: Path, book: Book) -> None:
    """The least an OpenDocument 1.2 spreadsheet needs: manifest and content."""
    sheets = "".join(_ods_sheet(tab, grid) for tab, grid in book.items())
    struck = (
        '<office:automatic-styles><style:style style:name="struck" style:family="table-cell">'
        '<style:text-properties style:text-line-through-style="solid"/></style:style></office:automatic-styles>'
    )
    content = (
        f'<?xml version="1.0" encoding="UTF-8"?><office:document-content {_SPACES} office:version="1.2">{struck}'
        f"<office:body><office:spreadsheet>{sheets}</office:spreadsheet></office:body></office:document-content>"
    )
    manifest = (
        '<?xml version="1.0" encoding="UTF-8"?><manifest:manifest '
        'xmlns:manifest="urn:oasis:names:tc:opendocument:xmlns:manifest:1.0">'
        f'<manifest:file-entry manifest:full-path="/" manifest:media-type="{_MIME}"/>'
        '<manifest:file-entry manifest:full-path="content.xml" manifest:media-type="text/xml"/></manifest:manifest>'
    )
    with ZipFile(path, "w") as made:
        made.writestr("mimetype", _MIME, ZIP_STORED)
        made.writestr("META-INF/manifest.xml", manifest)
        made.writestr("content.xml", content)


def _ods_sheet(tab: str, grid: Grid) -> str:
    grid.padded()
    covered = {
        (r + i, c + j) for r, c, cell in grid.cells() for i in range(cell.span[0]) for j in range(cell.span[1]) if i + j
    }
    hidden = [any(row[c].hide_column for row in grid.rows) for c in range(grid.width)]
    columns = "".join(f"<table:table-column{_HIDE if h else ''}/>" for h in hidden)
    rows = "".join(
        f"<table:table-row{_HIDE if any(c.hide_row for c in row) else ''}>"
        + "".join("<table:covered-table-cell/>" if (r, c) in covered else _ods_cell(cell) for c, cell in enumerate(row))
        + "</table:table-row>"
        for r, row in enumerate(grid.rows)
    )
    return f'<table:table table:name="{escape(tab)}">{columns}{rows}</table:table>'


_HIDE = ' table:visibility="collapse"'


def _ods_cell(cell: Cell) -> str:
    if cell.value is None:
        return "<table:table-cell/>"
    shown = text_of(cell.value)
    told = "string"
    if isinstance(cell.value, int | float):
        told = f'float" office:value="{cell.value!r}'
    elif isinstance(cell.value, dt.datetime | dt.date):
        told = f'date" office:date-value="{shown}'
    down, across = cell.span
    merged = f' table:number-rows-spanned="{down}" table:number-columns-spanned="{across}"' * (cell.span != (1, 1))
    struck = ' table:style-name="struck"' * cell.struck
    note = f"<office:annotation><text:p>{escape(cell.comment)}</text:p></office:annotation>" if cell.comment else ""
    return (
        f'<table:table-cell office:value-type="{told}"{merged}{struck}>{note}<text:p>{escape(shown)}</text:p>'
        "</table:table-cell>"
    )
