"""Sheets that stand there twice: the same cells under another name are read once."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import numpy as np

from panelstats.scores.cells import TASTER
from panelstats.scores.spelling import plain, tidy

if TYPE_CHECKING:
    from panelstats.sheets.content.wishes import Wishes
    from panelstats.sheets.files.grid import Sheet
    from panelstats.sheets.room.inquiry import Inquiry
    from panelstats.sheets.tables.table import Note

_COPY = re.compile(r"copy|kopie|copie|copia|\(\d+\)|final|new|old|v\d|backup|[-_ .]+|\d+$")
_FEW = 50  # sheets up to which one is looked for in another that holds more lines (ours)
_LONG = 20_000  # lines up to which that is done (ours)
_SHORT = 5  # rows up to which two tasters' sheets may be alike by chance (ours)


def without_copies(sheets: list[Sheet], wishes: Wishes, inquiry: Inquiry) -> tuple[list[Sheet], list[Note]]:
    """The sheets without those whose every cell another holds; where the copy may be another taster's, it is asked."""
    kept: list[Sheet] = []
    notes: list[Note] = []
    for sheet in sorted(sheets, key=len, reverse=True) if len(sheets) <= _FEW else sheets:
        twin = next((k for k in kept if _alike(k, sheet)), None) if len(sheet) > _SHORT else None
        if twin is None:
            kept.append(sheet)
        elif _is_copy(twin, sheet, wishes) or _asked(twin, sheet, inquiry) != "another taster":
            notes.append((sheet.label, "not read", f"a copy: every cell stands in {twin.label} too"))
        else:
            kept.append(sheet)
    return [s for s in sheets if any(s is k for k in kept)], notes


def _alike(a: Sheet, b: Sheet) -> bool:
    """Whether every cell of b reads as in a; or every line of b is one of a, where a holds more."""
    if len(a.columns) != len(b.columns) or not len(b):
        return False
    if len(a) != len(b):
        return len(b) < len(a) <= _LONG and _first(b) == _first(a) and set(_lines(b)) <= set(_lines(a))
    return all(np.array_equal(one.texts, other.texts) for one, other in zip(a.columns, b.columns, strict=True))


def _first(sheet: Sheet) -> list[str]:
    return [tidy(v) for v in (sheet.headers or sheet.row(0))]


def _lines(sheet: Sheet) -> list[tuple[str, ...]]:
    return list(zip(*(column.texts.tolist() for column in sheet.columns), strict=True))


def _is_copy(twin: Sheet, sheet: Sheet, wishes: Wishes) -> bool:
    """Whether names or a column of tasters leave no doubt that a sheet is the other once more."""
    theirs, mine = _stems(twin), _stems(sheet)
    near = twin.file == sheet.file or twin.name == sheet.name or not (twin.name and sheet.name)
    if near and {*mine} & {*theirs} - {""}:
        return {*mine} == {*theirs} or twin.file != sheet.file or mine[0] == theirs[0]
    rows = [sheet.headers] if sheet.headers else [sheet.row(r) for r in range(min(10, len(sheet)))]
    return any(wishes.role(tidy(v))[0] == TASTER for row in rows for v in row if tidy(v))


def _stems(sheet: Sheet) -> tuple[str, str]:
    """The names of a sheet and its file without what tells a copy."""
    return _COPY.sub("", plain(sheet.name)), _COPY.sub("", plain(sheet.file.rsplit(".", 1)[0]))


def _asked(twin: Sheet, sheet: Sheet, inquiry: Inquiry) -> str:
    return inquiry.ask(
        f"Every cell of {sheet.label} stands in {twin.label} too: is it a copy, or another taster's own sheet?",
        (sheet, None, None, "", ""), seen=f"{len(sheet)} rows", guess="a copy", allowed=("a copy", "another taster"),
        reason=f"every cell stands in {twin.label} too",
    )  # fmt: skip
