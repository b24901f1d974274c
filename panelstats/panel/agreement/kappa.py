"""Agreement of graded calls beyond chance: weighted kappa."""

from __future__ import annotations

import numpy as np
from scipy import special

from panelstats.arguments import checked
from panelstats.arguments.amounts import counts
from panelstats.arguments.wording import one_of
from panelstats.errors import DesignError
from panelstats.models.meansquares import ratio
from panelstats.result import Estimate

# Below this many calls kappa's interval is resampled, so many times.
FEW_CALLS, RESAMPLES = 30, 4000


@checked(counts=counts, weights=one_of("quadratic", "linear", "none"))
def weighted_kappa(counts: np.ndarray, *, weights: str = "quadratic", level: float = 0.95, seed: int = 0) -> Estimate:
    """Agreement of graded calls beyond chance.

    Parameters
    ----------
    counts : ndarray, shape (grade, grade)
        Number of lots by the one's call (rows) and the other's (columns), grades in order.
    weights : {"quadratic", "linear", "none"}
        How a call one grade off counts: quadratic comes close to an intraclass correlation.
    seed : int
        Of the resampling below 30 lots.

    Returns
    -------
    Estimate
        Large-sample interval (Fleiss, Cohen & Everitt 1969, Psychol. Bull. 72: 323), below 30 lots by resampling the
        lots; NaN where either side called one grade only. How often each grade was called decides what a value can
        mean: show the counts beside it.

    Raises
    ------
    DesignError
        `weights` is none of the words, or the table is not square.

    Examples
    --------
    >>> found = weighted_kappa(np.array([[20, 4, 0], [3, 15, 2], [0, 3, 13]]))
    >>> print(f"{found.value:.2f} ({found.low:.2f} to {found.high:.2f})")
    0.84 (0.75 to 0.93)
    """
    counts = np.asarray(counts, float)
    if counts.ndim != 2 or counts.shape[0] != counts.shape[1]:
        raise DesignError("grades are not the same on both sides", where=f"shape {counts.shape}", do="one row a grade")
    credit = _credit(len(counts), weights)
    n = int(counts.sum())
    value = float(_kappa(ratio(counts, n), credit))
    tail = (1 - level) / 2
    one_grade = min((counts.sum(axis=axis) > 0).sum() for axis in (0, 1)) < 2
    if one_grade:  # no call could have agreed beyond chance, however many there are
        return Estimate(value, level=level)
    if n < FEW_CALLS:
        draws = np.random.default_rng(seed).multinomial(n, (counts / n).ravel(), RESAMPLES)
        low, high = np.nanquantile(_kappa(draws.reshape(-1, *counts.shape) / n, credit), [tail, 1 - tail])
        return Estimate(value, float(low), float(high), level)
    reach = float(special.ndtri(1 - tail)) * _kappa_se(counts, weights)
    return Estimate(value, max(value - reach, -1.0), min(value + reach, 1.0), level)


def _kappa(p: np.ndarray, credit: np.ndarray) -> np.ndarray:
    """Kappa of tables of shares, (..., grade, grade); NaN where both sides gave one grade only."""
    row, column = p.sum(axis=-1), p.sum(axis=-2)
    observed = (credit * p).sum(axis=(-2, -1))
    expected = np.einsum("...i,ij,...j->...", row, credit, column)
    return ratio(observed - expected, 1 - expected)


def _kappa_se(counts: np.ndarray, weights: str) -> float:
    """Large-sample standard error of kappa."""
    from statsmodels.stats.inter_rater import cohens_kappa  # noqa: PLC0415 - takes seconds to load, used here alone

    with np.errstate(invalid="ignore"):  # its largest possible kappa, which nobody asked for, may be 0 / 0
        return float(cohens_kappa(counts, wt=None if weights == "none" else weights).std_kappa)


def _credit(grades: int, weights: str) -> np.ndarray:
    """Credit of each pair of calls, 1 for the same grade."""
    apart = np.abs(np.subtract.outer(np.arange(grades), np.arange(grades))) / max(grades - 1, 1)
    rules = {"quadratic": 1 - apart**2, "linear": 1 - apart, "none": (apart == 0).astype(float)}
    return rules[weights]
