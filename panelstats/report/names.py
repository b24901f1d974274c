"""Names from sheets, kept from disturbing the words around them."""

from __future__ import annotations

import re
import unicodedata
from typing import TYPE_CHECKING

from markupsafe import Markup, escape

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

# Right-to-left letters and digits, and the controls that turn a line around: Unicode Standard Annex 9.
_TURNING = {"R", "AL", "AN", "RLE", "RLO", "RLI", "LRE", "LRO", "LRI", "PDF", "PDI", "FSI"}


def turns(text: str) -> bool:
    """Whether a name holds signs that run, or make others run, from right to left.

    Examples
    --------
    >>> turns("lot 12"), turns("שלום")
    (False, True)
    """
    return any(unicodedata.bidirectional(sign) in _TURNING for sign in text)


def isolating(names: Iterable[str]) -> Callable[[str], Markup]:
    """A function that escapes a sentence and isolates the names in it that run the other way.

    Parameters
    ----------
    names : iterable of str
        All names of the page; only those with right-to-left signs are looked for.
    """
    turning = sorted({name for name in names if turns(name)}, key=len, reverse=True)
    if not turning:
        return lambda sentence: Markup(escape(sentence))  # noqa: S704 - escaped here
    pattern = re.compile("(" + "|".join(map(re.escape, turning)) + ")")

    def isolate(sentence: str) -> Markup:
        parts = pattern.split(sentence)  # names stand at the odd places
        return Markup("").join(
            Markup("<bdi>{}</bdi>").format(part) if at % 2 else part for at, part in enumerate(parts)
        )

    return isolate
