"""Sheets in, nothing lost: read a source, check every cell, and account for all of them."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from panelstats.arguments import checked
from panelstats.sheets.reading.assemble import assembled, leaves_scores
from panelstats.sheets.reading.examine import examine
from panelstats.sheets.reading.nothing import nothing_read
from panelstats.sheets.room.problems import as_error

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Mapping
    from pathlib import Path

    import pandas as pd

    from panelstats.scores.table import Scores
    from panelstats.sheets.files.sources import Source


@checked()
def read_scores(
    source: Source,
    *,
    room: str | Path | Mapping[str, pd.DataFrame] | None = None,
    columns: Mapping[str, str | None] | None = None,
    leave_out: Collection[str] = (),
    set_aside: bool = False,
    progress: Callable[[str], None] | None = None,
) -> Scores:
    """Read score sheets; every cell becomes a score, a blank, a fault, a word, a fact, or a problem that is told.

    Parameters
    ----------
    source : str, Path, DataFrame, or list of these
        A file, a folder, several of them, or a table.
    room : str, Path or mapping, optional
        A workbook or folder of registers, or {register name: DataFrame}; registers found in the source are used, too.
    columns : mapping, optional
        {their header: our word}; None leaves a column out. It always wins.
    leave_out : collection of str, optional
        Sheets (or files) not to read.
    set_aside : bool
        Leave problem cells, and all that waits for an answer, out instead of stopping; the account and every page say
        so.
    progress : callable, optional
        Called with a line on each file of several before it is opened, and which of how many it is.

    Raises
    ------
    SheetError
        Anything that cannot be read as it stands; all problems and questions at once, with their table on the error.
    DesignError
        An argument no sheet could satisfy.

    Examples
    --------
    >>> import pandas as pd
    >>> read_scores(pd.DataFrame({"lot": ["101", "102"], "taster": ["alder", "alder"], "brisk": ["7.5", "6"]}))
    <Scores: 2 scores, 2 lots, 1 taster, 1 descriptor, 1 session>
    """
    found = examine(source, room=room, columns=columns, leave_out=leave_out, progress=progress)
    if found.reading is None:
        raise nothing_read(found)
    problems = found.problems
    if len(problems) and not set_aside:
        raise as_error(problems, may_go_on=leaves_scores(found.reading))
    scores = assembled(found.reading, problems)
    if scores is None:
        raise nothing_read(found)
    return replace(scores, digest=found.digest, files=found.files)
