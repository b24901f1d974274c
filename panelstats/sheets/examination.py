"""How a source would be read, for whoever wants to know before it is: the public face of an examination."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import pandas as pd

from panelstats.arguments import checked
from panelstats.sheets import account
from panelstats.sheets.assemble import account_table, headings_table, statuses
from panelstats.sheets.examine import examine

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from panelstats.sheets.examine import Found
    from panelstats.sheets.files import Source


@dataclass(frozen=True, eq=False)
class Examination:
    """How a source would be read, and what has to be answered first.

    Attributes
    ----------
    columns : DataFrame
        heading, where, means, why: what each heading is taken for.
    questions : DataFrame
        what, where, seen, guess, answer: what only the room can answer; `answer` is "" while it is open.
    account : DataFrame
        file, sheet, seen, scores, blanks, faults, words, facts, set_aside, as if problems were set aside.
    problems : DataFrame
        Everything that stands in the way, as a `SheetError` would carry it.
    notes : DataFrame
        what, value, why: everything nobody declared.
    """

    columns: pd.DataFrame
    questions: pd.DataFrame
    account: pd.DataFrame
    problems: pd.DataFrame
    notes: pd.DataFrame


@checked()
def examine_sheets(
    source: Source,
    *,
    room: str | Path | Mapping[str, pd.DataFrame] | None = None,
    columns: Mapping[str, str | None] | None = None,
) -> Examination:
    """How a source would be read, without refusing anything that its sheets hold.

    Parameters
    ----------
    source, room, columns
        As for `read_scores`.

    Returns
    -------
    Examination

    Raises
    ------
    SheetError
        There is no such file.
    DesignError
        An argument no sheet could satisfy.

    Examples
    --------
    >>> import pandas as pd
    >>> sheet = pd.DataFrame({"lot": ["101", "102"], "taster": "alder", "brisk": ["7.5", "good"]})
    >>> examine_sheets(sheet).columns[["heading", "means"]].to_numpy().tolist()
    [['lot', 'lot'], ['taster', 'taster'], ['brisk', 'score']]
    """
    return examination_of(examine(source, room=room, columns=columns))


def examination_of(found: Found) -> Examination:
    """An examination as tables."""
    heads = headings_table(found.tables)
    told = {n[0]: n[2] for n in found.notes}
    why = [told.get(h) or told.get(f"column {h!r}", "") for h in heads["heading"]]
    if found.reading is None:
        counted = account.unread_rows(found.unread)
    else:
        counted = account_table(found.reading, statuses(found.reading)[0])
    notes = pd.DataFrame(found.notes, columns=["what", "value", "why"]).drop_duplicates(ignore_index=True)
    return Examination(
        heads[["heading", "where", "means"]].assign(why=why), found.inquiry.frame().drop(columns="allowed"), counted,
        found.problems, notes,
    )  # fmt: skip
