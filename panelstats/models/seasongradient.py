"""The gradient of the season's likelihood, by variance: a trace less a square.

The derivative of -2 log L by a variance is tr(PV) - y'PVPy, with V the variance's part of the covariance. The traces
depend on the layout alone, and their own derivatives are, but for the sign, the expected information.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from panelstats.models.seasonshared import own_places
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
    from panelstats.models.seasonblocks import SeasonBlocks
    from panelstats.models.seasonrows import SeasonRows
    from panelstats.models.seasonshared import Shared


@dataclass(frozen=True, eq=False)
class Eliminated:
    """A season with everything eliminated: what the derivatives are made of.

    Attributes
    ----------
    A, B : ndarray, shape (D, S, T, T), (D, S, T, g)
        Information on the sessions' levels, by themselves and with what all share.
    Z : ndarray, shape (D, S, T, T)
        Covariance of the levels given what all share.
    reach : ndarray, shape (D, S, T, g)
        How the tasters' levels in a session depend on what all share.
    left : ndarray, shape (D, S, T)
        Score of the levels, what all share taken off.
    level : ndarray, shape (D, S, T)
        Of the tasters in each session.
    h, b : ndarray, shape (G, T)
        Scores of the groups' cells and of their tasters' means.
    """

    blocks: SeasonBlocks
    shared: Shared
    A: np.ndarray
    B: np.ndarray
    Z: np.ndarray
    reach: np.ndarray
    left: np.ndarray
    level: np.ndarray
    h: np.ndarray
    b: np.ndarray


def season_traces(rows: SeasonRows, x: Eliminated) -> np.ndarray:
    """Traces by variance, (D, 7)."""
    out = np.zeros((rows.sizes[0], len(SOURCES)))
    random = np.einsum("dgg->dg", x.shared.information)
    out[:, TASTER] = random[:, : rows.tasters].sum(axis=1)
    out[:, LOT_TASTER] = random[:, rows.tasters :].sum(axis=1)
    rest = np.eye(x.A.shape[2]) - x.A @ x.Z
    U, known = rest @ x.B, rest @ x.A
    UC = _times(U, x.shared.C)
    out[:, SESSION] = known.sum(axis=(1, 2, 3)) - (UC.sum(axis=2) * U.sum(axis=2)).sum(axis=(1, 2))
    out[:, TASTER_SESSION] = np.einsum("dstt->d", known) - (UC * U).sum(axis=(1, 2, 3))
    _traces_of_rows(rows, x, out)
    return out


def season_squares(rows: SeasonRows, x: Eliminated) -> np.ndarray:
    """Squares by variance, (D, 7)."""
    out = np.zeros((rows.sizes[0], len(SOURCES)))
    random = x.shared.score**2
    out[:, TASTER] = random[:, : rows.tasters].sum(axis=1)
    out[:, LOT_TASTER] = random[:, rows.tasters :].sum(axis=1)
    p = x.left - _apply(x.A, _apply(x.Z, x.left))
    out[:, SESSION] = (p.sum(axis=2) ** 2).sum(axis=1)
    out[:, TASTER_SESSION] = (p**2).sum(axis=(1, 2))
    _squares_of_rows(rows, x, out)
    return out


def _times(x: np.ndarray, C: np.ndarray) -> np.ndarray:
    """Product by each descriptor's matrix: (D, S, T, g) and (D, g, g) -> (D, S, T, g)."""
    return (x.reshape(len(x), -1, x.shape[3]) @ C).reshape(x.shape)


def _to_sources(rows: SeasonRows, by_block: np.ndarray, out: np.ndarray) -> None:
    """Add what cells, pots and error of each block give, (B, 3), to the variances they belong to."""
    of, d = rows.block_descriptor, rows.sizes[0]
    cell, pot, error = by_block.T
    out[:, LOT_TASTER_SESSION] += np.bincount(of, cell, d)
    out[:, LOT_TASTER] += np.bincount(of, np.where(rows.block_own, 0.0, cell), d)
    out[:, POT] += np.bincount(of, pot, d)
    out[:, RESIDUAL] += np.bincount(of, error, d)


def _traces_of_rows(rows: SeasonRows, x: Eliminated, out: np.ndarray) -> None:
    """Of the variances within a row: lot:taster of lots without a term of their own, cells, pots, error.

    With M the error of the tasters' means of a row, R = GMG + cG is that of its cells; each trace is linear in M.
    """
    blocks, groups = x.blocks, rows.groups
    G, n, s2 = blocks.G, blocks.n, blocks.s2
    weight, shared = 1 / blocks.denominator**2, blocks.share / (blocks.denominator * s2[:, None])
    Gn = G @ n  # (B, T, P)
    of_pots, of_shares = (Gn * each[:, None, :] @ Gn.swapaxes(1, 2) for each in (weight, shared))
    K = np.stack([blocks.W @ blocks.W, of_pots, G @ blocks.H @ G / s2[:, None, None] - of_shares], axis=1)
    own = blocks.c[:, None] * (n * Gn).sum(axis=1)  # (B, P), of cG
    looks, own_error = rows.counts.sum(axis=(1, 2)), blocks.c * (G * blocks.H).sum(axis=(1, 2))
    known = np.stack(
        [
            np.einsum("btt->b", blocks.W),
            (n.sum(axis=1) / blocks.denominator - weight * own).sum(axis=1),
            (looks - n.shape[2] - own_error) / s2 + (1 / blocks.denominator + shared * own).sum(axis=1),
        ],
        axis=1,
    )
    known -= K.sum(axis=(2, 3)) * (blocks.local / blocks.a)[:, None]
    turned = blocks.turn.swapaxes(1, 2)[:, None] @ K @ blocks.turn[:, None]
    M, of = _errors(rows, x), groups.block
    lost = (turned[of].reshape(len(of), 3, -1) @ M.reshape(len(of), -1, 1))[..., 0]
    number = groups.by_block(np.ones(len(of)), len(looks))
    lost = np.stack([groups.by_block(each, len(looks)) for each in lost.T], axis=1)
    _to_sources(rows, number[:, None] * known - lost, out)


def _errors(rows: SeasonRows, x: Eliminated) -> np.ndarray:
    """Covariance of the errors of the tasters' levels in each group, a recurring lot's own part added, (G, T, T)."""
    groups, C, k, t = rows.groups, x.shared.C, len(rows.recurring), rows.tasters
    linked = _times(x.reach, C)
    M = (x.Z + linked @ x.reach.swapaxes(2, 3))[groups.descriptor, groups.session]
    met = np.flatnonzero(groups.place >= 0)
    d, s, lot = groups.descriptor[met], groups.session[met], groups.place[met]
    side = np.repeat(linked[d, s, :, lot][:, :, None], t, axis=2)
    of_lots = np.repeat(np.einsum("dkk->dk", C[:, :k, :k]), t * t, axis=1).reshape(-1, k, t, t)
    if len(rows.own):
        term = np.full(k, -1)
        term[rows.own] = np.arange(len(rows.own))
        has = term[lot] >= 0
        pulled = np.moveaxis(linked[..., k + t :].reshape(*linked.shape[:3], -1, t), 3, 2)  # (D, S, O, T, T)
        side[has] += pulled[d[has], s[has], term[lot[has]]]
        for o, one in enumerate(rows.own):
            at = k + t * (1 + o) + np.arange(t)
            cross = C[:, one, at][:, None, :]
            of_lots[:, one] += cross + cross.swapaxes(1, 2) + C[:, at[:, None], at]
    M[met] += side + side.swapaxes(1, 2) + of_lots[d, lot]
    return M


def _squares_of_rows(rows: SeasonRows, x: Eliminated, out: np.ndarray) -> None:
    """Of the same variances: at the mean of each group, and for the scatter about it."""
    blocks, groups = x.blocks, rows.groups
    of = groups.block
    m = _means(rows, x)
    c, share, s2 = blocks.c[of], blocks.share[of], blocks.s2[of]
    e = x.b - _apply(blocks.W[of], m)
    k = _apply(blocks.G[of], m) + c[:, None] * x.b
    fitted = (k * _apply(blocks.H[of], k)).sum(axis=1) - 2 * (k * x.h).sum(axis=1)
    spread = (groups.pot_sum - np.einsum("gt,gtp->gp", k, blocks.n[of])) ** 2 if rows.pots else groups.pot_sum
    fitted = fitted - (share * groups.pot_sum**2).sum(axis=1) / s2
    number = len(rows.counts)
    cell = groups.by_block((e**2).sum(axis=1), number) + _size(blocks.pull, groups.scatter)
    fitted = groups.by_block(fitted, number)
    spread = np.stack([groups.by_block(each, number) for each in spread.T], axis=1) if rows.pots else blocks.share

    # Of the scatter: the same maps, with the tasters' levels at 0.
    to_k = blocks.c[:, None, None] * blocks.to_b + blocks.G.sum(axis=2)[:, :, None] * blocks.own[:, None, :]
    S = groups.scatter
    t, pots = rows.tasters, np.arange(blocks.share.shape[1])
    fitted = fitted + ((to_k @ S) * (blocks.H @ to_k - 2 * blocks.to_h)).sum(axis=(1, 2))
    of_pots = S[:, t:, t:]
    fitted = fitted - (blocks.share * of_pots[:, pots, pots]).sum(axis=1) / blocks.s2
    to_rest = -blocks.n.swapaxes(1, 2) @ to_k
    to_rest[:, pots, t + pots] += 1.0
    spread = spread + ((to_rest @ S) * to_rest).sum(axis=2)
    weight, shared = 1 / blocks.denominator**2, blocks.share / (blocks.denominator * blocks.s2[:, None])
    error = (groups.squares / blocks.s2 + fitted) / blocks.s2 - (spread * shared).sum(axis=1)
    _to_sources(rows, np.stack([cell, (spread * weight).sum(axis=1), error], axis=1), out)


def _apply(matrix: np.ndarray, x: np.ndarray) -> np.ndarray:
    return (matrix @ x[..., None])[..., 0]


def _size(matrix: np.ndarray, S: np.ndarray) -> np.ndarray:
    """Trace of the scatter seen through a matrix of each block, (B,)."""
    return ((matrix @ S) * matrix).sum(axis=(1, 2))


def _means(rows: SeasonRows, x: Eliminated) -> np.ndarray:
    """The tasters' means of each group, (G, T)."""
    groups, own = rows.groups, own_places(rows)
    d, of = groups.descriptor, groups.block
    z = np.concatenate([groups.taster_sum, groups.pot_sum], axis=1)
    m = _apply(x.blocks.turn[of], x.level[d, groups.session]) + (x.blocks.own[of] * z).sum(axis=1)[:, None]
    met = np.flatnonzero(groups.place >= 0)
    lot = groups.place[met]
    m[met] += x.shared.estimate[d[met], lot][:, None]
    has = met[own[lot, 0] >= 0]
    m[has] += x.shared.estimate[d[has][:, None], own[groups.place[has]]]
    return m
