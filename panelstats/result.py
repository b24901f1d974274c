"""What every analysis answers: tidy tables for the analyst, verdicts in sentences for everyone."""

from __future__ import annotations

from dataclasses import dataclass, field, fields
from enum import IntEnum
from html import escape
from typing import TYPE_CHECKING

import pandas as pd

if TYPE_CHECKING:
    from collections.abc import Mapping


class Act(IntEnum):
    """How soon a reader must act on a verdict; pages sort by it, smallest first."""

    NOW = 0  # set a lot aside, stop
    DECIDE = 1  # something was shown: choose
    TASTE_AGAIN = 2  # the data cannot tell, and a next step would
    KNOW = 3  # nothing to do


@dataclass(frozen=True)
class Verdict:
    """One answer to one question a person asked.

    Attributes
    ----------
    question : str
        The question, in the reader's words.
    subject : str
        The lot, taster or descriptor it is about; "" for the whole session.
    call : str
        The answer in two or three words: shown, shown otherwise, or "cannot tell".
    sentence : str
        The answer with the numbers that carry it, each with its interval.
    numbers : Mapping[str, float]
        The numbers of the sentence at full precision.
    next_step : str
        What to do next; never empty where the call is "cannot tell".
    act : Act
        How soon to act.
    """

    question: str
    subject: str
    call: str
    sentence: str
    numbers: Mapping[str, float] = field(default_factory=dict)
    next_step: str = ""
    act: Act = Act.KNOW

    def __str__(self) -> str:
        return f"{self.sentence} {self.next_step}".strip()


@dataclass(frozen=True)
class Estimate:
    """A number with its interval; `low` or `high` may be infinite where the data set no limit.

    Examples
    --------
    >>> Estimate(1.0, 0.4, 1.6, level=0.95)
    Estimate(value=1.0, low=0.4, high=1.6, level=0.95)
    """

    value: float
    low: float
    high: float
    level: float = 0.95


@dataclass(frozen=True, eq=False, repr=False, kw_only=True)
class Result:
    """Base of every analysis: verdicts, the method in a paragraph, and tidy tables as further attributes.

    Attributes
    ----------
    verdicts : tuple of Verdict
        Sorted by what to act on first.
    method : str
        Model, error term, degrees of freedom, adjustments and source.
    """

    verdicts: tuple[Verdict, ...]
    method: str

    def tables(self) -> dict[str, pd.DataFrame]:
        """All tables by name, in the order they are documented."""
        values = {f.name: getattr(self, f.name) for f in fields(self)}
        return {name: value for name, value in values.items() if isinstance(value, pd.DataFrame)}

    def __repr__(self) -> str:
        return "\n".join(str(verdict) for verdict in self.verdicts)

    def _repr_html_(self) -> str:
        sentences = "".join(f"<p>{escape(str(verdict))}</p>" for verdict in self.verdicts)
        tables = "".join(
            f"<h4>{escape(name)}</h4>{table.to_html(index=False, escape=True)}" for name, table in self.tables().items()
        )
        return sentences + tables


def in_order(verdicts: list[Verdict]) -> tuple[Verdict, ...]:
    """Verdicts by how soon to act; equal ones keep the order in which they were found."""
    return tuple(sorted(verdicts, key=lambda verdict: verdict.act))
