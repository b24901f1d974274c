"""A season too large for memory: one file (or partition) at a time becomes cells, and cells add up."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import pandas as pd

from panelstats.arguments import checked
from panelstats.errors import DesignError, SheetError
from panelstats.scores.cells import SESSION
from panelstats.scores.joining import renamed
from panelstats.scores.spelling import plain
from panelstats.scores.table import ACCOUNT
from panelstats.sheets.files.opened import read_bytes, room_beside, sheets_of
from panelstats.sheets.files.sources import ROOM, find_files, ours, passed_over
from panelstats.sheets.reading.read import read_scores
from panelstats.sheets.room.problems import COLUMNS, as_error
from panelstats.sheets.room.readroom import is_register, read_room
from panelstats.sheets.room.room import REGISTERS
from panelstats.sheets.tables.names import EMPTY_SESSION

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from panelstats.scores.cells import Cells
    from panelstats.scores.table import Scores
    from panelstats.sheets.room.room import Room


@checked()
def read_cells(
    source: str | Path | list,
    *,
    room: str | Path | Mapping[str, pd.DataFrame] | None = None,
    columns: Mapping[str, str | None] | None = None,
    pots: str | Mapping[str, str] | None = None,
    set_aside: bool = False,
    progress: Callable[[str], None] | None = None,
) -> Cells:
    """Read a season file by file, keeping only its cells: of the scores never more than one file is in memory.

    Parameters
    ----------
    source : str, Path or list
        A folder of Parquet (partitioned by folders such as `session=2031-01-06`, too), csv or workbooks; or files.
        Long tables hold session, lot, taster, pot, look, descriptor and score, as `Scores.to_parquet` writes them.
    room, columns, set_aside
        As for `read_scores`; registers found in the folder are used for every file. What is set aside stands in
        `.problems`, a file that cannot be read among it.
    pots : str or mapping, optional
        As for `Scores.cells`.
    progress : callable, optional
        Told each file before it is read.

    Returns
    -------
    Cells
        As `read_scores(source).cells(pots)` gives them, up to the order of lots. A file that names no session is one
        of its own; a taster, descriptor or control spelled otherwise in another file is one and stands
        in `.spelled`.

    Raises
    ------
    SheetError
        Problems in any of the files, all at once.
    DesignError
        Files that contradict each other: of a lot, taster, descriptor, session or its pots.

    Examples
    --------
    >>> import tempfile, pathlib, pandas as pd, panelstats as pst
    >>> sheet = pd.DataFrame({"lot": ["1", "2"], "taster": ["elm", "yew"], "descriptor": "brisk", "score": [5.0, 6.5]})
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     for day in ("2031-01-06", "2031-01-13"):
    ...         sheet.assign(session=day).to_csv(pathlib.Path(folder) / f"{day}.csv", index=False)
    ...     pst.read_cells(folder)
    <Cells: 4 cells, 4 lots, 2 tasters>
    """
    if not all(isinstance(one, str | Path) for one in (source if isinstance(source, list | tuple) else [source])):
        raise DesignError(
            "a season is read from files", where=f"source={type(source).__name__}",
            do="give a folder or files; read a table with read_scores and take its .cells()",
        )  # fmt: skip
    files, home = _files(source, room)
    registers = dict(home.registers)
    parts: list[tuple[int, Cells]] = []
    troubles = [_placed(error, name) for name, error in passed_over(source)]
    for number, (path, name) in enumerate(files, 1):
        if progress is not None:
            progress(f"partition {number} of {len(files)}: {name}")
        try:
            scores = read_scores(path, room=registers, columns=columns, set_aside=set_aside)
        except SheetError as error:
            troubles.append(_placed(error, name))
            continue
        parts = _pushed(parts, _own_session(_under_name(scores, name), path.stem, pots))
    if troubles and (not set_aside or not parts):
        raise as_error(pd.concat(troubles, ignore_index=True), may_go_on=bool(parts))
    if not parts:
        raise SheetError("there is nothing to read", where=str(source), do="give a folder that holds score sheets")
    while len(parts) > 1:
        (_, last), (_, before) = parts.pop(), parts.pop()
        parts.append((0, before + last))
    return _with_troubles(parts[0][1], troubles)


def _under_name(scores: Scores, name: str) -> Scores:
    """Scores whose account and problems name the file as it is called in the folder."""
    return replace(scores, account=scores.account.assign(file=name), problems=scores.problems.assign(file=name))


def _with_troubles(cells: Cells, troubles: list[pd.DataFrame]) -> Cells:
    """Cells with what was set aside because a file could not be read at all."""
    if not troubles:
        return cells
    found = pd.concat(troubles, ignore_index=True)
    aside = found.groupby("file", sort=False).size().rename("set_aside").reset_index().assign(sheet="")
    rows = aside.assign(seen=aside["set_aside"]).reindex(columns=ACCOUNT, fill_value=0)
    return replace(
        cells,
        account=pd.concat([cells.account, rows], ignore_index=True),
        problems=pd.concat([cells.problems, found], ignore_index=True) if len(cells.problems) else found,
        _memo={},
    )


def _files(source: str | Path | list, room: object) -> tuple[list[tuple[Path, str]], Room]:
    """Score files with their names, and the registers that lie among them, told by the names of files."""
    files, found = [], []
    named = {Path(item) for item in (source if isinstance(source, list) else [source])}
    for path in find_files(source):
        if path not in named and ours(path):
            continue  # the workbook of an earlier answer
        root = Path(source) if isinstance(source, str | Path) and Path(source).is_dir() else path.parent
        name = path.relative_to(root).as_posix()
        declared = []
        if plain(path.stem) in REGISTERS or path.name == ROOM:
            declared = [sheet for sheet in sheets_of(read_bytes(path), name) if is_register(sheet, path.stem)]
        found += declared
        if not declared:
            files.append((path, name))
    if room is None and isinstance(source, str | Path):
        found += [sheet for sheet in room_beside(source) if is_register(sheet, ROOM)]
    return files, read_room(room, found)  # type: ignore[arg-type]


def _placed(error: SheetError, name: str) -> pd.DataFrame:
    """The problems of one file under the name it has in the folder."""
    if error.problems is not None:
        return error.problems.assign(file=name)
    what, _, do = error.args
    return pd.DataFrame([(name, "", 0, "", "", what, do, "A1")], columns=COLUMNS)


def _pushed(parts: list[tuple[int, Cells]], new: Cells) -> list[tuple[int, Cells]]:
    """Add like to like, as a binary counter does: no cell is copied more often than the number of files has digits."""
    size = 1
    while parts and parts[-1][0] == size:
        _, before = parts.pop()
        new, size = before + new, size * 2
    return [*parts, (size, new)]


def _own_session(scores: Scores, stem: str, pots: str | Mapping[str, str] | None) -> Cells:
    """The cells of a file; one that names no session is one of its own, called as the file is."""
    cells = scores.cells(pots)
    column = (scores.headers["word"] == SESSION).any() and not (scores.inferred["why"] == EMPTY_SESSION).any()
    told = column or list(cells.sessions[SESSION]) != ["1"]
    return cells if told else renamed(cells, SESSION, {"1": stem})
