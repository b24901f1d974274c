"""What several verdicts ask to be done next, each step once; and what they say first where a test cannot settle it."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, NamedTuple

from panelstats.difference.counts.planning import AnswersNeeded
from panelstats.result import in_order
from panelstats.words import listing

if TYPE_CHECKING:
    from collections.abc import Iterable

    from panelstats.result import Result, Verdict


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
    return [Step("" if "" in subjects else listing(subjects), words) for words, subjects in asked.items()]


def stepless(verdicts: Iterable[Verdict]) -> list[Verdict]:
    """The verdicts without their next steps, for a page that gathers these in a section of their own."""
    return [replace(verdict, next_step="") for verdict in verdicts]


def unsettled(results: Iterable[Result]) -> list[Verdict]:
    """What plans of tests say cannot be settled by the answers there can be; a page says it first."""
    plans = [result for result in results if isinstance(result, AnswersNeeded)]
    return [verdict for plan in plans for verdict in plan.verdicts if verdict.call == "no"]


def said_first(results: Iterable[Result]) -> tuple[Verdict, ...]:
    """Every verdict in the order of a page: what cannot be settled, then by what to act on."""
    every = list(results)
    first = unsettled(every)
    rest = in_order([verdict for result in every for verdict in result.verdicts])
    return (*first, *(verdict for verdict in rest if verdict not in first))
