"""How a table is shown, on a page and in a workbook alike: headings, kinds of column, decimals row by row."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from panelstats.scores.cells import DESCRIPTOR
from panelstats.words import DASH, decimals, number, p_value, percent

# What the tables of a result are about, in words.
TITLES = {
    "anova": "Whether the lots differ",
    "components": "Where the variance lies",
    "means": "Means of the lots",
    "pairs": "Lots compared in pairs",
    "merit": "Merit of the lots",
    "checks": "Checks of the model",
    "classes": "Whether the classes are told apart",
    "summary": "In short",
    "taste_again": "Lots to taste again",
    "alone": "What each taster's own repeats show",
    "account": "Account of every cell",
    "problems": "Cells set aside",
    "table": "All results",
}
ROWS_SHOWN = 640  # rows of one table on a page; the workbook holds them all
TEXT, COUNT, NUMBER, P, SHARE = "text", "count", "number", "p", "share"
# Widths of an interval at 95 % in standard errors, near enough to choose decimals.
_WIDTHS = 4.0
_HEADINGS = {"p_adjusted": "p, adjusted", "df_error": "df of error", "icc_mean": "agreement of the mean (icc)",
             "icc_single": "agreement of one taster (icc)", "lot_a": "lot", "lot_b": "against", "se": "standard error",
             "set_aside": "set aside"}  # fmt: skip


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
    """

    name: str
    heading: str
    kind: str
    values: pd.Series
    places: np.ndarray

    @property
    def is_text(self) -> bool:
        """Whether the column reads from the left."""
        return self.kind == TEXT

    def texts(self) -> list[str]:
        """The cells in words."""
        if self.kind == NUMBER:
            return [number(value, places) for value, places in zip(self.values, self.places, strict=True)]
        if self.kind == COUNT:
            return [DASH if pd.isna(value) else f"{int(value):,}" for value in self.values]
        if self.kind in (P, SHARE):
            return [(p_value if self.kind == P else percent)(value) for value in self.values]
        return [plain(value) for value in self.values]


def columns(table: pd.DataFrame) -> list[Column]:
    """The columns of a table as they are shown, in order.

    Parameters
    ----------
    table : DataFrame
        Any table of a result. Decimals follow the standard error (`se`), else the interval of the column
        (`x_low`, `x_high`, or `low`, `high`), taken together per descriptor so that a block lines up; a number
        without uncertainty shows three digits.
    """
    shown = [_column(table, str(name)) for name in table.columns]
    return [column for column in shown if column is not None]


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
            words = TITLES.get(name, name.replace("_", " "))
            ready.append(Shown(words, f"{title}: {words}", laid, rows, len(table)))
    return ready


def _column(table: pd.DataFrame, name: str) -> Column:
    values = table[name]
    kind = _kind(name, values)
    places = _places(table, name) if kind == NUMBER else np.zeros(len(table), int)
    return Column(name, _HEADINGS.get(name, name.replace("_", " ")), kind, values, places)


def _kind(name: str, values: pd.Series) -> str:
    if pd.api.types.is_bool_dtype(values) or not pd.api.types.is_numeric_dtype(values):
        return TEXT
    if name == "p" or name.startswith("p_"):
        return P
    if name == "share" or name.startswith(("share_", "chance_")):
        return SHARE
    finite = values[np.isfinite(values.astype(float))]
    whole = (finite == finite.round()).all() and (pd.api.types.is_integer_dtype(values) or name.startswith("df"))
    return COUNT if whole else NUMBER


def _places(table: pd.DataFrame, name: str) -> np.ndarray:
    """Decimals of every row of one column."""
    if name.startswith("df"):
        return np.ones(len(table), int)
    se = _standard_error(table, name)
    if se is None:  # no uncertainty beside it: three digits of the usual size
        size = table[name].abs()
        usual = float(size[(size > 0) & np.isfinite(size)].median())
        return np.full(len(table), decimals(usual / 100))
    if DESCRIPTOR in table:
        se = se.groupby(table[DESCRIPTOR].astype(str)).transform("median")
    return np.array([decimals(value) for value in se.astype(float)], int)


def _standard_error(table: pd.DataFrame, name: str) -> pd.Series | None:
    """What the number beside it may be off by, from the columns around it."""
    stem = name.removesuffix("_low").removesuffix("_high")
    if {f"{stem}_low", f"{stem}_high"} <= set(table.columns):
        return (table[f"{stem}_high"] - table[f"{stem}_low"]) / _WIDTHS
    if "se" in table:
        return table["se"]
    if {"low", "high"} <= set(table.columns) and name in ("low", "high", *_before_low(table)):
        return (table["high"] - table["low"]) / _WIDTHS
    return None


def _before_low(table: pd.DataFrame) -> list[str]:
    """The number that an interval belongs to stands just before it."""
    names = [str(name) for name in table.columns]
    at = names.index("low")
    return names[max(at - 1, 0) : at]


def plain(value: object) -> str:
    """A cell that is no number, in words; "" where there is nothing."""
    if isinstance(value, bool | np.bool_):
        return "yes" if value else "no"
    if isinstance(value, list | tuple | set):
        return ", ".join(str(item) for item in value)
    if value is None or value is pd.NaT or value is pd.NA or (isinstance(value, float) and np.isnan(value)):
        return ""
    if isinstance(value, pd.Timestamp):
        return value.strftime("%Y-%m-%d") if value == value.normalize() else str(value)
    return str(value)
