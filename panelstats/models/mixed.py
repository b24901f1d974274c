"""Fit the panel model by REML: Newton steps in the variances themselves, all descriptors in one array."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from panelstats.models.blocks import Blocks
from panelstats.models.reml import LOT, LOT_POT, LOT_TASTER, RESIDUAL, TASTER, Criterion, criterion

# The Newton step is taken while the free Hessian, scaled by the expected information, is safely positive definite.
SAFELY_POSITIVE = 1e-5
# Newton decrement, on the scale of -2 log L, at which the step taken is the last.
DECREMENT = 1e-12
# Share of the residual below which another component is 0: what is left of it hangs on the processor.
NOUGHT = 1e-8
# Share of its first guess at which a residual is left where it is: marks that never differ have no greatest likelihood.
VANISHED = 1e-10
STEPS = 200


@dataclass(frozen=True, eq=False)
class Fit:
    """REML fit of D descriptors.

    Attributes
    ----------
    blocks : Blocks
    variances : ndarray, shape (D, 5)
        In the order of `reml.SOURCES`; 0 where a component is at its bound or not in the model.
    loglik : ndarray, shape (D,)
        Restricted log-likelihood, constants included.
    held : ndarray of bool, shape (D, 5)
        Components that were not estimated: not in the model, or held at a given value.
    covariance : ndarray, shape (D, 5, 5)
        Of the estimated variances: twice the inverse of the observed Hessian over the components above zero; zero
        elsewhere; NaN where that Hessian is singular.
    hessian : ndarray, shape (D, 5, 5)
        Observed second derivatives of -2 log L, added over the descriptors that share their variances.
    at : Criterion
        The criterion at the fit, with its eliminations.
    steps : int
        Newton steps taken by the slowest descriptor.
    """

    blocks: Blocks
    variances: np.ndarray
    loglik: np.ndarray
    held: np.ndarray
    covariance: np.ndarray
    hessian: np.ndarray
    at: Criterion
    steps: int


def fit(
    b: Blocks,
    held: np.ndarray,
    *,
    start: np.ndarray | None = None,
    values: np.ndarray | None = None,
    lots_random: bool = False,
    pool: np.ndarray | None = None,
) -> Fit:
    """Maximise the restricted likelihood within the bounds (no variance below zero).

    Parameters
    ----------
    b : Blocks
        Every descriptor must leave at least one degree of freedom to each component that is not held, and differ
        somewhere: the caller sees to it.
    held : ndarray of bool, shape (G, 5)
        Components that are not estimated.
    start : ndarray, shape (G, 5), optional
        First guess; moments of the cell means by default. A closed-form optimum is confirmed in one step.
    values : ndarray, shape (G, 5), optional
        Where held components are held; at 0 by default. Held values may be negative as long as no cell's variance is.
    lots_random : bool
    pool : ndarray of int, shape (D,), optional
        Group of each descriptor, 0 .. G - 1: those of one group share their variances. By default each stands alone.

    Returns
    -------
    Fit

    Notes
    -----
    Newton with the observed Hessian on the components that are free; a component at 0 whose gradient is positive rests
    there and is tried again at each step. Where the free Hessian is not safely positive definite the mean of average
    and expected information takes its place. Steps are halved until -2 log L does not rise.
    """
    pool = np.arange(len(b.p)) if pool is None else pool
    guess = _mean_start(b, pool, len(held)) if start is None else start
    theta = np.where(held, 0.0 if values is None else values, guess)
    theta[:, RESIDUAL] = np.maximum(theta[:, RESIDUAL], 1.1 * _least_residual(b, pool, theta))
    terms = _added(criterion(b, theta[pool], lots_random=lots_random), pool)
    least = VANISHED * theta[:, RESIDUAL]
    active, steps = np.arange(len(held)), 0
    while len(active) and steps < STEPS:
        steps += 1
        value, gradient, expected, average = (term[active] for term in terms)
        step, decrement = _newton(gradient, expected, average, theta[active], held[active])
        members = np.flatnonzero(np.isin(pool, active))
        mine = np.searchsorted(active, pool[members])
        theta[active], new = _advance(b.take(members), mine, value, theta[active], step, held[active], lots_random)
        for term, value in zip(terms, new, strict=True):
            term[active] = value
        active = active[~(decrement < DECREMENT) & (theta[active, RESIDUAL] > least[active])]
    theta[~held & (theta < NOUGHT * theta[:, [RESIDUAL]])] = 0.0
    at = criterion(b, theta[pool], lots_random=lots_random)
    value, _, expected, average = _added(at, pool)
    hessian = 2 * average - expected
    covariance = covariance_above_zero(hessian, ~held & (theta > 0))
    return Fit(
        blocks=b,
        variances=theta[pool],
        loglik=value[pool] / -2,
        held=held[pool],
        covariance=covariance[pool],
        hessian=hessian[pool],
        at=at,
        steps=steps,
    )


def moments_start(b: Blocks) -> np.ndarray:
    """First guess of the variances from mean squares as if the layout were complete, shape (D, 5)."""
    squares = b.per_descriptor(np.einsum("bii->bi", b.second))
    within_df, cell_df = b.scores - b.cells, np.maximum(b.cells - b.p - b.tasters + 1, 1)
    spread = squares[:, : b.tasters].sum(axis=1) / cell_df + 1e-12
    within = np.where(within_df > 0, b.within_ss / np.maximum(within_df, 1), spread / 2)
    within = np.maximum(within, spread * 1e-6)
    levels = ((b.shift - b.shift.mean(axis=1, keepdims=True)) ** 2).sum(axis=1) / max(b.tasters - 1, 1)
    theta = np.empty((len(b.p), 5))  # nothing starts near 0: few scores can have a second maximum there
    theta[:, TASTER] = np.maximum(levels - spread / b.p, spread / 4)
    theta[:, LOT_TASTER] = np.maximum(spread - within * b.cells / b.scores, spread / 4)
    theta[:, LOT_POT] = np.maximum(_pot_guess(b, squares[:, b.tasters :].sum(axis=1), within), within / 8)
    theta[:, LOT] = spread
    theta[:, RESIDUAL] = within
    return theta


def _pot_guess(b: Blocks, squares: np.ndarray, within: np.ndarray) -> np.ndarray:
    """Pot variance from the squares of the pot totals, which hold it n^2 times and the error n times."""
    served = b.counts.sum(axis=1)  # (B, P)
    share = b.lots * (1 - 1 / (served > 0).sum(axis=1))
    once, twice = (b.per_descriptor(share * (served**power).sum(axis=1)) for power in (1, 2))
    return (squares - within * once) / np.maximum(twice, 1)


def _mean_start(b: Blocks, pool: np.ndarray, groups: int) -> np.ndarray:
    """First guess of each group: the mean of its members'."""
    start = np.zeros((groups, 5))
    np.add.at(start, pool, moments_start(b))
    return start / np.bincount(pool, minlength=groups)[:, None]


def _least_residual(b: Blocks, pool: np.ndarray, theta: np.ndarray) -> np.ndarray:
    """Residual of each group above which every cell's variance is positive, where lot:taster is held below 0."""
    looks = np.zeros(len(theta))
    np.maximum.at(looks, pool[b.descriptor], b.counts.sum(axis=2).max(axis=1))
    return np.maximum(0.0, -looks * theta[:, LOT_TASTER])


def _added(state: Criterion, pool: np.ndarray) -> tuple[np.ndarray, ...]:
    """Value, gradient, expected and average information, all that a step needs, added over each group."""
    terms = state.value, state.gradient, state.expected, state.average
    groups = int(pool.max()) + 1
    if np.array_equal(pool, np.arange(groups)):
        return terms
    out = []
    for term in terms:
        total = np.zeros((groups, *term.shape[1:]))
        np.add.at(total, pool, term)
        out.append(total)
    return tuple(out)


def _newton(
    gradient: np.ndarray, expected: np.ndarray, average: np.ndarray, theta: np.ndarray, held: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Step and Newton decrement of each descriptor; components that are held or rest at 0 do not move."""
    free = ~held & ~((theta <= 0) & (gradient > 0))
    scale = np.sqrt(np.maximum(np.einsum("dii->di", expected), 1e-300))
    scale = np.where(free, scale, 1.0)
    outer = scale[:, :, None] * scale[:, None, :]
    both = free[:, :, None] & free[:, None, :]
    eye = np.eye(theta.shape[1])
    observed = np.where(both, (2 * average - expected) / outer, eye)
    positive = np.linalg.eigvalsh(observed)[:, 0] > SAFELY_POSITIVE
    careful = np.where(both, (average + expected) / 2 / outer, eye)
    matrix = np.where(positive[:, None, None], observed, careful)
    gradient = np.where(free, gradient, 0.0) / scale
    try:
        step = -np.linalg.solve(matrix, gradient[..., None])[..., 0]
    except np.linalg.LinAlgError:  # a component without information: least squares leaves it where it is
        step = -(np.linalg.pinv(matrix) @ gradient[..., None])[..., 0]
    return step / scale, -(step * gradient).sum(axis=1)


def _advance(
    b: Blocks,
    pool: np.ndarray,
    value: np.ndarray,
    theta: np.ndarray,
    step: np.ndarray,
    held: np.ndarray,
    lots_random: bool,
) -> tuple[np.ndarray, tuple[np.ndarray, ...]]:
    """Take the step, halving it for the groups whose criterion would rise."""
    slack = 1e-10 + 1e-13 * np.bincount(pool, b.scores)
    length = np.ones(len(theta))
    least = _least_residual(b, pool, theta)
    for _ in range(30):
        moved = theta + length[:, None] * step
        moved[:, RESIDUAL] = np.maximum(moved[:, RESIDUAL], least + (theta[:, RESIDUAL] - least) / 10)
        moved[:, :RESIDUAL] = np.maximum(moved[:, :RESIDUAL], np.where(held[:, :RESIDUAL], theta[:, :RESIDUAL], 0.0))
        with np.errstate(divide="ignore", over="ignore", invalid="ignore"):  # too long a step has no likelihood: worse
            new = _added(criterion(b, moved[pool], lots_random=lots_random), pool)
        worse = ~(new[0] <= value + slack)
        if not worse.any():
            break
        length[worse] /= 2
    return moved, new


def covariance_above_zero(hessian: np.ndarray, above: np.ndarray, *, least: float = 0.0) -> np.ndarray:
    """Twice the inverse Hessian over the components above zero, zero elsewhere, NaN where singular.

    Singular is a Hessian of which an eigenvalue, scaled to a diagonal of 1, is no larger than `least`.
    """
    both = above[:, :, None] & above[:, None, :]
    scale = np.sqrt(np.abs(np.einsum("dii->di", hessian)))
    scale = np.where(above & (scale > 0), scale, 1.0)
    outer = scale[:, :, None] * scale[:, None, :]
    matrix = np.where(both, hessian / outer, np.eye(hessian.shape[1]))
    singular = np.linalg.eigvalsh(matrix)[:, 0] <= least
    matrix[singular] = np.eye(hessian.shape[1])
    out = np.where(both, 2 * np.linalg.inv(matrix) / outer, 0.0)
    out[singular] = np.nan
    return out
