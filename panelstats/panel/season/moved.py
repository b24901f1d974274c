"""What shape a move has once a chart has alarmed: a drift or a jump, since when, how far."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import stdtrit

LEVEL = 0.95  # of every interval
DRIFTING, JUMPED, MOVED = "drifting", "jumped", "moved"
# Sessions on each side of a jump, and after the beginning of a drift.
LEAST_SIDE, LEAST_RISE = 2, 4
# A shape is named if the other is worse by more than this (in squared standard deviations, places counted).
CLEARLY = 2.0
# Places whose fit is worse by at most this may be the place (chi-square, 1 df, 95 %).
PLACES = 3.84


@dataclass(frozen=True)
class Move:
    """A move of one chart; sessions by index.

    Attributes
    ----------
    call : str
        drifting, jumped or moved (the shape is unclear).
    since, since_low, since_high : int
        The first session of the move, and between which sessions it lies.
    change, low, high : float
        By how much, with its interval.
    """

    call: str
    since: int
    since_low: int
    since_high: int
    change: float
    low: float
    high: float


@dataclass(frozen=True, eq=False)
class Fit:
    """Two-part fits by their place: weighted residual sum of squares, size, its variance."""

    places: np.ndarray
    rss: np.ndarray
    size: np.ndarray
    variance: np.ndarray

    @property
    def best(self) -> int:
        """Index of the best place."""
        return int(self.rss.argmin())

    @property
    def near(self) -> np.ndarray:
        """Places that may be the place."""
        return self.places[self.rss <= self.rss[self.best] + PLACES]


def move(value: np.ndarray, variance: np.ndarray, *, now: tuple[float, float], level: float = LEVEL) -> Move:
    """The shape of a move.

    Parameters
    ----------
    value, variance : ndarray, shape (session,)
        The whole series, NaN where absent.
    now : tuple of float
        Smoothed change at the last session and its standard deviation, for a move without a clear shape.
    level : float in (0, 1)

    Notes
    -----
    Weighted least squares with weights 1/variance. A jump: the best place for a step, at least two sessions on each
    side. A drift: a straight line, or one that begins at the best place. Each place costs log n.

    Examples
    --------
    >>> value = np.r_[np.zeros(12), np.ones(12)]
    >>> found = move(value, np.full(24, 0.01), now=(1.0, 0.1))
    >>> found.call, found.since, round(found.change, 3)
    ('jumped', 12, 1.0)
    """
    at = np.flatnonzero(np.isfinite(value) & (variance > 0))
    y, w, n = value[at], 1 / variance[at], len(at)
    step = steps(y, w, at)
    rise = rises(y, w, at)
    cost = np.log(n)
    drift = rise.rss + np.where(rise.places == at[0], cost, 2 * cost)
    jump = step.rss[step.best] + 2 * cost
    if jump + CLEARLY < drift.min():
        return _told(JUMPED, step, step.best, n, 1.0, level)
    if drift.min() + CLEARLY < jump:
        chosen = int(drift.argmin())
        return _told(DRIFTING, rise, chosen, n, float(at[-1] - rise.places[chosen]), level, at)
    reach = float(stdtrit(max(n - 2, 1), (1 + level) / 2)) * now[1]
    near = np.concatenate([step.near, _next(rise.near, at)])
    return Move(MOVED, int(step.places[step.best]), int(near.min()), int(near.max()), now[0], now[0] - reach,
                now[0] + reach)  # fmt: skip


def _told(call: str, fit: Fit, chosen: int, n: int, run: float, level: float, at: np.ndarray | None = None) -> Move:
    """The move of a fit at the place chosen; `run` is what its size is multiplied by."""
    sd = np.sqrt(fit.variance[chosen] * max(1.0, fit.rss[chosen] / max(n - 2, 1)))
    change, reach = fit.size[chosen] * run, stdtrit(max(n - 2, 1), (1 + level) / 2) * sd * run
    near, place = fit.places[fit.rss <= fit.rss[chosen] + PLACES], fit.places[chosen]
    if at is not None:  # a drift is first seen in the session after its last quiet one
        near, place = _next(near, at), _next(np.array([place]), at)[0]
    return Move(call, int(place), int(near.min()), int(near.max()), float(change), float(change - reach),
                float(change + reach))  # fmt: skip


def _next(places: np.ndarray, at: np.ndarray) -> np.ndarray:
    """The attended session after each place; a line over the whole season begins with its first session."""
    after = at[np.minimum(np.searchsorted(at, places, side="right"), len(at) - 1)]
    return np.where(places == at[0], at[0], after)


def steps(y: np.ndarray, w: np.ndarray, at: np.ndarray) -> Fit:
    """A step before each place."""
    cut = np.arange(LEAST_SIDE, len(y) - LEAST_SIDE + 1)
    before, total = np.cumsum(w)[cut - 1], w.sum()
    pull = np.cumsum(w * y)[cut - 1]
    after = total - before
    low, high = pull / before, ((w * y).sum() - pull) / after
    rss = (w * y**2).sum() - before * low**2 - after * high**2
    return Fit(at[cut], rss, high - low, 1 / before + 1 / after)


def rises(y: np.ndarray, w: np.ndarray, at: np.ndarray) -> Fit:
    """A straight rise from each place on; from the first, a line over all."""
    place = at[: len(at) - LEAST_RISE + 1]
    x = np.maximum(at[None] - place[:, None], 0.0)
    x = x - (x @ w)[:, None] / w.sum()
    off = y - (w @ y) / w.sum()
    squares = (x**2) @ w
    size = (x * off) @ w / squares
    return Fit(place, (w @ off**2) - size**2 * squares, size, 1 / squares)
