"""A marked copy: the sheet as it was, with every problem cell coloured and told; the original stays untouched."""

from __future__ import annotations

import io
from pathlib import Path
from typing import TYPE_CHECKING

from openpyxl import Workbook, load_workbook
from openpyxl.comments import Comment
from openpyxl.packaging.custom import StringProperty
from openpyxl.styles import PatternFill

from panelstats.output import MARK, check_writable, write_whole
from panelstats.sheets.files import files_read, find_files, read_bytes, sheets_of
from panelstats.sheets.workbooks import MARKED

if TYPE_CHECKING:
    import pandas as pd
    from openpyxl.worksheet.worksheet import Worksheet

    from panelstats.sheets.grid import Sheet

_FILL = PatternFill("solid", fgColor="FFD966")  # one colour, and a comment: never colour alone
_LONGEST = 32_000  # characters a cell of a workbook can hold, less a margin
_FIRST = 2_000  # comments a spreadsheet still opens quickly; the table of problems holds all


def write_marked_copies(
    problems: pd.DataFrame,
    source: str | Path | list,
    folder: str | Path | None = None,
    *,
    room: str | Path | None = None,
    overwrite: bool = False,
) -> list[Path]:
    """Write a copy of each file that has problems, its problem cells coloured and commented.

    Parameters
    ----------
    problems : DataFrame
        As a `SheetError` carries them.
    source : str, Path or list
        What was read.
    folder : str or Path, optional
        Where the copies go; beside each file where not given.
    room : str or Path, optional
        The registers it was read with.
    overwrite : bool
        Replace a file that is not ours; never one that was read.

    Returns
    -------
    list of Path
        The copies, `<stem>-marked.xlsx` each; a text file gets a workbook whose cells are all text.
    """
    copies: dict[Path, bytes] = {}
    read = files_read(source, room)
    for path, name in _files(source):
        mine = problems[problems["file"] == name]
        if mine.empty:
            continue
        book = _book(path)
        if book is None:
            continue
        for row in mine.head(_FIRST).itertuples():
            _mark(_page(book, str(row.sheet)), str(row.cell), f"{row.reason}\n{row.action}")
        book.custom_doc_props.append(StringProperty(name=MARK, value=MARKED))  # type: ignore[attr-defined]
        stream = io.BytesIO()
        book.save(stream)
        target = (Path(folder) if folder else path.parent) / f"{path.stem}-marked.xlsx"
        copies[check_writable(target, overwrite=overwrite, read=read)] = stream.getvalue()
    return [write_whole(target, content, overwrite=overwrite, read=read) for target, content in copies.items()]


def _files(source: str | Path | list) -> list[tuple[Path, str]]:
    """The files of a source with the names problems give them."""
    if isinstance(source, list | tuple):
        return [pair for item in source for pair in _files(item)]
    root = Path(source)
    return [(path, path.relative_to(root).as_posix() if root.is_dir() else path.name) for path in find_files(root)]


def _book(path: Path) -> Workbook | None:
    """The workbook to mark: the file itself where its format can be kept, else its cells as text; None if unread."""
    from panelstats.errors import SheetError  # noqa: PLC0415

    data = read_bytes(path)
    try:
        sheets = sheets_of(data, path.name, asked_for=True)
    except SheetError:
        return None
    if data.startswith(b"PK") and b"xl/workbook.xml" in data:
        return load_workbook(io.BytesIO(data))
    return _as_text(sheets)


def _as_text(sheets: list[Sheet]) -> Workbook:
    book = Workbook()
    book.remove(book.worksheets[0])
    for sheet in sheets:
        page = book.create_sheet(sheet.name or "sheet")
        for _ in range(sheet.first_row - 1):
            page.append([])
        for r in range(len(sheet)):
            page.append(["" if v is None else str(v)[:_LONGEST] for v in sheet.row(r)])
        for row in page.iter_rows():
            for cell in row:
                cell.data_type = "s"  # text, whatever it begins with
    return book


def _page(book: Workbook, sheet: str) -> Worksheet:
    return book[sheet] if sheet in book.sheetnames else book.worksheets[0]


def _mark(page: Worksheet, address: str, told: str) -> None:
    cell = page[address]
    cell.fill = _FILL
    before = f"{cell.comment.text}\n" if getattr(cell, "comment", None) else ""
    try:
        cell.comment = Comment(before + told, "panelstats")
    except AttributeError:  # inside a merged block only the first cell can carry a comment
        block = next(b for b in page.merged_cells.ranges if address in b)
        page.cell(block.min_row, block.min_col).comment = Comment(told, "panelstats")
