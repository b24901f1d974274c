"""What a workbook says of a cell besides its content: struck out, hidden, commented, coloured, merged, an error."""

from __future__ import annotations

import io
import re
import zipfile
import zlib
from collections import Counter
from dataclasses import dataclass, field
from typing import TYPE_CHECKING
from xml.etree import ElementTree

if TYPE_CHECKING:
    from collections.abc import Iterator

_SHEET = "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}"
_TABLE = "{urn:oasis:names:tc:opendocument:xmlns:table:1.0}"
_OFFICE = "{urn:oasis:names:tc:opendocument:xmlns:office:1.0}"
_TEXT = "{urn:oasis:names:tc:opendocument:xmlns:text:1.0}"
_STYLE = "{urn:oasis:names:tc:opendocument:xmlns:style:1.0}"
_ADDRESS = re.compile(rb"([A-Z]{1,3})(\d{1,7})")
_STYLED = re.compile(rb'<c r="([A-Z]{1,3})(\d{1,7})"[^>]*? s="(\d+)"')
_SHARED = re.compile(rb'<c r="([A-Z]{1,3})(\d{1,7})"[^>]*? t="s"[^>]*><v>(\d+)</v>')
_INLINE = re.compile(rb'<c r="([A-Z]{1,3})(\d{1,7})"[^>]*? t="inlineStr"[^>]*>(<is>.*?</is>)', re.S)
_WRAPPED = b'<c xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main">%s</c>'
_ERROR = re.compile(r"#[A-Z0-9/!?]+|Err:\d+")
MOST = 60_000_000  # bytes of a part that is still looked into (ours)
_WHITE = frozenset(["FFFFFFFF", "00FFFFFF", "FFFFFF"])

Place = tuple[int, int]


@dataclass
class CellFacts:
    """Facts of one sheet, places counted from 0: (row, column); `struck` tells what of a cell is not struck out."""

    struck: dict[Place, str] = field(default_factory=dict)
    comments: dict[Place, str] = field(default_factory=dict)
    coloured: Counter[str] = field(default_factory=Counter)
    errors: set[Place] = field(default_factory=set)
    merged: list[tuple[Place, Place]] = field(default_factory=list)
    hidden_rows: int = 0
    hidden_columns: int = 0

    @property
    def notes(self) -> list[str]:
        """What is to be said of hidden and coloured cells."""
        told = []
        if self.hidden_rows:
            told.append(f"{self.hidden_rows} hidden rows read like the others")
        if self.hidden_columns:
            told.append(f"{self.hidden_columns} hidden columns read like the others")
        if self.coloured:
            told.append(f"{self.coloured.total()} cells in {len(self.coloured)} colours; colours are not read")
        return told


def column_index(letters: str) -> int:
    """Index of a column from its letters, A is 0."""
    number = 0
    for letter in letters:
        number = number * 26 + ord(letter) - 64
    return number - 1


def _at(match: re.Match[bytes]) -> Place:
    """The place of a cell whose address a pattern found in its first two groups."""
    return int(match[2]) - 1, column_index(match[1].decode())


# --- .xlsx ------------------------------------------------------------------------------------------------------------


Styles = tuple[set[int], dict[int, str], dict[int, str]]


def xlsx_facts(archive: zipfile.ZipFile, path: str, part: bytes, styles: Styles) -> CellFacts:
    """Facts of one sheet of an .xlsx: `part` is its XML, `path` where it stands; `styles` come from `xlsx_styles`."""
    facts = CellFacts()
    struck, coloured, texts = styles
    if struck or coloured:
        for match in _STYLED.finditer(part):
            style = int(match[3])
            if style in struck:
                facts.struck[_at(match)] = ""
            if style in coloured:
                facts.coloured[coloured[style]] += 1
    for match in _SHARED.finditer(part) if texts else ():
        if int(match[3]) in texts:
            facts.struck.setdefault(_at(match), texts[int(match[3])])
    for match in _INLINE.finditer(part) if b"<strike" in part else ():
        if (left := _left(ElementTree.fromstring(_WRAPPED % match[3])[0])) is not None:  # noqa: S314 - no external entities are resolved
            facts.struck.setdefault(_at(match), left)
    if b"hidden" in part:
        facts.hidden_rows = len(re.findall(rb'<row [^>]*hidden="(?:1|true)"', part))
        for col in re.findall(rb"<col [^>]*>", part[:200_000]):
            if re.search(rb'hidden="(?:1|true)"', col):
                first, last = (re.search(rb"\b" + k + rb'="(\d+)"', col) for k in (b"min", b"max"))
                facts.hidden_columns += int(last[1]) - int(first[1]) + 1 if first and last else 1
    facts.comments = _xlsx_comments(archive, path)
    return facts


def xlsx_styles(archive: zipfile.ZipFile) -> Styles:
    """Cell styles that strike out, those that colour (number -> colour), and shared texts struck out in part."""
    try:
        root = ElementTree.fromstring(archive.read("xl/styles.xml"))  # noqa: S314 - no external entities are resolved
    except (KeyError, ElementTree.ParseError, zipfile.BadZipFile, zlib.error, OSError, NotImplementedError):
        return set(), {}, _struck_texts(archive)
    fonts = [_on(font.find(f"{_SHEET}strike")) for font in root.iterfind(f"{_SHEET}fonts/{_SHEET}font")]
    fills = [_colour(fill) for fill in root.iterfind(f"{_SHEET}fills/{_SHEET}fill")]
    struck, coloured = set(), {}
    for number, style in enumerate(root.iterfind(f"{_SHEET}cellXfs/{_SHEET}xf")):
        font, fill = int(style.get("fontId", 0)), int(style.get("fillId", 0))
        if font < len(fonts) and fonts[font]:
            struck.add(number)
        if fill < len(fills) and fills[fill]:
            coloured[number] = fills[fill]
    return struck, coloured, _struck_texts(archive)


def _struck_texts(archive: zipfile.ZipFile) -> dict[int, str]:
    """Shared texts of which some is struck out: number -> what is left."""
    name = "xl/sharedStrings.xml"
    if name not in archive.namelist() or archive.getinfo(name).file_size > MOST:
        return {}
    part = archive.read(name)
    if b"<strike" not in part:
        return {}
    try:
        root = ElementTree.fromstring(part)  # noqa: S314 - no external entities are resolved
    except ElementTree.ParseError:
        return {}
    left = {number: _left(text) for number, text in enumerate(root)}
    return {number: text for number, text in left.items() if text is not None}


def _left(text: ElementTree.Element) -> str | None:
    """What is left of a text in runs, None where no run is struck out."""
    runs = [(_on(run.find(f"{_SHEET}rPr/{_SHEET}strike")), run.findtext(f"{_SHEET}t") or "") for run in text]
    return "".join(said for struck, said in runs if not struck).strip() if any(struck for struck, _ in runs) else None


def _on(element: ElementTree.Element | None) -> bool:
    return element is not None and element.get("val", "1") not in ("0", "false")


def _colour(fill: ElementTree.Element) -> str:
    pattern = fill.find(f"{_SHEET}patternFill")
    if pattern is None or pattern.get("patternType") != "solid":
        return ""
    colour = pattern.find(f"{_SHEET}fgColor")
    said = "" if colour is None else colour.get("rgb") or f"theme {colour.get('theme', '')}{colour.get('tint', '')}"
    return "" if said in _WHITE or said == "theme 0" else said


def _xlsx_comments(archive: zipfile.ZipFile, path: str) -> dict[Place, str]:
    folder, _, name = path.rpartition("/")
    rels = f"{folder}/_rels/{name}.rels"
    if rels not in archive.namelist():
        return {}
    found: dict[Place, str] = {}
    for target in re.findall(rb'Target="([^"]*comments[^"]*\.xml)"', archive.read(rels)):
        part = target.decode().lstrip("/").replace("../", "xl/")
        part = part if part.startswith("xl/") else f"{folder}/{part}"
        if part not in archive.namelist():
            continue
        try:
            root = ElementTree.fromstring(archive.read(part))  # noqa: S314 - no external entities are resolved
        except ElementTree.ParseError:
            continue
        for comment in root.iter():
            address = _ADDRESS.fullmatch(comment.get("ref", "").encode())
            said = "".join(t.text or "" for t in comment.iter() if t.tag.endswith(("}t", "}text"))).strip()
            if address and said:
                found.setdefault(_at(address), said)
    return found


# --- .ods -------------------------------------------------------------------------------------------------------------


def ods_facts(data: bytes) -> dict[str, CellFacts]:
    """Facts of every sheet of an .ods, by the sheet's name; {} for anything else."""
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            if "content.xml" not in archive.namelist() or archive.getinfo("content.xml").file_size > MOST:
                return {}
            root = ElementTree.fromstring(archive.read("content.xml"))  # noqa: S314 - no external entities are resolved
    except (ElementTree.ParseError, zipfile.BadZipFile, zlib.error, OSError, ValueError, NotImplementedError):
        return {}
    struck = {
        style.get(f"{_STYLE}name", "")
        for style in root.iter(f"{_STYLE}style")
        for text in style.iter(f"{_STYLE}text-properties")
        if text.get(f"{_STYLE}text-line-through-style", "none") != "none" or text.get(f"{_STYLE}text-line-through-type")
    }
    return {table.get(f"{_TABLE}name", ""): _ods_sheet(table, struck) for table in root.iter(f"{_TABLE}table")}


def _ods_sheet(table: ElementTree.Element, struck: set[str]) -> CellFacts:
    facts = CellFacts()
    for column in table.iter(f"{_TABLE}table-column"):
        if column.get(f"{_TABLE}visibility") in ("collapse", "filter"):
            facts.hidden_columns += int(column.get(f"{_TABLE}number-columns-repeated", 1))
    at = 0
    for row in table.iter(f"{_TABLE}table-row"):
        times = int(row.get(f"{_TABLE}number-rows-repeated", 1))
        if row.get(f"{_TABLE}visibility") in ("collapse", "filter") and any(_said(c) for c in row):
            facts.hidden_rows += times
        for place, cell in _ods_cells(row):
            _ods_cell(facts, (at, place), cell, struck)
        at += times
    return facts


def _ods_cells(row: ElementTree.Element) -> Iterator[tuple[int, ElementTree.Element]]:
    column = 0
    for cell in row:
        if cell.tag in (f"{_TABLE}table-cell", f"{_TABLE}covered-table-cell"):
            yield column, cell
            column += int(cell.get(f"{_TABLE}number-columns-repeated", 1))


def _said(cell: ElementTree.Element) -> str:
    return "".join("".join(p.itertext()) for p in cell.findall(f"{_TEXT}p"))


def _without(cell: ElementTree.Element, spans: list[ElementTree.Element]) -> str:
    """What a cell says but for some spans."""
    for span in spans:
        for part in span.iter():
            part.text, part.tail = "", (part.tail or "") if part is span else ""
    return _said(cell).strip()


def _ods_cell(facts: CellFacts, place: Place, cell: ElementTree.Element, struck: set[str]) -> None:
    said = _said(cell)
    spans = [n for n in cell.iter(f"{_TEXT}span") if n.get(f"{_TEXT}style-name") in struck]
    if said and (cell.get(f"{_TABLE}style-name") in struck or spans):
        facts.struck[place] = _without(cell, spans) if cell.get(f"{_TABLE}style-name") not in struck else ""
    note = cell.find(f"{_OFFICE}annotation")
    if note is not None and (text := " ".join("".join(p.itertext()) for p in note.findall(f"{_TEXT}p")).strip()):
        facts.comments[place] = text
    if _ERROR.fullmatch(said):
        facts.errors.add(place)
    down, right = (int(cell.get(f"{_TABLE}number-{k}-spanned", 1)) for k in ("rows", "columns"))
    if down > 1 or right > 1:
        facts.merged.append((place, (place[0] + down - 1, place[1] + right - 1)))
