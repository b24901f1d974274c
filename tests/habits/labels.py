"""Labels as people mean them: spellings that no one would take for another name."""

from __future__ import annotations

import re
import unicodedata

INVISIBLE = dict.fromkeys(map(ord, "\u200b\u200c\u200d\u2060\ufeff\u00ad"))
DASHES = dict.fromkeys(map(ord, "\u2010\u2011\u2012\u2013\u2014\u2212\ufe63\uff0d"), "-")


def plain(text: object) -> str:
    """One spelling for each label: compatibility form, one dash, single spaces, no case, no invisible signs."""
    folded = unicodedata.normalize("NFKC", str(text).translate(INVISIBLE)).translate(DASHES)
    digits = "".join(str(unicodedata.digit(c)) if c.isdigit() and not c.isascii() else c for c in folded)
    return " ".join(digits.replace("\u2019", "'").casefold().split())


def words(text: object) -> list[str]:
    """The words of a label in order."""
    return re.findall(r"[^\W_]+", plain(text))
