"""What a question asks back, and what was written there: checked once, told in the words that stand beside it."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any, NamedTuple

from panelstats.errors import PanelError
from panelstats.speech import Phrase, heard

if TYPE_CHECKING:
    from collections.abc import Mapping

    from panelstats.desk.asks import Ask

Facts = dict[str, Any]
Given = dict[str, str]

EACH = "each of them"
_NEEDS = Phrase("it needs {lacks}")
TEXT, COUNT, NUMBER = "text", "count", "number"
_LONGEST = 100_000  # signs of one entry: the names of 5,000 lots take less
_PLAIN = "go back and write names of letters, digits and spaces"
_SHOWN = 60  # signs of it that are told again
_COUNT = re.compile("[0-9]{1,9}")
_NUMBER = re.compile("[0-9]{1,9}(?:[.,][0-9]{1,9})?")


class Entry(NamedTuple):
    """Something that is asked back.

    Its name and words; its choices, or the fact that lists them; else its default, its kind and the most it may be.
    """

    name: str
    words: str
    choices: str | tuple[str, ...] = ""  # a fact that lists them, or themselves
    default: str = ""
    kind: str = TEXT
    needed: bool = False
    each: bool = False  # all choices may be asked for at once
    listed: str = ""  # the fact whose names stand there at first
    usual: str = "as usual"  # what stands for no choice
    named: bool = False  # what was said stands in the name of the page
    least: int = 1
    most: int = 10_000


def checked(ask: Ask, form: Mapping[str, str], facts: Facts | None) -> Given:
    """What was written beside a question; what is not asked there counts for nothing.

    Parameters
    ----------
    ask : Ask
        The question.
    form : mapping of str to str
        What was sent.
    facts : dict, optional
        What the data hold; None while they are being read.

    Raises
    ------
    PanelError
        The data cannot answer the question, or an entry is missing or not what it should be.
    """
    lacks = "" if facts is None else ask.lacks(facts)
    if lacks:
        raise PanelError("the sheets cannot answer this yet", where=ask.words, do=_NEEDS.format(lacks=heard(lacks)))
    given = {entry.name: _fit(ask, entry, form.get(entry.name, "").strip(), facts) for entry in ask.entries}
    return {**given, "set_aside": "yes" if form.get("set_aside") else ""}


def _fit(ask: Ask, entry: Entry, said: str, facts: Facts | None) -> str:
    wrong = _wrong(entry, said, facts)
    if wrong:
        raise PanelError(f"{heard(entry.words)}: {heard(wrong[0])}", where=ask.words, do=heard(wrong[1]))
    return said.replace(",", ".") if entry.kind == NUMBER else said


def _wrong(entry: Entry, said: str, facts: Facts | None) -> tuple[str, str] | None:
    """What is wrong with an entry, and what to do; None where nothing is."""
    shown = repr(said if len(said) < _SHOWN else f"{said[:_SHOWN]}…")
    if not said:
        return ("nothing stands there", "go back and fill it in") if entry.needed else None
    if entry.kind == COUNT and not (_COUNT.fullmatch(said) and entry.least <= int(said) <= entry.most):
        return f"{shown} is no count", f"go back and write a whole number from {entry.least} to {entry.most:,}"
    if entry.kind == NUMBER and not (_NUMBER.fullmatch(said) and float(said.replace(",", ".")) > 0):
        return f"{shown} is no number above 0", "go back and write one such as 250 or 4.5"
    if len(said) > _LONGEST or not all(sign.isprintable() or sign.isspace() for sign in said):
        return f"{shown} is too long, or holds signs that cannot be seen", _PLAIN
    choices = choices_of(entry, facts)
    if choices is not None and said not in choices:
        return f"{shown} is none of the choices", "go back and choose one that stands there"
    return None


def choices_of(entry: Entry, facts: Facts | None) -> list[str] | None:
    """What may be chosen; None where any text may stand, or where it is not known yet."""
    if isinstance(entry.choices, tuple):
        return list(entry.choices)
    if not entry.choices or facts is None:
        return None
    choices = list(facts[entry.choices])
    return [*choices, EACH] if entry.each and len(choices) > 1 else choices


def names(text: str) -> list[str]:
    """Names with commas or lines between them."""
    return [each.strip() for each in re.split("[,\n]", text) if each.strip()]
