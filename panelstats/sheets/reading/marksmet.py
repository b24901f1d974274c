"""Marks that nobody has said the worth of, as rows of the register `marks`."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pandas as pd

from panelstats.scores.cells import DESCRIPTOR, TASTER
from panelstats.sheets.content import text
from panelstats.sheets.room.room import UNSAID

if TYPE_CHECKING:
    from panelstats.sheets.reading.examine import Found

_ASKED_ABOUT = (text.NOT_A_NUMBER, text.A_RANGE, text.A_DATE)
_MARKS_SHOWN = 200
_LONGEST_MARK = 24


def marks_in_doubt(problems: pd.DataFrame) -> pd.DataFrame:
    """Marks nobody declared, each once, their worth still to be told."""
    told = problems["reason"].str.split(", ").str[0].isin(_ASKED_ABOUT) | problems["reason"].isin(_ASKED_ABOUT)
    told |= problems["reason"].str.startswith(_ASKED_ABOUT)
    marks = problems.loc[told, "value"]
    marks = marks[(marks != "") & (marks.str.len() <= _LONGEST_MARK)].drop_duplicates().head(_MARKS_SHOWN)
    return pd.DataFrame({"mark": marks, "worth": UNSAID, TASTER: "", DESCRIPTOR: ""}).reset_index(drop=True)


def marks_met(found: Found) -> pd.DataFrame:
    """Marks to be told their worth, in the order guessed; the guess stands beside them."""
    listed = pd.DataFrame(found.inquiry.marks, columns=["mark", "guess", DESCRIPTOR, "times", "seen"])
    listed = listed[listed["mark"].str.len() <= _LONGEST_MARK].drop_duplicates(["mark", DESCRIPTOR]).head(_MARKS_SHOWN)
    listed = listed.assign(worth=UNSAID, **{TASTER: ""})
    rest = marks_in_doubt(found.problems)
    rest = rest[~rest["mark"].isin(listed["mark"])]
    return pd.concat([listed, rest], ignore_index=True)
