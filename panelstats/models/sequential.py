"""Wald's two lines for a row of right and wrong answers, with exact risks and expected numbers of trials.

The lines ignore by how much a path oversteps them, so risks and trials are computed by following the distribution of
the number right among the undecided, one step a trial.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

# A count on a line has reached it, whatever the rounding of the line.
ON_LINE = 1e-12
# Longest screening looked for, in trials.
MOST_TRIALS = 1000


@dataclass(frozen=True)
class Lines:
    """Two parallel lines for the number right: pass on or above slope * n + above, fail on or below slope * n - below.

    Attributes
    ----------
    p0, p1 : float
        Share right of who should fail, and of who should pass; p0 below p1.
    wrong_pass, wrong_fail : float
        Risks accepted at p0 and at p1, below 1 together.
    """

    p0: float
    p1: float
    wrong_pass: float
    wrong_fail: float

    @property
    def _odds(self) -> float:
        return float(np.log(self.p1 * (1 - self.p0) / (self.p0 * (1 - self.p1))))

    @property
    def slope(self) -> float:
        """Rise of both lines per trial."""
        return float(np.log((1 - self.p0) / (1 - self.p1)) / self._odds)

    @property
    def above(self) -> float:
        """Height of the pass line at no trial."""
        return float(np.log((1 - self.wrong_fail) / self.wrong_pass) / self._odds)

    @property
    def below(self) -> float:
        """Depth of the fail line at no trial."""
        return float(np.log((1 - self.wrong_pass) / self.wrong_fail) / self._odds)

    def passes(self, trial: np.ndarray) -> np.ndarray:
        """Least number right that passes after each trial; more than the trials where none can yet."""
        return np.ceil(self.slope * trial + self.above - ON_LINE)

    def fails(self, trial: np.ndarray) -> np.ndarray:
        """Largest number right that fails after each trial; negative where none can yet."""
        return np.floor(self.slope * trial - self.below + ON_LINE)

    def passes_at_the_end(self, trial: int) -> int:
        """Least number right that passes at the last trial: the nearer line decides."""
        return int(np.ceil(self.slope * trial + (self.above - self.below) / 2 - ON_LINE))


@dataclass(frozen=True, eq=False)
class Course:
    """Where somebody who is right with a given probability stands after each trial; arrays by trial, from 1.

    Attributes
    ----------
    passed, failed, undecided : ndarray
        Chances so far.
    trials : ndarray
        Expected number of trials if screening ended here.
    closing : ndarray
        Chance of having passed if this were the last trial and the nearer line decided.
    """

    passed: np.ndarray
    failed: np.ndarray
    undecided: np.ndarray
    trials: np.ndarray
    closing: np.ndarray


def course(lines: Lines, p: float, trials: int) -> Course:
    """Follow the number right among the undecided, exactly."""
    at = np.arange(1, trials + 1)
    upper, lower = lines.passes(at), lines.fails(at)
    open_ = np.zeros(trials + 2)
    open_[0] = 1.0
    right = np.arange(trials + 2)
    passed = failed = expected = 0.0
    rows = []
    for n in at:
        expected += open_.sum()
        open_ = open_ * (1 - p) + np.concatenate([[0.0], open_[:-1]]) * p
        up, down = right >= upper[n - 1], right <= lower[n - 1]
        passed, failed = passed + open_[up].sum(), failed + open_[down].sum()
        open_[up | down] = 0.0
        closing = passed + open_[right >= lines.passes_at_the_end(int(n))].sum()
        rows.append((passed, failed, open_.sum(), expected, closing))
    return Course(*np.array(rows).T)


@lru_cache(maxsize=64)
def shortest(lines: Lines) -> int | None:
    """Least number of trials after which the nearer line may decide without either risk being broken."""
    most = 64
    while most <= MOST_TRIALS:
        good = (course(lines, lines.p0, most).closing <= lines.wrong_pass) & (
            1 - course(lines, lines.p1, most).closing <= lines.wrong_fail
        )
        if good.any():
            return int(np.argmax(good)) + 1
        most *= 2
    return None
