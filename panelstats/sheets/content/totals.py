"""Words that name figures worked out from others: averages, totals, extremes, ranks."""

from __future__ import annotations

import re

from panelstats.scores.spelling import plain

# Words that name nothing else in a score sheet (common practice; other languages from general dictionaries).
_SURE = frozenset(map(plain, [
    "total", "totals", "sum", "mean", "average", "avg", "ave", "means", "averages", "grand total", "grand mean",
    "overall mean", "overall average", "panel mean", "panel average", "room average", "room mean", "mean score",
    "average score", "total score", "median", "sub total", "subtotal", "st dev", "stdev", "std dev",
    "standard deviation",
    "minimum", "maximum", "variance",
    "Ø", "x̄", "∑", "Σ", "durchschnitt", "mittelwert", "mittel", "summe", "gesamt", "gesamtsumme",
    "moyenne", "somme", "promedio", "media", "suma", "soma", "平均", "平均分", "总分", "合计", "総計", "औसत",
    "कुल", "योग",
]))  # fmt: skip
# Words that may as well name a person or a lot: taken for a figure only where arithmetic agrees.
_UNSURE = frozenset(map(plain, [
    "sd", "std", "min", "max", "count", "range", "panel", "all", "overall", "consensus", "room", "result", "score",
    "points", "spread", "schnitt", "summary", "final", "highest", "lowest", "diff", "difference", "deviation", "delta",
]))  # fmt: skip
_MEANS = frozenset(["average", "mean", "avg", "durchschnitt", "moyenne", "promedio"])
_RANKS = frozenset(
    map(plain, ["rank", "ranking", "order of merit", "rang", "place in order", "puesto", "排名", "順位"])
)
_SIGN = r"(?:\+ ?/ ?[-\u2212\u2013]|±|Δ|δ|delta|diff\.?|difference|dev\.?|deviation)"
_DIFFERENCE = re.compile(rf"(?P<before>.+?)[ (]*{_SIGN}\)?|{_SIGN} *(?:of|in)? *(?P<after>.+)")
_WORD = re.compile(r"[^\W\d_]+")


def is_total(label: object) -> bool:
    """Whether a label says that what it heads was worked out.

    Examples
    --------
    >>> [is_total(x) for x in ("Average", "Lot 412 average", "Ø", "STD", "Max")]
    [True, True, True, False, False]
    """
    text = plain(label)
    if text in _SURE:
        return True
    words = _WORD.findall(text)
    led = words[:1] == ["subtotal"] or words[:2] == ["sub", "total"]
    return len(words) > 1 and len(text) < 30 and (led or words[0] in _MEANS or words[-1] in _SURE)


def is_worked_out(label: object) -> bool:
    """Whether a label beside lots or tasters names no lot and no taster but a figure, or a rank."""
    return is_total(label) or is_rank(label)


def is_rank(label: object) -> bool:
    """Whether a label names a rank."""
    return plain(label) in _RANKS


def may_be_total(label: object) -> bool:
    """Whether a label may name a figure that was worked out, if arithmetic agrees."""
    return is_worked_out(label) or plain(label) in _UNSURE


def differs_from(label: object) -> str:
    """What a label says that its figures are differences of, as plain text; "" where it says no such thing.

    Examples
    --------
    >>> [differs_from(x) for x in ("Brisk +/-", "Diff. Body", "Brisk")]
    ['brisk', 'body', '']
    """
    found = _DIFFERENCE.fullmatch(plain(label))
    return (found["before"] or found["after"] or "").strip() if found else ""
