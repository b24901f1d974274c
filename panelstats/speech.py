"""The language of what is shown: English in the code, another one through its catalogue of whole sentences.

Results keep their English contract in every language: calls, columns and numbers never change, only what is read.
"""

from __future__ import annotations

import datetime as dt
import re
from contextlib import contextmanager
from contextvars import ContextVar
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping

ENGLISH = "en"
_DAY = re.compile(r"(?<![\w/.-])\d{4}-\d\d-\d\d(?![\w/-]|\.\w)")  # not within the name of a file
# A field of a sentence as it stands in the code: its name, whether it is quoted there, the format of a number.
FIELD = re.compile(r"\{(\w+)(!r)?(:[^ }]+)?\}")
# Fields filled with words of ours, which are put into the reader's language too; all others hold what the room wrote.
_OURS = {
    "an_error", "do", "either", "files", "guess", "hint", "label", "leave_out", "many", "no_lot", "number", "of",
    "one", "over", "part", "place", "reason", "replaced", "role", "span", "stage", "statistic", "told", "under",
    "used", "value", "wanted", "way", "what", "where", "who", "why", "word", "wrong",
}  # fmt: skip

_WORDS = {"over", "role", "under", "word"}  # one word each


class Speech(NamedTuple):
    """How one language says things.

    Attributes
    ----------
    code : str
        As in `<html lang>`.
    messages : mapping of str to str
        Sentence and words by the English ones.
    told : Told
        Messages, whose fields are filled in where they arise.
    nouns : mapping of (str, str) to tuple of str
        Forms of a counted noun by the English singular and plural.
    form : callable
        Which of the forms goes with a count.
    signs : mapping of int to str
        For `str.translate`: the signs of a number by the English ones.
    day : callable
        A date in short.
    """

    code: str
    messages: Mapping[str, str]
    told: Told
    nouns: Mapping[tuple[str, str], tuple[str, ...]]
    form: Callable[[int], int]
    signs: Mapping[int, str]
    day: Callable[[dt.date], str]


class Told:
    """Messages in another language, found by the English ones: their own words in order, anything between them.

    Parameters
    ----------
    messages : mapping of str to str
        By the English templates.
    """

    def __init__(self, messages: Mapping[str, str]) -> None:
        self.messages = messages
        shapes = [(template, FIELD.split(template)[::4]) for template in messages if FIELD.search(template)]
        # What has more words of its own is the closer likeness.
        self.shapes = sorted(shapes, key=lambda shape: sum(map(len, shape[1])), reverse=True)
        self.known: dict[str, str | None] = {}

    def __call__(self, message: str) -> str | None:
        """The message in this language; None where there is none such."""
        if message not in self.known:
            self.known[message] = self._found(message)
        return self.known[message]

    def _found(self, message: str) -> str | None:
        if message in self.messages:
            return self.messages[message]
        for template, pieces in self.shapes:
            if message.startswith(pieces[0]) and message.endswith(pieces[-1]) and all(p in message for p in pieces):
                fields = FIELD.findall(template)
                gaps = [*map(_between, fields), ""]
                shape = "".join(re.escape(piece) + gap for piece, gap in zip(pieces, gaps, strict=True))
                if found := re.fullmatch(shape, message, re.DOTALL):
                    return self._filled(template, fields, found.groups())
        return None

    def _filled(self, template: str, fields: list[tuple[str, str, str]], texts: tuple[str, ...]) -> str:
        told = {field[0]: _told(*field, text) for field, text in zip(fields, texts, strict=True)}
        return FIELD.sub(lambda field: told[field[1]], self.messages[template])


def _between(field: tuple[str, str, str]) -> str:
    """What may fill a field."""
    name, quoted, spec = field
    if quoted:
        return "('.*'|\".*\")"
    if spec:
        return "([-+]?[0-9.,]+(?:e[-+]?[0-9]+)?|nan|inf)"
    return "([a-z]+)" if name in _WORDS else "(.*)"


def _told(name: str, quoted: str, spec: str, text: str) -> str:
    """What fills a field of a message, in the language of the reader."""
    if spec:
        return digits(text)
    return text if quoted or name not in _OURS else heard(text)


_SPEECH: ContextVar[Speech | None] = ContextVar("speech", default=None)  # None: English as it stands in the code


class Phrase(str):
    """A sentence or words to be shown: English to the code that compares and stores, else in the reader's language.

    Examples
    --------
    >>> found = Phrase("{lots} differ.")
    >>> found.format(lots="411 and 418"), found == "{lots} differ."
    ('411 and 418 differ.', True)
    """

    __slots__ = ()

    def __str__(self) -> str:
        return said(self)

    def __format__(self, spec: str) -> str:
        return format(said(self), spec)

    def __add__(self, more: str) -> str:
        return said(self) + said(more) if isinstance(more, Phrase) else said(self) + more

    def __radd__(self, before: str) -> str:
        return before + said(self)

    def format(self, *args: object, **fields: object) -> str:
        """The sentence with its fields filled in."""
        return said(self).format(*args, **fields)


def said(words: str) -> str:
    """Words in the language of the reader, as they are where its catalogue does not hold them."""
    speech = _SPEECH.get()
    return str.__str__(words) if speech is None else speech.messages.get(words, str.__str__(words))


def heard(message: str) -> str:
    """A message whose fields are filled in already, in the language of the reader; line by line.

    Messages are kept in English, as other results are: in errors that cross to another process, in tables of problems
    and of what was inferred. They are put into another language here, where they are shown.
    """
    speech = _SPEECH.get()
    if speech is None or isinstance(message, Phrase):
        return str(message)
    return said(message) if message in speech.messages else speech.told(message) or message


def noun(n: int, one: str, many: str) -> str:
    """The form of a noun that goes with a count."""
    speech = _SPEECH.get()
    forms = None if speech is None else speech.nouns.get((one, many))
    if speech is None or forms is None:
        return one if n == 1 else many
    return forms[speech.form(n)]


def digits(number: str) -> str:
    """A number written in English signs, in those of the reader."""
    speech = _SPEECH.get()
    return number if speech is None else number.translate(speech.signs)


def day(date: dt.date) -> str:
    """A date: year, month and day in English pages, as the reader writes it in others."""
    speech = _SPEECH.get()
    return date.isoformat() if speech is None else speech.day(date)


def days(text: str) -> str:
    """A text, or a page, whose days are written as the reader writes them; those in names of files stay.

    Examples
    --------
    >>> days("since 2031-04-01 (2031-04-01.csv)")
    'since 2031-04-01 (2031-04-01.csv)'
    """
    speech = _SPEECH.get()
    return text if speech is None else _DAY.sub(_as_day, text)


def _as_day(found: re.Match[str]) -> str:
    try:
        return day(dt.date.fromisoformat(found[0]))
    except ValueError:  # no such day
        return found[0]


def spoken() -> str:
    """Code of the language in use, as in `<html lang>`."""
    speech = _SPEECH.get()
    return ENGLISH if speech is None else speech.code


@contextmanager
def speaking(speech: Speech | None) -> Iterator[None]:
    """Say what is said within the block by a catalogue of one's own; None for English."""
    before = _SPEECH.set(speech)
    try:
        yield
    finally:
        _SPEECH.reset(before)
