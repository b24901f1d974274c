"""Verdicts gathered as a page shows them: what to act on first, equal answers to one question together."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import groupby
from typing import TYPE_CHECKING, NamedTuple

from panelstats.report.charts.shapes import Mark, mark
from panelstats.report.tables import about
from panelstats.result import Act, in_order
from panelstats.speech import Phrase
from panelstats.words import listing, shortened

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable

    from panelstats.result import Verdict

# What a reader does with the verdicts of each kind.
HEADINGS = {
    Act.NOW: Phrase("Now"),
    Act.DECIDE: Phrase("Shown: decide"),
    Act.TASTE_AGAIN: Phrase("Cannot tell yet"),
    Act.KNOW: Phrase("Good to know"),
}
# Answers to one question that stand open; the rest unfold. What needs nothing done takes little room.
OPEN = {Act.NOW: 12, Act.DECIDE: 5, Act.TASTE_AGAIN: 2, Act.KNOW: 1}
_NAMED = 6


@dataclass(frozen=True)
class Entry:
    """Answers to one question that came out alike.

    Attributes
    ----------
    question, call, next_step : str
        Common to all of them; `next_step` is "" where they differ (each then carries its own).
    mark : Mark
        The shape beside the call.
    verdicts : tuple of Verdict
        The answers.
    """

    question: str
    call: str
    next_step: str
    mark: Mark
    verdicts: tuple[Verdict, ...]

    @property
    def first(self) -> tuple[Verdict, ...]:
        """The answers that stand open."""
        some = OPEN[self.verdicts[0].act]
        return self.verdicts if len(self.verdicts) <= some + 1 else self.verdicts[:some]

    @property
    def rest(self) -> tuple[Verdict, ...]:
        """The answers that unfold."""
        return self.verdicts[len(self.first) :]

    @property
    def rest_named(self) -> str:
        """What the folded answers are about: "tip, twist and 4 more"."""
        names = dict.fromkeys(about(verdict.subject or "the session") for verdict in self.rest)
        return listing(shortened(names, _NAMED))


class Group(NamedTuple):
    """What is to be acted on equally soon."""

    act: Act
    heading: str
    entries: list[Entry]


def ledger(verdicts: Iterable[Verdict]) -> list[Group]:
    """Verdicts by how soon to act, each group with its heading and entries."""
    groups = groupby(in_order(list(verdicts)), key=lambda verdict: verdict.act)
    return [Group(act, HEADINGS[act], _entries(list(group))) for act, group in groups]


def _entries(verdicts: list[Verdict]) -> list[Entry]:
    alike: dict[tuple[str, str, Mark], list[Verdict]] = {}
    for verdict in verdicts:
        alike.setdefault((verdict.question, verdict.call, mark(verdict)), []).append(verdict)
    return [Entry(question, call, common_step(same), shape, tuple(same))
            for (question, call, shape), same in alike.items()]  # fmt: skip


def common_step(verdicts: Collection[Verdict]) -> str:
    """The next step that all of them name, said once; "" where they differ."""
    steps = {verdict.next_step for verdict in verdicts}
    return steps.pop() if len(steps) == 1 else ""
