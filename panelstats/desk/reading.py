"""What the worker has read of a room, kept while nothing in the room changes."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING
from zipfile import BadZipFile

import panelstats as pst
from panelstats.desk.worker import tell

if TYPE_CHECKING:
    from collections.abc import Iterable

LISTS = ("answers", "densities", "stock")
_CHOICES = 2000  # names offered in a list
_LAST: dict[tuple[str, str, bool], pst.Scores] = {}
_LISTED: dict[tuple[str, str], frozenset[str]] = {}


def read(folder: str, state: str, set_aside: bool) -> pst.Scores:
    """The scores of the room; what was read last is kept while nothing changes."""
    wanted = (folder, state, set_aside)
    if wanted not in _LAST:
        tell("reading")
        scores = pst.read_scores(Path(folder), set_aside=set_aside)
        _LAST.clear()
        _LAST[wanted] = scores
        if not scores.account["set_aside"].any():  # nothing was in the way: it is the same either way
            _LAST[folder, state, not set_aside] = scores
    return _LAST[wanted]


def known(folder: str, state: str) -> pst.Scores | None:
    """The scores of the room without what stands open; None where there are none."""
    try:
        return read(folder, state, set_aside=True) if state else None
    except pst.PanelError:
        return None


def registered(root: Path, name: str) -> list[str]:
    """What the first column of a register in room.xlsx holds; nothing where there is no such register."""
    import pandas as pd

    try:
        table = pd.read_excel(root / "room.xlsx", sheet_name=name, dtype=str, engine="openpyxl")
    except (OSError, ValueError, KeyError, BadZipFile):  # no room.xlsx yet, or none with this register
        return []
    return names_in(table.iloc[:, 0]) if len(table.columns) else []


def lists_among(root: Path, state: str, found: pst.Examination | None = None) -> frozenset[str]:
    """Lists without scores among the sheets: answers, densities, stock."""
    wanted = (str(root), state)
    if wanted not in _LISTED:
        met = pst.examine_sheets(root) if found is None else found
        _LISTED.clear()
        _LISTED[wanted] = frozenset(lists_in(met).values())
    return _LISTED[wanted]


def lists_in(found: pst.Examination) -> dict[str, str]:
    """Files that are lists without scores, and which: told by what they are, or as a register by their headings."""
    registers = {name: why.rpartition(" ")[2] for name, why in in_notes(found, "a register").items()}
    return {**{name: which for name, which in registers.items() if which in LISTS}, **in_notes(found, "a list")}


def in_notes(found: pst.Examination, what: str) -> dict[str, str]:
    """Files of which the notes say that they are a register, or a list; and why."""
    notes = found.notes[found.notes["value"] == what]
    return {label.split(", sheet ")[0]: why for label, why in zip(notes["what"], notes["why"], strict=True)}


def names_in(column: Iterable[object], *, latest: bool = False) -> list[str]:
    """Names as they stand in a column, each once."""
    names = [name for name in dict.fromkeys(map(str, column)) if name and name != "nan"]
    return (names[::-1] if latest else names)[:_CHOICES]
