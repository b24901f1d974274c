"""Prices and valuations as rooms write them: amounts of one currency and unit, lots that were not sold."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from panelstats.errors import DesignError
from panelstats.sheets.content.roles import MONEY, role_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

# What is written where there is no price.
UNSOLD = frozenset(["", "-", "–", "—", "n/a", "na", "nil", "none", "unsold", "not sold", "withdrawn", "out", "no bid",
                    "no bids", "passed", "?", "0", "0.0", "0.00", "0,00"])  # fmt: skip
_AMOUNT = re.compile(r"^(?P<before>[^\d+-]*)(?P<number>[+-]?\d[\d.,' \u00a0\u202f]*)(?P<after>.*)$")
_SPACES = re.compile(r"[' \u00a0\u202f]")
# Prices of one column further apart than this were misread (ours).
MOST_APART = 50
_IN_BRACKETS = re.compile(r"\(([^)]*)\)\s*$")
_CODE = re.compile(r"^[a-z]{3}\b")  # codes of currencies (ISO 4217) are written in capitals
_LAST = re.compile(r"([.,])(\d+)$")


@dataclass(frozen=True, eq=False)
class Amounts:
    """A column of money.

    Attributes
    ----------
    values : ndarray
        NaN where a lot was not sold.
    unit : str
        Currency and unit as written, "" where nobody wrote one.
    """

    values: np.ndarray
    unit: str


def money_columns(columns: Iterable[object]) -> list[str]:
    """The columns of a lots register that hold money, by their names.

    Examples
    --------
    >>> money_columns(["lot", "grade", "price (usd/kg)", "valuation"])
    ['price (usd/kg)', 'valuation']
    """
    return [str(name) for name in columns if role_of(name) == MONEY]


def amounts(written: Sequence[object], *, column: str, lots: Sequence[str]) -> Amounts:
    """Read a column of money.

    Parameters
    ----------
    written : sequence
        What stands in the column, one for each lot.
    column : str
        Its heading, which may name the unit in brackets.
    lots : sequence of str
        For messages.

    Raises
    ------
    DesignError
        A cell that is no amount, two currencies or units in one column, or decimal signs that cannot be told.

    Examples
    --------
    >>> found = amounts(["3,20 EUR", "4,05 EUR", "unsold"], column="price", lots=["1", "2", "3"])
    >>> print(found.values, found.unit)
    [3.2  4.05  nan] EUR
    """
    texts = ["" if blank else str(value).strip() for value, blank in zip(written, pd.isna(list(written)), strict=True)]
    texts = ["" if text.casefold() in UNSOLD else text for text in texts]
    found = [_AMOUNT.match(text) for text in texts]
    for lot, text, match in zip(lots, texts, found, strict=True):
        if text and (match is None or match["number"].startswith("-")):
            raise DesignError("not an amount of money", where=f"{column} of lot {lot}: {text!r}",
                              do="write a number above 0, with or without currency, or leave it empty")  # fmt: skip
    sold = [(lot, m["number"].strip(), _unit(m)) for lot, m in zip(lots, found, strict=True) if m]
    units = list(dict.fromkeys(unit for _, _, unit in sold))
    if len({unit or _header_unit(column) for unit in units}) > 1:
        first = {unit: lot for lot, _, unit in reversed(sold)}
        said = ", ".join(f"{unit or 'nothing'} (lot {first[unit]})" for unit in units)
        raise DesignError("two currencies or units in one column", where=f"{column}: {said}",
                          do="write all amounts of a column in one")  # fmt: skip
    comma = _decimal_comma([(lot, number) for lot, number, _ in sold], column)
    values = np.array([np.nan if m is None else _value(m["number"], comma=comma) for m in found])
    values[~(values > 0)] = np.nan
    return Amounts(values, next((unit for unit in units if unit), "") or _header_unit(column))


def _unit(match: re.Match[str]) -> str:
    return " ".join(part.strip() for part in (match["before"], match["after"]) if part.strip())


def _header_unit(column: str) -> str:
    found = _IN_BRACKETS.search(column)
    return _CODE.sub(lambda code: code[0].upper(), found[1].strip()) if found else ""


def bare(column: str) -> str:
    """A heading without what stands in brackets behind it.

    Examples
    --------
    >>> bare("price (usd/kg)")
    'price'
    """
    return _IN_BRACKETS.sub("", column).strip() or column


def _decimal_comma(numbers: list[tuple[str, str]], column: str) -> bool:
    """Whether the comma is the decimal sign of a column; told by its numbers, refused where they do not say."""
    says: dict[bool, str] = {}
    threes = []
    for lot, number in numbers:
        text = _SPACES.sub("", number)
        last = _LAST.search(text)
        if last is None:
            continue
        sign, digits = last[1], last[2]
        other = "," if sign == "." else "."
        if other in text or (text.count(sign) == 1 and len(digits) != 3):
            says.setdefault(sign == ",", lot)
        elif text.count(sign) > 1:
            says.setdefault(sign == ".", lot)  # several of one sign part thousands: the other one is the decimal sign
        else:
            threes.append((lot, number, sign))
    if len(says) > 1:
        raise DesignError("decimal point and decimal comma in one column",
                          where=f"{column} of lots {says[False]} and {says[True]}",
                          do="write all amounts alike")  # fmt: skip
    return True in says if says or not threes else _by_likeness(numbers, threes, column)


def _by_likeness(numbers: list[tuple[str, str]], threes: list[tuple[str, str, str]], column: str) -> bool:
    """Thousands or decimals, where every sign has three digits behind it: the reading in which prices are alike."""
    ratio = {}
    for comma in (False, True):
        values = [_value(number, comma=comma) for _, number in numbers]
        ratio[comma] = max(values) / max(min(values), 1e-300)
    likely = [comma for comma in (False, True) if ratio[comma] <= MOST_APART]
    if len(likely) == 1:
        return likely[0]
    if len(threes) == len(numbers) and len({sign for _, _, sign in threes}) == 1:
        return False  # 1,250 and 3.200 as they are mostly meant
    lot, number, _ = threes[0]
    raise DesignError("thousands or decimals?", where=f"{column} of lot {lot}: {number!r}",
                      do="write the amounts with two decimals, or without a sign for thousands")  # fmt: skip


def _value(number: str, *, comma: bool) -> float:
    text = _SPACES.sub("", number)
    decimal, thousands = (",", ".") if comma else (".", ",")
    return float(text.replace(thousands, "").replace(decimal, "."))
