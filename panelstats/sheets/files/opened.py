"""A source opened: the sheets of files, folders and DataFrames; content decides what a file is, not its ending."""

from __future__ import annotations

import hashlib
import io
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING
from urllib.parse import unquote

import numpy as np
import pandas as pd

from panelstats.errors import SheetError
from panelstats.sheets.files.delimited import not_a_sheet, read_delimited
from panelstats.sheets.files.grid import Factor, Sheet, factor
from panelstats.sheets.files.sources import ROOM, beside, find_files, label, passed_over, whole
from panelstats.sheets.files.webpages import is_web_page, read_web_page
from panelstats.sheets.files.workbooks import RESULTS, ours, read_workbook

if TYPE_CHECKING:
    from collections.abc import Callable

    from panelstats.sheets.files.sources import Source

_NO_VALUE = "__HIVE_DEFAULT_PARTITION__"  # how partitioned Parquet names the folder of rows without a value
LARGEST_FILE = 4_000_000_000


@dataclass(frozen=True, eq=False)
class Opened:
    """The sheets of a source, a digest of every byte that was read, and the files that could not be read."""

    sheets: list[Sheet]
    digest: str
    unread: list[tuple[str, SheetError]]


def room_beside(source: Source) -> list[Sheet]:
    """The sheets of the workbook room.xlsx that lies beside a file."""
    path = beside(source)
    return [] if path is None else sheets_of(read_bytes(path), ROOM)


def open_source(source: Source, progress: Callable[[str], None] | None = None) -> Opened:
    """Open everything a source names, read-only.

    Parameters
    ----------
    source : str, Path, DataFrame, or list of these
        What `read_scores` was given.
    progress : callable, optional
        Told of each file of several before it is opened, and which of how many it is.

    Raises
    ------
    SheetError
        Nothing is there to read, or a file cannot be read at all.
    """
    hashed = hashlib.sha256()
    sheets: list[Sheet] = []
    unread: list[tuple[str, SheetError]] = []
    items = list(source) if isinstance(source, list | tuple) else [source]
    files = [[] if isinstance(item, pd.DataFrame) else find_files(item) for item in items]
    count, opened = sum(map(len, files)), 0
    for item, paths in zip(items, files, strict=True):
        if isinstance(item, pd.DataFrame):
            sheets.append(from_frame(item, "DataFrame" if len(items) == 1 else f"DataFrame {len(sheets) + 1}"))
            hashed.update(pd.util.hash_pandas_object(item.astype(str), index=False).to_numpy().tobytes())
            continue
        unread += passed_over(item)
        folder = Path(item) if isinstance(item, str | Path) and Path(item).is_dir() else None
        for path in paths:
            name, opened = label(path.relative_to(folder or path.parent)), opened + 1
            if progress and count > 1:
                progress(f"reading {opened} of {count}: {name}")
            try:
                data = read_bytes(path)
                found = sheets_of(data, name, asked_for=folder is None)
            except SheetError as error:
                unread.append((name, error))
                continue
            sheets += [_in_folders(sheet, path) for sheet in found] if data.startswith(b"PAR1") else found
            if found:
                hashed.update(data)
    return Opened(sheets, hashed.hexdigest()[:16], unread)


def read_bytes(path: Path) -> bytes:
    """The bytes of a file; a clear error where they cannot be had."""
    try:
        if path.stat().st_size > LARGEST_FILE:
            raise not_a_sheet(path.name, "the file is larger than any score sheet")
        return path.read_bytes()
    except OSError as error:
        raise SheetError(
            "the file cannot be opened",
            where=str(path),
            do=f"close it elsewhere or ask for the right to read it ({error.strerror})",
        ) from error


def sheets_of(data: bytes, file: str, *, asked_for: bool = False) -> list[Sheet]:
    """The sheets in the bytes of one file, whatever its ending says.

    A workbook we wrote gives none when it is met in a folder; `asked_for` by name, a marked copy is read and results
    are refused.
    """
    if not data.strip(b"\x00 \t\r\n\xef\xbb\xbf"):
        raise SheetError("the file is empty", where=file, do="save the sheet again, or leave this file out")
    if data.startswith(b"PK"):
        written = ours(data)
        if written and not asked_for:
            return []
        if written == RESULTS:
            raise SheetError(
                "the workbook holds our results, not score sheets", where=file, do="give the score sheets themselves"
            )
        return read_workbook(data, file)
    if data.startswith(b"\xd0\xcf\x11\xe0"):
        return read_workbook(data, file)
    if data.startswith(b"PAR1"):
        return [_parquet(data, file)]
    if is_web_page(data):
        return read_web_page(data, file)
    _refuse_strangers(data, file)
    return [read_delimited(data, file)]


def _parquet(data: bytes, file: str) -> Sheet:
    try:
        return from_frame(pd.read_parquet(io.BytesIO(data)), file)
    except ImportError as error:
        raise SheetError(
            "Parquet needs a library that is not installed", where=file, do="pip install pyarrow"
        ) from error
    except (ValueError, OSError) as error:
        raise SheetError("the Parquet file is damaged or cut short", where=file, do="write it again") from error


def _in_folders(sheet: Sheet, path: Path) -> Sheet:
    """A partition with the columns that the names of its folders tell, such as `session=2031-01-06`."""
    told: dict[str, str] = {}
    for folder in path.absolute().parents:
        name, mark, value = folder.name.partition("=")
        if not (name and mark):
            break
        told = {unquote(name): unquote(value), **told}
    headers = sheet.headers or ()
    told = {name: value for name, value in told.items() if name not in headers}
    codes = np.zeros(len(sheet), np.int32)
    columns = [*sheet.columns, *(Factor(codes, [None if value == _NO_VALUE else value]) for value in told.values())]
    return replace(sheet, columns=columns, headers=(*headers, *told)) if told else sheet


def _refuse_strangers(data: bytes, file: str) -> None:
    head = data[:2000].lstrip(b"\xef\xbb\xbf \t\r\n").lower()
    if head.startswith(b"%pdf"):
        raise not_a_sheet(file, "the file is a PDF document, not a sheet")
    if head.startswith((b"\x89png", b"\xff\xd8\xff", b"gif8")):
        raise not_a_sheet(file, "the file is a picture, not a sheet")
    if head.startswith((b"<?xml", b"{", b"{\\rtf")):
        raise not_a_sheet(file, "the file is a document of another kind under the name of a sheet")


def from_frame(frame: pd.DataFrame, file: str) -> Sheet:
    """A DataFrame as a sheet; an index with names becomes columns."""
    if any(name is not None for name in frame.index.names):
        frame = frame.reset_index()
    columns = [_column(frame.iloc[:, c]) for c in range(frame.shape[1])]
    headers = tuple(whole(" ".join(map(str, c)) if isinstance(c, tuple) else str(c)) for c in frame.columns)
    return Sheet(file, "", columns, headers=headers)


def _column(column: pd.Series) -> Factor:
    if column.dtype == object:
        return factor([whole(value) if isinstance(value, str) else value for value in column])
    codes, values = pd.factorize(column, use_na_sentinel=False)
    plain = [None if pd.isna(v) else v for v in pd.Index(values).astype(object)]
    return Factor(np.asarray(codes, np.int32), plain)
