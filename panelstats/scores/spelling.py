"""Labels as people write them: tidied, compared, and put in order."""

from __future__ import annotations

import datetime as dt
import re
import unicodedata
from functools import lru_cache

import numpy as np

_GAPS = re.compile(r"[\s_\u200b\ufeff\u2060]+")
_SPACES = re.compile(r"[\s\u00a0\u2007\u202f\u200b\ufeff\u2060]+")

_DASHES = dict.fromkeys(map(ord, "\u2010\u2011\u2012\u2013\u2014\u2015\u2212\ufe58\ufe63\uff0d"), "-")
_QUOTES = dict.fromkeys(map(ord, "\u2018\u2019\u201a\u201b\u02bc\u00b4\u0060\u2032\uff07"), "'")


def tidy(value: object) -> str:
    r"""A content as one line of text without stray spaces; whole numbers lose the ".0" a spreadsheet gave them.

    Examples
    --------
    >>> tidy("  Upper\u00a0 Brallow "), tidy(417.0), tidy(None)
    ('Upper Brallow', '417', '')
    """
    if isinstance(value, str):
        return _SPACES.sub(" ", value).strip()
    if value is None or (isinstance(value, float) and np.isnan(value)):
        return ""
    if isinstance(value, bool | np.bool_):
        return "TRUE" if value else "FALSE"
    if isinstance(value, float | np.floating) and float(value).is_integer() and abs(float(value)) < 1e15:
        return str(int(value))
    if isinstance(value, dt.datetime):
        return value.date().isoformat() if value.time() == dt.time() else value.isoformat(sep=" ")
    return _SPACES.sub(" ", str(value)).strip()


def plain(value: object) -> str:
    """A label to compare by: no accents, no case, no punctuation at the ends, single spaces.

    Examples
    --------
    >>> plain(" Dégustateur : ")
    'degustateur'
    """
    return _plain(value if type(value) is str else tidy(value))


@lru_cache(maxsize=100_000)
def _plain(text: str) -> str:
    if not text.isascii():
        text = "".join(c for c in unicodedata.normalize("NFKD", text) if not unicodedata.combining(c))
    return _GAPS.sub(" ", text).casefold().strip(" .:;#*")


@lru_cache(maxsize=100_000)
def same(label: str) -> str:
    """A label to compare by: width, case, accents' coding, kinds of dash, apostrophe and space do not matter.

    Examples
    --------
    >>> same("Upper\u2011Brallow ") == same("upper-brallow"), same("elm-a") == same("elm a")
    (True, False)
    """
    if label.isascii():
        return tidy(label).casefold()
    text = unicodedata.normalize("NFC", label).translate(_DASHES).translate(_QUOTES)
    return tidy("".join(_plain_sign(c) for c in text)).casefold()


def _plain_sign(sign: str) -> str:
    if sign.isascii():
        return sign
    if unicodedata.category(sign) == "Cf":
        return ""
    if unicodedata.decimal(sign, None) is not None:
        return str(unicodedata.decimal(sign))
    return unicodedata.normalize("NFKC", sign) if unicodedata.east_asian_width(sign) in "FH" else sign


def natural(name: object) -> list[tuple[int, int, str]]:
    """Key for sorting names as people do: 2 before 10.

    Examples
    --------
    >>> sorted(["lot 10", "lot 2"], key=natural)
    ['lot 2', 'lot 10']
    """
    return [
        (0, int(p), "") if p.isdigit() and p.isascii() else (1, 0, p)
        for p in re.split(r"(\d+)", str(name).casefold())
        if p
    ]
