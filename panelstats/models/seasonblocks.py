"""What the looks at one lot in one session tell of the tasters' means: pots, cells and the lot itself eliminated."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from panelstats.models.seasonsources import LOT_TASTER, LOT_TASTER_SESSION, POT, RESIDUAL

if TYPE_CHECKING:
    from panelstats.models.seasonrows import SeasonRows


@dataclass(frozen=True, eq=False)
class SeasonBlocks:
    """Matrices of each of B blocks at given variances, for T tasters and P pots; z is a row's sums, (T + P,).

    Attributes
    ----------
    s2, c : ndarray, shape (B,)
        Error variance, and that of a cell.
    n : ndarray, shape (B, T, P)
        Looks by pot; P is 0 where pots are no factor.
    share, denominator : ndarray, shape (B, P)
        Pot variance over that of a pot's total, and the latter.
    H, G, W : ndarray, shape (B, T, T)
        Information before the cells are eliminated; (I + cH)^-1; information on the tasters' means.
    w, a : ndarray, shape (B, T), (B,)
        Row sums of W and their sum: information on the lot.
    to_h, to_b : ndarray, shape (B, T, T + P)
        From z to the scores of the cells, and to those of the tasters' means.
    own : ndarray, shape (B, T + P)
        From z to the lot's own estimate where the tasters' levels are 0; 0 for lots that recur.
    turn : ndarray, shape (B, T, T)
        From the tasters' levels to their means at this lot, its own estimate taken into account.
    logdet : ndarray, shape (B,)
    local : ndarray, shape (B,)
        1 where the lot is met in this session only, and so eliminated here; else 0.
    """

    s2: np.ndarray
    c: np.ndarray
    n: np.ndarray
    share: np.ndarray
    denominator: np.ndarray
    H: np.ndarray
    G: np.ndarray
    W: np.ndarray
    w: np.ndarray
    a: np.ndarray
    to_h: np.ndarray
    to_b: np.ndarray
    own: np.ndarray
    turn: np.ndarray
    logdet: np.ndarray
    local: np.ndarray

    @property
    def weights(self) -> np.ndarray:
        """Of the tasters in the lot's own estimate, (B, T); 0 for lots that recur."""
        return self.w * (self.local / self.a)[:, None]

    @property
    def information(self) -> np.ndarray:
        """On the tasters' levels, the lot eliminated where it is met once."""
        return self.W @ self.turn

    @property
    def pull(self) -> np.ndarray:
        """From z to the score of the tasters' levels, alike."""
        return self.to_b - self.w[:, :, None] * self.own[:, None, :]

    @property
    def lost(self) -> np.ndarray:
        """The quadratic form of z that is taken off the sum of squared looks over s2, (B, T + P, T + P)."""
        out = self.c[:, None, None] * self.to_h.swapaxes(1, 2) @ self.to_b
        out = out + self.a[:, None, None] * self.own[:, :, None] * self.own[:, None, :]
        pots = self.w.shape[1] + np.arange(self.share.shape[1])
        out[:, pots, pots] += self.share / self.s2[:, None]
        return out


def season_blocks(rows: SeasonRows, theta: np.ndarray) -> SeasonBlocks:
    """Eliminate pots, cells and lots that are met once."""
    mine = theta[rows.block_descriptor]
    s2 = mine[:, RESIDUAL]
    c = mine[:, LOT_TASTER_SESSION] + np.where(rows.block_own, 0.0, mine[:, LOT_TASTER])
    looks = rows.counts.sum(axis=2)
    n = rows.counts if rows.pots else np.zeros((*looks.shape, 0))
    denominator = s2[:, None] + mine[:, POT, None] * n.sum(axis=1)
    share = mine[:, POT, None] / denominator
    eye = np.eye(looks.shape[1])
    shared = n * share[:, None, :]
    H = (looks[:, :, None] * eye - shared @ np.swapaxes(n, 1, 2)) / s2[:, None, None]
    inner = eye + c[:, None, None] * H
    G = np.linalg.inv(inner)
    W = G @ H
    W = (W + np.swapaxes(W, 1, 2)) / 2
    w = W.sum(axis=2)
    a = w.sum(axis=1)
    to_h = np.concatenate([np.broadcast_to(eye, H.shape), -shared], axis=2) / s2[:, None, None]
    to_b = G @ to_h
    local = np.where(rows.block_met, 0.0, 1.0)
    logdet = np.linalg.slogdet(inner)[1] + np.log(denominator).sum(axis=1) + local * np.log(a)
    return SeasonBlocks(
        s2=s2,
        c=c,
        n=n,
        share=share,
        denominator=denominator,
        H=H,
        G=G,
        W=W,
        w=w,
        a=a,
        to_h=to_h,
        to_b=to_b,
        own=to_b.sum(axis=1) * (local / a)[:, None],
        turn=eye - (w * (local / a)[:, None])[:, None, :],
        logdet=logdet + (looks.sum(axis=1) - n.shape[2]) * np.log(s2),
        local=local,
    )
