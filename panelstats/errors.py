"""The one family of errors raised on purpose: what is wrong, where, and what to do.

PanelError
├── SheetError    for whoever typed the sheet
└── DesignError   for whoever passes impossible arguments; data that cannot answer get a verdict instead
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import pandas as pd

IN_PYTHON = " (in Python: set_aside=True)"  # what a message adds for a program, not for the command line


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
        return "{}\n  where: {}\n  do:    {}".format(*self.args)


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
