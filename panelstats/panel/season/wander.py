"""How far each taster's level wanders from session to session beyond its own error, beside the others'."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import chdtri, fdtrc

from panelstats.models.charts import successive
from panelstats.models.meansquares import ratio
from panelstats.models.multiplicity import holm
from panelstats.panel.season.moved import LEVEL

if TYPE_CHECKING:
    from collections.abc import Iterable

    from panelstats.panel.season.charted import Charted

# A wander is told to be far above the others' where it is shown to be, and so many times theirs (ours).
SHOWN, TIMES = 0.05, 1.5
# Differences of successive sessions that a taster's own wander needs (ours).
LEAST_PAIRS = 4


@dataclass(frozen=True, eq=False)
class Wander:
    """Standard deviation of the level between sessions, descriptors together; shape (taster,), NaN where unknown.

    Attributes
    ----------
    sd, low, high : ndarray
        In points, with its interval; 0 where the errors of the sessions explain what is seen.
    others : ndarray
        The same of the other tasters together.
    p : ndarray
        Of the taster's sessions being no further apart than the others', adjusted over tasters (Holm).
    """

    sd: np.ndarray
    low: np.ndarray
    high: np.ndarray
    others: np.ndarray
    p: np.ndarray

    @property
    def far(self) -> np.ndarray:
        """Whose wander is far above the others'."""
        return np.asarray((self.p < SHOWN) & (self.sd > TIMES * self.others))


def wander(charts: Charted, *, level: float = LEVEL) -> Wander:
    """The wander of every taster; charts that alarmed are left out, for a move is no wander.

    Notes
    -----
    Half the mean squared difference of successive sessions (von Neumann 1941) less the sampling variances, its
    interval by chi-square. P such differences count for 2 P^2 / (3 P - 1) degrees of freedom, times the effective
    number of descriptors, D^2 over the sum of their squared correlations. The test is F on the squares divided by
    what the panel's own variance between sessions makes them.
    """
    value = np.where(charts.alarmed, np.nan, charts.series.value)
    difference, sampling = successive(value, charts.series.se)
    pairs = np.isfinite(difference).any(axis=2).sum(axis=0)
    kept = (pairs >= LEAST_PAIRS) & (np.isfinite(difference).sum(axis=(0, 2)) > 0)
    expected = sampling + 2 * charts.between
    df = np.where(kept, 2 * pairs**2 / np.maximum(3 * pairs - 1, 1) * _descriptors(difference, expected), np.nan)
    seen, error = _mean(difference**2) / 2, _mean(sampling) / 2
    share = _mean(difference**2 / np.where(expected > 0, expected, np.nan))
    rest_df, tail = _others(df), (1 - level) / 2
    p = fdtrc(df, rest_df, ratio(share, ratio(_others(df * share), rest_df)))
    return Wander(
        sd=_root(seen - error, kept),
        low=_root(seen * df / chdtri(df, tail) - error, kept),
        high=_root(seen * df / chdtri(df, 1 - tail) - error, kept),
        others=_root(ratio(_others(df * (seen - error)), rest_df), kept),
        p=holm(np.where(rest_df > 0, p, np.nan)),
    )


def by_taster(found: Wander | None, tasters: Iterable[object]) -> dict[str, tuple[float, ...]]:
    """The numbers of each taster, in the order of the table's columns; none where no level was charted."""
    if found is None:
        return {}
    columns = (found.sd, found.low, found.high, found.others, found.p)
    return {str(name): tuple(map(float, row)) for name, *row in zip(tasters, *columns, strict=True)}


def _descriptors(difference: np.ndarray, expected: np.ndarray) -> np.ndarray:
    """Effective number of descriptors of each taster, by the correlations of all tasters' differences."""
    z = (difference / np.sqrt(np.where(expected > 0, expected, np.nan))).reshape(-1, difference.shape[2])
    there = np.isfinite(z).astype(float)
    both = there.T @ there
    z = np.nan_to_num(z)
    squares = z.T**2 @ there
    r2 = np.nan_to_num(ratio((z.T @ z) ** 2, squares * squares.T))
    r2 = np.clip((r2 * both - 1) / np.maximum(both - 1, 1), 0.0, 1.0)  # less what chance makes of none
    np.fill_diagonal(r2, 1.0)
    met = np.isfinite(difference).any(axis=0).astype(float)  # (taster, descriptor)
    return ratio(met.sum(axis=1) ** 2, ((met @ r2) * met).sum(axis=1))


def _mean(values: np.ndarray) -> np.ndarray:
    """Mean over sessions and descriptors of what is there, (taster,)."""
    there = np.isfinite(values)
    return ratio(np.where(there, values, 0.0).sum(axis=(0, 2)), there.sum(axis=(0, 2)))


def _others(values: np.ndarray) -> np.ndarray:
    """Sum over the other tasters."""
    counted = np.nan_to_num(values)
    return np.asarray(counted.sum() - counted)


def _root(variance: np.ndarray, kept: np.ndarray) -> np.ndarray:
    return np.where(kept, np.sqrt(np.maximum(variance, 0.0)), np.nan)
