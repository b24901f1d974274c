"""Tables of several tasters turned onto one another: how far they tell one story, whatever words they use."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

_SETTLED, _ROUNDS = 1e-10, 500


@dataclass(frozen=True, eq=False)
class Consensus:
    """Tables turned onto their mean.

    Attributes
    ----------
    share : float
        Of the squares of all tables, what their mean holds.
    scale : ndarray, shape (taster,)
        Above 1: the table was narrow, and is stretched.
    mean : ndarray, shape (lot, descriptor)
    residual : ndarray, shape (taster, lot)
        Squared distance of each turned row from the mean.
    """

    share: float
    scale: np.ndarray
    mean: np.ndarray
    residual: np.ndarray


def shared_picture(tables: np.ndarray, *, rotate: bool = True, scale: bool = True) -> Consensus:
    """Generalised Procrustes analysis.

    Parameters
    ----------
    tables : ndarray, shape (taster, lot, descriptor)
        Complete; centred here. No taster's may be constant.
    rotate : bool
        Turn each table (reflection allowed) onto the mean of the others.
    scale : bool
        Stretch each by one number, the sum of their squares held.

    Notes
    -----
    Gower 1975, Psychometrika 40: 33-51. The scales follow from the first eigenvector of the tables' congruences.
    """
    x = tables - tables.mean(axis=1, keepdims=True)
    whole = float((x**2).sum())
    turned, c, share = x.copy(), np.ones(len(x)), -1.0
    for _ in range(_ROUNDS):
        if rotate:
            for t in range(len(x)):
                left, _, right = np.linalg.svd(x[t].T @ (turned.sum(axis=0) - turned[t]))
                turned[t] = c[t] * x[t] @ (left @ right)
        if scale:
            free = turned / c[:, None, None]
            c = _scales(free)
            turned = c[:, None, None] * free
        now = len(x) * float((turned.mean(axis=0) ** 2).sum()) / whole
        if abs(now - share) < _SETTLED or not (rotate or scale):
            share = now
            break
        share = now
    mean = turned.mean(axis=0)
    return Consensus(share, c, mean, ((turned - mean) ** 2).sum(axis=2))


def _scales(x: np.ndarray) -> np.ndarray:
    flat = x.reshape(len(x), -1)
    length = np.sqrt((flat**2).sum(axis=1))
    congruence = flat @ flat.T / np.outer(length, length)
    first = np.abs(np.linalg.eigh(congruence)[1][:, -1])
    return np.asarray(np.sqrt((length**2).sum()) / length * first)


def chance_shares(
    tables: np.ndarray, *, resamples: int, rng: np.random.Generator, rotate: bool = True, scale: bool = True
) -> np.ndarray:
    """Shares of the mean with each taster's lots relabelled, shape (resample,).

    Notes
    -----
    Rotation makes noise agree: no share means anything without these beside it (Wakeling, Raats & MacFie 1992, Journal
    of Sensory Studies 7: 91-96).
    """
    draws = (np.stack([one[rng.permutation(len(one))] for one in tables]) for _ in range(resamples))
    return np.array([shared_picture(drawn, rotate=rotate, scale=scale).share for drawn in draws])


def symmetric_residual(one: np.ndarray, other: np.ndarray) -> float:
    """What is left of two tables of unit size turned and scaled onto one another; 0 is one picture.

    Examples
    --------
    >>> square = np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]])
    >>> round(symmetric_residual(square, 3 * square[:, ::-1]), 12) + 0.0
    0.0
    """
    a, b = (x - x.mean(axis=0) for x in (one, other))
    a, b = (x / np.sqrt((x**2).sum()) for x in (a, b))
    return float(1 - np.linalg.svd(a.T @ b, compute_uv=False).sum() ** 2)
