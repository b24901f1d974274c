"""The room as a folder: sheets as received, room.xlsx, pages, drafts; nothing is written outside it."""

from __future__ import annotations

import os
import tempfile
from hashlib import sha256
from pathlib import Path
from typing import TYPE_CHECKING

from panelstats.errors import PanelError
from panelstats.filenames import file_names
from panelstats.ourfiles import MARK
from panelstats.output import make_folder

if TYPE_CHECKING:
    from typing import BinaryIO

_PARTS = ("sheets", "pages", "drafts")
# Endings under which a folder's sheets are looked for; what a file is, its content says.
_ENDINGS = frozenset([".csv", ".tsv", ".txt", ".xlsx", ".xlsm", ".xls", ".xlsb", ".ods", ".parquet"])
_BEGINNINGS = ((b"PK", ".xlsx"), (b"\xd0\xcf\x11\xe0", ".xls"), (b"PAR1", ".parquet"))
_PIECE = 1 << 20


def key_of(name: str) -> str:
    """What the browser is told in place of a path."""
    return sha256(name.encode("utf-8", "surrogatepass")).hexdigest()[:16]


class Folder:
    """The folder of a room."""

    def __init__(self, path: Path) -> None:
        self.path = path.resolve()
        self.sheets, self.pages, self.drafts = (self.path / part for part in _PARTS)

    def prepare(self) -> None:
        """Make what is missing, and clear away what a desk that was killed had not finished."""
        for part in (self.sheets, self.pages, self.drafts):
            make_folder(part)
        self.tidy(self.path)

    def tidy(self, part: Path) -> None:
        """Remove files that were never finished."""
        for left in part.rglob(f".{MARK}-*.part"):
            left.unlink(missing_ok=True)

    def add(self, name: str, stream: BinaryIO) -> tuple[str, str]:
        """Keep a sheet as it came, whole or not at all: its name here, and what there is to say of it.

        Parameters
        ----------
        name : str
            As the browser calls it: only its last part counts, and only what any file system takes.
        stream : binary file
            Its content.
        """
        handle, part = tempfile.mkstemp(dir=self.sheets, prefix=f".{MARK}-", suffix=".part")
        try:
            digest, head = sha256(), b""
            with os.fdopen(handle, "wb") as file:
                while piece := stream.read(_PIECE):
                    head = head or piece[:8]
                    digest.update(piece)
                    file.write(piece)
            return self._placed(Path(part), name, head, digest.hexdigest())
        finally:
            Path(part).unlink(missing_ok=True)

    def _placed(self, part: Path, name: str, head: bytes, digest: str) -> tuple[str, str]:
        for known in self.sheets.iterdir():
            if known.is_file() and known != part and _digest(known) == digest:
                return known.name, f"{known.name} lies here already; nothing was added."
        safe = safe_name(name, head)
        place = self.sheets / safe
        number = 2
        while place.exists():
            place = self.sheets / f"{Path(safe).stem} ({number}){Path(safe).suffix}"
            number += 1
        part.chmod(0o644)
        part.rename(place)
        said = "" if place.name == safe else f"Another {safe} lies here: this one is kept as {place.name}."
        return place.name, said

    def write(self, place: Path, content: bytes) -> None:
        """Write a file of the room whole or not at all, over an earlier one."""
        if self.path not in place.parents:
            raise PanelError("a place outside the room", where=str(place), do="choose another name")
        handle, part = tempfile.mkstemp(dir=place.parent, prefix=f".{MARK}-", suffix=".part")
        try:
            with os.fdopen(handle, "wb") as file:
                file.write(content)
            Path(part).chmod(0o644)
            Path(part).replace(place)
        finally:
            Path(part).unlink(missing_ok=True)

    def remove(self, name: str) -> None:
        """Move a sheet to sheets/removed/, never delete it."""
        removed = make_folder(self.sheets / "removed")
        source = self.path / name
        place = removed / source.name
        number = 2
        while place.exists():
            place = removed / f"{source.stem} ({number}){source.suffix}"
            number += 1
        source.rename(place)

    def state(self) -> str:
        """What changes when a file that is read changes; "" while there is none."""
        told = []
        for root, folders, names in os.walk(self.path):
            folders[:] = sorted(each for each in folders if each not in {"pages", "drafts", "removed"})
            for name in sorted(names):
                path = Path(root) / name
                if not name.startswith(".") and path.is_file():
                    facts = path.stat()
                    told.append(f"{path}|{facts.st_size}|{facts.st_mtime_ns}")
        return key_of("\n".join(told)) if told else ""

    def made(self) -> dict[str, Path]:
        """The pages there are by their keys, the latest first."""
        pages = sorted(self.pages.rglob("*.html"), key=lambda page: (-page.stat().st_mtime_ns, page.name))
        return {key_of(page.relative_to(self.pages).as_posix()): page for page in pages}


def safe_name(name: str, head: bytes) -> str:
    r"""A name for a sheet that any file system takes, with an ending that its content allows.

    Examples
    --------
    >>> safe_name("../../week 14.csv", b"lot,brisk"), safe_name("C:\\week.xlsx", b"PK"), safe_name("week.html", b"<tab")
    ('week 14.csv', 'week.xlsx', 'week.html.csv')
    """
    last = Path(name.replace("\\", "/").rstrip("/")).name
    ending = Path(last).suffix.casefold()
    stem = Path(last).stem if ending in _ENDINGS else last
    if ending not in _ENDINGS:
        ending = next((kind for start, kind in _BEGINNINGS if head.startswith(start)), ".csv")
    return file_names([stem])[stem] + ending


def _digest(path: Path) -> str:
    with path.open("rb") as file:
        digest = sha256()
        while piece := file.read(_PIECE):
            digest.update(piece)
    return digest.hexdigest()
