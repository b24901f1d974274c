"""Labels as people write them: tidied, compared, and put in order."""

from __future__ import annotations

import datetime as dt
import re
import unicodedata
from functools import lru_cache

import numpy as np

_GAPS = re.compile(r"[\s_\u200b\ufeff\u2060]+")
_SPACES = re.compile(r"[\s\u00a0\u2007\u202f\u200b\ufeff\u2060]+")


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
