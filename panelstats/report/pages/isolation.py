"""Names from sheets, kept from disturbing the words around them."""

from __future__ import annotations

import re
import unicodedata
from typing import TYPE_CHECKING

from markupsafe import Markup, escape

from panelstats.report.tables import about

if TYPE_CHECKING:
    from collections.abc import Iterable

    from panelstats.result import Verdict

# Right-to-left letters and digits, and the controls that turn a line around: Unicode Standard Annex 9.
_TURNING = {"R", "AL", "AN", "RLE", "RLO", "RLI", "LRE", "LRO", "LRI", "PDF", "PDI", "FSI"}


_DAY = re.compile(r"\d{4}-\d\d-\d\d")


def days(text: Markup) -> Markup:
    """Markup whose days are not broken over two lines.

    Examples
    --------
    >>> print(days(Markup("bench, 2026-03-02")))
    bench, <span class="day">2026-03-02</span>
    """
    return Markup(_DAY.sub(r'<span class="day">\g<0></span>', str(text)))  # noqa: S704 - digits of what was escaped


def turns(text: str) -> bool:
    """Whether a name holds signs that run, or make others run, from right to left.

    Examples
    --------
    >>> turns("lot 12"), turns("שלום")
    (False, True)
    """
    return not text.isascii() and any(unicodedata.bidirectional(sign) in _TURNING for sign in text)


class Names:
    """Writes sentences so that names which run the other way disturb nothing, and a verdict's subject stands out.

    Parameters
    ----------
    names : iterable of str
        All names of the page; only those with right-to-left signs are looked for in sentences.
    """

    def __init__(self, names: Iterable[str]) -> None:
        turning = sorted({name for name in names if turns(name)}, key=len, reverse=True)
        self._turning = re.compile("(" + "|".join(map(re.escape, turning)) + ")") if turning else None

    def isolate(self, sentence: str) -> Markup:
        """The sentence, escaped, its right-to-left names isolated."""
        if self._turning is None:
            return Markup(escape(str(sentence)))  # noqa: S704 - escaped here
        parts = self._turning.split(str(sentence))  # names stand at the odd places
        return Markup("").join(
            Markup("<bdi>{}</bdi>").format(part) if at % 2 else part for at, part in enumerate(parts)
        )

    def told(self, verdict: Verdict) -> Markup:
        """A verdict's sentence with its subject set off: where it stands first in the sentence, else before it."""
        subject, sentence = about(verdict.subject), verdict.sentence
        if not subject:
            return self.isolate(sentence)
        set_off = Markup('<bdi class="subject">{}</bdi>').format(subject)
        found = re.search(rf"(?<!\w){re.escape(subject)}(?!\w)", sentence)
        if not found:
            return set_off + Markup(" ") + self.isolate(sentence)
        return self.isolate(sentence[: found.start()]) + set_off + self.isolate(sentence[found.end() :])
