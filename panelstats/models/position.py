"""Does the place of a serving sway the answer? A score test of place against what was served, answer by answer."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import chdtrc

# Below so many answers the chi-square is not trusted and the p-value comes from simulation under no bias.
FEW_ANSWERS = 24
DRAWS = 4000


@dataclass(frozen=True)
class PositionTest:
    """Score test of position bias; statistic and p are NaN where it cannot be checked."""

    statistic: float
    df: int
    p: float
    answers: int


def position_test(right: np.ndarray, chosen: np.ndarray, places: int, *, seed: int = 0) -> PositionTest:
    """Test whether some place is chosen more often than the answers to what was served explain.

    Parameters
    ----------
    right, chosen : ndarray of int, shape (answer,)
        Place of the right answer and place chosen, from 0. For tests that name pairs, "places" are the possible pairs.
    places : int
        Number of places M.
    seed : int
        Seed of the simulation that stands in for the chi-square below 24 answers.

    Returns
    -------
    PositionTest
        NaN where nothing or everything is right: what was served then explains every answer.

    Notes
    -----
    Conditional logit, weight of place k proportional to exp(b_k + delta [k is right]); score test of b = 0 with delta
    estimated, chi-square on M - 1. Simulated size at 5 %: 4.1 to 6.1 % from 24 answers on.

    Examples
    --------
    >>> right = np.repeat([0, 1, 2], 12)
    >>> chosen = np.repeat([0, 1, 2, 0, 1, 2, 0, 1, 2], [4, 7, 1, 1, 10, 1, 1, 7, 4])
    >>> round(position_test(right, chosen, 3).statistic, 6)
    19.2
    """
    statistic = _score(right, chosen[None], places)[0]
    if np.isnan(statistic) or len(right) >= FEW_ANSWERS:
        return PositionTest(float(statistic), places - 1, float(chdtrc(places - 1, statistic)), len(right))
    share = (right == chosen).mean()
    rng = np.random.default_rng(seed)
    others = (right + rng.integers(1, places, (DRAWS, len(right)))) % places
    drawn = np.where(rng.random((DRAWS, len(right))) < share, right, others)
    against = _score(right, drawn, places)
    against = against[~np.isnan(against)]
    p = (1 + (against >= statistic - 1e-9).sum()) / (1 + len(against))
    return PositionTest(float(statistic), places - 1, float(p), len(right))


def _score(right: np.ndarray, chosen: np.ndarray, places: int) -> np.ndarray:
    """Score statistic of each row of answers (draw, answer); NaN where the information is singular."""
    n, m = len(right), places
    if n == 0:
        return np.full(len(chosen), np.nan)
    share = (chosen == right).mean(axis=1)  # (draw,)
    inside = (share > 0) & (share < 1)
    p = np.where(inside, share, 0.5)[:, None]
    served = np.bincount(right, minlength=m) / n  # how often each place held the right one
    expected = n * (p * served + (1 - p) * (1 - served) / (m - 1))  # (draw, place)
    observed = (chosen[:, :, None] == np.arange(m)).sum(axis=1)
    score = (observed - expected)[:, : m - 1]
    shares, at = np.unique(p[:, 0], return_inverse=True)  # few values: the information need not be inverted per draw
    # the score of "holds the right one" is 0 at its estimate, so only the block for places counts
    block = np.linalg.pinv(_information(served, shares, m) * n)[:, : m - 1, : m - 1]
    return np.where(inside, np.einsum("di,dij,dj->d", score, block[at], score), np.nan)


def _information(served: np.ndarray, p: np.ndarray, m: int) -> np.ndarray:
    """Information of one answer about (b_1 .. b_(m-1), delta), averaged over what was served: (draw, m, m)."""
    total = np.zeros((len(p), m, m))
    for place in range(m):
        chances = np.repeat(((1 - p) / (m - 1))[:, None], m, axis=1)
        chances[:, place] = p
        spread = chances[:, :, None] * (np.eye(m) - chances[:, None, :])  # diag(pi) - pi pi'
        design = np.eye(m)
        design[:, m - 1] = 0.0
        design[place, m - 1] = 1.0  # columns: the first m - 1 places, then "holds the right one"
        total += served[place] * np.einsum("ki,dkl,lj->dij", design, spread, design)
    return total
