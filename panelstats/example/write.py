"""The invented room as files: score sheets and registers as csv, the same as one workbook, and the truth."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING

import pandas as pd

from panelstats.errors import DesignError, PanelError
from panelstats.example.bench import bench
from panelstats.example.blends import blends
from panelstats.example.new_tasters import new_tasters
from panelstats.example.room import PORT, Room
from panelstats.example.row import row
from panelstats.example.season import season
from panelstats.ourfiles import new_workbook
from panelstats.output import make_folder, write_all

if TYPE_CHECKING:
    from collections.abc import Callable

    from xlsxwriter.worksheet import Worksheet

ROOMS: dict[str, Callable[..., Room]] = {
    "bench": bench,
    "row": row,
    "season": season,
    "blends": blends,
    "new-tasters": new_tasters,
}

README = f"""# Invented data

The tasting room of {PORT}, its tasters, districts, gardens and lots do not exist. Every score was drawn by
`panelstats.example` from a seed, with faults planted on purpose; no person, garden or tea stands behind any number.

Each set is three things: a folder of csv files (score sheets, and what the room knows: sessions, lots, descriptors,
tasters, ...), the same as one workbook, and `<set>-truth.json`: what was planted (who, what, descriptor, size, since),
the true value of every lot, and the standard deviations of all errors. A set that is not here is made, always the
same, by `panelstats example`.

| set | what it is |
|---|---|
| `bench` | one session of a laboratory panel: 24 lots in two classes, 9 tasters, 2 shared pots |
| `blends` | a standard and two trial blends, 6 shared pots each, with a triangle and a duo-trio test of both trials |
| `new-tasters` | a dozen sessions linked by controls: 7 seniors, 2 trainees |
| `row` | a sale day: 300 lots, 2 tasters, one shared pot, 12 hidden repeats, a control every 25 lots |
| `season` | 34 sessions: tasters who move, two trainees, a weekly blend beside the sealed standard |

In `answers`, A is the standard and B the trial blend; `answer` is the place the taster pointed at, counted from 1
without the reference, and the reference of a duo-trio stands before the colon.
"""


def write_example(
    folder: str | Path, *, which: str = "bench", seed: int | None = None, overwrite: bool = False
) -> list[Path]:
    """Write one data set of the invented room.

    Parameters
    ----------
    folder : str or Path
        Made if it does not exist. Gets `<which>/` (csv sheets and registers), `<which>.xlsx`, `<which>-truth.json`
        and README.md, which says that all is invented.
    which : {"bench", "row", "season", "blends", "new-tasters"}
        The data set.
    seed : int, optional
        None: the seed of the data set shipped with the package.
    overwrite : bool
        Replace files that hold something else.

    Returns
    -------
    list of Path
        The folder of sheets first, then the workbook, the truth and the README.

    Raises
    ------
    DesignError
        There is no such data set.
    PanelError
        A file stands in the way, or cannot be written. Nothing has been written then.

    Examples
    --------
    >>> from tempfile import mkdtemp
    >>> [path.name for path in write_example(mkdtemp())]
    ['bench', 'bench.xlsx', 'bench-truth.json', 'README.md']
    """
    if which not in ROOMS:
        raise DesignError("there is no such example", where=f"which={which!r}", do=f"choose one of {', '.join(ROOMS)}")
    room = ROOMS[which]() if seed is None else ROOMS[which](seed=seed)
    folder = Path(folder)
    files = {folder / name: content for name, content in example_files(room).items()}
    todo = {path: content for path, content in files.items() if not _holds(path, content)}
    _check_free(todo, overwrite=overwrite)
    make_folder(folder / which)
    write_all(todo, overwrite=True)
    return [folder / which, *(path for path in files if path.parent == folder)]


def example_files(room: Room) -> dict[str, bytes]:
    """Every file of a data set, by its path inside the folder."""
    tables = {**room.sheets, **room.registers}
    truth = json.dumps(room.truth, ensure_ascii=False, indent=1)
    return {
        **{f"{room.name}/{name}.csv": csv_bytes(table) for name, table in tables.items()},
        f"{room.name}.xlsx": workbook_bytes(room),
        f"{room.name}-truth.json": (truth + "\n").encode(),
        "README.md": README.encode(),
    }


def csv_bytes(table: pd.DataFrame) -> bytes:
    """A table as csv: UTF-8, half points as 6.5, whole ones as 6, nothing where nothing was written."""
    return table.to_csv(index=False, float_format="%g", lineterminator="\n").encode()


def workbook_bytes(room: Room) -> bytes:
    """The data set as one workbook: all score sheets on the sheet `scores`, a sheet per register."""
    book, stream = new_workbook(ours=False)
    for name, table in {"scores": room.frame, **room.registers}.items():
        _fill(book.add_worksheet(name), table)
    book.close()
    return stream.getvalue()


def _fill(page: Worksheet, table: pd.DataFrame) -> None:
    page.write_row(0, 0, list(table.columns))
    page.freeze_panes(1, 0)
    for column, name in enumerate(table.columns):
        cells = table[name].astype(object)
        page.write_column(1, column, [_typed(value) for value in cells.where(cells.notna(), "")])


def _typed(value: object) -> object:
    """What a room would type: a lot's number as a number."""
    return int(value) if isinstance(value, str) and value.isdecimal() else value


def _holds(path: Path, content: bytes) -> bool:
    return path.is_file() and path.read_bytes() == content


def _check_free(files: dict[Path, bytes], *, overwrite: bool) -> None:
    """Refuse files that may hold scores, whoever wrote them."""
    in_the_way = [path for path in files if path.is_dir() or (path.exists() and not overwrite)]
    if in_the_way:
        raise PanelError(
            f"{len(in_the_way)} files stand where the example should go",
            where=str(in_the_way[0]),
            do="write into another folder (--out): they may hold scores",
        )
