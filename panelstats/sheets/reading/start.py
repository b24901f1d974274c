"""The room's own workbook: questions to answer and registers to correct; or blank, to begin with."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from panelstats.arguments import checked
from panelstats.errors import PanelError, SheetError
from panelstats.output import check_writable, write_whole
from panelstats.scores.cells import CLASS, DESCRIPTOR, LOT, ROLE, SCORE, SESSION, STAGE, TASTER
from panelstats.scores.spelling import plain
from panelstats.scores.table import Scores
from panelstats.sheets.content.roles import GIVEN
from panelstats.sheets.files.sources import ROOM, beside, files_read
from panelstats.sheets.reading.assemble import assembled, headings_table
from panelstats.sheets.reading.examine import examine
from panelstats.sheets.reading.marksmet import marks_in_doubt, marks_met
from panelstats.sheets.room.room import REGISTERS, UNSAID
from panelstats.sheets.room.roombook import is_room, room_bytes, starter_bytes

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping

    from panelstats.sheets.files.sources import Source
    from panelstats.sheets.reading.examine import Found

_KEYS = {
    "questions": ("what", "where"), "headings": ("heading", "where"), "sessions": (SESSION, STAGE),
    "lots": (LOT, SESSION),
    "descriptors": (DESCRIPTOR, STAGE, CLASS), "tasters": (TASTER,), "codes": ("code", SESSION, TASTER, "plan"),
    "sets": (TASTER, SESSION, "test", "trial", "plan"),
    "marks": ("mark", TASTER, DESCRIPTOR), "room": ("language",),
}  # fmt: skip


@checked()
def write_room(
    source: Source | Scores,
    out: str | Path | None = None,
    *,
    overwrite: bool = False,
    columns: Mapping[str, str | None] | None = None,
    leave_out: Collection[str] = (),
) -> Path:
    """Write room.xlsx: first what only the room can answer, then registers filled with what was inferred.

    A workbook that an earlier call wrote is brought up to date: answers and corrections stay, new questions join.

    Parameters
    ----------
    source : str, Path, list, DataFrame or Scores
        What to read, or what was read.
    out : str or Path, optional
        The workbook to write; room.xlsx beside the file, or in the folder, where not given.
    overwrite : bool
        Replace a file that is there; never one that was read, but for a room.xlsx of ours.
    columns, leave_out
        As for `read_scores`.

    Returns
    -------
    Path
        Where the workbook is.

    Raises
    ------
    PanelError
        A file stands in the way, or nothing says where to write.
    """
    path = room_of(source) if out is None else Path(out)
    read = source.files if isinstance(source, Scores) else files_read(source)
    ours = is_room(path)
    if ours:
        read = tuple(each for each in read if not (each.exists() and each.samefile(path)))
    check_writable(path, overwrite=overwrite or ours, read=read)
    if isinstance(source, Scores):
        tables = {**registers_as_read(source), "questions": pd.DataFrame(columns=list(REGISTERS["questions"]))}
    else:
        room = path if ours and not _finds(source, path) else None
        tables = _tables(source, room, columns, leave_out)
    return write_whole(path, room_bytes(tables), overwrite=overwrite or ours, read=read)


@checked()
def write_starter(out: str | Path, *, overwrite: bool = False) -> Path:
    """Write a blank score sheet with its registers, for someone who has no sheet at all.

    Parameters
    ----------
    out : str or Path
        The workbook to write.
    overwrite : bool
        Replace a file that is there.
    """
    return write_whole(out, starter_bytes(), overwrite=overwrite)


def room_of(source: object) -> Path:
    """The room.xlsx of a source: beside the file, or in the folder."""
    if not isinstance(source, str | Path):
        raise PanelError("nothing says where to write", where="out=None", do="name the workbook, such as room.xlsx")
    path = Path(source)
    return (path if path.is_dir() else path.parent) / ROOM


def _finds(source: Source, path: Path) -> bool:
    """Whether reading a source finds the room's workbook by itself."""
    if not isinstance(source, str | Path):
        return False
    return path.parent == Path(source) if Path(source).is_dir() else beside(source) == path


def registers_as_read(scores: Scores) -> dict[str, pd.DataFrame]:
    """The registers as tables of text and numbers, filled with what was read and inferred."""
    heads = scores.headers.drop_duplicates("header")
    return {
        "headings": pd.DataFrame({"heading": heads["header"], "where": heads["file"], "means": heads["word"]}),
        "sessions": _sessions(scores),
        "lots": _lots(scores),
        "descriptors": _descriptors(scores),
        "tasters": scores.tasters[[TASTER, ROLE, "joined", "left"]],
        "codes": pd.DataFrame(columns=list(REGISTERS["codes"])),
        "marks": marks_in_doubt(scores.problems),
    }


def _tables(
    source: Source, room: Path | None, columns: Mapping[str, str | None] | None, leave_out: Collection[str]
) -> dict[str, pd.DataFrame]:
    """The registers as read, open questions first; where nothing can be read before they are answered, blank ones."""
    found = examine(source, room=room, columns=columns, leave_out=leave_out)
    if not found.sheets:
        raise SheetError("there is nothing to read", where=str(source), do="give a file or folder of score sheets")
    scores = None if found.reading is None else assembled(found.reading, found.problems)
    tables = {} if scores is None else registers_as_read(scores)
    tables["questions"] = found.inquiry.frame()
    tables["headings"] = headings_met(found)
    tables["marks"] = marks_met(found)
    blank = {name: pd.DataFrame(columns=list(REGISTERS[name])) for name in _KEYS}
    return {name: kept(name, (blank | tables)[name], found.room.get(name)) for name in _KEYS}


def headings_met(found: Found) -> pd.DataFrame:
    """Each heading met and what it is taken for; those of sheets that nobody understood yet among them."""
    table = headings_table(found.tables).drop_duplicates("heading")
    doubts = [(t, f.column) for t in found.tables for f in t.flaws if not f.reason]
    waiting = {t.wholes[column] or t.headers[column] for t, column in doubts if column is not None}
    unsure = {t.sheet.label for t, column in doubts if column is None and not t.waiting}
    table = table[~table["where"].isin(unsure)]
    table["means"] = table["means"].where(~table["heading"].isin(waiting), UNSAID)
    table = table[list(REGISTERS["headings"])[:-1]].assign(since=dt.date.today().isoformat())  # noqa: DTZ011 - the day where the room is
    return table.assign(means=table["means"].replace(GIVEN, SCORE))


def kept(name: str, new: pd.DataFrame, old: pd.DataFrame | None) -> pd.DataFrame:
    """A register with every cell the room filled in, rows that were not met this time included."""
    columns = list(dict.fromkeys([*REGISTERS[name], *new.columns, *([] if old is None else old.columns)]))
    new = new.reindex(columns=columns)
    if old is None or not len(old):
        return new.drop(columns="unsaid", errors="ignore")
    old = old.reindex(columns=columns)
    if name == "marks" and "unsaid" in old:
        old["worth"] = old["worth"].astype(object).where(~old["unsaid"].fillna(value=False).astype(bool), UNSAID)
    keys = [k for k in _KEYS[name] if k in columns]
    said = {_key(row, keys): row for row in old.to_dict("records")}
    rows = []
    for row in new.to_dict("records"):
        mine = said.pop(_key(row, keys), row)
        rows.append({k: row[k] if _empty(mine[k]) or mine[k] == UNSAID else mine[k] for k in columns})
    return pd.DataFrame([*rows, *said.values()], columns=columns).drop(columns="unsaid", errors="ignore")


def _key(row: dict, keys: list[str]) -> tuple[str, ...]:
    return tuple("" if _empty(row[k]) else plain(row[k]) for k in keys)


def _empty(value: object) -> bool:
    return value is None or value == "" or (isinstance(value, float) and np.isnan(value))


def _sessions(scores: Scores) -> pd.DataFrame:
    """A row per session, per stage where what the pots were was declared by stage."""
    declared = scores.pots[scores.pots["declared"]]
    if declared.groupby(SESSION)["pots"].nunique().max() > 1:
        table = scores.sessions.merge(declared[[SESSION, STAGE, "pots"]], on=SESSION, how="left")
    else:
        one = declared.drop_duplicates(SESSION).set_index(SESSION)["pots"]
        table = scores.sessions.assign(pots=scores.sessions[SESSION].map(one))
    known = [c for c in REGISTERS["sessions"] if c != STAGE or STAGE in table]
    return table.reindex(columns=[*known, *[c for c in table if c not in known]])


def _lots(scores: Scores) -> pd.DataFrame:
    table = scores.lots.drop(columns="written", errors="ignore")
    known = [c for c in REGISTERS["lots"] if c != SESSION]
    return table.reindex(columns=[*known, *[c for c in table if c not in known]])


def _descriptors(scores: Scores) -> pd.DataFrame:
    """The register with the scores seen beside the scale, which is left for the room to declare."""
    inferred = {str(w).removeprefix("step of ") for w in scores.inferred["what"] if str(w).startswith("step of ")}
    seen = scores.frame.groupby(DESCRIPTOR, observed=True)[SCORE].agg(["min", "max"])
    table = scores.descriptors.copy()
    waiting = (table["kind"] == SCORE) & ~table[DESCRIPTOR].isin(seen.index)  # what nobody said yet is no descriptor
    table = table[~waiting]
    declared = ~table[DESCRIPTOR].isin(inferred)
    table["seen"] = [
        f"{seen.loc[d, 'min']:g} to {seen.loc[d, 'max']:g}" + (f" by {step:g}" if step > 0 else "")
        if d in seen.index
        else ""
        for d, step in zip(table[DESCRIPTOR], table["step"], strict=True)
    ]
    table["step"] = table["step"].where(declared)  # what was only seen must not become a rule
    return table
