"""What every review needs: to run its analyses, to choose a session, to name what it is about."""

from __future__ import annotations

from typing import TYPE_CHECKING

from panelstats.errors import DesignError
from panelstats.scores.cells import SESSION
from panelstats.words import count, listing

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping

    from panelstats.result import Result
    from panelstats.scores.table import Scores

_UNNAMED = "1"  # what a source without a word on its session is read as
_NAMED = 4  # lots or tests named in a title; more are counted


def run(
    steps: Mapping[str, Callable[[], Result]], progress: Callable[[str], None] | None
) -> tuple[tuple[str, Result], ...]:
    """The results with their titles; `progress` is told of each before it starts."""
    tell = progress or (lambda _: None)
    done = []
    for title, step in steps.items():
        tell(title.lower())
        done.append((title, step()))
    return tuple(done)


def among(names: list[str], session: str | None) -> str:
    """The session asked for; the latest if none was."""
    if session is None:
        return names[-1]
    if session not in names:
        raise DesignError("no such session", where=f"session {session!r}", do=f"choose one of {', '.join(names)}")
    return session


def titled(scores: Scores, session: str) -> str:
    """The name of a session; where nobody gave it one, the file or files it was read from, and its date if known."""
    files = list(dict.fromkeys(scores.account["file"].astype(str)))
    if len(scores.sessions) > 1 or session != _UNNAMED or not files or (scores.headers["word"] == SESSION).any():
        return session
    named = files[0] if len(files) == 1 else f"{files[0]} and {count(len(files) - 1, 'other file')}"
    if "date" not in scores.sessions:
        return named
    dates = scores.sessions["date"].dropna().astype(str).str.removesuffix(" 00:00:00")
    return ", ".join([named, *dates[dates != ""]])


def named(names: Iterable[str], what: str) -> str:
    """A few names listed, more of them counted."""
    some = list(names)
    return listing(some) if 0 < len(some) <= _NAMED else count(len(some), what)
