"""Lots of a season: their means, contrasts across sessions, and the degrees of freedom of these.

Satterthwaite 1946, Biometrics Bulletin 2:110 (one contrast); Fai & Cornelius 1996, J. Stat. Comput. Simul. 54:363 (the
test of all lots, in an orthonormal basis).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from panelstats.models.contrasts import Contrasts, JointTest
from panelstats.models.degrees import fai_cornelius, orthonormal_complement
from panelstats.models.seasonfit import SeasonFit
from panelstats.models.seasonlikelihood import SeasonState
from panelstats.models.seasonsources import SOURCES
from panelstats.models.ties import tied

if TYPE_CHECKING:
    from collections.abc import Callable

# Above this many lots the test of all of them takes the harmonic mean of their own degrees of freedom.
MOST_EIGEN = 200
# Above this many it is not made: that thousands of lots are not all equal needs no test.
MOST_TESTED = 2000


@dataclass(frozen=True, eq=False)
class _Pieces:
    """What the covariance of one descriptor's lots is made of at some variances."""

    inv_a: np.ndarray  # (p,)
    v: np.ndarray  # (p, T)
    f: np.ndarray  # (p, g)
    session: np.ndarray  # (p,)
    Z: np.ndarray  # (S, T, T)
    C: np.ndarray  # (g, g)

    def shared(self, f: np.ndarray) -> np.ndarray:
        """Variance of what all sessions share."""
        return ((f @ self.C) * f).sum(axis=1)

    def by_session(self, session: np.ndarray, v: np.ndarray) -> np.ndarray:
        """Variance of a session's level, weighted by tasters."""
        return ((self.Z[session] @ v[:, :, None])[:, :, 0] * v).sum(axis=1)

    def means(self) -> np.ndarray:
        return self.inv_a + self.by_session(self.session, self.v) + self.shared(self.f)

    def pairs(self, first: np.ndarray, second: np.ndarray) -> np.ndarray:
        same = self.session[first] == self.session[second]
        one = self.v[first] - np.where(same[:, None], self.v[second], 0.0)
        other = np.where(same[:, None], 0.0, self.v[second])
        out = self.inv_a[first] + self.inv_a[second] + self.shared(self.f[first] - self.f[second])
        return out + self.by_session(self.session[first], one) + self.by_session(self.session[second], other)

    def deviations(self, compared: np.ndarray) -> np.ndarray:
        """Each lot less the plain mean of the compared ones."""
        weight = compared / compared.sum()
        f = self.f - weight @ self.f
        total = np.zeros((len(self.Z), self.v.shape[1]))
        np.add.at(total, self.session, weight[:, None] * self.v)
        level = np.einsum("st,stu,su->s", total, self.Z, total)
        own = self.v - total[self.session]
        out = self.inv_a * (1 - 2 * weight) + (weight**2 * self.inv_a).sum() + self.shared(f)
        return out + self.by_session(self.session, own) + level.sum() - level[self.session]

    def covariance(self, which: np.ndarray) -> np.ndarray:
        """Covariance of some lots, in full."""
        v, f, session = self.v[which], self.f[which], self.session[which]
        out = np.diag(self.inv_a[which]) + f @ self.C @ f.T
        for s in np.unique(session):
            mine = np.flatnonzero(session == s)
            out[np.ix_(mine, mine)] += v[mine] @ self.Z[s] @ v[mine].T
        return out


class SeasonEffects:
    """Means and contrasts of the lots of a fitted season."""

    def __init__(self, fit: SeasonFit) -> None:
        self.fit = fit

    def lots(self, d: int) -> np.ndarray:
        """Lots of a descriptor that were scored, in the order of every array below."""
        return np.flatnonzero(np.isfinite(self.fit.rows.centre[d]))

    def mean(self, d: int) -> np.ndarray:
        """Estimate of each lot."""
        rows, at, mine = self.fit.rows, self.fit.at, self._rows(d)
        of, place = rows.block[mine], rows.place[mine]
        z = np.concatenate([rows.taster_sum[mine], rows.pot_sum[mine]], axis=1)
        own = (at.of.blocks.own[of] * z).sum(axis=1)
        own = own - (at.of.blocks.weights[of] * at.of.level[d, rows.session[mine]]).sum(axis=1)
        mean = np.where(place < 0, own, at.of.shared.estimate[d, place])
        return tied(mean + rows.centre[d, self.lots(d)])

    def met(self, d: int) -> tuple[np.ndarray, np.ndarray]:
        """In how many sessions, and by how many tasters, each lot was met."""
        rows = self.fit.rows
        mine = np.flatnonzero(rows.descriptor == d)
        _, lot = np.unique(rows.lot[mine], return_inverse=True)
        seen = np.zeros((int(lot.max()) + 1, rows.tasters), bool)
        np.logical_or.at(seen, lot, rows.counts[rows.block[mine]].sum(axis=2) > 0)
        return np.bincount(lot), seen.sum(axis=1)

    def means(self, d: int) -> Contrasts:
        """Mean of each lot for such a panel on such days."""
        return self._finish(d, self.mean(d), _Pieces.means)

    def pairs(self, d: int, first: np.ndarray, second: np.ndarray) -> Contrasts:
        """Differences between lots, both counted in `lots`."""
        mean = self.mean(d)
        return self._finish(d, mean[first] - mean[second], lambda at: at.pairs(first, second))

    def deviations(self, d: int, compared: np.ndarray) -> Contrasts:
        """Each lot less the mean of the compared ones (a mask over `lots`)."""
        mean = self.mean(d)
        return self._finish(d, mean - mean[compared].mean(), lambda at: at.deviations(compared))

    def correlation_with(self, d: int, control: int, others: np.ndarray) -> np.ndarray:
        """Correlation of the differences of `others` from `control`."""
        cov = self._pieces(self.fit.at, d).covariance(np.append(others, control))
        cov = cov[:-1, :-1] - cov[:-1, -1:] - cov[-1:, :-1] + cov[-1, -1]
        sd = np.sqrt(np.diag(cov))
        return cov / np.outer(sd, sd)

    def test(self, d: int, compared: np.ndarray) -> JointTest:
        """F test that the compared lots (a mask over `lots`) are equal."""
        which = np.flatnonzero(compared)
        q = len(which) - 1
        if q < 1 or len(which) > MOST_TESTED:
            return JointTest(np.nan, np.nan, np.nan)
        basis = orthonormal_complement(np.ones(len(which)))
        covariance = basis.T @ self._pieces(self.fit.at, d).covariance(which) @ basis
        y = basis.T @ self.mean(d)[which]
        statistic = float(y @ np.linalg.solve(covariance, y)) / q
        return JointTest(statistic, float(q), self._test_df(d, compared, basis, covariance))

    def _test_df(self, d: int, compared: np.ndarray, basis: np.ndarray, covariance: np.ndarray) -> float:
        which = np.flatnonzero(compared)
        if len(which) > MOST_EIGEN:
            df = self.deviations(d, compared).df[which]
            return float(len(df) / (1 / df).sum())
        weights = basis @ np.linalg.eigh(covariance)[1]

        def sizes(at: _Pieces) -> np.ndarray:
            return ((at.covariance(which) @ weights) * weights).sum(axis=0)

        nu = self._finish(d, np.zeros(weights.shape[1]), sizes).df
        return fai_cornelius(nu, np.ones(len(nu)))

    def _rows(self, d: int) -> np.ndarray:
        """The first row of each lot: all rows of a lot that recurs hold the same estimate."""
        mine = np.flatnonzero(self.fit.rows.descriptor == d)
        return mine[np.unique(self.fit.rows.lot[mine], return_index=True)[1]]

    def _pieces(self, at: SeasonState, d: int) -> _Pieces:
        rows, mine = self.fit.rows, self._rows(d)
        session, place, blocks, of = rows.session[mine], rows.place[mine], at.of.blocks, rows.block[mine]
        v = blocks.weights[of]
        f = -(v[:, None, :] @ at.of.reach[d, session])[:, 0]
        met = np.flatnonzero(place >= 0)
        f[met, place[met]] = 1.0
        return _Pieces((blocks.local / blocks.a)[of], v, f, session, at.of.Z[d], at.of.shared.C[d])

    def _finish(self, d: int, estimate: np.ndarray, variance_of: Callable[[_Pieces], np.ndarray]) -> Contrasts:
        variance = variance_of(self._pieces(self.fit.at, d))
        gradient = np.zeros((len(variance), len(SOURCES)))
        for i, (up, down, apart) in self.fit.beside.items():
            change = variance_of(self._pieces(up, d)) - variance_of(self._pieces(down, d))
            gradient[:, i] = change / apart[d]
        spread = np.einsum("kf,fg,kg->k", gradient, self.fit.covariance[d], gradient)
        with np.errstate(divide="ignore", invalid="ignore"):
            df = np.where(spread > 0, 2 * variance**2 / spread, np.nan)
        return Contrasts(estimate, np.sqrt(np.maximum(variance, 0.0)), np.where(df < 1, 1.0, df))
