"""What every review needs: to run its analyses, to choose a session, to name what it is about."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from panelstats.errors import DesignError
from panelstats.scores.cells import SESSION
from panelstats.speech import Phrase
from panelstats.words import count, listing

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping

    from panelstats.result import Result
    from panelstats.scores.table import Scores

_UNNAMED = "1"  # what a source without a word on its session is read as
_DAY = re.compile(r"\d{4}-\d\d-\d\d")
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


def sessions_of(scores: Scores) -> list[str]:
    """The names of the sessions, in their order."""
    return [str(name) for name in scores.sessions[SESSION]]


def only_session(scores: Scores) -> str:
    """The name of the session where there is one alone; none of several."""
    names = sessions_of(scores)
    return names[0] if len(names) == 1 else ""


def among(names: list[str], session: str | None) -> str:
    """The session asked for; the latest if none was."""
    if session is None:
        return names[-1]
    if session not in names:
        raise DesignError("no such session", where=f"session {session!r}", do=f"choose one of {', '.join(names)}")
    return session


def scored(scores: Scores, session: str | None) -> tuple[str, Scores]:
    """The name of the session asked for, the latest if none was, and its scores."""
    name = among(sessions_of(scores), session)
    ours = scores.select(session=name)
    if not len(ours):
        raise DesignError("no score to review", where=f"session {name!r}", do="give a sheet with at least one score")
    return name, ours


def titled(scores: Scores, session: str) -> str:
    """The name of a session; where nobody gave it one, what it was read from, and its date if known.

    A day is no name: "bench, 2026-03-02" says which room's day it was.
    """
    dates = _dates(scores, session)
    if session not in dates and (len(scores.sessions) > 1 or session != _UNNAMED or _asked_for(scores)):
        return session
    source = _source(scores)
    if not source or (session in dates and not scores.files):
        return session
    return ", ".join([source, *(date for date in dates if date not in source)])


def _asked_for(scores: Scores) -> bool:
    """Whether the sheets had a place for the session."""
    return bool((scores.headers["word"] == SESSION).any())


def _dates(scores: Scores, session: str) -> list[str]:
    """The day of a session: as registered, or its name where that is a day."""
    mine = scores.sessions[scores.sessions[SESSION].astype(str) == session]
    told = list(mine["date"].dropna().astype(str)) if "date" in mine else []
    dates = [date.removesuffix(" 00:00:00") for date in told if date]
    return dates or ([session] if _DAY.fullmatch(session) else [])


def _source(scores: Scores) -> str:
    """The file a room's scores were read from; of several its folder, else the first of them and how many more."""
    files = list(dict.fromkeys(scores.account["file"].astype(str)))
    if len(files) < 2:
        return files[0] if files else ""
    folders = {path.parent for path in scores.files}
    if len(folders) == 1 and (folder := folders.pop().resolve().name):
        return folder
    return Phrase("{files} and {files_2}").format(files=files[0], files_2=count(len(files) - 1, "other file"))


def named(names: Iterable[str], what: str) -> str:
    """A few names listed, more of them counted."""
    some = list(names)
    return listing(some) if 0 < len(some) <= _NAMED else count(len(some), what)
