"""How many answers a test needs: the first number that reaches the power, and the one where it settles.

Exact power is a saw-tooth in the number of answers, because the critical number is whole. The first number is what
printed tables give (ISO 4120 Table A.3, ISO 10399 Table A.3: from memory); the settled one is the least from which the
power never falls below its target again, and is what a plan should use.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import betaincinv, gammaln

from panelstats.models.binomial import TIES, at_least, at_most, least_correct, most_correct, normal_number
from panelstats.models.kinds.criterion import unbiased_rates

if TYPE_CHECKING:
    from collections.abc import Callable

    from panelstats.difference.counts.forced import Question

# No tea room serves more; beyond it the number is not worked out.
MOST_ANSWERS = 200_000
# Servings of each kind up to which the power of Fisher's test is enumerated; beyond, the normal approximation is good.
MOST_ENUMERATED = 300


@dataclass(frozen=True)
class Needed:
    """Answers one claim needs.

    Attributes
    ----------
    first, settled : int
        First number with the power, and the least from which the power stays.
    served : int
        Least multiple of the number of serving orders from `settled` on.
    limit : int or None
        At `served`: least right answers that show a difference, or most that show a match; None where no single
        number decides (a-not-a, same-different).
    power : float
        Power at `served`.
    """

    first: int
    settled: int
    served: int
    limit: int | None
    power: float


def difference_power(question: Question, answers: np.ndarray, share_correct: float) -> tuple[np.ndarray, np.ndarray]:
    """Critical number and exact power of the difference test when `share_correct` of the answers come out right."""
    limit = least_correct(answers, question.chance, question.tail)
    power = at_least(limit, answers, share_correct)
    if question.kind.two_sided:
        power = power + at_most(answers - limit, answers, share_correct)
    return limit, power


def match_power(question: Question, answers: np.ndarray, share_correct: float) -> tuple[np.ndarray, np.ndarray]:
    """Largest number right that shows a match, and exact power when `share_correct` of the answers come out right."""
    limit = most_correct(answers, question.at_tolerance, question.match_error)
    power = at_most(limit, answers, share_correct)
    if question.kind.two_sided:
        power = np.maximum(0.0, power - at_most(answers - limit - 1, answers, share_correct))
    return limit, power


@lru_cache(maxsize=512)
def difference_needs(question: Question, power: float) -> Needed | None:
    """Answers that show a difference when as many can tell as the tolerance; None beyond `MOST_ANSWERS`."""
    p = question.at_tolerance
    rough = _rough(question.chance, p, question.tail, power)
    return _scan(lambda n: difference_power(question, n, p), rough, power, len(question.kind.orders))


@lru_cache(maxsize=512)
def match_needs(question: Question, power: float, truth: float) -> Needed | None:
    """Answers that show a match within the tolerance when `truth` of the answers come out right."""
    risk = (1 - power) / 2 if question.kind.two_sided and truth == question.chance else 1 - power
    rough = _rough(truth, question.at_tolerance, question.match_error, 1 - risk)
    return _scan(lambda n: match_power(question, n, truth), rough, power, len(question.kind.orders))


def least_share_found(question: Question, answers: int, power: float) -> float:
    """Least share of tasters who can tell that the difference test finds with this power; NaN where it never does."""
    limit = float(least_correct(answers, question.chance, question.tail))
    if answers == 0 or limit > answers:
        return float("nan")
    p = float(betaincinv(limit, answers - limit + 1, power))
    return (p - question.chance) / (1 - question.chance)


def _rough(p_low: float, p_high: float, error: float, power: float) -> float:
    """Normal approximation, only to know how far to scan."""
    return normal_number(p_low, p_high, _sd(p_low), _sd(p_high), error=error, power=power)


def _sd(share: float) -> float:
    return float(np.sqrt(share * (1 - share)))


def _scan(
    power_at: Callable[[np.ndarray], tuple[np.ndarray, np.ndarray]], rough: float, power: float, orders: int
) -> Needed | None:
    most = int(1.5 * rough) + 60
    while most <= MOST_ANSWERS:
        n = np.arange(1, most + orders + 1)
        limit, reached = power_at(n)
        if (reached[-most // 10 :] >= power).all():  # it has settled well before the end of the scan
            return _needed(n, limit, reached, power, orders)
        most *= 2
    return None


def _needed(n: np.ndarray, limit: np.ndarray, reached: np.ndarray, power: float, orders: int) -> Needed:
    enough = reached >= power
    settled = int(n[~enough].max(initial=0)) + 1
    served = -(-settled // orders) * orders
    at = served - 1
    return Needed(int(n[enough][0]), settled, served, int(limit[at]), float(reached[at]))


@lru_cache(maxsize=64)
def difference_rates_needed(kind: str, d: float, *, error: float, power: float) -> Needed:
    """Answers, half of each kind of serving, at which Fisher's test reaches and keeps the power."""
    hit, false = unbiased_rates(kind, d)
    about = _about(hit, false, error, power)
    most = int(1.6 * about) + 20
    if most > MOST_ENUMERATED:
        return _of_both(about, about, power)
    reached = np.array([fisher_power(n, hit, false, error=error) for n in range(1, most + 1)])
    settled = int(np.flatnonzero(reached < power).max(initial=-1)) + 2
    return _of_both(int(np.argmax(reached >= power)) + 1, settled, float(reached[settled - 1]))


@lru_cache(maxsize=64)
def match_rates_needed(kind: str, d: float, *, error: float, power: float) -> Needed:
    """Answers that show a match within d' when the products are not apart, by the normal approximation."""
    about = _about(*unbiased_rates(kind, d), error, power)
    return _of_both(about, about, power)


def _of_both(first: int, settled: int, power: float) -> Needed:
    """Servings of each kind, told as answers of both."""
    return Needed(2 * first, 2 * settled, 2 * settled, None, power)


def _about(one: float, other: float, error: float, power: float) -> int:
    """Servings of each kind, by the normal approximation for two rates."""
    alike, apart = np.sqrt(2) * _sd((one + other) / 2), float(np.hypot(_sd(one), _sd(other)))
    return int(np.ceil(normal_number(other, one, alike, apart, error=error, power=power)))


def fisher_power(n: int, hit: float, false: float, *, error: float) -> float:
    """Exact power of the one-sided Fisher test with n servings of each kind.

    Examples
    --------
    >>> round(fisher_power(20, 0.8, 0.4, error=0.05), 3)
    0.753
    """
    k = np.arange(n + 1)
    choose = gammaln(n + 1) - gammaln(k + 1) - gammaln(n - k + 1)
    joint = choose[:, None] + choose[None, :]  # log C(n, hits) C(n, false)
    total = k[:, None] + k[None, :]
    all_ = gammaln(2 * n + 1) - gammaln(total + 1) - gammaln(2 * n - total + 1)
    given = np.exp(joint - all_)
    # P(hits or more | total): add along lines of one total, from the most hits down
    tail = given.copy()
    for hits in range(n - 1, -1, -1):
        tail[hits, 1:] += tail[hits + 1, :-1]
    one, other = (np.exp(choose + k * np.log(p) + (n - k) * np.log1p(-p)) for p in (hit, false))
    return float((np.outer(one, other) * (tail <= error * TIES)).sum())
