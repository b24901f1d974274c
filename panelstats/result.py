"""What every analysis answers: tidy tables for the analyst, verdicts in sentences for everyone."""

from __future__ import annotations

import math
from dataclasses import dataclass, field, fields
from enum import Enum, IntEnum
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from panelstats.errors import DesignError
from panelstats.notebook import result_html
from panelstats.speech import Phrase, said

if TYPE_CHECKING:
    from collections.abc import Container, Iterable, Mapping

    from numpy.typing import ArrayLike


class Act(IntEnum):
    """How soon a reader must act on a verdict; pages sort by it, smallest first."""

    NOW = 0  # set a lot aside, stop
    DECIDE = 1  # something was shown: choose
    TASTE_AGAIN = 2  # the data cannot tell, and a next step would
    KNOW = 3  # nothing to do

    @property
    def word(self) -> str:
        """As files carry it."""
        return self.name.lower().replace("_", " ")


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

    def __post_init__(self) -> None:
        for name in ("sentence", "next_step"):  # a phrase without fields is said in the language of its making
            object.__setattr__(self, name, str(getattr(self, name)))

    def __str__(self) -> str:
        return f"{self.sentence} {self.next_step}".strip()


@dataclass(frozen=True)
class Estimate:
    """A number with its interval: a limit is infinite where the data set none; NaN is not known.

    Examples
    --------
    >>> Estimate(1.0, 0.4, 1.6, level=0.95)
    Estimate(value=1.0, low=0.4, high=1.6, level=0.95)
    """

    value: float = math.nan
    low: float = math.nan
    high: float = math.nan
    level: float = 0.95


class Mark(Enum):
    """What a shape says of an estimate; the word always stands first."""

    WITHIN = "within"  # shown within what is tolerated
    HIGHER = "higher"  # shown outside, and which way
    LOWER = "lower"
    APART = "apart"  # shown outside, of a size without a direction
    OPEN = "open"  # cannot tell
    FAULT = "fault"  # a fault was noticed
    AGAIN = "again"  # to be tasted again


def mark_by_limits(low: float, high: float, floor: float, ceiling: float) -> Mark:
    """Where an interval lies against what is tolerated: inside, beyond one side, or neither.

    Examples
    --------
    >>> mark_by_limits(-0.2, 0.3, -0.5, 0.5), mark_by_limits(0.6, 0.9, -0.5, 0.5)
    (<Mark.WITHIN: 'within'>, <Mark.HIGHER: 'higher'>)
    """
    if floor < low and high < ceiling:
        return Mark.WITHIN
    return Mark.HIGHER if low > ceiling else Mark.LOWER if high < floor else Mark.OPEN


def mark_by_call(call: object, way: float, *, within: Container[str], outside: Container[str]) -> Mark:
    """The shape that repeats a call; outside, it points the way of the deviation, and nowhere if that is 0 or NaN.

    Examples
    --------
    >>> mark_by_call("differ", -0.3, within={"match"}, outside={"differ"})
    <Mark.LOWER: 'lower'>
    """
    if str(call) in within:
        return Mark.WITHIN
    if str(call) not in outside:
        return Mark.OPEN
    return Mark.HIGHER if way > 0 else Mark.LOWER if way < 0 else Mark.APART


@dataclass(frozen=True)
class Row:
    """One line of a chart: an estimate with its interval over what is tolerated.

    Attributes
    ----------
    label, group : str
        What it is about, and the heading it stands under ("" for none).
    value, low, high : float
        NaN where nothing could be estimated; a limit may be infinite.
    inner_low, inner_high : float
        Limits drawn thick, inside the others; NaN where there are none.
    floor, ceiling : float
        What is tolerated; infinite where one side has no limit, NaN where nothing was declared.
    level : float
        The smoothed level, where rows follow one another in time.
    standard, earlier : float
        Where the standard lies, and where the class lay last season; NaN where not known.
    mark : Mark or None
        None where it is shown and not judged.
    note : str
        The word at its end.
    """

    label: str
    value: float = math.nan
    low: float = math.nan
    high: float = math.nan
    inner_low: float = math.nan
    inner_high: float = math.nan
    floor: float = math.nan
    ceiling: float = math.nan
    level: float = math.nan
    standard: float = math.nan
    earlier: float = math.nan
    mark: Mark | None = None
    note: str = ""
    group: str = ""


def chart_rows(
    labels: Iterable[object],
    *,
    marks: Iterable[Mark | None] | None = None,
    notes: Iterable[object] | None = None,
    groups: Iterable[object] | None = None,
    **numbers: ArrayLike,
) -> tuple[Row, ...]:
    """Rows from columns: `numbers` by the names of `Row`, a column or one value for all of them.

    Examples
    --------
    >>> chart_rows(["brisk"], value=[0.4], floor=-1.0, ceiling=1.0)[0].ceiling
    1.0
    """
    names = [str(label) for label in labels]
    columns = [np.broadcast_to(np.asarray(part, float), len(names)).tolist() for part in numbers.values()]
    shapes = [None] * len(names) if marks is None else list(marks)
    words = [""] * len(names) if notes is None else [str(word) for word in notes]
    heads = [""] * len(names) if groups is None else [said(str(head)) for head in groups]
    return tuple(
        Row(name, mark=shape, note=word, group=head, **dict(zip(numbers, found, strict=True)))
        for name, shape, word, head, *found in zip(names, shapes, words, heads, *columns, strict=True)
    )


@dataclass(frozen=True)
class Chart:
    """What a picture of a result shows: rows on one axis, in the order in which they are read.

    Attributes
    ----------
    title : str
        What the rows are.
    axis : str
        What the axis counts, with its unit.
    rows : tuple of Row
    words : str
        What a row shows: its interval, its thick part, the band.
    zero : float
        Where the line of reference stands; NaN for none.
    ends : tuple of float, optional
        Ends of an axis that has them; by default it holds what is drawn.
    percent : bool
        Shares, to be written as percent.
    band : str
        What lies between floor and ceiling.
    along : str
        What the rows follow one another by, such as session; "" where they stand below one another.
    columns : tuple of Chart
        Charts that hold the same rows in the same order, each on an axis of its own. The rows of this one then carry
        only the label, the word and its mark.
    """

    title: str
    axis: str
    rows: tuple[Row, ...]
    words: str = ""
    zero: float = math.nan
    ends: tuple[float, float] | None = None
    percent: bool = False
    along: str = ""
    band: str = Phrase("what is tolerated")
    columns: tuple[Chart, ...] = ()

    def __post_init__(self) -> None:
        for name in ("title", "axis", "words", "band"):  # as with verdicts: said in the language of its making
            object.__setattr__(self, name, str(getattr(self, name)))


def of_descriptor(table: pd.DataFrame, descriptor: str | None) -> pd.DataFrame:
    """The rows of a table on one descriptor, all of them for None; an unknown one is refused."""
    if descriptor is None:
        return table
    if "descriptor" not in table:
        raise DesignError("this result has no descriptors", where=f"descriptor={descriptor!r}", do="leave it out")
    found = table[table["descriptor"].astype(str) == descriptor]
    if not len(found):
        known = [name for name in dict.fromkeys(table["descriptor"].astype(str)) if name]
        raise DesignError("no such descriptor", where=f"descriptor={descriptor!r}", do=f"choose one of {known}")
    return found


def joined(table: pd.DataFrame, names: Iterable[str]) -> list[str]:
    """What tells the rows apart: the columns of these names that hold more than one value, joined."""
    parts = [table[name].astype(str).where(table[name].notna(), "") for name in names if len(table[name].unique()) > 1]
    return [", ".join(filter(None, row)) for row in zip(*parts, strict=True)] if parts else [""] * len(table)


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

    def chart(self, descriptor: str | None = None) -> Chart:  # noqa: ARG002 - the heirs use it
        """What a picture of it shows, of one descriptor where it has several.

        Raises
        ------
        DesignError
            It holds nothing that can be drawn, or not this descriptor.
        """
        raise DesignError("nothing to draw", where=type(self).__name__, do="read its tables or its verdicts")

    def __repr__(self) -> str:
        return "\n".join(str(verdict) for verdict in self.verdicts)

    def _repr_html_(self) -> str:
        return result_html(self.verdicts, self.tables())


def in_order(verdicts: list[Verdict]) -> tuple[Verdict, ...]:
    """Verdicts by how soon to act; equal ones keep the order in which they were found."""
    return tuple(sorted(verdicts, key=lambda verdict: verdict.act))
