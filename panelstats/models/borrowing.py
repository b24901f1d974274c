"""Variances of few degrees of freedom in a table of classes by descriptors: each borrows from all the others."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import polygamma

from panelstats.models.steadying import MOST_DF, trigamma_inverse

# Effects are fitted where there are so many levels (ours).
LEAST_LEVELS = 3
LEAST_SPREAD = 0.01  # variance of a logarithm that no prior can be surer than (ours)
EXACT_CELLS = 200  # beyond, the fit without a cell is one step from the fit with it
STEPS, HALVINGS, MOST_SPREAD = 60, 30, 1e3


@dataclass(frozen=True, eq=False)
class Borrowed:
    """Mean squares steadied; arrays of shape (class, descriptor).

    Attributes
    ----------
    mean_square, df : ndarray
        Own and borrowed together.
    own : ndarray of bool
        Whether the cell had a mean square of its own.
    prior, prior_df : ndarray
        What the other cells say of this one.
    """

    mean_square: np.ndarray
    df: np.ndarray
    own: np.ndarray
    prior: np.ndarray
    prior_df: np.ndarray


def borrowed_variances(mean_square: np.ndarray, df: np.ndarray) -> Borrowed:
    """Steady mean squares over classes and descriptors.

    Parameters
    ----------
    mean_square, df : ndarray of float, shape (class, descriptor)
        df 0 where a cell has none of its own.

    Returns
    -------
    Borrowed
        With two cells or fewer nothing is borrowed.

    Notes
    -----
    Log-linear gamma fit with an intercept, descriptor effects from 3 classes and class effects from 3 descriptors on;
    what cells differ beyond that (tau2) by moments. The prior of a cell is predicted from the other cells alone, with
    the error of that prediction: d0 = 2 trigamma^-1(tau2 + x'Gx). After Smyth 2004 (Statistical Applications in
    Genetics and Molecular Biology 3: 3), here with the prior's own error. A class without a mean square of its own
    takes the mean of the other classes, with their spread.

    Examples
    --------
    >>> lent = borrowed_variances(np.array([[0.4, 0.3, 0.5, 0.6]]), np.array([[3.0, 3.0, 3.0, 3.0]]))
    >>> print(lent.mean_square.round(2), lent.df.round(1))
    [[0.45 0.45 0.45 0.45]] [[13. 13. 13. 13.]]
    """
    ms, nu = np.asarray(mean_square, float), np.asarray(df, float)
    own = (nu > 0) & (ms > 0)
    prior, d0 = np.full(ms.shape, np.nan), np.zeros(ms.shape)
    if own.sum() > 2:
        x = _design(own)
        prior[own], d0[own] = _from_the_others(x[own], ms[own], nu[own])
        _for_whole_classes(prior, d0, ms, nu, own)
    lent = np.where(d0 > 0, prior * d0, 0.0)
    total = d0 + np.where(own, nu, 0.0)
    steadied = (lent + np.where(own, nu * ms, 0.0)) / np.where(total > 0, total, 1.0)
    return Borrowed(np.where(total > 0, steadied, ms), np.where(total > 0, total, nu), own, prior, d0)


def _design(own: np.ndarray) -> np.ndarray:
    """Columns of the log-linear fit, shape (class, descriptor, columns)."""
    classes, descriptors = own.shape
    parts = [np.ones((classes, descriptors, 1))]
    if own.any(axis=1).sum() >= LEAST_LEVELS:
        parts.append(np.broadcast_to(np.eye(descriptors)[None], (classes, descriptors, descriptors)))
    if own.any(axis=0).sum() >= LEAST_LEVELS:
        parts.append(np.broadcast_to(np.eye(classes)[:, None], (classes, descriptors, classes)))
    return np.concatenate(parts, axis=2)


def _from_the_others(x: np.ndarray, ms: np.ndarray, nu: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """What the other cells say of each: its variance, and the df of that."""
    tau2, eta = _spread(x, ms, nu)
    weight = 1 / (2 / nu + tau2)
    cells = len(ms)
    steps = STEPS if cells <= EXACT_CELLS else 1
    prior, error = np.empty(cells), np.empty(cells)
    without = np.broadcast_to(weight, (cells, cells)) * (1 - np.eye(cells))
    fitted, inverse = _gamma(x, ms, without, np.broadcast_to(eta, (cells, cells)), steps)
    prior = np.exp(np.diagonal(fitted))
    error = tau2 + np.einsum("ci,cij,cj->c", x, inverse, x)
    alone = ~_predictable(x, nu)
    return prior, np.where(alone, 0.0, _df(error))


def _predictable(x: np.ndarray, nu: np.ndarray) -> np.ndarray:
    """Whether a cell's effects are met in other cells too."""
    met = x.astype(bool)
    return (((nu > 0)[:, None] & met).sum(axis=0)[None, :] > met).all(axis=1, where=met)


def _df(error: np.ndarray) -> np.ndarray:
    return np.minimum(2 * trigamma_inverse(np.maximum(error, LEAST_SPREAD)), MOST_DF)


def _spread(x: np.ndarray, ms: np.ndarray, nu: np.ndarray) -> tuple[float, np.ndarray]:
    """Variance of the logarithms beyond the effects and the sampling, by moments; and the fitted logarithms."""
    left = len(ms) - np.linalg.matrix_rank(x)
    start = np.full(len(ms), np.log(np.average(ms, weights=nu)))

    def excess(tau2: float, eta: np.ndarray) -> tuple[float, np.ndarray]:
        weight = 1 / (2 / nu + tau2)
        eta = _gamma(x, ms, weight[None], eta[None], STEPS)[0][0]
        return float((weight * (ms / np.exp(eta) - 1) ** 2).sum() - left), eta

    over, eta = excess(0.0, start)
    if left < 1 or over <= 0:
        return 0.0, eta
    low, high = 0.0, 1.0
    while excess(high, eta)[0] > 0 and high < MOST_SPREAD:
        high *= 4
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        over, eta = excess(middle, eta)
        low, high = (middle, high) if over > 0 else (low, middle)
    return high, eta


def _gamma(
    x: np.ndarray, ms: np.ndarray, weight: np.ndarray, eta: np.ndarray, steps: int
) -> tuple[np.ndarray, np.ndarray]:
    """Log-linear gamma fits, one per row of `weight`: fitted logarithms of all cells, and inverse information."""
    inverse = np.linalg.pinv(np.einsum("ci,kc,cj->kij", x, weight, x), rcond=1e-10, hermitian=True)
    for _ in range(steps):
        z = eta + ms / np.exp(eta) - 1
        effects = inverse @ ((weight * z) @ x)[:, :, None]  # (row, effect, 1)
        after = effects[:, :, 0] @ x.T
        moved = np.abs(after - eta).max()
        eta = after
        if moved < 1e-12:
            break
    return eta, inverse


def _for_whole_classes(prior: np.ndarray, d0: np.ndarray, ms: np.ndarray, nu: np.ndarray, own: np.ndarray) -> None:
    """A class without a mean square of its own: the mean over the other classes' logarithms, and their spread."""
    for d in np.flatnonzero(own.any(axis=0)):
        have, lack = own[:, d], ~own[:, d]
        if not lack.any():
            continue
        logs, classes = np.log(ms[have, d]), int(have.sum())
        sampling = (2 / nu[have, d]).mean() / classes
        apart = logs.var(ddof=1) * (1 + 1 / classes) if classes > 1 else float(polygamma(1, 0.5))
        prior[lack, d] = np.exp(logs.mean())
        d0[lack, d] = _df(np.array(apart + sampling))
