"""A cell's content -> a number, a blank, or a named problem; nothing is guessed."""

from __future__ import annotations

import datetime as dt
import re
import unicodedata
from dataclasses import dataclass
from enum import IntEnum
from math import isfinite
from typing import TYPE_CHECKING

import numpy as np

from panelstats.scores.spelling import tidy

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence


class Kind(IntEnum):
    """What a cell turned out to be."""

    NUMBER = 0
    BLANK = 1
    PROBLEM = 2


# What rooms write where nothing was scored (common practice); the `marks` register adds a room's own.
BLANKS = frozenset([
    "", "-", "--", "\u2010", "\u2011", "\u2012", "\u2013", "\u2014", "\u2212", "n/a", "na", "n.a.", "abs", "abs.",
    "absent", "not tasted", "nt", "n/t", "n.t.", "nan", "null",
])  # fmt: skip
HALVES = {
    "½": 0.5, "¼": 0.25, "¾": 0.75, "⅛": 0.125, "⅜": 0.375, "⅝": 0.625, "⅞": 0.875,
    "⅕": 0.2, "⅖": 0.4, "⅗": 0.6, "⅘": 0.8,
}  # fmt: skip
ERROR_CELLS = frozenset(
    ["#n/a", "#div/0!", "#ref!", "#name?", "#null!", "#num!", "#value!", "#spill!", "#calc!", "#getting_data", "#####"]
)

# Reasons, each worded once; a marked copy, the error and the account all say the same.
# Signs and words for what stands above; a bare "do" may be a name.
_DITTO = frozenset("\"'″〃“”„,")
_AS_ABOVE = frozenset({"do.", "-do-", "ditto", "dito", "dto", "dto.", "idem"})
NOT_A_NUMBER = "not a number"
A_RANGE = "a range, or two numbers in one cell"
A_DATE = "a date or time where a score belongs"
A_TRUTH = "TRUE or FALSE where a score belongs"
AN_ERROR = "an error cell"
NO_VALUE = "a formula without a stored value"
A_PERCENTAGE = "a percentage where a score belongs"
SCIENTIFIC = "a number in scientific notation"
OTHER_DECIMAL = "decimal comma and decimal point in one file"
TWO_TICKS = "two ticks in one row"
TOO_LONG = "a text far too long for a score"

_PLAIN = re.compile(r"-?\d{1,15}(?:\.\d{1,20})?")
_POINT = re.compile(r"[+-]?(?:\d{1,20}\.?\d{0,20}|\.\d{1,20})")
_COMMA = re.compile(r"[+-]?(?:\d{1,20},?\d{0,20}|,\d{1,20})")
_DECIMAL = {sign: re.compile(rf"['\u2019]?[+-]?\d{{0,20}}{re.escape(sign)}\d{{1,20}}") for sign in ".,"}
_FRACTION = re.compile(r"([+-]?)(\d{0,9}) ?([½¼¾⅛⅜⅝⅞⅕⅖⅗⅘])")
_MIXED = re.compile(r"(\d{1,9}) ([1-9])/([248])")
# How programs write 0.00005; no spreadsheet makes this of a code.
_TINY = re.compile(r"[+-]?\d(?:\.\d{1,20})?e-\d{1,2}")
_RANGE = re.compile(r"\d+(?:[.,]\d+)?\s*(?:-|/|to|or|\\|&|;|\|)\s*\d+(?:[.,]\d+)?")
_DATE = re.compile(
    r"\d{4}-\d{1,2}-\d{1,2}(?:[ T].*)?|\d{1,2}([./-])\d{1,2}\1\d{2,4}|\d{1,2}:\d{2}(?::\d{2})?"
    r"|\d{1,2}[- .](?:jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec)[a-z]*[- .]?\d{0,4}"
    r"|(?:jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec)[a-z]*[- .]\d{1,4}"
)
_SCIENTIFIC = re.compile(r"[+-]?\d+(?:[.,]\d+)?e[+-]?\d+")
_TEXT_SIGN = re.compile(r"['\u2019](?=[\d+-])")  # what spreadsheets set before a number kept as text
_INVISIBLE = " \t\n\r\x0b\x0c\u00a0\u2007\u202f\u200b\ufeff\u2060"
LONGEST_SCORE = 200


@dataclass(frozen=True, eq=False)
class Parsed:
    """Distinct contents read: `number` (NaN where none), `kind` (Kind), `reason` ("" where none), equal lengths."""

    number: np.ndarray
    kind: np.ndarray
    reason: np.ndarray


def is_empty(value: object) -> bool:
    """Whether a content shows nothing."""
    return not value.strip(_INVISIBLE) if type(value) is str else tidy(value) == ""


def is_ditto(value: object) -> bool:
    """Whether a content is a sign, or a word, for what stands above it."""
    text = tidy(value).casefold()
    return bool(text) and (text in _AS_ABOVE or (set(text) <= _DITTO and len(text) <= 3))


def has_digit(text: str) -> bool:
    """Whether a text holds a digit, as numbers of lots do and names of people do not."""
    return any(sign.isdigit() for sign in text)


def decimal_style(values: Sequence[object]) -> str:
    """The decimal sign most distinct contents use: "." or ",", "." where neither is used."""
    commas = _written_with(",", values)
    return "," if commas and commas > _written_with(".", values) else "."


def _written_with(sign: str, values: Sequence[object]) -> int:
    return sum(type(v) is str and sign in v and _DECIMAL[sign].fullmatch(v.strip()) is not None for v in values)


def are_numbers(values: Sequence[object]) -> np.ndarray:
    """Mask of contents that are numbers with either decimal sign."""
    swapped = [v.replace(",", ".") if type(v) is str else v for v in values]
    return np.asarray(parse(swapped).kind == Kind.NUMBER)


def parse(values: Sequence[object], *, decimal: str = ".", marks: Mapping[str, float] | None = None) -> Parsed:
    """Read distinct contents as scores.

    Parameters
    ----------
    values : sequence
        Distinct contents of cells: text, numbers, dates, truth values.
    decimal : {".", ","}
        The decimal sign of the file the contents come from.
    marks : mapping, optional
        A room's own marks, as `plain` text, and their worth; NaN makes a mark a blank.

    Returns
    -------
    Parsed
        One entry per content.

    Examples
    --------
    >>> parse(["7.5", " 7½", "-", "5-6"]).number
    array([7.5, 7.5, nan, nan])
    """
    number = np.full(len(values), np.nan)
    kind = np.full(len(values), Kind.NUMBER, np.int8)
    reason = np.full(len(values), "", object)
    slow = range(len(values)) if marks or decimal != "." else _not_plain(values)
    for i in slow:
        found = _mark(values[i], marks) if marks else None
        number[i], kind[i], reason[i] = found or _one(values[i], decimal)
    if len(slow) < len(values):
        quick = np.ones(len(values), bool)
        quick[list(slow)] = False
        number[quick] = np.array([v for v, q in zip(values, quick, strict=True) if q], dtype=float)
    return Parsed(number, kind, reason)


def _not_plain(values: Sequence[object]) -> list[int]:
    """Where the contents are that are no plainly written numbers; only these take the slow path."""
    return [
        i
        for i, v in enumerate(values)
        if not ((type(v) is str and _PLAIN.fullmatch(v)) or (type(v) is float and isfinite(v)) or type(v) is int)
    ]


def _mark(value: object, marks: Mapping[str, float]) -> tuple[float, Kind, str] | None:
    worth = marks.get(mark_text(value))
    if worth is None:
        return None
    return (worth, Kind.BLANK, "") if np.isnan(worth) else (worth, Kind.NUMBER, "")


def mark_text(value: object) -> str:
    """A mark to compare by: spaces and case do not matter, signs do."""
    return tidy(value).casefold()


def _one(value: object, decimal: str) -> tuple[float, Kind, str]:
    if isinstance(value, bool | np.bool_):
        return np.nan, Kind.PROBLEM, A_TRUTH
    if value is None:
        return np.nan, Kind.BLANK, ""
    if isinstance(value, int | float | np.integer | np.floating):
        if np.isnan(value):
            return np.nan, Kind.BLANK, ""
        return (float(value), Kind.NUMBER, "") if np.isfinite(value) else (np.nan, Kind.PROBLEM, NOT_A_NUMBER)
    if isinstance(value, dt.date | dt.time | dt.timedelta):
        return np.nan, Kind.PROBLEM, A_DATE
    return _text(str(value), decimal)


def _text(value: str, decimal: str) -> tuple[float, Kind, str]:
    if len(value) > LONGEST_SCORE and len(tidy(value)) > LONGEST_SCORE:
        return np.nan, Kind.PROBLEM, TOO_LONG
    text = _TEXT_SIGN.sub("", tidy(value), count=1) if value[:1] in "'\u2019" else tidy(value)
    if text.casefold() in BLANKS:
        return np.nan, Kind.BLANK, ""
    folded = unicodedata.normalize("NFKC", text).replace("\u2212", "-").casefold()
    number = _fraction(text, folded)
    if number is None and _TINY.fullmatch(folded):
        number = float(folded)
    if number is None and (_COMMA if decimal == "," else _POINT).fullmatch(folded):
        number = float(folded.replace(",", "."))
    return (np.nan, Kind.PROBLEM, _why(folded)) if number is None else (number, Kind.NUMBER, "")


def _fraction(text: str, folded: str) -> float | None:
    """A half or quarter mark written as one sign, or as `7 1/2`; None where it is neither."""
    half = _FRACTION.fullmatch(text)
    if half:
        size = float(half[2] or 0) + HALVES[half[3]]
        return -size if half[1] == "-" else size
    mixed = _MIXED.fullmatch(folded)
    if mixed and int(mixed[2]) < int(mixed[3]):
        return float(mixed[1]) + int(mixed[2]) / int(mixed[3])
    return None


# What a text is that is no score, the first that fits.
_REASONS = (
    (re.compile("|".join([*map(re.escape, sorted(ERROR_CELLS)), "#+"])), AN_ERROR),
    (re.compile("true|false"), A_TRUTH),
    (_POINT, OTHER_DECIMAL),
    (_COMMA, OTHER_DECIMAL),
    (_DATE, A_DATE),
    (_RANGE, A_RANGE),
    (_SCIENTIFIC, SCIENTIFIC),
    (re.compile(r"[+-]?\d+(?:[.,]\d+)?\s*%"), A_PERCENTAGE),
)


def _why(text: str) -> str:
    """Name what a text is, once it is known not to be a score."""
    text = text.replace("\u2013", "-").replace("\u2014", "-")
    return next((reason for pattern, reason in _REASONS if pattern.fullmatch(text)), NOT_A_NUMBER)
