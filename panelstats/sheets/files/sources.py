"""A source -> its sheets: files, folders, lists of these, or a DataFrame; content decides, not the ending."""

from __future__ import annotations

import hashlib
import io
import os
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING
from urllib.parse import unquote

import numpy as np
import pandas as pd

from panelstats.arguments.objects import unreachable
from panelstats.errors import SheetError
from panelstats.scores.spelling import natural
from panelstats.sheets.files.delimited import not_a_sheet, read_delimited
from panelstats.sheets.files.grid import Factor, Sheet, factor
from panelstats.sheets.files.webpages import is_web_page, read_web_page
from panelstats.sheets.files.workbooks import RESULTS, ours, read_workbook

if TYPE_CHECKING:
    from collections.abc import Callable

ENDINGS = frozenset([".csv", ".tsv", ".txt", ".xlsx", ".xlsm", ".xls", ".xlsb", ".ods", ".parquet"])
ROOM = "room.xlsx"
# What a room's folder keeps beside its sheets: pages that were made, sheets being typed, sheets taken out.
SHEETS, KEPT_APART, REMOVED = "sheets", ("pages", "drafts"), "removed"
_NO_VALUE = "__HIVE_DEFAULT_PARTITION__"  # how partitioned Parquet names the folder of rows without a value
_CLOSED = "the folder cannot be opened"
LARGEST_FILE = 4_000_000_000
MOST_FILES = 20_000  # sheets of one folder
_MOST_FOLDERS = 100_000  # looked into on the way

Source = str | Path | pd.DataFrame | list


@dataclass(frozen=True, eq=False)
class Opened:
    """The sheets of a source, a digest of every byte that was read, and the files that could not be read."""

    sheets: list[Sheet]
    digest: str
    unread: list[tuple[str, SheetError]]


def find_files(source: str | Path | list) -> list[Path]:
    """The files a source names, folders looked into, in natural order."""
    if isinstance(source, list | tuple):
        return [path for item in source for path in find_files(item)]
    path = Path(source)
    if path.is_dir():
        return sorted(_walked(path)[0], key=lambda p: natural(p.relative_to(path)))
    if not path.exists():
        raise SheetError("there is no such file or folder", where=str(source), do="check the name and the folder")
    if not path.is_file():
        raise SheetError("a pipe or device is no score sheet", where=str(source), do="save its content as a file")
    return [path]


def _walked(root: Path) -> tuple[list[Path], list[tuple[Path, str]]]:
    """The files of a folder that look like sheets; and what could not be looked into, and why."""
    files: list[Path] = []
    over: list[tuple[Path, str]] = []
    closed: list[OSError] = []
    for seen, (name, folders, names) in enumerate(os.walk(root, onerror=closed.append)):
        if len(files) > MOST_FILES or seen >= _MOST_FOLDERS:
            raise SheetError(f"a folder of more than {MOST_FILES:,} sheets, or of {_MOST_FOLDERS:,} folders",
                             where=str(root), do="name the folder of one room or season in it")  # fmt: skip
        folder = Path(name)
        if unreachable(folder):
            folders[:], over = [], [*over, (folder, _CLOSED)]
            continue
        apart = set(_apart(folder, folders, top=folder == root))
        folders[:] = [each for each in folders if not _is_hidden(each) and each not in apart]
        linked = [folder / each for each in folders if (folder / each).is_symlink()]
        over += [(each, "a linked folder is not looked into") for each in linked]
        sheets = [folder / each for each in names if not _is_hidden(each) and Path(each).suffix.casefold() in ENDINGS]
        files += [each for each in sheets if each.is_file()]
        over += [(each, "a link that leads nowhere, a pipe or a device") for each in sheets if not each.is_file()]
    return files, over + [(Path(error.filename), _CLOSED) for error in closed]


def _apart(folder: Path, inside: list[str], *, top: bool) -> list[str]:
    """The folders that hold no sheets to read: beside a room's sheets, and what was removed from these."""
    names = KEPT_APART if top or SHEETS in inside else ()
    return [each for each in inside if each in names or (each == REMOVED and folder.resolve().name == SHEETS)]


def kept_apart(source: Source) -> list[str]:
    """The folders of a room that are never read and hold files that look like sheets of others, as their labels."""
    if isinstance(source, list | tuple):
        return [each for item in source for each in kept_apart(item)]
    if isinstance(source, pd.DataFrame) or not Path(source).is_dir():
        return []
    root = Path(source)
    found = []
    for name, folders, _ in os.walk(root):
        apart = [Path(name) / each for each in _apart(Path(name), folders, top=Path(name) == root)]
        found += [label(each.relative_to(root)) for each in apart if any(not ours(path) for path in _walked(each)[0])]
        folders[:] = [each for each in folders if not _is_hidden(each) and Path(name) / each not in apart]
    return sorted(found, key=natural)


def is_partitioned(source: str | Path) -> bool:
    """Whether a source is a folder with partitions of Parquet in it."""
    return Path(source).is_dir() and any(path.suffix.casefold() == ".parquet" for path in find_files(source))


def passed_over(source: Source) -> list[tuple[str, SheetError]]:
    """What the folders of a source hold that cannot be read, each with what to do."""
    if isinstance(source, list | tuple):
        return [pair for item in source for pair in passed_over(item)]
    if isinstance(source, pd.DataFrame) or not Path(source).is_dir():
        return []
    root, do = Path(source), "name it as a source of its own, or move it out"
    found = sorted(_walked(root)[1], key=lambda each: natural(each[0]))
    return [(label(path.relative_to(root.parent if path == root else root)), SheetError(why, where=str(path), do=do))
            for path, why in found]  # fmt: skip


def whole(text: str) -> str:
    """A text in which numbers stand for halves of signs (lone surrogates), which no file, page or table can hold."""
    return text if text.isascii() else text.encode("utf-8", "backslashreplace").decode()


def label(path: Path) -> str:
    """A path as results name it: bytes that are no text stand there as their numbers."""
    return whole(path.as_posix())


def input_files(source: Source) -> tuple[Path, ...]:
    """The files a source names, absolute: all but the workbooks of ours that are passed over in a folder."""
    if isinstance(source, pd.DataFrame):
        return ()
    if isinstance(source, list | tuple):
        return tuple(path for item in source for path in input_files(item))
    named = Path(source)
    return tuple(path.absolute() for path in find_files(named) if path == named or not ours(path))


def beside(source: Source) -> Path | None:
    """The workbook room.xlsx that lies beside a file."""
    path = Path(source) if isinstance(source, str | Path) else None
    if path is None or path.is_dir() or path.name == ROOM or not (path.parent / ROOM).is_file():
        return None
    return path.parent / ROOM


def room_beside(source: Source) -> list[Sheet]:
    """The sheets of the workbook room.xlsx that lies beside a file."""
    path = beside(source)
    return [] if path is None else sheets_of(read_bytes(path), ROOM)


def files_read(source: Source, room: object = None) -> tuple[Path, ...]:
    """Every file that `read_scores` opens for a source and its room, absolute; known even where reading fails.

    Parameters
    ----------
    source, room
        As for `read_scores`.
    """
    if room is None:
        near = beside(source)
        return input_files(source) + ((near.absolute(),) if near else ())
    return input_files(source) + (input_files(room) if isinstance(room, str | Path) else ())


def _is_hidden(name: str) -> bool:
    return name.startswith((".", "~$"))


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
    items: list = list(source) if isinstance(source, list | tuple) else [source]
    files = [[] if isinstance(item, pd.DataFrame) else find_files(item) for item in items]
    count, opened = sum(map(len, files)), 0
    for item, paths in zip(items, files, strict=True):
        if isinstance(item, pd.DataFrame):
            sheets.append(from_frame(item, "DataFrame" if len(items) == 1 else f"DataFrame {len(sheets) + 1}"))
            hashed.update(pd.util.hash_pandas_object(item.astype(str), index=False).to_numpy().tobytes())
            continue
        unread += passed_over(item)
        for path in paths:
            folder = Path(item) if not isinstance(item, list | tuple) and Path(item).is_dir() else path.parent
            name = label(path.relative_to(folder))
            opened += 1
            if progress and count > 1:
                progress(f"reading {opened} of {count}: {name}")
            try:
                data = read_bytes(path)
                found = sheets_of(data, name, asked_for=folder == path.parent and path == _path(item))
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


def _path(item: object) -> Path | None:
    return Path(item) if isinstance(item, str | Path) else None


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
