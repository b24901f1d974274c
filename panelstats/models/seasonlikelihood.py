"""The restricted likelihood of the season model with its exact gradient, all descriptors at once.

Model, one descriptor: score = lot + taster + session + taster:session + lot:taster + lot:taster:session +
lot:session:pot + error, lots fixed, the rest random. Rows (a lot in a session) are eliminated first, then sessions,
then what all sessions share: lots that recur, tasters, and lot:taster of the lots that recur. Work is linear in rows
and sessions, rows that differ in their scores alone count as one; nothing of the size of lots is squared. Patterson &
Thompson 1971, Biometrika 58:545.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from panelstats.models.seasonblocks import SeasonBlocks, season_blocks
from panelstats.models.seasongradient import Eliminated, season_squares, season_traces
from panelstats.models.seasonshared import eliminate_shared, shared_information, taster_places
from panelstats.models.seasonsources import SESSION, TASTER_SESSION

if TYPE_CHECKING:
    from panelstats.models.seasonrows import SeasonRows


@dataclass(frozen=True, eq=False)
class SeasonState:
    """The likelihood at given variances, with what means and contrasts are made of.

    Attributes
    ----------
    value : ndarray, shape (D,)
        -2 log restricted likelihood, constants included.
    rows : SeasonRows
    of : Eliminated
    """

    value: np.ndarray
    rows: SeasonRows
    of: Eliminated

    @cached_property
    def traces(self) -> np.ndarray:
        """What of the gradient depends on the layout alone, (D, 7)."""
        return season_traces(self.rows, self.of)

    @cached_property
    def gradient(self) -> np.ndarray:
        """Of `value`, by variance, (D, 7)."""
        return self.traces - season_squares(self.rows, self.of)


def season_state(rows: SeasonRows, theta: np.ndarray) -> SeasonState:
    """Evaluate the likelihood at variances of shape (D, 7), the residual above 0."""
    blocks, groups, d = season_blocks(rows, theta), rows.groups, rows.sizes[0]
    of, number = groups.block, groups.number
    z = np.concatenate([groups.taster_sum, groups.pot_sum], axis=1)
    h, b, pulled = ((each[of] @ z[:, :, None])[:, :, 0] for each in (blocks.to_h, blocks.to_b, blocks.pull))
    A = _by_session(rows, number[:, None, None] * blocks.information[of])
    score = _by_session(rows, number[:, None] * pulled)
    B, N, r = shared_information(rows, blocks, A, b, score)
    Z, half = _session_prior(A, theta)
    ZB = Z @ B
    flat = B.reshape(d, -1, B.shape[3]).swapaxes(1, 2)
    N = N - flat @ ZB.reshape(d, -1, B.shape[3])
    r = r - np.einsum("dstg,dst->dg", ZB, score)
    shared = eliminate_shared(rows, N, r, theta)
    value = _of_rows(rows, blocks, z) + (rows.scores - rows.lots) * np.log(2 * np.pi) + half.sum(axis=1)
    value = value - np.einsum("dst,dstu,dsu->d", score, Z, score) + shared.logdet - shared.quad
    left = score - np.einsum("dstg,dg->dst", B, shared.estimate)
    tasters = taster_places(rows)
    level = np.einsum("dstu,dsu->dst", Z, left) + shared.estimate[:, None, tasters]
    reach = -ZB
    reach[..., np.arange(rows.tasters), tasters] += 1.0
    return SeasonState(value, rows, Eliminated(blocks, shared, A, B, Z, reach, left, level, h, b))


def _of_rows(rows: SeasonRows, blocks: SeasonBlocks, z: np.ndarray) -> np.ndarray:
    """Log determinants and squares of the rows, the tasters' levels at 0, (D,)."""
    groups, lost, count = rows.groups, blocks.lost, len(rows.counts)
    at_mean = ((lost[groups.block] @ z[:, :, None])[:, :, 0] * z).sum(axis=1)
    taken = groups.by_block(at_mean, count) + (lost * groups.scatter).sum(axis=(1, 2))
    logdet = groups.by_block(blocks.logdet[groups.block], count)
    return np.bincount(rows.block_descriptor, logdet + groups.squares / blocks.s2 - taken, rows.sizes[0])


def _by_session(rows: SeasonRows, values: np.ndarray) -> np.ndarray:
    """Sum over the groups of each descriptor and session: (G, ...) -> (D, S, ...)."""
    d, s, _ = rows.sizes
    present, starts = np.unique(rows.groups.descriptor * s + rows.groups.session, return_index=True)
    out = np.zeros((d * s, *values.shape[1:]))
    out[present] = np.add.reduceat(values, starts, axis=0)
    return out.reshape(d, s, *values.shape[1:])


def _session_prior(A: np.ndarray, theta: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Covariance of session + taster:session given the rest, and log det(I + AO)."""
    eye = np.eye(A.shape[2])
    prior = theta[:, SESSION, None, None] + theta[:, TASTER_SESSION, None, None] * eye
    inner = eye + A @ prior[:, None]
    Z = prior[:, None] @ np.linalg.inv(inner)
    return (Z + Z.swapaxes(2, 3)) / 2, np.linalg.slogdet(inner)[1]
