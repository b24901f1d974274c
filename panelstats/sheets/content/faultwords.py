"""Fault words: a taint is a fact to find, not a score to average."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import numpy as np

from panelstats.scores.spelling import plain, tidy
from panelstats.sheets.content.text import Kind, Parsed, parse

if TYPE_CHECKING:
    from collections.abc import Sequence

# A room's taints in their plain forms (common practice); the descriptors register adds its own.
FAULT_WORDS = {
    "smoky": ("smoky", "smokey", "smoke", "smoked"),
    "musty": ("musty", "must", "mustiness"),
    "mouldy": ("mouldy", "moldy", "mould", "mold"),
    "tainted": ("tainted", "taint"),
    "burnt": ("burnt", "burned"),
}
_FORM = {form: word for word, forms in FAULT_WORDS.items() for form in forms}
_NOT = re.compile(r"\b(?:no|not|never|without|non|nil|free (?:of|from))\b[\w ]{0,12}$")


def fault_word(header: object) -> str:
    """The fault a heading names, "" where it names none.

    Examples
    --------
    >>> fault_word("Smoke"), fault_word("Taint"), fault_word("Brisk")
    ('smoky', 'tainted', '')
    """
    return _FORM.get(plain(header), "")


def mentions(remark: str) -> list[tuple[str, str]]:
    """Fault words a remark makes, each with the words as they were said.

    Examples
    --------
    >>> mentions("slight smoke, bright"), mentions("not smoky"), mentions("musty?")
    ([('smoky', 'slight smoke')], [], [('musty', 'musty?')])
    """
    found = []
    text = plain(remark)
    for match in re.finditer(r"(?:\b(slight(?:ly)?|faint(?:ly)?|bit of|trace of)\s+)?\b([a-z]+)\b(\s?\?)?", text):
        word = _FORM.get(match[2])
        if word and not _NOT.search(text[: match.start()]):
            found.append((word, match[0].strip()))
    return found


_YES = frozenset([
    "yes", "y", "x", "xx", "true", "+", "++", "1", "\u2713", "\u2714", "slight", "slightly", "strong", "?", "oui", "ja",
    "si",
])  # fmt: skip
_NO = frozenset(["no", "n", "none", "nil", "false", "0", "not noticed", "ok", "clean"])
NOT_A_MARK = "not a mark for noticed or not"


def noticed(values: Sequence[object], *, decimal: str = ".") -> Parsed:
    """Read distinct contents of a fault or word column: 1 noticed, 0 not; a number above 0 is noticed.

    Examples
    --------
    >>> noticed(["x", "", "no", "slight smoke", 2]).number
    array([ 1., nan,  0.,  1.,  1.])
    """
    parsed = parse(values, decimal=decimal)
    number, kind, reason = parsed.number.copy(), parsed.kind.copy(), parsed.reason.copy()
    number[kind == Kind.NUMBER] = number[kind == Kind.NUMBER] > 0
    for i in np.flatnonzero(kind == Kind.PROBLEM).tolist():
        word = plain(values[i]) or tidy(values[i])
        says = 0.0 if word in _NO else 1.0 if word in _YES or mentions(word) else np.nan
        number[i], kind[i] = says, Kind.PROBLEM if np.isnan(says) else Kind.NUMBER
        reason[i] = NOT_A_MARK if np.isnan(says) else ""
    return Parsed(number, kind, reason)
