"""The level of a day along the row: a line through what was served again, and how much of it to take off.

A level that left its line is told and followed by `daywalk`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import stdtrit

# Fewer repeated servings of controls carry no correction unless the row itself was randomised (ours).
LEAST_CONTROLS = 5
BEYOND_LUCK = 2.0  # standard errors from which a fall is told on the first page


@dataclass(frozen=True, eq=False)
class DayLine:
    """Change of the level from the first place (0) to the last (1), shape (descriptor,) each, in points.

    Attributes
    ----------
    change, se, low, high : ndarray
        NaN where nothing was served again.
    factor : ndarray
        Share of the line that is taken off, 0 to 1.
    """

    change: np.ndarray
    se: np.ndarray
    low: np.ndarray
    high: np.ndarray
    factor: np.ndarray

    @property
    def taken(self) -> np.ndarray:
        """What is taken off over the whole day, in points."""
        return np.where(np.isfinite(self.change), self.factor * self.change, 0.0)

    def left(self, away: np.ndarray) -> np.ndarray:
        """Variance that the line leaves in a score so far `away` from the mean place: shape (..., descriptor)."""
        rest = self.se**2 + ((1 - self.factor) * self.change) ** 2
        return np.where(np.isfinite(rest), rest, 0.0) * away**2


def day_line(
    value: np.ndarray,
    place: np.ndarray,
    group: np.ndarray,
    variance: np.ndarray,
    *,
    df: np.ndarray,
    correct: bool,
    level: float = 0.95,
) -> DayLine:
    """Fit the line with a level of its own for each group.

    Parameters
    ----------
    value : ndarray, shape (serving, descriptor)
        Panel means; NaN where not scored.
    place : ndarray, shape (serving,)
        0 for the first of the day, 1 for the last.
    group : ndarray of int, shape (serving,)
        What is the same tea: a control, a repeated lot; all single lots of a class where the row was randomised.
    variance : ndarray, shape (serving, descriptor)
        Variance of each value about its group's level.
    df : ndarray, shape (descriptor,)
        Degrees of freedom behind `variance`.
    correct : bool
        Whether anything may be taken off; else the line is only shown.
    level : float in (0, 1)

    Returns
    -------
    DayLine

    Notes
    -----
    Weighted least squares. Share taken off: max(0, 1 - 1/t^2), t = change / se (James & Stein 1961): a line that luck
    explains is left alone.

    Examples
    --------
    >>> line = day_line(np.array([[6.0], [5.5], [5.5], [5.0], [5.0]]), np.linspace(0, 1, 5), np.zeros(5, int),
    ...     np.full((5, 1), 0.04), df=np.array([20.0]), correct=True)
    >>> print(line.change.round(2), line.factor.round(2))
    [-1.] [0.94]
    """
    seen = np.isfinite(value) & np.isfinite(place)[:, None]
    w = np.where(seen, 1 / np.maximum(variance, 1e-300), 0.0)
    x = _centred(np.broadcast_to(np.nan_to_num(place)[:, None], value.shape), w, group)
    y = _centred(np.where(seen, value, 0.0), w, group)
    square = (w * x**2).sum(axis=0)
    known = square > 1e-12 * w.sum(axis=0)
    square = np.where(known, square, np.nan)
    change, se = (w * x * y).sum(axis=0) / square, 1 / np.sqrt(square)
    t = change / se
    with np.errstate(divide="ignore", invalid="ignore"):
        factor = np.where(correct & known, np.maximum(0, 1 - 1 / t**2), 0.0)
    reach = stdtrit(df, (1 + level) / 2) * se
    return DayLine(change, se, change - reach, change + reach, np.nan_to_num(factor))


def _centred(values: np.ndarray, weight: np.ndarray, group: np.ndarray) -> np.ndarray:
    """Values less the weighted mean of their group."""
    _, of = np.unique(group, return_inverse=True)
    total, sums = np.zeros((of.max(initial=0) + 1, values.shape[1])), np.zeros((of.max(initial=0) + 1, values.shape[1]))
    np.add.at(total, of, weight)
    np.add.at(sums, of, weight * values)
    return np.where(weight > 0, values - (sums / np.maximum(total, 1e-300))[of], 0.0)
