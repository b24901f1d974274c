"""How a table is shown, on a page, in a workbook and to a machine: headings, kinds of column, decimals row by row."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from panelstats.lots.worth import OVERALL
from panelstats.report.titles import heading, table_title
from panelstats.scores.cells import DESCRIPTOR
from panelstats.speech import Phrase, heard, said
from panelstats.words import DASH, decimals, number, p_value, percent, settled, stated

ROWS_SHOWN = 400  # rows of one table on a page, so that 40 lots keep under 1 MB; the workbook holds them all
TEXT, COUNT, NUMBER, P, SHARE = "text", "count", "number", "p", "share"
# Widths of an interval at 95 % in standard errors, near enough to choose decimals.
_WIDTHS = 4.0
# Digits kept where a number is written, not shown: this many below its standard error, or in all where none is known.
# Processors differ in the last digits; the same sheet must give the same file on all of them.
_BELOW, _IN_ALL, _OF_P, _MOST = 5, 9, 6, 12
_NOTHING = 1e-12  # of the largest of a column: what is smaller came of rounding
YES, NO = Phrase("yes"), Phrase("no")
# Columns that hold names and words of the room: they are shown as the room wrote them.
_ROOMS = (
    "session", "lot", "lot_a", "lot_b", "taster", "trainee", "descriptor", "class", "garden", "grade", "word",
    "setting", "remarks", "file", "sheet", "value", "subject", "standard", "column",
)  # fmt: skip
# What stands among names of the room and is none.
_OURS = (OVERALL, "the panel", "the two", "the session", "nearest", "cheapest", "fewest lots")
# Columns that hold messages, in the tables of what was inferred and of problems: by a column that only these have.
_TOLD = {"why": ("what", "value", "why"), "action": ("reason", "action")}


@dataclass(frozen=True)
class Column:
    """One column as it is shown.

    Attributes
    ----------
    name, heading : str
        Column of the table, and the words above it.
    kind : str
        text, count, number, p or share.
    values : Series
        The column itself, at full precision.
    places : ndarray of int
        Decimals, row by row; only used for numbers.
    errors : ndarray
        Standard error of every number; NaN where none is known.
    say : callable
        Puts a text into the language of the reader.
    """

    name: str
    heading: str
    kind: str
    values: pd.Series
    places: np.ndarray
    errors: np.ndarray
    say: Callable[[str], str] = said

    @property
    def is_text(self) -> bool:
        """Whether the column reads from the left."""
        return self.kind == TEXT

    def take(self, rows: np.ndarray | slice) -> Column:
        """Some rows of it."""
        return replace(self, values=self.values.iloc[rows], places=self.places[rows], errors=self.errors[rows])

    def written(self) -> list[float]:
        """The numbers as a file holds them: as whole as any use asks, without the digits in which processors differ."""
        values = self.values.to_numpy(float, na_value=np.nan)
        if self.kind in (P, SHARE):
            return [settled(value, _OF_P) if self.kind == P else round(value, _IN_ALL) for value in values.tolist()]
        finite = np.abs(values[np.isfinite(values)])
        none = finite.max(initial=0.0) * _NOTHING
        errors = np.where(self.errors > none, self.errors, np.nan)
        return [_written(*each, none) for each in zip(values.tolist(), errors.tolist(), strict=True)]

    def texts(self) -> list[str]:
        """The cells in words."""
        if self.kind == TEXT:
            values = self.values.tolist()
            texts = values if set(map(type, values)) == {str} else list(map(plain, values))
            return list(map(self.say, texts))
        values = self.values.to_numpy(float, na_value=np.nan).tolist()
        if self.kind == NUMBER:
            return list(map(number, values, self.places.tolist()))
        if self.kind == COUNT:
            return [DASH if math.isnan(value) else stated(round(value), ",") for value in values]
        return list(map(p_value if self.kind == P else percent, values))


def columns(table: pd.DataFrame) -> list[Column]:
    """The columns of a table as they are shown, in order.

    Parameters
    ----------
    table : DataFrame
        Any table of a result. Decimals follow the standard error (`se`), else the interval of the column
        (`x_low`, `x_high`, or `low`, `high`), taken together per descriptor so that a block lines up; a number
        without uncertainty shows three digits.
    """
    laid = _Places(table)
    return [_column(values, str(name), laid) for name, values in table.items()]


@dataclass(frozen=True)
class Shown:
    """A table as the page shows it: its first rows, and how many there are; `label` is unique on the page."""

    name: str
    label: str
    columns: list[Column]
    rows: list[tuple[str, ...]]
    length: int


def shown(tables: dict[str, pd.DataFrame], title: str) -> list[Shown]:
    """The tables that have rows, ready for the page."""
    ready = []
    for name, table in tables.items():
        laid = columns(table.head(ROWS_SHOWN))
        if len(table):
            rows = list(zip(*(column.texts() for column in laid), strict=True))
            words = table_title(name)
            ready.append(Shown(words, f"{said(title)}: {words}", laid, rows, len(table)))
    return ready


def _written(value: float, error: float, none: float) -> float:
    if not math.isfinite(value):
        return value
    if abs(value) <= none:
        return 0.0
    if math.isfinite(error):
        return settled(round(value, _BELOW - math.floor(math.log10(error) + 1e-9)), _MOST) + 0.0
    return settled(value, _IN_ALL)


def _column(values: pd.Series, name: str, laid: _Places) -> Column:
    kind = _kind(name, values)
    places, errors = laid.of(name) if kind == NUMBER else (np.zeros(len(values), int), np.full(len(values), np.nan))
    messages = any(name in told and known in laid.names for known, told in _TOLD.items())
    say = heard if messages else about if name in _ROOMS else said
    return Column(name, heading(name), kind, values, places, errors, say)


def about(subject: str) -> str:
    """What an answer is about: a name of the room as it is, a word of ours in the language of the reader."""
    return said(subject) if subject in _OURS else subject


def _kind(name: str, values: pd.Series) -> str:
    if pd.api.types.is_bool_dtype(values) or not pd.api.types.is_numeric_dtype(values):
        return TEXT
    if name == "p" or name.startswith("p_"):
        return P
    if name == "share" or name.startswith(("share_", "chance_")):
        return SHARE
    if pd.api.types.is_integer_dtype(values):
        return COUNT
    if not name.startswith("df"):
        return NUMBER
    numbers = values.to_numpy(float, na_value=np.nan)
    numbers = numbers[np.isfinite(numbers)]
    return COUNT if np.allclose(numbers, np.round(numbers), rtol=0, atol=1e-9) else NUMBER


class _Places:
    """Decimals of the rows of one table, column by column."""

    def __init__(self, table: pd.DataFrame) -> None:
        self.table = table
        self.names = [str(name) for name in table.columns]
        self.blocks = pd.factorize(table[DESCRIPTOR].astype(str))[0] if DESCRIPTOR in table else None
        self.known: dict[tuple[str, ...], tuple[np.ndarray, np.ndarray]] = {}

    def of(self, name: str) -> tuple[np.ndarray, np.ndarray]:
        """Decimals of every row of one column, and the standard errors they follow from (NaN: none)."""
        none = np.full(len(self.table), np.nan)
        if name.startswith("df"):
            return np.ones(len(self.table), int), none
        beside = self._beside(name)
        if not beside:  # no uncertainty beside it: three digits of the usual size
            size = np.abs(self._numbers(name))
            size = size[(size > 0) & np.isfinite(size)]
            return np.full(len(none), decimals(float(np.median(size)) / 100 if len(size) else math.nan)), none
        if beside not in self.known:
            self.known[beside] = self._settled(beside)
        return self.known[beside]

    def _settled(self, beside: tuple[str, ...]) -> tuple[np.ndarray, np.ndarray]:
        first, *others = map(self._numbers, beside)
        with np.errstate(invalid="ignore"):  # two limits at infinity have no width
            se = (others[0] - first) / _WIDTHS if others else first
        if self.blocks is not None:
            se = pd.Series(se).groupby(self.blocks).transform("median").to_numpy()
        sizes, of_row = np.unique(se, return_inverse=True)
        places = np.fromiter(map(decimals, sizes.tolist()), int, len(sizes))
        return places[of_row], np.where(np.isfinite(se), se, np.nan)

    def _beside(self, name: str) -> tuple[str, ...]:
        """The columns that say what a number may be off by: its limits, else a standard error, else those beside it."""
        stem = name.removesuffix("_low").removesuffix("_high")
        if {f"{stem}_low", f"{stem}_high"} <= set(self.names):
            return f"{stem}_low", f"{stem}_high"
        if "se" in self.names:
            return ("se",)
        if {"low", "high"} <= set(self.names):
            at = self.names.index("low")
            if name in ("low", "high", *self.names[max(at - 1, 0) : at]):  # an interval stands after its number
                return "low", "high"
        return ()

    def _numbers(self, name: str) -> np.ndarray:
        return self.table[name].to_numpy(float, na_value=np.nan)


def plain(value: object) -> str:
    """A cell that is no number, in words; "" where there is nothing."""
    if isinstance(value, bool | np.bool_):
        return str(YES if value else NO)
    if isinstance(value, list | tuple | set):
        return ", ".join(str(item) for item in value)
    if value is None or value is pd.NaT or value is pd.NA or (isinstance(value, float) and np.isnan(value)):
        return ""
    if isinstance(value, pd.Timestamp):
        return value.strftime("%Y-%m-%d") if value == value.normalize() else str(value)
    return str(value)
