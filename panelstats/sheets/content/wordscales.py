"""What words, letters, stars and signs may be worth as scores: their place on a scale that holds them all."""

from __future__ import annotations

import re

from panelstats.scores.spelling import plain, tidy
from panelstats.sheets.content.text import mark_text

# Words in the order of what they are worth (common practice); a room's own marks override.
SCALES = (
    ("very poor", "poor", "fair", "good", "very good", "excellent"),
    ("bad", "poor", "average", "good", "best"),
    ("none", "very weak", "weak", "medium", "strong", "very strong"),
    ("none", "trace", "slight", "moderate", "strong", "extreme"),
    ("very light", "light", "medium", "full", "heavy"),
    ("very low", "low", "medium", "high", "very high"),
    ("nil", "low", "average", "high"),
    ("thin", "medium", "thick"), ("dull", "fair", "bright", "very bright"), ("plain", "fair", "useful", "good", "fine"),
    ("schlecht", "mittel", "gut", "sehr gut"), ("schwach", "mittel", "stark"), ("faible", "moyen", "fort"),
    ("mauvais", "moyen", "bon", "tres bon"), ("malo", "regular", "bueno", "muy bueno"), ("debil", "medio", "fuerte"),
    ("差", "中", "良", "优"), ("弱", "中", "强"),
)  # fmt: skip
_OUT_OF = re.compile(r"(\d{1,3}(?:[.,]\d{1,3})?) ?/ ?(\d{1,3})")
_FEW_OUT_OF = 2  # different marks below which one may be two marks in one cell (ours)
_LOWEST_TOP = 5  # what stands behind a stroke from which it is no part of a fraction (ours)
_SIGNS = ("---", "--", "-", "=", "o", "+-", "±", "+", "++", "+++")
_STARS = re.compile(r"[*★☆✩⭐]+")
_GRADED = re.compile(r"(?:[a-f]|[ivx]{1,4})[+-]?")
NUMBER_FIRST = re.compile(r"([+-]?\d{1,3}(?:[.,]\d{1,2})?)\s*[^\d\s.,/+-].*")


def guessed_worth(marks: list[str]) -> dict[str, float]:
    """What marks may be worth: their place on a scale that holds them all, stars and numbers as they say; else {}.

    Examples
    --------
    >>> guessed_worth(["good", "poor", "fair"]), guessed_worth(["+", "=", "-"]), guessed_worth(["**", "*"])
    ({'poor': 1.0, 'fair': 2.0, 'good': 3.0}, {'-': 1.0, '=': 2.0, '+': 3.0}, {'*': 1.0, '**': 2.0})
    """
    seen = {plain(m) or tidy(m): m for m in marks}
    for scale in SCALES:
        if {*seen} <= {*scale}:
            return {seen[w]: n + 1.0 for n, w in enumerate(w for w in scale if w in seen)}
    signs = {tidy(m).replace("\u2212", "-").replace("\u2013", "-").casefold(): m for m in marks}
    if {*signs} <= {*_SIGNS}:
        return {signs[s]: n + 1.0 for n, s in enumerate(s for s in _SIGNS if s in signs)}
    if all(_STARS.fullmatch(tidy(m)) for m in marks):
        return {m: float(len(re.sub("[☆✩]", "", tidy(m)))) for m in sorted(marks, key=len)}
    first = {m: NUMBER_FIRST.fullmatch(tidy(m)) for m in marks}
    if all(first.values()):
        return {m: float(found[1].replace(",", ".")) for m, found in first.items() if found}
    if all(_GRADED.fullmatch(plain(m)) for m in marks):
        order = sorted(marks, key=_grade_rank, reverse=True)
        return {m: n + 1.0 for n, m in enumerate(order)}
    return {}


def out_of(marks: list[str]) -> tuple[int, dict[str, float]]:
    """The top of the scale that all marks name behind a stroke, and what each is worth; (0, {}) where they do not.

    Examples
    --------
    >>> out_of(["8/10", "6,5 / 10"]), out_of(["7/8", "8/9"]), out_of(["1/2"])
    ((10, {'8/10': 8.0, '6,5 / 10': 6.5}), (0, {}), (0, {}))
    """
    if len(marks) < _FEW_OUT_OF:
        return 0, {}
    found = {m: _OUT_OF.fullmatch(tidy(m)) for m in marks}
    tops = {int(parts[2]) if parts else 0 for parts in found.values()}
    worth = {mark_text(m): float(parts[1].replace(",", ".")) for m, parts in found.items() if parts}
    top = tops.pop() if len(tops) == 1 else 0
    return (top, worth) if top >= _LOWEST_TOP and max(worth.values()) <= top else (0, {})


def _grade_rank(mark: str) -> tuple[int, int]:
    word = tidy(mark).casefold()
    letter = word.rstrip("+-")
    roman = ("i", "ii", "iii", "iv", "v", "vi")
    is_roman = letter in ("i", "v") or (letter in roman and len(letter) > 1)
    rank = roman.index(letter) if is_roman else ord(letter[0]) - ord("a")
    return rank, {"+": -1, "-": 1}.get(word[len(letter) :], 0)
