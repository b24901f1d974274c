"""What several verdicts ask to be done next, each step once."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, NamedTuple

from panelstats.report.tables import about
from panelstats.words import listing

if TYPE_CHECKING:
    from collections.abc import Iterable

    from panelstats.result import Verdict


class Step(NamedTuple):
    """A thing to do, and for which lots, tests or descriptors ("" for all that was tasted)."""

    subjects: str
    words: str


def steps(verdicts: Iterable[Verdict]) -> list[Step]:
    """Every next step once, in the order of the verdicts.

    Examples
    --------
    >>> from panelstats.result import Verdict
    >>> steps(Verdict("?", lot, "cannot tell", "...", next_step="Taste again.") for lot in ("B1", "B2"))
    [Step(subjects='B1 and B2', words='Taste again.')]
    """
    asked: dict[str, dict[str, None]] = {}
    for verdict in verdicts:
        if verdict.next_step:
            asked.setdefault(verdict.next_step, {})[verdict.subject] = None
    return [Step("" if "" in subjects else listing(map(about, subjects)), words) for words, subjects in asked.items()]


def at_the_last(steps_asked: Iterable[str]) -> list[str]:
    """Steps line by line, one that several ask for after the last of them alone.

    Examples
    --------
    >>> at_the_last(["Brew again.", "", "Taste again.", "Brew again."])
    ['', '', 'Taste again.', 'Brew again.']
    """
    asked = list(steps_asked)
    last = {step: at for at, step in enumerate(asked)}
    return [step if last[step] == at else "" for at, step in enumerate(asked)]


def stepless(verdicts: Iterable[Verdict]) -> list[Verdict]:
    """The verdicts without their next steps, for a page that gathers these in a section of their own."""
    return [replace(verdict, next_step="") for verdict in verdicts]
