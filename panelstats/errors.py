"""The one family of errors raised on purpose: what is wrong, where, and what to do.

PanelError
├── SheetError    for whoever typed the sheet
└── DesignError   for whoever passes impossible arguments; data that cannot answer get a verdict instead
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from panelstats.speech import Phrase, heard

if TYPE_CHECKING:
    import pandas as pd

IN_PYTHON = " (in Python: set_aside=True)"  # what a message adds for a program, not for the command line
_MESSAGE = Phrase("{what}\n  where: {where}\n  do:    {do}")


# Signs that steer a terminal, end a line or turn it around: C0 and C1 (ECMA-48) but for tab and new line, line and
# paragraph separators, and the embeddings, overrides and isolates of Unicode Standard Annex 9; and halves of signs,
# which stand in a name for bytes that are no text.
_STEERING = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\u2028\u2029\u202a-\u202e\u2066-\u2069\ud800-\udfff]")


def visible(text: str) -> str:
    r"""A text in which no sign steers the terminal, page or cell that shows it: each stands there as its number.

    Examples
    --------
    >>> print(visible("lot \x1b[31m7"))
    lot \u001b[31m7
    """
    return _STEERING.sub(lambda sign: f"\\u{ord(sign[0]):04x}", text)


class PanelError(Exception):
    """Base of every error raised on purpose: what is wrong, where, and what to do.

    Parameters
    ----------
    what, where, do : str
        What is wrong, in which file, sheet, row and column (or which argument), and what the reader can do about it.

    Examples
    --------
    >>> print(PanelError("score outside the scale", where="week.xlsx, row 4", do="correct it"))
    score outside the scale
      where: week.xlsx, row 4
      do:    correct it
    """

    def __init__(self, what: str, where: str, do: str) -> None:
        super().__init__(what, where, do)  # all three in args: the error survives a worker process

    def __str__(self) -> str:
        what, where, do = map(heard, self.args)
        return visible(_MESSAGE.format(what=what, where=where, do=do))


class SheetError(PanelError):
    """A sheet holds something that cannot be read as it stands.

    Parameters
    ----------
    what, where, do : str
        As for `PanelError`.
    problems : DataFrame, optional
        Every problem found, a row each: file, sheet, row, column, value, reason, action.
    """

    def __init__(self, what: str, where: str, do: str, problems: pd.DataFrame | None = None) -> None:
        super().__init__(what, where, do)
        self.problems = problems

    def __reduce__(self) -> tuple[type[SheetError], tuple[object, ...]]:
        return type(self), (*self.args, self.problems)


class DesignError(PanelError):
    """An argument that no data could make possible."""
