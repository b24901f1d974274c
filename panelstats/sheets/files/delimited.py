"""Text files: bytes -> text, delimiter, cells; every field counted, so that no ragged row slips through."""

from __future__ import annotations

import csv
import io
import re

import numpy as np
import pandas as pd

from panelstats.errors import SheetError
from panelstats.scores.table import FORMULA
from panelstats.sheets.files.grid import Factor, Sheet, text_factor

DELIMITERS = ",;\t|"
WIDEST = 16_384  # columns of the widest spreadsheet in common use; no score sheet is wider
_BLOCK = 5_000_000  # bytes; a line twice as long is refused (ours)
MOST_ROWS = 5_000_000  # of one text file (ours); the longest spreadsheet in common use has 1,048,576
MOST_ODD = 100_000  # rows longer or shorter than most (ours): each would be a problem of its own
_SAMPLE = 50


def read_delimited(data: bytes, file: str) -> Sheet:
    """One sheet from the bytes of a text file; `file` names it in messages.

    Raises
    ------
    SheetError
        The bytes are no text, a quoted cell never ends, or a row is wider than any sheet.
    """
    _refuse_long_lines(data, file)
    text, mended = decode(data, file)
    declared = re.match(r"sep=(.)\r?\n", text)
    if declared:
        text = text[declared.end() :]
        mended.append(f"first line names the delimiter {declared[1]!r}")
    delimiter = declared[1] if declared else sniff(text)
    body = text.encode()
    fields = count_fields(body, delimiter)
    if fields is None:
        columns, fields = _cells_slowly(text, delimiter, file)
    else:
        _refuse_monsters(fields, file)
        columns = _cells(body, delimiter, int(fields.max(initial=0)), file) if len(fields) else []
    columns = [_unmarked(column) for column in columns]
    return Sheet(file, "", columns, 2 if declared else 1, tuple(mended), fields=fields)


def _refuse_long_lines(data: bytes, file: str) -> None:
    """Refuse a text whose lines no sheet has before it is decoded: every line longer than two blocks fills one."""
    for start in range(0, len(data) - _BLOCK + 1, _BLOCK):
        if data.find(b"\n", start, start + _BLOCK) < 0 and data.find(b"\r", start, start + _BLOCK) < 0:
            raise not_a_sheet(file, "a line of many million characters is no row of a score sheet")


def _unmarked(column: Factor) -> Factor:
    """A column without the apostrophes that keep a spreadsheet from taking a text for a formula."""
    if not any(value.startswith("'") for value in column.values):
        return column
    return column.map([value[1:] if value[:1] == "'" and FORMULA.match(value) else value for value in column.values])


def decode(data: bytes, file: str) -> tuple[str, list[str]]:
    """The text of a file with plain line ends, and what had to be said about its encoding."""
    mended: list[str] = []
    encoding = _encoding(data)
    if encoding == "cp1252":
        mended.append("read as Windows-1252 text")
    elif encoding.startswith("utf-16"):
        mended.append("read as UTF-16 text")
    try:
        text = data.decode(encoding)
    except UnicodeDecodeError as error:
        raise not_a_sheet(file, "the file is no text in any encoding we know") from error
    if "\x00" in text:
        raise not_a_sheet(file, "the file holds bytes that no text has")
    text = text.removeprefix("\ufeff")
    if "\r" in text:
        text = text.replace("\r\n", "\n").replace("\r", "\n")
    return text, mended


def not_a_sheet(file: str, why: str) -> SheetError:
    """The one error for a file that is no score sheet at all."""
    do = "open it in a spreadsheet, save it as a workbook (.xlsx) or as csv, and read that"
    return SheetError(why, where=file, do=do)


def _encoding(data: bytes) -> str:
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        return "utf-16"
    head = data[:4000]
    if len(head) > 1 and head[1::2].count(0) > len(head) // 4:
        return "utf-16-le"
    if len(head) > 1 and head[0::2].count(0) > len(head) // 4:
        return "utf-16-be"
    try:
        data.decode("utf-8")
    except UnicodeDecodeError:
        return "cp1252"
    return "utf-8"


def sniff(text: str) -> str:
    """The delimiter that gives the most rows of the same width, at least two cells wide; else a comma."""
    sample = "\n".join(text[:200_000].split("\n", _SAMPLE)[:_SAMPLE])
    best, most = ",", (0.0, 0)
    for delimiter in DELIMITERS:
        widths = _widths(sample, delimiter)
        wide = [w for w in widths if w > 1]
        if not wide:
            continue
        usual = max(set(wide), key=wide.count)
        merit = (wide.count(usual) / len(widths), usual)
        if (merit[0] > most[0] + 1e-9) or (abs(merit[0] - most[0]) <= 1e-9 and delimiter in ";\t|" and best == ","):
            best, most = delimiter, merit
    return best


def _widths(sample: str, delimiter: str) -> list[int]:
    try:
        return [len(row) for row in csv.reader(io.StringIO(sample), delimiter=delimiter) if row] or [0]
    except csv.Error:
        return [0]


def count_fields(body: bytes, delimiter: str) -> np.ndarray | None:
    """Number of cells of every record, quoted delimiters and line ends left alone: (record,).

    None where quotes stand inside cells, or are not closed: the count then needs a reader that goes by characters.
    """
    raw = np.frombuffer(body, np.uint8)
    ends, cuts = raw == ord("\n"), raw == ord(delimiter)
    quotes = np.flatnonzero(raw == ord('"'))
    if len(quotes):
        if not _regular(raw, quotes, ord(delimiter)):
            return None
        inside = np.cumsum(raw == ord('"'), dtype=np.int64) % 2 == 1
        ends, cuts = ends & ~inside, cuts & ~inside
    stops = np.flatnonzero(ends)
    if len(raw) and raw[-1] != ord("\n"):
        stops = np.append(stops, len(raw))
    at = np.searchsorted(np.flatnonzero(cuts), stops)
    return np.diff(at, prepend=0) + 1


def _regular(raw: np.ndarray, quotes: np.ndarray, delimiter: int) -> bool:
    """Whether every cell with quotes is quoted as a whole."""
    if len(quotes) % 2:
        return False
    edges = [delimiter, ord("\n"), ord('"')]
    framed = np.concatenate([[ord("\n")], raw, [ord("\n")]])  # raw[i] is framed[i + 1]
    return bool(np.isin(framed[quotes[0::2]], edges).all() and np.isin(framed[quotes[1::2] + 2], edges).all())


def _refuse_monsters(fields: np.ndarray, file: str) -> None:
    """Refuse what would fill the memory before anybody could read it."""
    width = int(fields.max(initial=0))
    if width > WIDEST or (len(fields) * width > 20_000_000 and len(fields) * width > 8 * fields.sum()):
        row = int(fields.argmax()) + 1
        raise not_a_sheet(f"{file}, row {row}", f"a row of {width:,} cells is no row of a score sheet")
    if len(fields) > MOST_ROWS:
        raise not_a_sheet(file, f"{len(fields):,} rows, and {MOST_ROWS:,} at most are read from one file")
    odd = int((fields != np.bincount(fields).argmax()).sum()) if len(fields) else 0
    if odd > MOST_ODD:
        raise not_a_sheet(file, f"{odd:,} rows are longer or shorter than the rest: this is no table")


def _cells(body: bytes, delimiter: str, width: int, file: str) -> list[Factor]:
    try:
        table = pd.read_csv(
            io.BytesIO(body), sep=delimiter, header=None, names=range(width), index_col=False, dtype=object,
            na_filter=False, keep_default_na=False, skip_blank_lines=False, low_memory=False, encoding="utf-8",
        )  # fmt: skip
    except pd.errors.ParserError as error:
        raise not_a_sheet(file, "the rows of this text file cannot be told apart") from error
    return [text_factor(table[c].to_numpy()) for c in table]


def _cells_slowly(text: str, delimiter: str, file: str) -> tuple[list[Factor], np.ndarray]:
    """The same by the standard library, for the rare file with quotes inside its cells."""
    try:
        rows = list(csv.reader(io.StringIO(text), delimiter=delimiter, strict=True))
    except csv.Error as error:
        if "end of data" in str(error):
            raise not_a_sheet(file, "a quoted cell is opened and never closed") from error
        raise not_a_sheet(file, "the quotes in this text file cannot be told apart") from error
    fields = np.array([max(len(row), 1) for row in rows])
    _refuse_monsters(fields, file)
    cells = ([row[c] if c < len(row) else "" for row in rows] for c in range(int(fields.max(initial=0))))
    return [text_factor(np.array(column, object)) for column in cells], fields
