"""A second reader, apart from the package: opens the made file and reads known cells, so that truth cannot be wrong.

It knows where each score stands and which cells show its keys, and takes everything else from the file itself.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Mapping
from html.parser import HTMLParser
from pathlib import Path
from xml.etree import ElementTree
from zipfile import ZipFile

import pandas as pd
from openpyxl import load_workbook

from tests.habits.cells import FILE, TAB, Cell, Grid
from tests.habits.files import text_of
from tests.habits.labels import plain, words
from tests.habits.truth import AXES, SCORE, Truth

Key = Cell | str | tuple[Cell, ...] | None
Labels = dict[tuple[str, str | None], str | None]
Sheets = dict[str, list[list[str]]]  # {tab: rows of text}
TABLE = "{urn:oasis:names:tc:opendocument:xmlns:table:1.0}"
ANNOTATION = "{urn:oasis:names:tc:opendocument:xmlns:office:1.0}annotation"


def reread(path: Path, book: Mapping[str, Grid], truth: Truth, dialect: Mapping[str, str]) -> pd.DataFrame:
    """The scores of one written file: AXES and SCORE, labels as the truth spells them."""
    sheets = opened(path, dialect)
    read: Labels = {}  # each text is understood once
    rows = []
    for tab, grid in book.items():
        at = {id(cell): (r, c) for r, c, cell in grid.cells()}
        for r, c, cell in grid.cells():
            if cell.keys is None:
                continue
            for keys in (cell.keys, *cell.also):
                texts = {a: _shown(keys.get(a), at, sheets[tab], tab, path) for a in AXES}
                for key in set(texts.items()) - set(read):
                    read[key] = None if key[1] is None else label(*key, truth)
                labels = {a: read[a, text] for a, text in texts.items()}
                rows.append({**labels, SCORE: _worth(sheets[tab][r][c], truth)})
    return pd.DataFrame(rows, columns=[*AXES, SCORE])


def opened(path: Path, dialect: Mapping[str, str]) -> Sheets:
    """Every tab of a file as rows of text."""
    if path.suffix == ".xlsx":
        book = load_workbook(path)
        return {s.title: [[text_of(v) for v in row] for row in s.iter_rows(values_only=True)] for s in book}
    if path.suffix == ".ods":
        return _ods(path)
    if path.suffix == ".xls":
        page = _Page()
        page.feed(path.read_text("utf-8"))
        return dict(enumerate(page.tables))  # type: ignore[arg-type]
    text = path.read_bytes().decode(dialect.get("encoding", "utf-8"))
    return {"": list(csv.reader(io.StringIO(text, newline=""), delimiter=dialect.get("delimiter", ",")))}


def _shown(
    key: Cell | str | tuple[Cell, ...] | None,
    at: dict[int, tuple[int, int]],
    rows: list[list[str]],
    tab: str,
    path: Path,
) -> object:
    if key == TAB:
        return tab
    if key == FILE:
        return path.stem
    if key is None:
        return None
    if isinstance(key, tuple):  # a label shown in parts: a stage and the word below it
        return " ".join(str(_shown(part, at, rows, tab, path)) for part in key)
    r, c = at[id(key)]
    return rows[r][c]


def label(axis: str, text: str, truth: Truth) -> str:
    """The true label that a text shows: as it stands, as another spelling, or the one label it holds."""
    spelt = truth.spelt[axis]
    if plain(text) in spelt:
        return spelt[plain(text)]
    known = list(dict.fromkeys(spelt.values()))
    inside = [k for k in known if set(words(k)) <= set(words(text))]
    if axis == "pot":
        inside = re.findall(r"pot\W*(\d+)|(\d+)\W*$", text, re.IGNORECASE)[-1:]
        inside = [a or b for a, b in inside]
    longest = [k for k in inside if not any(k != other and k in other for other in inside)]
    if len(longest) != 1:
        raise ValueError(f"{axis} {text!r} holds {longest} of {known}")
    return longest[0]


def _worth(text: str, truth: Truth) -> float:
    return truth.worth[text] if text in truth.worth else float(text.replace(",", "."))


def _ods(path: Path) -> Sheets:
    with ZipFile(path) as made:
        root = ElementTree.fromstring(made.read("content.xml"))  # noqa: S314 -- our own file
    return {
        sheet.get(f"{TABLE}name"): [[_ods_text(cell) for cell in row] for row in sheet.iter(f"{TABLE}table-row")]
        for sheet in root.iter(f"{TABLE}table")
    }


def _ods_text(cell: ElementTree.Element) -> str:
    return "".join("".join(part.itertext()) for part in cell if part.tag != ANNOTATION)


class _Page(HTMLParser):
    """The tables of a web page."""

    def __init__(self) -> None:
        super().__init__()
        self.tables: list[list[list[str]]] = []

    def handle_starttag(self, tag: str, attrs: object) -> None:
        if tag == "table":
            self.tables.append([])
        elif tag == "tr":
            self.tables[-1].append([])
        elif tag == "td":
            self.tables[-1][-1].append("")

    def handle_data(self, data: str) -> None:
        if self.tables and self.tables[-1] and self.tables[-1][-1]:
            self.tables[-1][-1][-1] += data
