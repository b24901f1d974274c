"""Limits of a scale that a heading tells beside the descriptor: `Brisk (1-10)`, `Body /10`, a line of them below."""

from __future__ import annotations

import re

import numpy as np

from panelstats.scores.spelling import plain, tidy

Limits = tuple[float, float]

_NUMBER = r"\d{1,4}(?:[.,]\d+)?"
_WORDS = r"(?:scale|range|score|from|skala|von|bis|echelle|escala|points?|pts?\.?|punkte?)?"
_ENDED = r"(?:[=:]\s*[^\d=:(]*?[^\W\d_]|\(\s*=?\s*[^\d()]+\))"  # what an end of a scale means: `= poor`, `(poor)`
_RANGE = rf"{_WORDS}\s*(?P<low>{_NUMBER})\s*(?:-|\.\.\.?|\u2026|to|bis|a|à)\s*(?P<high>{_NUMBER})\s*{_WORDS}"
_MOST = rf"(?:/|out of|max\.?|maximum|up to|von|sur|de)\s*(?P<most>{_NUMBER})\s*{_WORDS}"
_ALONE = re.compile(rf"[(\[{{]?\s*(?:{_RANGE}|{_MOST})\s*[)\]}}]?", re.IGNORECASE)
# A range without brackets may count lots or pots (`Lot 1-10`); "/10" and "out of 10" say one thing only.
_BESIDE = re.compile(
    rf"(?P<name>.*[^\W\d_].*?)[\s,:]*(?:[(\[{{]\s*(?:{_RANGE}|{_MOST.replace('most', 'inner')})\s*[)\]}}]"
    rf"|(?<=\s)(?:{_MOST})|(?P<slash>/)\s*(?P<last>{_NUMBER}))",
    re.IGNORECASE,
)
_SCALE = r"(?:(?:scoring |marking )?(?:scale|scores?|marks?|points|skala|noten|echelle|escala)(?: used| of marks)?\b)"
_STATED = re.compile(rf"{_SCALE}[\s:=(\[]*(?:is |of |from )?{_RANGE}(?:\W.*)?", re.IGNORECASE)
_ENDS = re.compile(
    rf"{_SCALE}?[\s:]*(?P<low>{_NUMBER})\s*{_ENDED}\s*(?:\.{{2,}}|\u2026|to\b|up to\b|bis\b|-)\s*"
    rf"(?P<high>{_NUMBER})\s*{_ENDED}\W*",
    re.IGNORECASE,
)
_ONE_BY_ONE = re.compile(rf"(?P<number>\d{{1,2}})\s*{_ENDED}")
_DASH = str.maketrans(dict.fromkeys("\u2010\u2011\u2012\u2013\u2014\u2212", "-"))
_NAMES = frozenset(["scale", "range", "limits", "points", "max", "skala", "echelle", "escala"])
# What stands beside highest marks and weights (common practice).
_HIGHEST_MARKS = re.compile(r"(?:max(?:imum)?|full)(?: (?:marks?|scores?|points))?|out of")
_WEIGHTS = frozenset(["weight", "weights", "weighting", "weightage", "factor", "coefficient", "gewicht", "gewichtung"])
_WEIGHT = re.compile(r"[x×*]? ?\d+(?:[.,]\d+)? ?[x×%]?")
_UNIT = re.compile(r"[(\[][^()\[\]\d]*[^()\[\]\d\s][^()\[\]\d]*[)\]]")  # in brackets, without a number
_HIGHEST = 1000  # above it a number is a year or a count, and no end of a scale (ours)
_NARROWEST = 2  # points between its ends at the least: "1-2" numbers pots or looks (ours)


def limits_alone(text: object) -> Limits | None:
    """The scale that a whole text tells; None where it tells none.

    Examples
    --------
    >>> [limits_alone(x) for x in ("1-10", "(0 to 5)", "/10", "7", "2025-2026")]
    [(1.0, 10.0), (0.0, 5.0), (nan, 10.0), None, None]
    """
    return _limits(_ALONE.fullmatch(tidy(text).translate(_DASH)))


def limits_beside(label: object) -> tuple[str, Limits] | None:
    """A descriptor and the scale that its heading tells; None where it tells none.

    Examples
    --------
    >>> limits_beside("Brisk (1-10)"), limits_beside("Body / 10"), limits_beside("Pot 1-3")
    (('Brisk', (1.0, 10.0)), ('Body', (nan, 10.0)), None)
    """
    found = _BESIDE.fullmatch(tidy(label).translate(_DASH))
    limits = _limits(found)
    return (found["name"].rstrip(" -,:"), limits) if found and limits else None


def scale_said(text: object) -> Limits | None:
    """The scale of all marks that a line over them tells; None where it tells none.

    Examples
    --------
    >>> [scale_said(x) for x in ("Scale 1-9", "1 (poor) to 9 (excellent)", "Scale: 9 = fine ... 1 = poor", "week 1-9")]
    [(1.0, 9.0), (1.0, 9.0), (1.0, 9.0), None]
    """
    said = tidy(text).translate(_DASH)
    found = _STATED.fullmatch(said) or _ENDS.fullmatch(said)
    if found is None:
        each = [int(m["number"]) for m in _ONE_BY_ONE.finditer(said)]
        first, last = min(each, default=0), max(each, default=0)
        counted = len(each) > 2 and each in ([*range(first, last + 1)], [*range(last, first - 1, -1)])
        return (float(first), float(last)) if counted and last - first >= _NARROWEST else None
    low, high = sorted(float(found[key].replace(",", ".")) for key in ("low", "high"))
    return (low, high) if high - low >= _NARROWEST and high <= _HIGHEST else None


def without_limits(label: str) -> str:
    """A label as it reads without the scale it tells."""
    told = limits_beside(label)
    return told[0] if told else label


def _limits(found: re.Match[str] | None) -> Limits | None:
    if found is None:
        return None
    low, *high = (
        float(found[key].replace(",", ".")) if found.groupdict().get(key) else np.nan
        for key in ("low", "high", "most", "inner", "last")
    )
    top = np.nanmax([*high, 0.0])
    bad = top > _HIGHEST or top < _NARROWEST or top - low < _NARROWEST
    return None if bad else (low, float(top))


def heads_nothing(cells: list[str]) -> bool:
    """Whether cells hold weights, highest marks, scales and units alone, which are no headings.

    Examples
    --------
    >>> heads_nothing(["x2", "20 %"]), heads_nothing(["(1-10)", "(cm)"]), heads_nothing(["Colour (10)"])
    (True, True, False)
    """
    return all(_WEIGHT.fullmatch(x) or _UNIT.fullmatch(x) or limits_alone(x) for x in cells)


def with_line_of_limits(names: list[str], line: list[str], marks: list[int]) -> list[str] | None:
    """Names of columns with what the line below the headings tells of their scales; None where it is no such line.

    It may tell the weights or the units of some, which change no name.
    """
    beside = {plain(v) for c, v in enumerate(line) if v and c not in marks and not _UNIT.fullmatch(v)}
    highest = {word for word in beside if _HIGHEST_MARKS.fullmatch(word)}
    told = {c: f"/{line[c]}" if highest and line[c].isdigit() else line[c] for c in marks if line[c]}
    said = {c: limits for c, text in told.items() if (limits := limits_alone(text))}
    rest = [text for c, text in told.items() if c not in said]
    aside = all(map((_WEIGHT if beside & _WEIGHTS else _UNIT).fullmatch, rest))
    odd = not aside or any(limits[0] > 1 for limits in said.values()) or len(told) * 2 < len(marks)
    if odd or not told or not beside <= _NAMES | highest | _WEIGHTS:
        return None
    return [f"{name} ({told[c].strip('()[]{} ')})" if c in said else name for c, name in enumerate(names)]


def span_of(low: float, high: float) -> str:
    """The ends of a scale in words, those that are known."""
    if np.isnan(low) or np.isnan(high):
        return f"from {low:g}" if np.isnan(high) else f"up to {high:g}"
    return f"{low:g} to {high:g}"
