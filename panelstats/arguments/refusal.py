"""How a wrong argument is refused: what it is, what was given, what to give."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from difflib import get_close_matches
from typing import NoReturn, TypeAlias

from panelstats.errors import DesignError

# Judges an argument by its name and value, beside all that was given.
Rule: TypeAlias = Callable[[str, object, Mapping[str, object]], None]
_NAMED = 12  # names offered in a message; more are counted


def refuse(what: str, name: str, value: object, do: str) -> NoReturn:
    """Say what is wrong with a value, and what to give."""
    raise DesignError(what, where=f"{name}={short(repr(value))}", do=do)


def unknown(what: str, where: str, asked: object, labels: list[str]) -> NoReturn:
    """Say that a name is not known, and which are."""
    near = get_close_matches(str(asked), labels, n=1)
    hint = f"did you mean {near[0]!r}? " if near else ""
    raise DesignError(f"no such {what}", where=where, do=f"{hint}use one of {offered(labels)}")


def labels_of(scores: object, table_: str, column: str) -> list[str]:
    """Labels of a table that came with the scores; none where there are no scores to ask."""
    frame = getattr(scores, table_, None)
    return list(dict.fromkeys(map(str, frame[column].dropna()))) if frame is not None and column in frame else []


def offered(labels: Iterable[str]) -> str:
    """Names to choose from."""
    names = list(labels)
    more = f" and {len(names) - _NAMED} more" if len(names) > _NAMED else ""
    return ", ".join(names[:_NAMED]) + more


def short(shown: str) -> str:
    """What was given, cut where it is long."""
    return shown if len(shown) <= 80 else f"{shown[:77]}..."
