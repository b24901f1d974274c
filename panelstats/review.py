"""The review: what was found about a question, in reading order, ready for a page or a workbook."""

from __future__ import annotations

import re
from dataclasses import dataclass
from html import escape
from typing import TYPE_CHECKING, TypeVar

from panelstats.errors import DesignError
from panelstats.notebook import sentences_html
from panelstats.result import Result, Verdict, in_order
from panelstats.speech import said
from panelstats.words import count

if TYPE_CHECKING:
    from pathlib import Path

    import pandas as pd

    from panelstats.scores.cells import Cells
    from panelstats.scores.table import Scores

_Kind = TypeVar("_Kind", bound=Result)


@dataclass(frozen=True, eq=False, repr=False)
class Review:
    """A question put to some data, and what was found: all that a page, a workbook or a terminal needs.

    Attributes
    ----------
    title, question : str
        What it is about, and what was asked of it.
    results : tuple of (str, Result)
        The results in page order, each with its title.
    scores : Scores or None
        What they were made from, with the account of all that was read; None where no scores were needed.
    session : str
        The session under review; "" where there are several or none.
    source : str
        Where there are no scores: what the results were made from.
    read : tuple of Path
        Files that were read besides those of `scores`.
    cells : Cells or None
        What they were made from where a season was read partition by partition, and its scores were not kept.
    """

    title: str
    question: str
    results: tuple[tuple[str, Result], ...]
    scores: Scores | None = None
    session: str = ""
    source: str = ""
    read: tuple[Path, ...] = ()
    cells: Cells | None = None

    @property
    def records(self) -> dict[str, pd.DataFrame]:
        """The account of what was read and what was set aside; what was inferred, where scores were kept."""
        if self.scores is not None:
            return {name: getattr(self.scores, name) for name in ("account", "problems", "inferred")}
        return {} if self.cells is None else {"account": self.cells.account, "problems": self.cells.problems}

    @property
    def said(self) -> tuple[str, ...]:
        """Sentences about what changed who or what was read."""
        if self.scores is not None:
            return self.scores.said
        if self.cells is None:
            return ()
        files = count(len(self.cells.account), "file")
        partwise = (
            f"Read one partition at a time, {files}: only what the audit needs was kept. Faults, remarks and places in "
            "the row were read and checked, and are not told here; for them review a session alone."
        )
        spelled = (
            f"{key} {old!r} of one partition is taken as {new!r}, another spelling of the same name."
            for key, old, new in self.cells.spelled
        )
        return (partwise, *spelled)

    @property
    def files(self) -> tuple[Path, ...]:
        """Every file that was read: no page or workbook is written over one of them."""
        return self.read if self.scores is None else self.scores.files + self.read

    @property
    def verdicts(self) -> tuple[Verdict, ...]:
        """Every verdict, what to act on first; equal ones in page order."""
        return in_order([verdict for _, result in self.results for verdict in result.verdicts])

    def find(self, kind: type[_Kind]) -> _Kind | None:
        """The first result of a kind, None if there is none."""
        return next((result for _, result in self.results if isinstance(result, kind)), None)

    def __repr__(self) -> str:
        return "\n".join(map(str, (self.title, *self.verdicts)))

    def _repr_html_(self) -> str:
        return f"<h2>{escape(self.title)}</h2>{sentences_html(self.verdicts)}"


def as_review(given: Review | Result) -> Review:
    """A review as it is; a single result as a review of its own.

    Examples
    --------
    >>> import panelstats as pst
    >>> as_review(pst.difference_test("triangle", correct=19, answers=36)).title
    'Difference test'
    """
    if isinstance(given, Review):
        return given
    if not isinstance(given, Result):
        raise DesignError("neither a review nor a result", where=f"{type(given).__name__} given",
                          do="give what a review, such as review_session, or an analysis returned")  # fmt: skip
    title = re.sub(r"(?<=[a-z])(?=[A-Z])", " ", type(given).__name__).capitalize()
    question = next((verdict.question for verdict in given.verdicts), title)
    return Review(said(title), question, ((title, given),))
