"""Several guessed or detected answers from each of several people: a beta-binomial with guessing taken apart.

Each truly detects a share pi of the servings, pi is beta with mean mu and intra-taster correlation gamma, and
what is not detected is guessed: P(right) = c + (1 - c) pi. Expanding the binomial in the guessed answers gives a sum of
positive terms, exact on the whole closed square of (mu, gamma): gamma = 0 is the binomial, gamma = 1 all or nothing,
mu = 0 pure guessing.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import chdtrc, chdtri, gammaln

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

# Zooming grid: points a side, how far each round narrows, rounds. Ends below 1e-9 on [0, 1].
POINTS, NARROW, ROUNDS = 17, 0.25, 13
# Correlations at which few people are held against a share: from abilities that differ somewhat to all or none.
CORRELATIONS = (0.25, 0.5, 0.75, 1.0)
# Log-likelihood ratios are counted in steps, up to so many either way for one of the people.
LOG_STEP, MOST_STEPS = 0.02, 600


@dataclass(frozen=True, eq=False)
class Replicates:
    """Distinct results (correct, answers) with how many tasters gave each, and the chance of the kind."""

    correct: np.ndarray
    answers: np.ndarray
    tasters: np.ndarray
    chance: float

    @classmethod
    def of(cls, correct: ArrayLike, answers: ArrayLike, chance: float) -> Replicates:
        """Group the tasters by result; who answered nothing says nothing."""
        both = np.stack(np.broadcast_arrays(correct, answers)).astype(int)
        distinct, tasters = np.unique(both[:, both[1] > 0], axis=1, return_counts=True)
        return cls(distinct[0], distinct[1], tasters, chance)

    @property
    def pooled(self) -> float:
        """Share of tasters who can tell if all were alike: the estimate at gamma = 0."""
        right = np.dot(self.correct, self.tasters) / np.dot(self.answers, self.tasters)
        return float(max(0.0, (right - self.chance) / (1 - self.chance)))


@dataclass(frozen=True)
class Fit:
    """Maximum-likelihood fit: mean share who can tell, correlation within tasters, and the test that they are alike.

    `gamma` is NaN where `mu` is 0: among guesses no taster can differ from another.
    """

    mu: float
    gamma: float
    loglik: float
    loglik_alike: float
    p_alike: float

    @property
    def ratio(self) -> float:
        """Likelihood-ratio statistic of gamma = 0."""
        return max(0.0, 2 * (self.loglik - self.loglik_alike))


def _log(x: np.ndarray) -> np.ndarray:
    with np.errstate(divide="ignore"):
        return np.log(x)


def _log_sum(logs: np.ndarray) -> np.ndarray:
    """Logarithm of the sum over the first axis; several times faster on small arrays than the general routine."""
    top = logs.max(axis=0)
    top = np.where(np.isfinite(top), top, 0.0)
    return top + _log(np.exp(logs - top).sum(axis=0))


def log_terms(data: Replicates, mu: np.ndarray, gamma: np.ndarray) -> list[np.ndarray]:
    """Logarithms of the terms of P(x | n) by number truly detected, one array (x + 1, ...) per distinct result."""
    mu, gamma = np.broadcast_arrays(np.asarray(mu, float), np.asarray(gamma, float))
    most = int(data.answers.max(initial=1))
    i = np.arange(1, most).reshape(-1, *[1] * mu.ndim)
    zero = np.zeros((1, *mu.shape))
    # products of mu(1-gamma) + i gamma and their like; the factors at i = 0 are taken apart, so that no 0 / 0 arises
    hit, miss, all_ = (
        np.concatenate([zero, zero, np.cumsum(_log(start + i * gamma), axis=0)])
        for start in (mu * (1 - gamma), (1 - mu) * (1 - gamma), 1 - gamma)
    )
    some_hit, some_miss, both = _log(mu), _log(1 - mu), _log(1 - gamma)
    terms = []
    for x, n in zip(data.correct, data.answers, strict=True):
        j = np.arange(x + 1)
        m = n - x
        choose = gammaln(n + 1) - gammaln(m + 1) - gammaln(j + 1) - gammaln(x - j + 1)
        guessed = choose + (x - j) * np.log(data.chance) + (n - x + j) * np.log1p(-data.chance)
        log_r = hit[j] + miss[m] - all_[j + m]
        log_r[1:] += some_hit
        if m > 0:
            log_r += some_miss
            log_r[1:] += both
        terms.append(guessed.reshape(-1, *[1] * mu.ndim) + log_r)
    return terms


def loglik(data: Replicates, mu: ArrayLike, gamma: ArrayLike) -> np.ndarray:
    """Log-likelihood, whole grids of (mu, gamma) at once; binomial coefficients are part of it.

    Parameters
    ----------
    data : Replicates
        Results of the tasters.
    mu, gamma : array_like in [0, 1]
        Mean share who can tell, and correlation within tasters; broadcast.

    Returns
    -------
    ndarray
        Shape of the broadcast.
    """
    parts = log_terms(data, np.asarray(mu, float), np.asarray(gamma, float))
    return sum(count * _log_sum(part) for part, count in zip(parts, data.tasters, strict=True))


def probability(correct: int, answers: int, *, mu: float, gamma: float, chance: float) -> float:
    """P(correct of answers) for one taster drawn at random.

    Examples
    --------
    >>> round(probability(4, 4, mu=0.3, gamma=0.4, chance=1 / 3), 6)
    0.160095
    """
    return float(np.exp(loglik(Replicates.of([correct], [answers], chance), mu, gamma)))


def fit(data: Replicates) -> Fit:
    """Fit the model, where anybody answered twice; the edges of the square are on the grid, so that none is missed."""
    mu, gamma = _zoom(data)
    best = float(loglik(data, mu, gamma))
    alike = float(loglik(data, data.pooled, 0.0))
    if alike >= best - 1e-10:
        mu, gamma, best = data.pooled, 0.0, alike
    p = 0.5 * float(chdtrc(1, 2 * (best - alike))) if best > alike else 1.0
    return Fit(mu, gamma if mu > 0 else float("nan"), best, alike, p)


def _zoom(data: Replicates) -> tuple[float, float]:
    """The best of a grid that narrows about the best of the one before, held inside the square."""
    centre, half = np.array([0.5, 0.5]), 0.5
    for _ in range(ROUNDS):
        axes = [np.clip(np.linspace(c - half, c + half, POINTS), 0.0, 1.0) for c in centre]
        grid = loglik(data, axes[0][:, None], axes[1][None, :])
        at = np.unravel_index(int(np.argmax(grid)), grid.shape)
        centre = np.array([axes[0][at[0]], axes[1][at[1]]])
        half *= NARROW
    return float(centre[0]), float(centre[1])


def profile(data: Replicates, mu: ArrayLike) -> np.ndarray:
    """Log-likelihood of each mu (a vector), the correlation within tasters maximised away."""
    mu = np.atleast_1d(np.asarray(mu, float))
    centre, half, best = np.full(len(mu), 0.5), 0.5, np.full(len(mu), -np.inf)
    for _ in range(ROUNDS // 2):  # gamma itself is not wanted, and the likelihood is flat about its best
        gamma = np.clip(centre[:, None] + np.linspace(-half, half, POINTS), 0.0, 1.0)  # (mu, gamma)
        values = loglik(data, mu[:, None], gamma)
        at = np.argmax(values, axis=1)[:, None]
        best = np.maximum(best, np.take_along_axis(values, at, axis=1)[:, 0])
        centre = np.take_along_axis(gamma, at, axis=1)[:, 0]
        half *= NARROW
    return best


def profile_limits(
    data: Replicates, fitted: Fit, *, below: float | None = None, above: float | None = None
) -> tuple[float, float]:
    """One-sided profile-likelihood limits of mu, each at its own error rate; 0 and 1 where none is asked for."""
    low = _crossing(data, fitted, 0.0, below) if below is not None and fitted.mu > 0 else 0.0
    high = _crossing(data, fitted, 1.0, above) if above is not None and fitted.mu < 1 else 1.0
    return low, high


def _crossing(data: Replicates, fitted: Fit, outer: float, rate: float) -> float:
    """Where the profile falls by the drop of this rate, between the fit and an end; the end where it never does."""
    least = fitted.loglik - float(chdtri(1, 2 * rate)) / 2
    inner = fitted.mu
    for _ in range(5):  # each round narrows sixteenfold: ends below 1e-6
        steps = np.linspace(inner, outer, POINTS)
        inside = profile(data, steps) >= least
        if inside.all():
            return outer
        first_out = int(np.argmin(inside[1:])) + 1
        inner, outer = steps[first_out - 1], steps[first_out]
    return float((inner + outer) / 2)


def few_people_p(data: Replicates, mu: float) -> float:
    """P(the answers speak as much for "nobody can tell"), if a share mu can: the worst of several correlations.

    The profile likelihood needs many people; this holds for few. The statistic is the log-likelihood ratio of mu = 0
    against (mu, gamma), summed over people (Neyman & Pearson 1933) and rounded, so that its distribution is counted
    out. At gamma = 1 it is the number of people who were right every time.

    Examples
    --------
    >>> round(few_people_p(Replicates.of([3, 4, 2, 3, 3], 10, 1 / 3), 0.3), 3)
    0.168
    """
    gamma = np.array(CORRELATIONS)
    people = {int(n): int(data.tasters[data.answers == n].sum()) for n in np.unique(data.answers)}
    width = 2 * MOST_STEPS * sum(people.values()) + 1
    seen, spectrum = np.zeros(len(gamma), int), np.ones((len(gamma), width // 2 + 1), complex)
    for n, count in people.items():
        each = [Replicates.of([x], [n], data.chance) for x in range(n + 1)]
        able = np.array([loglik(one, mu, gamma) for one in each])  # (right, gamma)
        guessing = np.array([loglik(one, 0.0, 0.0) for one in each])[:, None]
        steps = np.rint(np.clip((guessing - able) / LOG_STEP, -MOST_STEPS, MOST_STEPS)).astype(int)
        chances = np.zeros((len(gamma), width))
        for g in range(len(gamma)):
            np.add.at(chances[g], steps[:, g] + MOST_STEPS, np.exp(able[:, g]))
        spectrum *= np.fft.rfft(chances, axis=1) ** count
        of_n = data.answers == n
        seen += data.tasters[of_n] @ steps[data.correct[of_n]] + count * MOST_STEPS
    sums = np.fft.irfft(spectrum, width, axis=1)
    return float(np.clip([sums[g, seen[g] :].sum() for g in range(len(gamma))], 0.0, 1.0).max())


def few_people_limit(data: Replicates, rate: float) -> float:
    """Upper limit of mu at this one-sided error rate: the largest that `few_people_p` does not reject."""
    low, high = 0.0, 1.0
    if few_people_p(data, high) > rate:
        return high
    for _ in range(20):
        middle = (low + high) / 2
        low, high = (middle, high) if few_people_p(data, middle) > rate else (low, middle)
    return high


def abilities(data: Replicates, fitted: Fit, correct: ArrayLike, answers: ArrayLike) -> np.ndarray:
    """Expected share each taster truly detects, given his answers and the panel: drawn towards the mean."""
    gamma = 0.0 if np.isnan(fitted.gamma) else fitted.gamma
    each = np.stack(np.broadcast_arrays(correct, answers)).astype(int)
    found = np.full(each.shape[1], fitted.mu)
    for at, (x, n) in enumerate(each.T):
        if n == 0 or gamma == 0:
            continue
        (terms,) = log_terms(Replicates.of([x], [n], data.chance), np.asarray(fitted.mu), np.asarray(gamma))
        weight = np.exp(terms - _log_sum(terms))
        total = (1 - gamma) / gamma  # a + b of the beta distribution; 0 where gamma is 1
        seen = np.arange(x + 1) + n - x  # answers that bear on the ability; none of them leaves the panel's mean
        mean = (total * fitted.mu + np.arange(x + 1)) / np.where(total + seen > 0, total + seen, 1.0)
        found[at] = np.dot(weight, np.where(total + seen > 0, mean, fitted.mu))
    return found
