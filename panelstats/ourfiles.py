"""What our own files carry, by which they are told from everybody else's; text that a workbook or page can hold."""

from __future__ import annotations

import lzma
import struct
import zipfile
import zlib
from datetime import datetime
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING

from panelstats.errors import visible

if TYPE_CHECKING:
    from xlsxwriter import Workbook


# What tells our own pages and workbooks from everybody else's files.
MARK = "panelstats"
PAGE_MARK = f'<meta name="generator" content="{MARK}">'
PRINT_MARK = f"\n% {MARK}\n".encode()  # a comment after the end of a PDF
_PROPERTIES = 100_000  # bytes of properties that are looked at: a file may claim any number
# What reading a file that calls itself a zip may end in: cut, locked with a password, of an unknown compression, ...
BROKEN_ZIP = (
    zipfile.BadZipFile, KeyError, OSError, ValueError, EOFError, NotImplementedError, RuntimeError, zlib.error,
    lzma.LZMAError, struct.error,
)  # fmt: skip
_HEAD = 1024  # bytes of a page in which the mark must stand
_CELL_LIMIT = 32_767  # characters a cell holds: ECMA-376 workbooks, limit kept by every spreadsheet program
_CREATED = datetime(2000, 1, 1)  # noqa: DTZ001 - the same for every workbook: same input, same bytes


def is_ours(path: str | Path) -> bool:
    """Whether a file is a page, workbook or print that this package wrote.

    Parameters
    ----------
    path : str or Path
        Any file; one that cannot be read, or is of another kind, is not ours.

    Examples
    --------
    >>> is_ours("no-such-file.html")
    False
    """
    path = Path(path)
    try:
        if not path.is_file():  # a pipe would wait for ever
            return False
        with path.open("rb") as file:
            head = file.read(_HEAD)
            if PAGE_MARK.encode() in head:
                return True
            if head.startswith(b"%PDF"):
                file.seek(max(0, path.stat().st_size - len(PRINT_MARK)))
                return file.read() == PRINT_MARK
        return f'name="{MARK}"'.encode() in properties(path)
    except OSError:
        return False


def properties(book: Path | BytesIO) -> bytes:
    """The properties that somebody gave a workbook, as they stand in its file; none where there are none to be read."""
    try:
        with zipfile.ZipFile(book) as archive, archive.open("docProps/custom.xml") as part:
            return part.read(_PROPERTIES)
    except BROKEN_ZIP:
        return b""


def new_workbook(*, ours: bool = True) -> tuple[Workbook, BytesIO]:
    """An empty workbook in which text stays text, and the stream that holds its bytes once it is closed.

    Parameters
    ----------
    ours : bool
        Carry our mark: results, never read back as score sheets. False for sheets that are to be filled in.
    """
    from xlsxwriter import Workbook  # noqa: PLC0415 - 0.1 s, and most callers write no workbook

    stream = BytesIO()
    text = dict.fromkeys(("strings_to_formulas", "strings_to_urls", "strings_to_numbers"), False)
    book = Workbook(stream, {"in_memory": True, **text})
    book.set_properties({"created": _CREATED})
    if ours:
        book.set_custom_property(MARK, "results")
    return book, stream


def cell_text(value: object) -> str:
    """Text that a workbook cell can hold: nothing that steers, no lone surrogates, cut where a cell ends.

    Examples
    --------
    >>> cell_text("=1+1")
    '=1+1'
    >>> len(cell_text("x" * 40_000))
    32767
    """
    text = visible(str(value))
    return text if len(text) <= _CELL_LIMIT else text[: _CELL_LIMIT - 1] + "…"


def page_bytes(text: str) -> bytes:
    """A page as the bytes of its file; what no file can hold (half a sign) stands as its number."""
    return visible(text).encode()
