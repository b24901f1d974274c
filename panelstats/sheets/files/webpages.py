"""A web page under the name of a sheet: what old systems call an .xls export; every table on it is a sheet."""

from __future__ import annotations

import re
from contextlib import suppress
from html.parser import HTMLParser

from panelstats.sheets.files.delimited import WIDEST, decode, not_a_sheet
from panelstats.sheets.files.grid import Sheet, factor

_LARGEST = 50_000_000  # bytes
_MOST_CELLS = 4_000_000
_SPAN = 1_000  # cells one cell may span


def is_web_page(data: bytes) -> bool:
    """Whether the bytes of a file begin like a web page."""
    head = data[:4000].replace(b"\x00", b"").lstrip(b"\xef\xbb\xbf\xff\xfe \t\r\n").lower()
    return head.startswith((b"<!doctype html", b"<html", b"<table")) or b"<html" in head


def read_web_page(data: bytes, file: str) -> list[Sheet]:
    """The tables of a web page, a sheet each; `file` names it in messages.

    Raises
    ------
    SheetError
        The page holds no table with two rows, or is larger than any export of scores.
    """
    if len(data) > _LARGEST:
        raise not_a_sheet(file, "the file is a web page larger than any score sheet")
    declared = re.search(rb'charset=["\']?([\w-]+)', data[:2000])
    text, mended = decode(data, file)
    if declared and declared[1].lower() not in (b"utf-8", b"utf8") and b"\x00" not in data[:100]:
        with suppress(LookupError, UnicodeDecodeError):
            text = data.decode(declared[1].decode())
    page = _Page()
    page.feed(text)
    page.close()
    tables = [t for t in page.tables if len(t) > 1]
    if not tables:
        raise not_a_sheet(file, "the file is a web page under the name of a sheet")
    if sum(len(t) * max(map(len, t)) for t in tables) > _MOST_CELLS or max(len(r) for t in tables for r in t) > WIDEST:
        raise not_a_sheet(file, "the file is a web page larger than any score sheet")
    return [_sheet(rows, file, n, len(tables), mended) for n, rows in enumerate(tables, 1)]


def _sheet(rows: list[list[str]], file: str, number: int, tables: int, mended: list[str]) -> Sheet:
    width = max(map(len, rows))
    columns = [factor([row[c] if c < len(row) else "" for row in rows]) for c in range(width)]
    told = (*mended, "a web page under the name of a sheet")
    return Sheet(file, f"table {number}" if tables > 1 else "", columns, 1, told)


class _Page(HTMLParser):
    """Collects rows of cells; a cell that spans several is repeated in each."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.tables: list[list[list[str]]] = []
        self._cell: list[str] | None = None
        self._span = (1, 1)
        self._below: dict[int, tuple[int, str]] = {}  # column -> rows still covered, text

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Begin a table, a row or a cell."""
        if tag == "table":
            self.tables.append([])
            self._below = {}
        elif tag == "tr" and self.tables:
            self._finish()
            self.tables[-1].append([])
            self._cover()
        elif tag in ("td", "th") and self.tables and self.tables[-1]:
            self._finish()
            said = dict(attrs)
            self._span = (_whole(said.get("rowspan")), _whole(said.get("colspan")))
            self._cell = []
        elif tag == "br" and self._cell is not None:
            self._cell.append(" ")

    def handle_endtag(self, tag: str) -> None:
        """End a cell."""
        if tag in ("td", "th", "tr", "table"):
            self._finish()

    def handle_data(self, data: str) -> None:
        """Text inside a cell."""
        if self._cell is not None:
            self._cell.append(data)

    def _finish(self) -> None:
        if self._cell is None or not self.tables or not self.tables[-1]:
            return
        text, (down, right) = " ".join("".join(self._cell).split()), self._span
        self._cell = None
        row = self.tables[-1][-1]
        for _ in range(right):
            if down > 1:
                self._below[len(row)] = (down - 1, text)
            row.append(text)
        self._cover()

    def _cover(self) -> None:
        """Repeat what a cell above still covers."""
        row = self.tables[-1][-1]
        while len(row) in self._below and self._below[len(row)][0] > 0 and len(self.tables[-1]) > 1:
            left, text = self._below[len(row)]
            self._below[len(row)] = (left - 1, text)
            row.append(text)


def _whole(text: str | None) -> int:
    return min(max(int(text), 1), _SPAN) if text and text.isdecimal() else 1
