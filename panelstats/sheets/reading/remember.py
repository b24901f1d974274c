"""What a room says of its sheets, written down in its room.xlsx: answers, headings, marks."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING

import pandas as pd

from panelstats.arguments import checked
from panelstats.errors import DesignError
from panelstats.output import check_writable, write_whole
from panelstats.scores.cells import TASTER
from panelstats.sheets.files.sources import files_read
from panelstats.sheets.reading.examine import examine
from panelstats.sheets.reading.marksmet import marks_met
from panelstats.sheets.reading.start import headings_met, kept, room_of
from panelstats.sheets.room.readroom import read_room
from panelstats.sheets.room.room import REGISTERS
from panelstats.sheets.room.roombook import ORDER, is_room, room_bytes

if TYPE_CHECKING:
    from panelstats.sheets.files.sources import Source
    from panelstats.sheets.reading.examine import Found

_ANEW = {"headings": ("heading",), "marks": ("mark", "descriptor")}
_SAID_ALWAYS = ("questions", "headings", "marks")  # what is met anew at every reading


def _registers(name: str, value: object, _: object) -> None:
    """Tables by the name of a register that can be answered in, each with its first column."""
    if not isinstance(value, Mapping):
        raise DesignError("nothing is said", where=f"{name}={value!r}", do="give {register name: DataFrame}")
    for register, table in value.items():
        if register not in ORDER:
            do = f"use one of {', '.join(ORDER)}"
            raise DesignError(f"no register {register!r} to answer in", where=f"{name}=", do=do)
        first = REGISTERS[register][0]
        if first not in getattr(table, "columns", ()):
            do = "give a DataFrame with the register's columns"
            raise DesignError(f"no column {first!r}", where=f"{name}[{register!r}]", do=do)


@checked(said=_registers)
def write_answers(source: Source, said: Mapping[str, pd.DataFrame], out: str | Path | None = None) -> Path:
    r"""Write what a room says into its room.xlsx, where the next reading finds it; all else in it stays.

    Parameters
    ----------
    source : str, Path or list
        The sheets it is said of.
    said : mapping of str to DataFrame
        Rows of the registers, among them questions (what, where, answer), headings (heading, where, means) and marks
        (mark, worth); a row said again replaces what was said before.
    out : str or Path, optional
        The workbook; room.xlsx beside the file, or in the folder, where not given.

    Returns
    -------
    Path
        Where the workbook is.

    Raises
    ------
    PanelError
        A room.xlsx that this package did not write stands there.

    Examples
    --------
    >>> from pathlib import Path
    >>> from tempfile import mkdtemp
    >>> import pandas as pd, panelstats as pst
    >>> folder = Path(mkdtemp())
    >>> _ = (folder / "week.csv").write_text("lot,taster,brisk,ranking order\n1,elm,5,2\n2,elm,6,1\n")
    >>> book = pst.write_answers(folder, {"headings": pd.DataFrame([{"heading": "ranking order", "means": "fact"}])})
    >>> pst.read_scores(folder).descriptors["descriptor"].tolist()
    ['brisk']
    """
    path, content = remembered(source, said, out)
    ours = is_room(path)
    read = [file for file in files_read(source) if not (ours and file.exists() and file.samefile(path))]
    return write_whole(path, content, overwrite=ours, read=read)


def remembered(source: Source, said: Mapping[str, pd.DataFrame], out: str | Path | None = None) -> tuple[Path, bytes]:
    """Where the room.xlsx of a source is, and its bytes with what is said in it.

    Raises
    ------
    PanelError
        A room.xlsx that this package did not write stands there.
    """
    said = dict(said)
    if "headings" in said:
        said["headings"] = said["headings"].assign(since=dt.date.today().isoformat())  # noqa: DTZ011 - the day where the room is
    path = room_of(source) if out is None else Path(out)
    ours = is_room(path)
    check_writable(path, overwrite=ours)
    found = examine(source)
    own = read_room(path if ours else None, [])
    tables = {name: pd.DataFrame(columns=list(REGISTERS[name])) for name in ORDER}
    tables |= {"questions": found.inquiry.frame(), "headings": headings_met(found), "marks": marks_met(found)}
    for name in ORDER:
        first = name in said and own.get(name) is None
        before = _known(name, found) if first or name in _SAID_ALWAYS else own.get(name)
        tables[name] = kept(name, tables[name], before)
        if name in said:
            tables[name] = kept(name, _cleared(name, tables[name], said[name]), said[name])
    return path, room_bytes(tables)


def _known(name: str, found: Found) -> pd.DataFrame | None:
    """What goes with rows said of a register for the first time, so that they take nothing from what was known.

    What room.xlsx holds wins over a register among the sheets; and one that lists some tasters asks about the others.
    """
    listed = found.room.get(name)
    if name != "tasters" or listed is not None or found.reading is None:
        return listed
    return pd.DataFrame({TASTER: found.reading.marks.keys[TASTER].take(found.reading.usable).met})


def _cleared(name: str, table: pd.DataFrame, said: pd.DataFrame) -> pd.DataFrame:
    """A register without what is said anew: a heading with all that followed from it, a mark with its worth."""
    if name not in _ANEW:
        return table
    keys = [key for key in _ANEW[name] if key in said and key in table]
    again = set(said[keys].fillna("").astype(str).itertuples(index=False, name=None))
    return table[[row not in again for row in table[keys].fillna("").astype(str).itertuples(index=False, name=None)]]
