"""Tables of several tasters turned onto one another: how far they tell one story, whatever words they use."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

# Where the share moves by less it has settled; draws, of which a rank is wanted, settle sooner.
_SETTLED, _SOON, _ROUNDS = 1e-10, 1e-5, 500
_PATH = ["einsum_path", (0, 1), (0, 1)]


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
    turns, c, share = _turned(_cross(x)[None], rotate=rotate, scale=scale)
    turned = c[0, :, None, None] * (x @ turns[0])
    mean = turned.mean(axis=0)
    return Consensus(float(share[0]), c[0], mean, ((turned - mean) ** 2).sum(axis=2))


def chance_shares(
    tables: np.ndarray, *, resamples: int, rng: np.random.Generator, rotate: bool = True, scale: bool = True
) -> np.ndarray:
    """Shares of the mean with each taster's lots relabelled, shape (resample,).

    Notes
    -----
    Rotation makes noise agree: no share means anything without these beside it (Wakeling, Raats & MacFie 1992, Journal
    of Sensory Studies 7: 91-96).
    """
    x = tables - tables.mean(axis=1, keepdims=True)
    draws = (np.stack([one[rng.permutation(len(one))] for one in x]) for _ in range(resamples))
    cross = np.stack([_cross(drawn) for drawn in draws])
    return _turned(cross, rotate=rotate, scale=scale, settled=_SOON)[2]


def _cross(x: np.ndarray) -> np.ndarray:
    """Products of every table with every other, shape (taster, taster, descriptor, descriptor): all that enters."""
    tasters, lots, p = x.shape
    flat = x.transpose(1, 0, 2).reshape(lots, -1)
    return np.asarray((flat.T @ flat).reshape(tasters, p, tasters, p).transpose(0, 2, 1, 3))


def _turned(
    cross: np.ndarray, *, rotate: bool, scale: bool, settled: float = _SETTLED
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """The turn and stretch of each table, and the share that their mean then holds, of many panels at once."""
    panels, tasters, _, p, _ = cross.shape
    own = np.einsum("nttaa->nt", cross)
    turns = np.broadcast_to(np.eye(p), (panels, tasters, p, p)).copy()
    c, share = np.ones((panels, tasters)), np.full(panels, -1.0)
    for _ in range(_ROUNDS):
        if rotate:
            for t in range(tasters):
                others = c[:, :, None, None] * turns
                others[:, t] = 0.0
                left, _, right = np.linalg.svd((cross[:, t] @ others).sum(axis=1))
                turns[:, t] = left @ right
        both = np.einsum("ntsab,ntac,nsbc->nts", cross, turns, turns, optimize=_PATH)
        if scale:
            size = np.sqrt(own)
            first = np.abs(np.linalg.eigh(both / (size[:, :, None] * size[:, None]))[1][:, :, -1])
            c = np.sqrt(own.sum(axis=1, keepdims=True) / own) * first
        now = np.einsum("nt,nts,ns->n", c, both, c) / tasters / own.sum(axis=1)
        moved, share = np.abs(now - share).max(), now
        if moved < settled or not (rotate or scale):
            break
    return turns, c, share
