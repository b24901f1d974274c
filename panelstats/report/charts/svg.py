"""Inline drawings: escaped tags, widths of words, tick marks."""

from __future__ import annotations

import unicodedata
from functools import cache
from typing import TYPE_CHECKING, NamedTuple

from markupsafe import Markup, escape

from panelstats.report.charts.advances import ADVANCES

if TYPE_CHECKING:
    from collections.abc import Iterable

# Width in em of every sign known, the bold face's where it is wider: labels must fit in whichever font a reader has.
_KNOWN = {sign: width for width, signs in ADVANCES.items() for sign in signs}
_SQUARE, _PICTURE = 1.05, 1.4  # ideographs fill a square; pictures are wider
WIDTH, SIZE, LINE = 340.0, 10.5, 12.0  # of a drawing, its letters, their lines, in its own unit: a pixel at full size


def tag(name: str, *content: str | Markup, **attributes: str | float) -> Markup:
    """One element; text and attribute values are escaped, markup goes in as it is.

    Parameters
    ----------
    name : str
        The element.
    content : str or Markup
        What it holds.
    attributes : str or float
        Numbers are rounded to a tenth; a trailing underscore (`class_`) is dropped, others become hyphens.

    Examples
    --------
    >>> print(tag("text", "5 & 6", x=1.26, text_anchor="end"))
    <text x="1.3" text-anchor="end">5 &amp; 6</text>
    """
    written = "".join(
        f' {key.rstrip("_").replace("_", "-")}="{escape(value if isinstance(value, str) else short(value))}"'
        for key, value in attributes.items()
    )
    inner = "".join(map(escape, content))
    return Markup(f"<{name}{written}>{inner}</{name}>" if content else f"<{name}{written}/>")  # noqa: S704 - escaped


class Drawing(NamedTuple):
    """An inline drawing, and how tall it is at full size."""

    svg: Markup
    height: float


def figure(*content: Markup, title: str, words: str, key: str, height: float) -> Drawing:
    """A drawing with its title and its twin in words, both read out in its place.

    Parameters
    ----------
    content : Markup
        What it shows.
    title, words : str
    key : str
        Unique on the page; names the title and the words.
    height : float
        Of the drawing in its own units; all are `WIDTH` wide.

    Examples
    --------
    >>> print(figure(tag("path", d="M0 0"), title="Lots", words="One lot.", key="a", height=4).svg)
    <svg viewBox="0 0 340 4" role="img" aria-labelledby="at ad"><title id="at">Lots</title><desc id="ad">One lot.</desc><path d="M0 0"/></svg>
    """  # noqa: E501 - one element is one line
    told = tag("title", title, id=f"{key}t"), tag("desc", words, id=f"{key}d")
    box = f"0 0 {short(WIDTH)} {short(height)}"
    return Drawing(tag("svg", *told, *content, viewBox=box, role="img", aria_labelledby=f"{key}t {key}d"), height)


def short(value: float) -> str:
    """A coordinate to a tenth, without a trailing zero.

    Examples
    --------
    >>> short(3.04), short(-0.02)
    ('3', '0')
    """
    text = f"{round(value, 6):.1f}"
    return "0" if text == "-0.0" else text.removesuffix(".0")


def text_width(text: str, size: float) -> float:
    """Width of a line of text, in the unit of `size` (the font's), at most, in bold as in regular.

    Examples
    --------
    >>> text_width("lot", 10) < text_width("LOT", 10) < text_width("高山茶", 10)
    True
    """
    return size * sum(map(_em, text))


@cache
def _em(sign: str) -> float:
    if unicodedata.combining(sign):
        return 0.0
    base = unicodedata.normalize("NFD", sign)[0]
    return _KNOWN.get(base, _PICTURE if unicodedata.category(sign) == "So" else _SQUARE)


def wrapped(text: str, width: float, size: float) -> list[str]:
    """Text broken into lines that fit, between words where it can be, inside them where it must; nothing is cut.

    Examples
    --------
    >>> wrapped("lot of the second flush", 60, 10)
    ['lot of the', 'second', 'flush']
    """
    lines = [""]
    for word in " ".join(str(text).split()).split(" "):
        joined = f"{lines[-1]} {word}".strip()
        if text_width(joined, size) <= width:
            lines[-1] = joined
        else:
            lines += _broken(word, width, size)
    return [line for line in lines if line] or [""]


def _broken(word: str, width: float, size: float) -> list[str]:
    pieces = [""]
    for sign in word:
        if pieces[-1] and text_width(pieces[-1] + sign, size) > width:
            pieces.append("")
        pieces[-1] += sign
    return pieces


def path(moves: Iterable[str], **attributes: str | float) -> Markup:
    """One path of many strokes: far fewer bytes than an element for each."""
    return tag("path", d="".join(moves), **attributes)


def line(points: Iterable[tuple[float, float]], **attributes: str | float) -> Markup:
    """One stroke from point to point."""
    return path(["M" + "L".join(f"{short(x)} {short(y)}" for x, y in points)], **attributes)
