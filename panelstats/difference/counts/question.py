"""The question put to a forced-choice test, and its counts, checked once: everything behind this door trusts them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from panelstats.errors import DesignError
from panelstats.models.kinds import Kind, forced_kind, share_correct

if TYPE_CHECKING:
    from numpy.typing import ArrayLike


@dataclass(frozen=True)
class Question:
    """What is asked of one kind of test, with the risks accepted.

    Attributes
    ----------
    kind : Kind
        A forced choice.
    error, match_error : float in (0, 1)
        Chance accepted of calling products different that nobody can tell, and of calling a match at the tolerance.
    share : float or None
        Tolerance as the share of tasters who can tell; None where no match is asked about.
    d : float or None
        The tolerance as d' if it was declared so.
    """

    kind: Kind
    error: float
    match_error: float
    share: float | None = None
    d: float | None = None

    @property
    def chance(self) -> float:
        """Share of right answers when nobody can tell."""
        return self.kind.guess

    @property
    def at_tolerance(self) -> float:
        """Share of right answers when as many can tell as the tolerance allows."""
        return self.chance + (1 - self.chance) * (self.share or 0.0)

    @property
    def tail(self) -> float:
        """Error rate of the difference test in one tail."""
        return self.error / 2 if self.kind.two_sided else self.error


@dataclass(frozen=True, eq=False)
class Counts:
    """Right answers of served sets, blanks among them; float arrays of one shape."""

    correct: np.ndarray
    answers: np.ndarray
    blanks: np.ndarray


def ask(
    kind: str, *, error: float, match_error: float, within_share: float | None = None, within_d: float | None = None
) -> Question:
    """The question with its arguments checked; one tolerance at most.

    Examples
    --------
    >>> round(ask("triangle", error=0.05, match_error=0.05, within_d=1.0).share, 3)
    0.127
    """
    this = forced_kind(kind)
    return Question(this, error, match_error, tolerated_share(this, within_share, within_d), within_d)


def tolerated_share(kind: Kind, within_share: float | None, within_d: float | None) -> float | None:
    """The tolerance as a share of tasters who can tell, from whichever of the two was declared."""
    if within_share is not None and within_d is not None:
        raise DesignError(
            "two tolerances", where=f"within_share={within_share!r}, within_d={within_d!r}", do="declare one of the two"
        )
    if within_d is not None:
        return float((share_correct(kind.name, within_d) - kind.guess) / (1 - kind.guess))
    return within_share


def counts_of(correct: ArrayLike, answers: ArrayLike, blanks: ArrayLike = 0) -> Counts:
    """Counts, checked: whole, not negative, and no more right answers than sets that were answered.

    Examples
    --------
    >>> counts_of([3, 4], 12).answers
    array([12., 12.])
    """
    named = {"correct": correct, "answers": answers, "blanks": blanks}
    arrays = np.broadcast_arrays(*(np.asarray(value, float) for value in named.values()))
    counts = Counts(*arrays)
    if (counts.correct + counts.blanks > counts.answers).any():
        raise DesignError(
            "more right and blank answers than answers",
            where=f"correct={correct!r}, blanks={blanks!r}, answers={answers!r}",
            do="answers counts every set served, right, wrong and blank",
        )
    return counts
