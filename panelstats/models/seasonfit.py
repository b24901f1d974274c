"""Fit the season model by REML: Newton steps with exact gradients, all descriptors in one array."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from panelstats.models.seasonlikelihood import (
    LOT_TASTER,
    LOT_TASTER_SESSION,
    POT,
    RESIDUAL,
    SESSION,
    SOURCES,
    TASTER,
    TASTER_SESSION,
    SeasonState,
    season_state,
)

if TYPE_CHECKING:
    from panelstats.models.seasonrows import SeasonRows

# Second derivatives are differences of exact first ones over this share of a variance.
DIFFERENCE = 1e-4
# Newton decrement, on the scale of -2 log L, at which the step taken is the last.
DECREMENT = 1e-12
STEPS = 100
# A variance below this share of the residual is 0.
NOTHING = 1e-10
# Eigenvalues of the scaled Hessian below this are taken as this, whatever their sign: no step runs away.
LEAST_CURVATURE = 1e-4


@dataclass(frozen=True, eq=False)
class SeasonFit:
    """REML fit of D descriptors of a season.

    Attributes
    ----------
    rows : SeasonRows
    variances : ndarray, shape (D, 7)
        In the order of `seasonlikelihood.SOURCES`; 0 where at the bound or not in the model.
    loglik : ndarray, shape (D,)
        Restricted log-likelihood, constants included.
    held : ndarray of bool, shape (D, 7)
        Components that are not in the model.
    covariance : ndarray, shape (D, 7, 7)
        Of the variances: twice the inverse of the observed Hessian over those above zero, zero elsewhere; NaN where it
        is singular.
    at : SeasonState
    """

    rows: SeasonRows
    variances: np.ndarray
    loglik: np.ndarray
    held: np.ndarray
    covariance: np.ndarray
    at: SeasonState


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
    theta = np.where(held, 0.0, _start(rows))
    state = season_state(rows, theta)
    value, gradient = state.value.copy(), state.gradient.copy()
    active = np.arange(len(theta))
    for _ in range(STEPS):
        part = rows if len(active) == len(theta) else rows.take(active)
        hessian = _hessian(part, theta[active], gradient[active], held[active])
        step, decrement = _newton(gradient[active], hessian, theta[active], held[active])
        moved = _advance(part, value[active], theta[active], step, held[active])
        theta[active], value[active], gradient[active] = moved
        active = active[~(decrement < DECREMENT)]
        if not len(active):
            break
    state = season_state(rows, theta)
    hessian = _central(rows, theta)
    return SeasonFit(
        rows=rows,
        variances=theta,
        loglik=state.value / -2,
        held=held,
        covariance=_covariance(hessian, ~held & (theta > 0)),
        at=state,
    )


def steps_of(theta: np.ndarray) -> np.ndarray:
    """Steps over which derivatives by each variance are taken, shape (D, 7)."""
    return DIFFERENCE * np.maximum(theta, theta[:, RESIDUAL, None] / 100)


def _start(rows: SeasonRows) -> np.ndarray:
    """First guess from the spread within rows; nothing starts near 0."""
    spread = np.bincount(rows.descriptor, rows.squares, rows.sizes[0])
    variance = spread / np.maximum(rows.scores - rows.lots, 1) + 1e-12
    share = np.empty(len(SOURCES))
    share[[TASTER, SESSION, TASTER_SESSION, LOT_TASTER]] = 0.3, 0.2, 0.1, 0.15
    share[[LOT_TASTER_SESSION, POT, RESIDUAL]] = 0.1, 0.1, 0.3
    return variance[:, None] * share


def _hessian(rows: SeasonRows, theta: np.ndarray, gradient: np.ndarray, held: np.ndarray) -> np.ndarray:
    """Second derivatives by differences of the gradient, one step up: it works at the bound too."""
    size, out = steps_of(theta), np.zeros((*theta.shape, theta.shape[1]))
    moves = ~held & ~((theta <= 0) & (gradient > 0))
    for i in np.flatnonzero(moves.any(axis=0)):
        moved = theta.copy()
        moved[:, i] += size[:, i]
        out[:, i] = (season_state(rows, moved).gradient - gradient) / size[:, i, None]
    return (out + out.swapaxes(1, 2)) / 2


def _central(rows: SeasonRows, theta: np.ndarray) -> np.ndarray:
    """The same by a step up and a step down, where no variance is 0: what lies at the bound is not asked for."""
    size, out = steps_of(theta), np.zeros((*theta.shape, theta.shape[1]))
    for i in np.flatnonzero((theta > 0).any(axis=0)):
        up, down = theta.copy(), theta.copy()
        up[:, i] += size[:, i]
        down[:, i] = np.maximum(down[:, i] - size[:, i], 0.0)
        change = season_state(rows, up).gradient - season_state(rows, down).gradient
        out[:, i] = change / (up[:, i] - down[:, i])[:, None]
    return (out + out.swapaxes(1, 2)) / 2


def _newton(
    gradient: np.ndarray, hessian: np.ndarray, theta: np.ndarray, held: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Step and Newton decrement; components that are held or rest at 0 do not move.

    Those that the step would take below 0 go to 0, and the others step anew from there.
    """
    free = ~held & ~((theta <= 0) & (gradient > 0))
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
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
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
    return moved, state.value, state.gradient


def _covariance(hessian: np.ndarray, above: np.ndarray) -> np.ndarray:
    """Twice the inverse Hessian over the components above zero, zero elsewhere, NaN where singular."""
    both = above[:, :, None] & above[:, None, :]
    scale = np.where(above, np.sqrt(np.maximum(np.abs(np.einsum("dii->di", hessian)), 1e-300)), 1.0)
    outer = scale[:, :, None] * scale[:, None, :]
    matrix = np.where(both, hessian / outer, np.eye(hessian.shape[1]))
    singular = np.linalg.eigvalsh(matrix)[:, 0] <= 1e-10
    matrix[singular] = np.eye(hessian.shape[1])
    out = np.where(both, 2 * np.linalg.inv(matrix) / outer, 0.0)
    out[singular] = np.nan
    return out
