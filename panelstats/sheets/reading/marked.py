"""A marked copy: the sheet as it was, with every problem cell coloured and told; the original stays untouched."""

from __future__ import annotations

import hashlib
import io
import zipfile
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING
from warnings import catch_warnings, simplefilter

from openpyxl import Workbook, load_workbook
from openpyxl.comments import Comment
from openpyxl.packaging.custom import StringProperty
from openpyxl.styles import PatternFill

from panelstats.errors import PanelError, SheetError
from panelstats.filenames import file_names, source_name
from panelstats.ourfiles import BROKEN_ZIP, MARK, cell_text, properties
from panelstats.output import write_all
from panelstats.sheets.files.opened import read_bytes, sheets_of
from panelstats.sheets.files.sources import files_read, find_files, label
from panelstats.sheets.files.workbooks import MARKED

if TYPE_CHECKING:
    import pandas as pd
    from openpyxl.worksheet.worksheet import Worksheet

    from panelstats.sheets.files.grid import Sheet

_DIGEST = f"{MARK}-digest"
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
    troubled = [(path, name) for path, name in _files(source) if (problems["file"] == name).any()]
    for (path, name), target in zip(troubled, _targets(troubled, folder), strict=True):
        book = _book(path)
        if book is None:
            continue
        mine = problems[problems["file"] == name]
        for row in mine.head(_FIRST).itertuples():
            _mark(_page(book, str(row.sheet)), str(row.cell), f"{row.reason}\n{row.action}")
        if not overwrite and target.exists() and _is_edited(target):
            raise PanelError(
                "an earlier marked copy was changed by hand", where=str(target),
                do="move it, or have the new copy written to another folder (--out)",
            )  # fmt: skip
        copies[target] = _saved(book)
    write_all(copies, overwrite=overwrite, read=read)
    return list(copies)


def _targets(files: list[tuple[Path, str]], folder: str | Path | None) -> list[Path]:
    """Where the copy of each file goes: in one folder, files of one name get copies of different names."""
    plain = [(Path(folder) if folder else path.parent) / f"{source_name(path)}-marked.xlsx" for path, _ in files]
    if len({str(target).casefold() for target in plain}) == len(plain):
        return plain
    names = file_names(name for _, name in files)
    return [target.with_name(f"{names[name]}-marked.xlsx") for target, (_, name) in zip(plain, files, strict=True)]


def _saved(book: Workbook) -> bytes:
    """The bytes of a marked copy, which tell what its sheets held when it was written."""
    told = StringProperty(name=MARK, value=MARKED)
    book.custom_doc_props.append(told)  # type: ignore[attr-defined]
    digest = StringProperty(name=_DIGEST, value=_digest(_bytes(book)))
    book.custom_doc_props.append(digest)  # type: ignore[attr-defined]
    return _bytes(book)


def _bytes(book: Workbook) -> bytes:
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


def _digest(book: bytes | Path) -> str:
    with zipfile.ZipFile(io.BytesIO(book) if isinstance(book, bytes) else book) as archive:
        parts = sorted(name for name in archive.namelist() if name.startswith("xl/"))
        return hashlib.sha256(b"".join(map(archive.read, parts))).hexdigest()[:32]


def _is_edited(path: Path) -> bool:
    """Whether a marked copy was saved by anybody since we wrote it: corrections in it must not be lost."""
    try:
        return _digest(path).encode() not in properties(path)
    except BROKEN_ZIP:
        return False  # none of ours


def _files(source: str | Path | list) -> list[tuple[Path, str]]:
    """The files of a source with the names problems give them."""
    if isinstance(source, list | tuple):
        return [pair for item in source for pair in _files(item)]
    root = Path(source)
    folder = root if root.is_dir() else root.parent
    return [(path, label(path.relative_to(folder))) for path in find_files(root)]


def _book(path: Path) -> Workbook | None:
    """The workbook to mark: the file itself where its format can be kept, else its cells as text; None if unread."""
    data = read_bytes(path)
    try:
        sheets = sheets_of(data, path.name, asked_for=True)
    except SheetError:
        return None
    if data.startswith(b"PK") and b"xl/workbook.xml" in data:
        with catch_warnings(), suppress(Exception):
            simplefilter("ignore")  # of parts of a workbook that a copy does not keep
            return load_workbook(io.BytesIO(data))
        # It was read, yet the library that keeps formats cannot open it: the copy keeps its cells.
    return _as_text(sheets)


def _as_text(sheets: list[Sheet]) -> Workbook:
    book = Workbook()
    book.remove(book.worksheets[0])
    for sheet in sheets:
        page = book.create_sheet(sheet.name or "sheet")
        for _ in range(sheet.first_row - 1):
            page.append([])
        for r in range(len(sheet)):
            page.append(["" if v is None else cell_text(v)[:_LONGEST] for v in sheet.row(r)])
        for row in page.iter_rows():
            for cell in row:
                cell.data_type = "s"  # text, whatever it begins with
    return book


def _page(book: Workbook, sheet: str) -> Worksheet:
    return book[sheet] if sheet in book.sheetnames else book.worksheets[0]


def _mark(page: Worksheet, address: str, told: str) -> None:
    cell, told = page[address], cell_text(told)
    cell.fill = _FILL
    before = f"{cell.comment.text}\n" if getattr(cell, "comment", None) else ""
    try:
        cell.comment = Comment(before + told, "panelstats")
    except AttributeError:  # inside a merged block only the first cell can carry a comment
        block = next(b for b in page.merged_cells.ranges if address in b)
        page.cell(block.min_row, block.min_col).comment = Comment(told, "panelstats")
