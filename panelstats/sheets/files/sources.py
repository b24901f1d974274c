"""The files that a source names: files, folders, lists of these; and what in a folder is not read."""

from __future__ import annotations

import os
from pathlib import Path

import pandas as pd

from panelstats.arguments.objects import unreachable
from panelstats.errors import SheetError
from panelstats.scores.spelling import natural
from panelstats.sheets.files.workbooks import ours

ENDINGS = frozenset([".csv", ".tsv", ".txt", ".xlsx", ".xlsm", ".xls", ".xlsb", ".ods", ".parquet"])
ROOM = "room.xlsx"
# What a room's folder keeps beside its sheets: pages that were made, sheets being typed, sheets taken out.
SHEETS, KEPT_APART, REMOVED = "sheets", ("pages", "drafts"), "removed"
_CLOSED = "the folder cannot be opened"
MOST_FILES = 20_000  # sheets of one folder
_MOST_FOLDERS = 100_000  # looked into on the way

Source = str | Path | pd.DataFrame | list


def _named(source: Source) -> list[Path]:
    """The files and folders that a source names, one by one; tables among them are none."""
    if isinstance(source, list | tuple):
        return [path for item in source for path in _named(item)]
    return [] if isinstance(source, pd.DataFrame) else [Path(source)]


def find_files(source: Source) -> list[Path]:
    """The files a source names, folders looked into, in natural order."""
    return [path for named in _named(source) for path in _files_of(named)]


def _files_of(path: Path) -> list[Path]:
    if path.is_dir():
        return sorted(_walked(path)[0], key=lambda p: natural(p.relative_to(path)))
    if not path.exists():
        raise SheetError("there is no such file or folder", where=str(path), do="check the name and the folder")
    if not path.is_file():
        raise SheetError("a pipe or device is no score sheet", where=str(path), do="save its content as a file")
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


def whole(text: str) -> str:
    """A text in which numbers stand for halves of signs (lone surrogates), which no file, page or table can hold."""
    return text if text.isascii() else text.encode("utf-8", "backslashreplace").decode()


def kept_apart(source: Source) -> list[str]:
    """The folders of a room that are never read and hold files that look like sheets of others, as their labels."""
    return [each for root in _named(source) if root.is_dir() for each in _kept_apart(root)]


def _kept_apart(root: Path) -> list[str]:
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
    do = "name it as a source of its own, or move it out"
    found = [
        (root, path, why) for root in _named(source) if root.is_dir()
        for path, why in sorted(_walked(root)[1], key=lambda each: natural(each[0]))
    ]  # fmt: skip
    return [(label(path.relative_to(root.parent if path == root else root)), SheetError(why, where=str(path), do=do))
            for root, path, why in found]  # fmt: skip


def label(path: Path) -> str:
    """A path as results name it: bytes that are no text stand there as their numbers."""
    return whole(path.as_posix())


def input_files(source: Source) -> tuple[Path, ...]:
    """The files a source names, absolute: all but the workbooks of ours that are passed over in a folder."""
    return tuple(
        path.absolute() for named in _named(source) for path in _files_of(named) if path == named or not ours(path)
    )


def beside(source: Source) -> Path | None:
    """The workbook room.xlsx that lies beside a file."""
    path = Path(source) if isinstance(source, str | Path) else None
    if path is None or path.is_dir() or path.name == ROOM or not (path.parent / ROOM).is_file():
        return None
    return path.parent / ROOM


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
