"""What all sessions share: lots that recur (fixed), tasters, and lot:taster of the lots that recur (random)."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from panelstats.models.seasonsources import LOT_TASTER, TASTER

if TYPE_CHECKING:
    from panelstats.models.seasonblocks import SeasonBlocks
    from panelstats.models.seasonrows import SeasonRows


@dataclass(frozen=True, eq=False)
class Shared:
    """What all sessions share, eliminated: g of them, the K lots that recur first.

    Attributes
    ----------
    C : ndarray, shape (D, g, g)
        Covariance of the estimates.
    estimate : ndarray, shape (D, g)
    information : ndarray, shape (D, g - K, g - K)
        On the random ones, lots eliminated.
    score : ndarray, shape (D, g - K)
        Z'Py.
    logdet, quad : ndarray, shape (D,)
    """

    C: np.ndarray
    estimate: np.ndarray
    information: np.ndarray
    score: np.ndarray
    logdet: np.ndarray
    quad: np.ndarray


def taster_places(rows: SeasonRows) -> np.ndarray:
    """Where the tasters stand among what all sessions share."""
    return len(rows.recurring) + np.arange(rows.tasters)


def own_places(rows: SeasonRows) -> np.ndarray:
    """Where lot:taster of each lot that recurs stands, shape (K, T); -1 where it has no term of its own."""
    t, k = rows.tasters, len(rows.recurring)
    out = np.full((k, t), -1)
    out[rows.own] = k + t + np.arange(len(rows.own) * t).reshape(len(rows.own), t)
    return out


def shared_information(
    rows: SeasonRows, blocks: SeasonBlocks, A: np.ndarray, b: np.ndarray, score: np.ndarray
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Information of the scores on what all sessions share: with each session's level, by itself, and its score.

    `A` (D, S, T, T) and `score` (D, S, T) are those of the sessions' levels, `b` (G, T) the groups' own scores.
    """
    d, s, t = A.shape[:3]
    k, tasters, own, groups = len(rows.recurring), taster_places(rows), own_places(rows), rows.groups
    g = k + t + len(rows.own) * t
    met = np.flatnonzero(groups.place >= 0)
    at, place, of = groups.descriptor[met], groups.place[met], groups.block[met]
    B, N, r = np.zeros((d, s, t, g)), np.zeros((d, g, g)), np.zeros((d, g))
    B[at, groups.session[met], :, place] = blocks.w[of]
    B[..., tasters] = A
    N[:, :k, tasters] = B[..., :k].sum(axis=1).swapaxes(1, 2)
    N[:, tasters, :k] = N[:, :k, tasters].swapaxes(1, 2)
    lot_at = at * k + place
    N[:, np.arange(k), np.arange(k)] = np.bincount(lot_at, blocks.a[of], d * k).reshape(d, k)
    N[np.ix_(np.arange(d), tasters, tasters)] = A.sum(axis=1)
    r[:, :k] = np.bincount(lot_at, b[met].sum(axis=1), d * k).reshape(d, k)
    r[:, tasters] = score.sum(axis=1)
    for lot in rows.own:
        mine = np.flatnonzero(place == lot)
        W = np.zeros((d, s, t, t))
        W[at[mine], groups.session[met[mine]]] = blocks.W[of[mine]]
        B[..., own[lot]] = W
        whole = W.sum(axis=1)
        for other in (tasters, own[lot]):
            N[np.ix_(np.arange(d), own[lot], other)] = whole
            N[np.ix_(np.arange(d), other, own[lot])] = whole
        N[:, lot, own[lot]] = N[:, own[lot], lot] = whole.sum(axis=2)
        np.add.at(r, (at[mine][:, None], own[lot][None, :]), b[met[mine]])
    return B, N, r


def eliminate_shared(rows: SeasonRows, N: np.ndarray, r: np.ndarray, theta: np.ndarray) -> Shared:
    """Eliminate lots that recur, then the random effects that all sessions share."""
    k, t, size = len(rows.recurring), rows.tasters, N.shape[1]
    absent = ~np.isfinite(rows.centre[:, rows.recurring])
    fixed = N[:, :k, :k] + absent[:, :, None] * np.eye(k)
    inverse = np.linalg.inv(fixed)
    cross = inverse @ N[:, :k, k:]  # (D, K, g - K)
    lots = np.einsum("dkl,dl->dk", inverse, r[:, :k])
    N_star = N[:, k:, k:] - N[:, k:, :k] @ cross
    r_star = r[:, k:] - np.einsum("dgk,dk->dg", N[:, k:, :k], lots)
    sd = np.sqrt(np.repeat(theta[:, [TASTER, LOT_TASTER]], [t, size - k - t], axis=1))
    inner = np.eye(size - k) + sd[:, :, None] * N_star * sd[:, None, :]
    C_rr = sd[:, :, None] * np.linalg.inv(inner) * sd[:, None, :]
    u = np.einsum("dgh,dh->dg", C_rr, r_star)
    C = np.empty_like(N)
    C[:, k:, k:], C[:, :k, k:] = C_rr, -cross @ C_rr
    C[:, k:, :k] = C[:, :k, k:].swapaxes(1, 2)
    C[:, :k, :k] = inverse + cross @ C_rr @ cross.swapaxes(1, 2)
    estimate = np.concatenate([lots - np.einsum("dkg,dg->dk", cross, u), u], axis=1)
    return Shared(
        C=C,
        estimate=estimate,
        information=N_star - N_star @ C_rr @ N_star,
        score=r_star - np.einsum("dgh,dh->dg", N_star, u),
        logdet=np.linalg.slogdet(fixed)[1] + np.linalg.slogdet(inner)[1],
        quad=(r_star * u).sum(axis=1) + (r[:, :k] * lots).sum(axis=1),
    )
