"""Fit the season model by REML, all descriptors in one array.

Steps go by the expected information at first, which lands near the maximum from anywhere (Jennrich & Sampson 1976,
Technometrics 18:11), then by what they show of the curvature themselves (symmetric rank-one updates: Nocedal & Wright
2006, Numerical Optimization, section 6.2), at one evaluation of the exact gradient each.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from panelstats.models.mixed import covariance_above_zero
from panelstats.models.seasonlikelihood import SeasonState, season_state
from panelstats.models.seasonsources import (
    LOT_TASTER,
    LOT_TASTER_SESSION,
    POT,
    RESIDUAL,
    SESSION,
    SOURCES,
    TASTER,
    TASTER_SESSION,
)

if TYPE_CHECKING:
    from panelstats.models.seasonrows import SeasonRows

# Second derivatives are differences of exact first ones over this share of a variance.
DIFFERENCE = 1e-4
# Newton decrement, on the scale of -2 log L, at which the step taken is the last.
DECREMENT = 1e-14
# A step after which the decrement is above this share of the one before was led by the wrong curvature.
FALL = 0.5
STEPS = 100
# A variance below this share of the residual is 0.
NOTHING = 1e-10
# A rank-one update is left out where its denominator is below this share of its size (Nocedal & Wright, section 6.2).
LEAST_UPDATE = 1e-8
# Eigenvalues of the scaled Hessian below this are taken as this, whatever their sign: no step runs away.
LEAST_CURVATURE = 1e-4
# At the maximum one no larger than this is rounding: the Hessian is made of differences.
SINGULAR = 1e-10


class Beside(NamedTuple):
    """The model a step above and below one variance, and the distance between the two, (D,)."""

    up: SeasonState
    down: SeasonState
    apart: np.ndarray


@dataclass(frozen=True, eq=False)
class SeasonFit:
    """REML fit of D descriptors of a season.

    Attributes
    ----------
    rows : SeasonRows
    variances : ndarray, shape (D, 7)
        In the order of `seasonsources.SOURCES`; 0 where at the bound or not in the model.
    loglik : ndarray, shape (D,)
        Restricted log-likelihood, constants included.
    held : ndarray of bool, shape (D, 7)
        Components that are not in the model.
    covariance : ndarray, shape (D, 7, 7)
        Of the variances: twice the inverse of the observed Hessian over those above zero, zero elsewhere; NaN where it
        is singular.
    at : SeasonState
    beside : dict of int to Beside
        By place of each variance above zero in some descriptor.
    """

    rows: SeasonRows
    variances: np.ndarray
    loglik: np.ndarray
    held: np.ndarray
    covariance: np.ndarray
    at: SeasonState
    beside: dict[int, Beside]


def fit_season(rows: SeasonRows, held: np.ndarray) -> SeasonFit:
    """Maximise the restricted likelihood within the bounds (no variance below zero).

    Parameters
    ----------
    rows : SeasonRows
        Every descriptor must leave a degree of freedom to each component that is not held: the caller sees to it.
    held : ndarray of bool, shape (D, 7)

    Returns
    -------
    SeasonFit
    """
    theta = _maximum(rows, held)
    at, beside = season_state(rows, theta), _beside(rows, theta)
    hessian = np.zeros((*theta.shape, theta.shape[1]))
    for i, (up, down, apart) in beside.items():
        hessian[:, i] = (up.gradient - down.gradient) / apart[:, None]
    return SeasonFit(
        rows=rows,
        variances=theta,
        loglik=at.value / -2,
        held=held,
        covariance=covariance_above_zero((hessian + hessian.swapaxes(1, 2)) / 2, ~held & (theta > 0), least=SINGULAR),
        at=at,
        beside=beside,
    )


def _maximum(rows: SeasonRows, held: np.ndarray) -> np.ndarray:
    """The variances, descriptors leaving as they arrive."""
    theta = np.where(held, 0.0, _start(rows))
    at = season_state(rows, theta)
    value, gradient, traces = at.value.copy(), at.gradient.copy(), at.traces.copy()
    hessian, last = np.zeros((*theta.shape, theta.shape[1])), np.full(len(theta), np.inf)
    known, lost = np.zeros_like(held), np.ones(len(theta), bool)
    active, part = np.arange(len(theta)), rows
    for _ in range(STEPS):
        free = _free(theta, gradient, held)
        anew = active[(lost | (free & ~known).any(axis=1))[active]]
        if len(anew):
            hessian[anew] = _information(rows.take(anew), theta[anew], traces[anew], free[anew])
            known[anew] = free[anew]
        step, decrement = _newton(gradient[active], hessian[active], theta[active], held[active])
        moved, at = _advance(part, value[active], theta[active], step, held[active])
        hessian[active] = _learnt(hessian[active], moved - theta[active], at.gradient - gradient[active])
        theta[active], value[active], gradient[active], traces[active] = moved, at.value, at.gradient, at.traces
        lost[active], last[active] = ~(decrement < FALL * last[active]), decrement
        if (decrement < DECREMENT).any():
            active = active[~(decrement < DECREMENT)]
            part = rows.take(active)
        if not len(active):
            break
    return theta


def _beside(rows: SeasonRows, theta: np.ndarray) -> dict[int, Beside]:
    """The model a step up and down each variance, where it is above 0: what lies at the bound is not asked for."""
    size, out = DIFFERENCE * _scale(theta), {}
    for i in np.flatnonzero((theta > 0).any(axis=0)):
        up, down = theta.copy(), theta.copy()
        up[:, i] += size[:, i]
        down[:, i] = np.maximum(down[:, i] - size[:, i], 0.0)
        out[int(i)] = Beside(season_state(rows, up), season_state(rows, down), up[:, i] - down[:, i])
    return out


def _scale(theta: np.ndarray) -> np.ndarray:
    """What each variance is measured by, (D, 7)."""
    return np.maximum(theta, theta[:, RESIDUAL, None] / 100)


def _free(theta: np.ndarray, gradient: np.ndarray, held: np.ndarray) -> np.ndarray:
    """Components that may move: neither held nor resting at 0."""
    return ~held & ~((theta <= 0) & (gradient > 0))


def _start(rows: SeasonRows) -> np.ndarray:
    """First guess from the spread within rows; nothing starts near 0."""
    spread = np.bincount(rows.descriptor, rows.squares, rows.sizes[0])
    variance = spread / np.maximum(rows.scores - rows.lots, 1) + 1e-12
    share = np.empty(len(SOURCES))
    share[[TASTER, SESSION, TASTER_SESSION, LOT_TASTER]] = 0.3, 0.2, 0.1, 0.15
    share[[LOT_TASTER_SESSION, POT, RESIDUAL]] = 0.1, 0.1, 0.3
    return variance[:, None] * share


def _information(rows: SeasonRows, theta: np.ndarray, traces: np.ndarray, free: np.ndarray) -> np.ndarray:
    """Expected second derivatives, by differences of the traces over one step up: it works at the bound too."""
    size, out = DIFFERENCE * _scale(theta), np.zeros((*theta.shape, theta.shape[1]))
    for i in np.flatnonzero(free.any(axis=0)):
        moved = theta.copy()
        moved[:, i] += size[:, i]
        out[:, i] = (traces - season_state(rows, moved).traces) / size[:, i, None]
    return (out + out.swapaxes(1, 2)) / 2


def _learnt(hessian: np.ndarray, step: np.ndarray, change: np.ndarray) -> np.ndarray:
    """The Hessian set right, by a matrix of rank one, on how the gradient changed over a step."""
    rest = change - np.einsum("dij,dj->di", hessian, step)
    along = (rest * step).sum(axis=1)
    sure = np.abs(along) > LEAST_UPDATE * np.sqrt((rest**2).sum(axis=1) * (step**2).sum(axis=1))
    update = rest[:, :, None] * rest[:, None, :] / np.where(sure, along, 1.0)[:, None, None]
    return np.where(sure[:, None, None], hessian + update, hessian)


def _newton(
    gradient: np.ndarray, hessian: np.ndarray, theta: np.ndarray, held: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Step and Newton decrement; components that are held or rest at 0 do not move.

    Those that the step would take below 0 go to 0, and the others step anew from there.
    """
    free = _free(theta, gradient, held)
    stop, step = np.zeros_like(free), np.zeros_like(theta)
    for _ in range(theta.shape[1]):
        moved = np.where(stop, -theta, 0.0)
        slope = gradient + np.einsum("dij,dj->di", hessian, moved)
        part, decrement = _steepest(slope, hessian, free & ~stop)
        step = moved + part
        below = free & ~stop & (theta + step < 0)
        below[:, RESIDUAL] = False
        if not below.any():
            break
        stop |= below
    return step, np.where((stop & (theta > 0)).any(axis=1), np.inf, decrement)


def _steepest(gradient: np.ndarray, hessian: np.ndarray, free: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Newton step of the free components, downhill whatever the curvature, and its decrement."""
    scale = np.sqrt(np.maximum(np.abs(np.einsum("dii->di", hessian)), 1e-300))
    scale = np.where(free, scale, 1.0)
    both = free[:, :, None] & free[:, None, :]
    matrix = np.where(both, hessian / (scale[:, :, None] * scale[:, None, :]), np.eye(free.shape[1]))
    curvature, axes = np.linalg.eigh(matrix)
    slope = np.einsum("dij,di->dj", axes, np.where(free, gradient, 0.0) / scale)
    along = -slope / np.maximum(np.abs(curvature), LEAST_CURVATURE)
    step = np.einsum("dij,dj->di", axes, along) / scale
    sure = curvature[:, 0] > LEAST_CURVATURE
    return step, np.where(sure, -(along * slope).sum(axis=1), np.inf)


def _advance(
    rows: SeasonRows, value: np.ndarray, theta: np.ndarray, step: np.ndarray, held: np.ndarray
) -> tuple[np.ndarray, SeasonState]:
    """Take the step, halving it where the criterion would rise."""
    slack = 1e-10 + 1e-13 * rows.scores
    length = np.ones(len(theta))
    for _ in range(30):
        moved = theta + length[:, None] * step
        moved = np.where(moved < NOTHING * theta[:, RESIDUAL, None], 0.0, moved)
        moved[:, RESIDUAL] = np.maximum(moved[:, RESIDUAL], theta[:, RESIDUAL] / 10)
        moved[held] = 0.0
        state = season_state(rows, moved)
        worse = ~(state.value <= value + slack)
        if not worse.any():
            break
        length[worse] /= 2
    return moved, state
