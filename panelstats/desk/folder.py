"""The room as a folder: sheets as received, room.xlsx, pages, drafts; nothing is written outside it."""

from __future__ import annotations

import itertools
import os
import tempfile
import threading
from contextlib import contextmanager, suppress
from hashlib import sha256
from pathlib import Path, PurePosixPath
from typing import TYPE_CHECKING

from panelstats.errors import PanelError
from panelstats.filenames import file_names
from panelstats.ourfiles import MARK
from panelstats.output import make_folder

if TYPE_CHECKING:
    from collections.abc import Iterator
    from typing import BinaryIO

_PARTS = ("sheets", "pages", "drafts")
# Endings under which a folder's sheets are looked for; what a file is, its content says.
_ENDINGS = frozenset([".csv", ".tsv", ".txt", ".xlsx", ".xlsm", ".xls", ".xlsb", ".ods", ".parquet"])
_BEGINNINGS = ((b"PK", ".xlsx"), (b"\xd0\xcf\x11\xe0", ".xls"), (b"PAR1", ".parquet"))
_PIECE = 1 << 20
_DEEPEST = 3  # folders in which a sheet may lie
_APART = frozenset(["pages", "drafts", "removed"])  # folders of a room in which no sheet is read


def key_of(name: str) -> str:
    """What the browser is told in place of a path."""
    return sha256(name.encode("utf-8", "surrogatepass")).hexdigest()[:16]


class Folder:
    """The folder of a room."""

    def __init__(self, path: Path) -> None:
        self.path = path.resolve()
        self.sheets, self.pages, self.drafts = (self.path / part for part in _PARTS)
        self._placing = threading.Lock()  # two sheets of one name that come at once get a place each

    def prepare(self) -> None:
        """Make what is missing, and clear away what a desk that was killed had not finished."""
        for part in (self.sheets, self.pages, self.drafts):
            self._own(part)
        self.tidy(self.path)

    def _own(self, part: Path) -> Path:
        """A folder of the room, made where it is missing; never one that a link puts elsewhere."""
        if not part.resolve().is_relative_to(self.path):
            raise PanelError(
                "a folder of the room is a link to another place", where=str(part), do="put the folder itself there"
            )
        return make_folder(part)

    def tidy(self, part: Path) -> None:
        """Remove files that were never finished."""
        for left in part.rglob(f".{MARK}-*.part"):
            left.unlink(missing_ok=True)

    def add(self, name: str, stream: BinaryIO) -> tuple[str, str]:
        """Keep a sheet as it came, whole or not at all: its name here, and what there is to say of it.

        Parameters
        ----------
        name : str
            As the browser calls it, with the folders it was dropped in: only what any file system takes counts.
        stream : binary file
            Its content.
        """
        with _unfinished(self._own(self.sheets)) as (part, file):
            digest, head = sha256(), b""
            while piece := stream.read(_PIECE):
                head = head or piece[:8]
                digest.update(piece)
                file.write(piece)
            file.close()
            with self._placing:
                return self._placed(part, safe_place(name, head), digest.hexdigest())

    def _placed(self, part: Path, safe: PurePosixPath, digest: str) -> tuple[str, str]:
        for place in _numbered(self._own((self.sheets / safe).parent) / safe.name):
            name = place.relative_to(self.sheets).as_posix()
            if not place.exists():
                break
            if place.is_file() and _digest(place) == digest:
                return name, f"{name} lies here already; nothing was added."
        part.chmod(0o644)
        part.rename(place)
        return name, "" if place.name == safe.name else f"Another {safe} lies here: this one is kept as {name}."

    def write(self, place: Path, content: bytes) -> None:
        """Write a file of the room whole or not at all, over an earlier one."""
        if self.path not in place.parents:
            raise PanelError("a place outside the room", where=str(place), do="choose another name")
        with _unfinished(place.parent) as (part, file):
            file.write(content)
            file.close()
            part.chmod(0o644)
            part.replace(place)

    def remove(self, name: str) -> None:
        """Move a sheet to sheets/removed/, never delete it."""
        source = self.path / name
        inside = source.relative_to(self.sheets) if self.sheets in source.parents else Path(source.name)
        first = self.sheets / "removed" / inside
        self._own(self.sheets / "removed")
        with self._placing:
            source.rename(
                next(place for place in _numbered(self._own(first.parent) / first.name) if not place.exists())
            )

    def _read(self) -> Iterator[tuple[Path, os.stat_result]]:
        """The files that are read, in one order."""
        for root, folders, names in os.walk(self.path):
            folders[:] = sorted(each for each in folders if each not in _APART)
            for name in sorted(names):
                path = Path(root) / name
                with suppress(OSError):  # gone since
                    if not name.startswith(".") and path.is_file():
                        yield path, path.stat()

    def state(self) -> str:
        """What changes when a file that is read changes; "" while there is none."""
        told = [f"{path}|{facts.st_size}|{facts.st_mtime_ns}" for path, facts in self._read()]
        return key_of("\n".join(told)) if told else ""

    def listed(self) -> list[dict[str, str]]:
        """The files there are, where nothing could be read of them: each can still be taken out."""
        names = [path.relative_to(self.path).as_posix() for path, _ in self._read()]
        return [{"name": name, "key": key_of(name), "state": "problems", "line": "not read"} for name in names]

    def made(self) -> dict[str, Path]:
        """The pages there are by their keys, the latest first."""
        pages = sorted(
            (page for page in self.pages.rglob("*.html") if page.is_file() and not page.is_symlink()),
            key=lambda page: (-page.stat().st_mtime_ns, page.name),
        )
        return {key_of(page.relative_to(self.pages).as_posix()): page for page in pages}

    def newest(self) -> int:
        """When the latest change was made to what is read, in nanoseconds; 0 where nothing is."""
        return max((facts.st_mtime_ns for _, facts in self._read()), default=0)


def safe_place(name: str, head: bytes) -> PurePosixPath:
    r"""A place for a sheet under `sheets/`: names that any file system takes, an ending that its content allows.

    Folders are kept, since a sheet may be told by them: a day each, a taster each.

    Examples
    --------
    >>> str(safe_place("../../week 14.csv", b"lot,brisk")), str(safe_place("C:\\2 March\\elm.xlsx", b"PK"))
    ('week 14.csv', '2 March/elm.xlsx')
    >>> str(safe_place("removed/week.html", b"<tab"))
    'removed-/week.html.csv'
    """
    *folders, last = [part for part in name.replace("\\", "/").split("/") if part.strip(". ")] or [""]
    ending = Path(last).suffix.casefold()
    stem = Path(last).stem if ending in _ENDINGS else last
    if ending not in _ENDINGS:
        ending = next((kind for start, kind in _BEGINNINGS if head.startswith(start)), ".csv")
    kept = [file_names([each])[each] for each in folders if not each.endswith(":")][-_DEEPEST:]
    return PurePosixPath(
        *(f"{e}-" if e.casefold() in {"sheets", *_APART} else e for e in kept), file_names([stem])[stem] + ending
    )


@contextmanager
def _unfinished(folder: Path) -> Iterator[tuple[Path, BinaryIO]]:
    """A file to be written before it gets its name, gone again where it gets none."""
    handle, name = tempfile.mkstemp(dir=folder, prefix=f".{MARK}-", suffix=".part")
    try:
        with os.fdopen(handle, "wb") as file:
            yield Path(name), file
    finally:
        Path(name).unlink(missing_ok=True)


def _numbered(place: Path) -> Iterator[Path]:
    """A place and, should it be taken, the places for another of its name."""
    yield place
    yield from (place.with_name(f"{place.stem} ({number}){place.suffix}") for number in itertools.count(2))


def _digest(path: Path) -> str:
    with path.open("rb") as file:
        digest = sha256()
        while piece := file.read(_PIECE):
            digest.update(piece)
    return digest.hexdigest()
