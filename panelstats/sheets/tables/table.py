"""Table: a sheet understood, with the role of every column and the rows that hold marks."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from panelstats.scores.cells import DESCRIPTOR, LOT, SCORE
from panelstats.sheets.content.roles import FACT, FAULT, GIVEN, WORD
from panelstats.sheets.content.text import Parsed, decimal_style, is_empty, parse
from panelstats.sheets.files.grid import text_factor

if TYPE_CHECKING:
    from collections.abc import Mapping

    from panelstats.sheets.content.limits import Limits
    from panelstats.sheets.content.wishes import Wishes
    from panelstats.sheets.files.grid import Factor, Sheet
    from panelstats.sheets.room.inquiry import Inquiry
    from panelstats.sheets.room.room import Room
    from panelstats.sheets.tables.lotrows import LotRow

Note = tuple[str, str, str]


@dataclass(frozen=True)
class Flaw:
    """What is wrong with a row, a column or (neither given) a whole sheet, and what to do about it.

    A flaw without a reason is one that an open question tells: its marks cannot be used, nothing more is said.
    """

    row: int | None
    column: int | None
    value: str
    reason: str
    action: str


def doubt(column: int | None = None) -> Flaw:
    """Marks of a column or of all that must wait for the answer to a question."""
    return Flaw(None, column, "", "", "")


@dataclass(frozen=True, eq=False)
class Table:
    """A sheet understood; the lists run over columns.

    Attributes
    ----------
    sheet : Sheet
        Where it came from.
    headers, roles, names : list of str
        Header as typed, role ("" where unknown), and the name it takes.
    rows : ndarray of int
        Indices of the rows that hold marks.
    top : int
        Index of the header's (lower) row, -1 where it came apart from the rows.
    notes : list of tuple
        What was left out or mended: (what, value, why).
    extra : dict of Factor
        Keys that no column holds but the layout told (a taster named above the marks), a code per row.
    across : dict of list of str
        Keys that run across the sheet: role -> label per column ("" where a column is no mark).
    flaws : list of Flaw
        What is wrong with rows and columns as wholes.
    scale : tuple of float, optional
        The ends of the scale that a line over the headings tells.
    title : str
        The descriptor that a line over the headings names alone, "" where none does.
    told : tuple of LotRow
        Rows of facts about the lots, where these run across.
    wholes : list of str
        The whole heading of each column, all its rows in one text.
    waiting : frozenset of int
        Columns whose heading nobody understood, taken as guessed until somebody says what they are.
    """

    sheet: Sheet
    headers: list[str]
    roles: list[str]
    names: list[str]
    rows: np.ndarray
    top: int = -1
    notes: list[Note] = field(default_factory=list)
    extra: dict[str, Factor] = field(default_factory=dict)
    across: dict[str, list[str]] = field(default_factory=dict)
    flaws: list[Flaw] = field(default_factory=list)
    scale: Limits | None = None
    title: str = ""
    told: tuple[LotRow, ...] = ()
    wholes: list[str] = field(default_factory=list)
    waiting: frozenset[int] = frozenset()
    _cells: dict[int, Factor] = field(default_factory=dict)
    _parsed: dict[tuple[int, str], Parsed] = field(default_factory=dict)

    def cells(self, column: int) -> Factor:
        """What the data rows of one column hold."""
        if column not in self._cells:
            self._cells[column] = self.sheet.columns[column].compact(self.rows)
        return self._cells[column]

    def parsed(self, column: int, marks: Mapping[str, float], decimal: str = "") -> Parsed:
        """The distinct contents of one column read as scores, by the decimal sign that most of them use or another.

        `marks` is the room's, the same at every call.
        """
        decimal = decimal or decimal_style(self.cells(column).values)
        if (column, decimal) not in self._parsed:
            self._parsed[column, decimal] = parse(self.cells(column).values, decimal=decimal, marks=marks)
        return self._parsed[column, decimal]

    def numbers(self, column: int, marks: Mapping[str, float]) -> np.ndarray:
        """The number in each row of one column, NaN where there is none."""
        return np.asarray(self.parsed(column, marks).number[self.cells(column).codes])

    def only(self, keep: np.ndarray) -> Table:
        """The table of some of its rows."""
        extra = {key: factor.take(keep) for key, factor in self.extra.items()}
        return replace(self, rows=self.rows[keep], extra=extra, _cells={}, _parsed={})

    def noting(self, *notes: Note, **changes: Any) -> Table:
        """The table with some fields changed, and what is to be said of that."""
        return replace(self, notes=[*self.notes, *notes], **changes)

    def taking(self, roles: Mapping[int, str], *notes: Note) -> Table:
        """The table with other roles for some columns."""
        return self.noting(*notes, roles=[roles.get(c, role) for c, role in enumerate(self.roles)])

    def with_fact(self, name: str, said: np.ndarray) -> Table:
        """The table with a fact of the lots that stands over its rows, as a column of its own; `said` is by row."""
        whole = np.full(len(self.sheet), "", object)
        whole[self.rows] = said
        across = {key: [*labels, ""] for key, labels in self.across.items()}
        sheet = replace(self.sheet, columns=[*self.sheet.columns, text_factor(whole)])
        return replace(
            self, sheet=sheet, across=across, roles=[*self.roles, FACT], headers=[*self.headers, name],
            names=[*self.names, name], wholes=[*self.wholes, name],
        )  # fmt: skip

    def where(self, role: str) -> list[int]:
        """Columns of one role."""
        return [c for c, r in enumerate(self.roles) if r == role]

    def tells(self, role: str) -> bool:
        """Whether the sheet itself tells a key: in a column, across, or above the marks."""
        return role in self.across or role in self.extra or role in self.roles

    def factors(self, role: str) -> dict[int | None, Factor]:
        """The columns of a key; None: what the layout told of all rows."""
        down: dict[int | None, Factor] = {c: self.cells(c) for c in self.where(role)}
        return down | ({None: self.extra[role]} if role in self.extra else {})

    def is_empty(self, role: str) -> bool:
        """Whether a key has columns, and none of them holds anything in any row that holds marks."""
        columns = self.where(role)
        return bool(columns) and all(is_empty(v) for c in columns for v in self.cells(c).values)

    @property
    def is_list(self) -> bool:
        """It tells of lots and has no column that holds, or may hold, marks."""
        told = {role for role, head in zip(self.roles, self.headers, strict=True) if head}
        return LOT in told and not told & {"", GIVEN, SCORE, FAULT, WORD}

    @property
    def is_down(self) -> bool:
        """Descriptors stand in a column: a row per score, or lots or tasters across."""
        return DESCRIPTOR in self.roles


@dataclass(frozen=True)
class Context:
    """What the reading of one table may lean on: the room, its questions, and whether names tell its taster or lot.

    `asked` tells that its headings have been asked about by name.
    """

    wishes: Wishes
    room: Room
    inquiry: Inquiry
    named: frozenset[str] = frozenset()
    asked: bool = False
