"""The languages there are, each from its catalogue of whole sentences."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

from panelstats.errors import DesignError
from panelstats.speech import ENGLISH, Speech, Told, speaking

if TYPE_CHECKING:
    from contextlib import AbstractContextManager

    from babel.messages.catalog import Message

LANGUAGES = (ENGLISH, "de")
CATALOGUES = Path(__file__).parent / "locale"
COUNTED, TOLD = "count", "told"  # contexts of counted nouns, and of messages whose fields are filled where they arise


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
        messages=_said(entries, TOLD) | _said(entries, None),  # a message of one piece may be a word of a table
        told=Told(_said(entries, TOLD)),
        nouns={(entry.id[0], entry.id[1]): tuple(entry.string or entry.id) for entry in entries if entry.pluralizable},
        form=c2py(locale_plural(code)),
        signs=str.maketrans({".": symbols["decimal"], ",": symbols["group"]}),
        day=lambda date: format_date(date, "medium", locale),
    )


def locale_plural(code: str) -> str:
    """The rule, as gettext writes it, by which a count picks the form of a noun."""
    from babel.messages.plurals import get_plural  # noqa: PLC0415 - an English run needs it not

    return get_plural(code).plural_expr


def _said(entries: list[Message], context: str | None) -> dict[str, str]:
    """The sentences of one context by the English ones."""
    return {str(entry.id): str(entry.string) for entry in entries if entry.context == context and entry.string}
