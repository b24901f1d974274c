"""Files out: written whole or not at all, nobody's work overwritten."""

from __future__ import annotations

import os
import signal
import tempfile
import threading
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from panelstats.errors import PanelError
from panelstats.ourfiles import MARK, is_ours

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator, Mapping

# The ending a file of ours must have, by what it begins with: under another no program opens it as what it is.
_ENDINGS = {b"<!doctype html>": ".html", b"PK": ".xlsx", b"%PDF": ".pdf"}


def check_writable(path: str | Path, *, overwrite: bool = False, read: Collection[Path] = ()) -> Path:
    """The path, if a file may be written there; never one that was read, by whatever name.

    Parameters
    ----------
    path : str or Path
        A file to be made. Our own earlier page, workbook or print may be replaced, anything else only with `overwrite`.
    overwrite : bool
        Replace a file that is not ours.
    read : collection of Path
        The files that were read: refused by any spelling, link or case, even where `overwrite` is set.

    Raises
    ------
    PanelError
        The folder does not exist, the path is a folder, or a file that was read or is not ours stands there.
    """
    path = Path(path)
    if not path.parent.is_dir():
        raise PanelError(
            "there is no such folder to write into", where=str(path.parent),
            do="make it, or name another; where a file was meant, end its name in .html (a page) or .xlsx (a workbook)",
        )  # fmt: skip
    if path.exists() and not path.is_file():
        what = "folder" if path.is_dir() else "pipe or device"
        raise PanelError(f"a {what} stands where the file should go", where=str(path), do="name a file in a folder")
    if any(_is_same_file(path, each) for each in read):
        raise PanelError(
            "the file to be written is one of the files that were read, and these are never replaced",
            where=str(path),
            do="write to another name (--out)",
        )
    if path.exists() and not overwrite and not is_ours(path):
        # Only a page is offered for replacement: a sheet in the way may hold scores.
        replaced = ", or allow it to be replaced (--overwrite)" if path.suffix.casefold() == ".html" else ""
        raise PanelError(
            "a file that this program did not write stands in the way",
            where=str(path),
            do=f"move it, or write to another name (--out){replaced}",
        )
    return path


def _is_same_file(path: Path, other: Path) -> bool:
    """Whether two paths lead to one file: the system is asked, which knows its own links and letter case."""
    try:
        return path.samefile(other)
    except OSError:  # one of them does not exist
        return False


def make_folder(path: str | Path) -> Path:
    """A folder to write into, made with its parents where it does not exist.

    Raises
    ------
    PanelError
        A file stands in the way, or the folder cannot be made.
    """
    path = Path(path)
    try:
        path.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise PanelError(
            f"the folder cannot be made: {error.strerror}", where=str(path), do="write elsewhere (--out)"
        ) from error
    return path


def write_whole(path: str | Path, content: bytes, *, overwrite: bool = False, read: Collection[Path] = ()) -> Path:
    """Write a file whole or not at all: to a temporary file beside it, then renamed.

    Parameters
    ----------
    path : str or Path
        Where to; see `check_writable` for what may be replaced.
    content : bytes
        All of it.
    overwrite : bool
        Replace a file that is not ours.
    read : collection of Path
        The files that were read, never replaced.

    Returns
    -------
    Path
        The path as given.

    Raises
    ------
    PanelError
        As `check_writable`, or the disk refuses.
    """
    write_all({Path(path): content}, overwrite=overwrite, read=read)
    return Path(path)


def write_all(
    files: Mapping[Path, bytes], *, folder: Path | None = None, overwrite: bool = False, read: Collection[Path] = ()
) -> None:
    """Write the files of one run, all of them or none: checked, then written beside their places, then renamed.

    Parameters
    ----------
    files : mapping of Path to bytes
        Where to and what; see `check_writable` for what may be replaced.
    folder : Path, optional
        Made first where it does not exist; removed again where nothing is written.
    overwrite : bool
        Replace files that are not ours.
    read : collection of Path
        The files that were read, never replaced.

    Raises
    ------
    PanelError
        As `check_writable`; an ending that no file of this kind has; or the disk refuses: what was written by then is
        put back as it was.
    """
    made = folder if folder is not None and not folder.exists() else None
    for path, content in files.items():
        if path.parent != made:
            check_writable(path, overwrite=overwrite, read=read)
        _check_ending(path, content)
    if len({path.resolve() for path in files}) < len(files):
        raise PanelError("two files of one run would fall together", where=str(path), do="remove the link between them")
    with _unbroken():
        if made is not None:
            make_folder(made)
        _write_parts(files, made)


def _check_ending(path: Path, content: bytes) -> None:
    wanted = next((ending for start, ending in _ENDINGS.items() if content.startswith(start)), None)
    if wanted and path.suffix.casefold() != wanted:
        raise PanelError(
            "the ending of the name is not that of what the file would hold", where=str(path),
            do="end it in .html for a page, in .xlsx for a workbook, in .pdf for a print",
        )  # fmt: skip


@contextmanager
def _unbroken() -> Iterator[None]:
    """Let no signal end the run halfway: those that come are heard when all is written."""
    came: list[int] = []
    before = {}
    if threading.current_thread() is threading.main_thread():
        ending = [
            getattr(signal, name) for name in ("SIGINT", "SIGTERM", "SIGHUP", "SIGBREAK") if hasattr(signal, name)
        ]
        for kind in [kind for kind in ending if signal.getsignal(kind) is not None]:
            before[kind] = signal.signal(kind, lambda number, _: came.append(number))
    try:
        yield
    finally:
        for kind, handler in before.items():
            signal.signal(kind, handler)
        for number in came:
            signal.raise_signal(number)


def _write_parts(files: Mapping[Path, bytes], made: Path | None) -> None:
    """Every file as a part beside its place, then each part in its place; all undone where one of them fails."""
    parts: dict[Path, Path] = {}
    done: dict[Path, bytes | None] = {}
    path = Path()
    try:
        for path, content in files.items():
            place = path.resolve()  # a link stays a link
            parts[place] = _part(place, content)
        for place, part in parts.items():
            path, before = place, place.read_bytes() if place.exists() else None
            part.replace(place)
            done[place] = before
    except BaseException as error:
        _undo(parts, done, made)
        if not isinstance(error, OSError):
            raise
        raise PanelError(
            f"the file could not be written: {error.strerror}",
            where=str(path),
            do="close it in other programs, check the room left on the disk, or write elsewhere (--out)",
        ) from error


def _part(place: Path, content: bytes) -> Path:
    """The content in a temporary file beside its place, with the rights the place has or gets."""
    handle, name = tempfile.mkstemp(dir=place.parent, prefix=f".{MARK}-", suffix=".part")
    part = Path(name)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(content)
        part.chmod(place.stat().st_mode & 0o777 if place.exists() else 0o666 & ~_umask())
    except BaseException:
        part.unlink(missing_ok=True)
        raise
    return part


def _undo(parts: Mapping[Path, Path], done: Mapping[Path, bytes | None], made: Path | None) -> None:
    """Leave no part behind, what was replaced as it was, and no folder made in vain."""
    for part in parts.values():
        part.unlink(missing_ok=True)
    for place, before in done.items():
        if before is None:
            place.unlink(missing_ok=True)
        else:
            place.write_bytes(before)
    if made is not None and not any(made.iterdir()):
        made.rmdir()


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask
