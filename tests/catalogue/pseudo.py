"""A language in which every phrase stands between marks, so that what bypasses the catalogue is seen on a page."""

from __future__ import annotations

import re
from html.parser import HTMLParser

from panelstats.speech import Phrase, Speech, Told
from tests.catalogue.said import nouns, phrases, words
from tests.catalogue.told import told

OPEN, CLOSE = "⟦", "⟧"
_SIGNS = str.maketrans({".": "·", ",": "’"})
_INLINE = {"b", "bdi", "span", "a", "svg", "use", "tspan", "code", "text", "g", "line", "path", "rect", "circle"}


def marked(phrase: str) -> str:
    """A phrase whose own words stand between marks, its fields outside of them."""
    parts = re.split(r"(\{\w*(?:!r)?(?::[^ }]*)?\})", phrase)
    return "".join(part if at % 2 or not part else f"{OPEN}{part}{CLOSE}" for at, part in enumerate(parts))


class _Messages(dict):
    """Every phrase, whether the catalogue holds it or not: that is another test's."""

    def get(self, key, default=None):
        return marked(str.__str__(key)) if isinstance(key, Phrase) or key in self else default


def pseudo() -> Speech:
    """The language of marks."""
    heard = {each: marked(each) for each in told()}
    counted = {pair: tuple(map(marked, pair)) for pair in nouns()}
    messages = _Messages(phrases() | words())
    return Speech("qps", messages, Told(heard), counted, lambda n: int(n != 1), _SIGNS, lambda day: f"{day:%d/%m/%Y}")


class _Text(HTMLParser):
    """The words of a page, a line for each block."""

    def __init__(self) -> None:
        super().__init__()
        self.lines, self.quiet = [""], 0

    def handle_starttag(self, tag, attrs):
        told = dict(attrs)
        self.quiet += tag == "style"
        if tag not in _INLINE:
            self.lines.append("")
        elif tag == "text":  # a line of a drawing: its sentence may run on
            self.lines[-1] += " "
        self.lines += [told[name] or "" for name in ("aria-label", "data-head") if name in told]
        if told.keys() & {"aria-label", "data-head"}:
            self.lines.append("")

    def handle_endtag(self, tag):
        self.quiet -= tag == "style"
        if tag not in _INLINE:
            self.lines.append("")

    def handle_data(self, data):
        if not self.quiet:
            self.lines[-1] += data


def outside_of(line: str) -> str:
    """What stands outside all marks."""
    return re.sub(f"{OPEN}[^{OPEN}{CLOSE}]*{CLOSE}", " ", line)


def lines_of(page: bytes) -> list[str]:
    """The words of a page, a line for each block."""
    text = _Text()
    text.feed(page.decode())
    return text.lines


def unmarked(page: bytes, names: set[str]) -> set[str]:
    """Words of a page that stand outside all marks and are no names of the room."""
    found = set()
    for line in lines_of(page):
        words = re.findall(r"[A-Za-z][A-Za-z'-]{2,}", outside_of(line))
        found |= {word for word in words if word.lower() not in names}
    return found
