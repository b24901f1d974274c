"""A season too large for memory: one file (or partition) at a time becomes cells, and cells add up."""

from __future__ import annotations

import hashlib
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import pandas as pd

from panelstats.arguments import checked
from panelstats.errors import SheetError
from panelstats.scores.cells import LOT, SESSION
from panelstats.sheets.files import ROOM, find_files, passed_over, read_bytes, sheets_of
from panelstats.sheets.identity import one_lot
from panelstats.sheets.names import EMPTY_SESSION
from panelstats.sheets.problems import as_error
from panelstats.sheets.read import read_scores
from panelstats.sheets.registers import sessions_of
from panelstats.sheets.room import REGISTERS, is_register, read_room
from panelstats.sheets.text import plain

if TYPE_CHECKING:
    from collections.abc import Mapping

    from panelstats.scores.cells import Cells
    from panelstats.scores.table import Scores
    from panelstats.sheets.room import Room

_SPLIT = "\x1f"  # between a lot and its session while the sessions are not yet all known


@checked()
def read_cells(
    source: str | Path | list,
    *,
    room: str | Path | Mapping[str, pd.DataFrame] | None = None,
    columns: Mapping[str, str | None] | None = None,
    pots: str | Mapping[str, str] | None = None,
    set_aside: bool = False,
) -> Cells:
    """Read a season file by file, keeping only its cells.

    Parameters
    ----------
    source : str, Path or list
        A folder (of csv, workbooks or partitions of Parquet), or files.
    room, columns, set_aside
        As for `read_scores`; registers found in the folder are used for every file.
    pots : str or mapping, optional
        As for `Scores.cells`.

    Returns
    -------
    Cells
        As `read_scores(source).cells(pots)` gives them, but for what only all scores together tell: steps and
        tolerances are those of the first file with the descriptor. A file that names no session is one of its own.

    Raises
    ------
    SheetError
        Problems in any of the files, all at once.
    """
    files, home = _files(source, room)
    registers = dict(home.registers)
    parts: list[tuple[int, Cells]] = []
    troubles = [] if set_aside else [_placed(error, name) for name, error in passed_over(source)]
    for path, name in files:
        try:
            scores = read_scores(path, room=registers, columns=columns, set_aside=set_aside)
        except SheetError as error:
            troubles.append(_placed(error, name))
            continue
        parts = _pushed(parts, _own_session(scores, scores.cells(pots), path.stem, home))
    if troubles:
        raise as_error(pd.concat(troubles, ignore_index=True))
    if not parts:
        raise SheetError("there is nothing to read", where=str(source), do="give a folder that holds score sheets")
    total = parts[0][1]
    for _, part in parts[1:]:
        total = total + part
    return _named(total, home)


def _files(source: str | Path | list, room: object) -> tuple[list[tuple[Path, str]], Room]:
    """Score files with their names, and the registers that lie among them, told by the names of files."""
    files, found = [], []
    for path in find_files(source):
        root = Path(source) if isinstance(source, str | Path) and Path(source).is_dir() else path.parent
        name = path.relative_to(root).as_posix()
        declared = []
        if plain(path.stem) in REGISTERS or path.name == ROOM:
            declared = [sheet for sheet in sheets_of(read_bytes(path), name) if is_register(sheet, path.stem)]
        found += declared
        if not declared:
            files.append((path, name))
    return files, read_room(room, found)  # type: ignore[arg-type]


def _placed(error: SheetError, name: str) -> pd.DataFrame:
    """The problems of one file under the name it has in the folder."""
    if error.problems is not None:
        return error.problems.assign(file=name)
    what, _, do = error.args
    return pd.DataFrame(
        [(name, "", 0, "", "", what, do, "A1")],
        columns=["file", "sheet", "row", "column", "value", "reason", "action", "cell"],
    )


def _pushed(parts: list[tuple[int, Cells]], new: Cells) -> list[tuple[int, Cells]]:
    """Add like to like, as a binary counter does: no cell is copied more often than the number of files has digits."""
    size = 1
    while parts and parts[-1][0] == size:
        _, before = parts.pop()
        new, size = before + new, size * 2
    return [*parts, (size, new)]


def _own_session(scores: Scores, cells: Cells, stem: str, home: Room) -> Cells:
    """Give a file without sessions its own, and every lot its session until all are known."""
    column = (scores.headers["word"] == SESSION).any() and not (scores.inferred["why"] == EMPTY_SESSION).any()
    told = column or list(cells.sessions[SESSION]) != ["1"]
    cells = cells if told else _relabelled(cells, SESSION, {"1": stem})
    where = cells.frame.drop_duplicates([LOT, SESSION])
    written = dict(zip(cells.lots[LOT], cells.lots["written"], strict=True))
    pairs = zip(where[LOT].astype(str), where[SESSION].astype(str), strict=True)
    return _relabelled(
        cells, LOT, {lot: f"{written[lot]}{_SPLIT}{s}" for lot, s in pairs if not one_lot(written[lot], home)}
    )


def _relabelled(cells: Cells, key: str, new: Mapping[str, str]) -> Cells:
    if not new:
        return cells
    tables = {}
    for name in ("frame", "sessions", "lots", "pots"):
        table = getattr(cells, name)
        if key in table:
            column = table[key].astype(str).map(lambda v: new.get(v, v))
            tables[name] = table.assign(**{key: column.astype("category") if name == "frame" else column})
    return replace(cells, _memo={}, **tables)


def _named(cells: Cells, home: Room) -> Cells:
    """Final names: a lot met in one session keeps its number, others carry their session; sessions in order."""
    labels = [lot for lot in cells.lots[LOT] if _SPLIT in lot]
    often = pd.Series([lot.split(_SPLIT)[0] for lot in labels]).duplicated(keep=False)
    new = {
        lot: f"{lot.split(_SPLIT)[0]} ({lot.split(_SPLIT)[1]})" if many else lot.split(_SPLIT)[0]
        for lot, many in zip(labels, often, strict=True)
    }
    cells = _relabelled(cells, LOT, new)
    sessions = sessions_of(list(cells.sessions[SESSION]), home)
    frame = cells.frame.assign(**{SESSION: cells.frame[SESSION].cat.reorder_categories(list(sessions[SESSION]))})
    digest = hashlib.sha256(cells.digest.encode()).hexdigest()[:16]
    return replace(cells, frame=frame, sessions=sessions, digest=digest, _memo={})
