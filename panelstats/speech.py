"""The language of what is shown: English in the code, another one through its catalogue of whole sentences.

Results keep their English contract in every language: calls, columns and numbers never change, only what is read.
"""

from __future__ import annotations

from contextlib import AbstractContextManager, contextmanager
from contextvars import ContextVar
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from panelstats.errors import DesignError

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Callable, Iterator, Mapping

ENGLISH = "en"
LANGUAGES = (ENGLISH, "de")
CATALOGUES = Path(__file__).parent / "locale"


class Speech(NamedTuple):
    """How one language says things.

    Attributes
    ----------
    code : str
        As in `<html lang>`.
    messages : mapping of str to str
        Sentence and words by the English ones.
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
    nouns: Mapping[tuple[str, str], tuple[str, ...]]
    form: Callable[[int], int]
    signs: Mapping[int, str]
    day: Callable[[dt.date], str]


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


def spoken() -> str:
    """Code of the language in use, as in `<html lang>`."""
    speech = _SPEECH.get()
    return ENGLISH if speech is None else speech.code


def language(code: str) -> AbstractContextManager[None]:
    """Say what is said within a block in another language: sentences of results, pages, workbooks.

    Calls, names of columns and numbers of results stay as they are in every language.

    Parameters
    ----------
    code : str
        "en" or "de" (German).

    Returns
    -------
    context manager
        For `with`; when the block ends, the language before it comes back.

    Raises
    ------
    DesignError
        No such language.

    Examples
    --------
    >>> import panelstats as pst
    >>> with pst.language("de"):
    ...     test = pst.difference_test("triangle", correct=19, answers=36)
    >>> test.call, "die beiden sind verschieden" in test.verdicts[0].sentence
    ('differ', True)
    """
    if code not in LANGUAGES:
        raise DesignError("no such language", where=f"code={code!r}", do=f"choose one of {', '.join(LANGUAGES)}")
    return speaking(None if code == ENGLISH else _speech(code))


@contextmanager
def speaking(speech: Speech | None) -> Iterator[None]:
    """Say what is said within the block by a catalogue of one's own; None for English."""
    before = _SPEECH.set(speech)
    try:
        yield
    finally:
        _SPEECH.reset(before)


@cache
def _speech(code: str) -> Speech:
    """A language from its catalogue, its signs and dates from the locale data of Babel."""
    from gettext import c2py  # noqa: PLC0415 - an English run needs none of these

    from babel import Locale  # noqa: PLC0415
    from babel.dates import format_date  # noqa: PLC0415
    from babel.messages.pofile import read_po  # noqa: PLC0415

    locale = Locale.parse(code)
    with (CATALOGUES / code / "LC_MESSAGES" / "panelstats.po").open("rb") as file:
        entries = [entry for entry in read_po(file, locale=code) if entry.id and not entry.fuzzy]
    symbols = locale.number_symbols["latn"]
    return Speech(
        code=code,
        messages={str(entry.id): str(entry.string) for entry in entries if not entry.pluralizable and entry.string},
        nouns={(entry.id[0], entry.id[1]): tuple(entry.string or entry.id) for entry in entries if entry.pluralizable},
        form=c2py(locale_plural(code)),
        signs=str.maketrans({".": symbols["decimal"], ",": symbols["group"]}),
        day=lambda date: format_date(date, "medium", locale),
    )


def locale_plural(code: str) -> str:
    """The rule, as gettext writes it, by which a count picks the form of a noun."""
    from babel.messages.plurals import get_plural  # noqa: PLC0415 - an English run needs it not

    return get_plural(code).plural_expr
