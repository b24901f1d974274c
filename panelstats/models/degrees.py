"""Lot effects of a fitted panel model, and the degrees of freedom of their contrasts.

Satterthwaite 1946, Biometrics Bulletin 2:110 (one contrast); Fai & Cornelius 1996, J. Stat. Comput. Simul. 54:363 (the
test of all lots).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import fdtrc

from panelstats.models.contrasts import Contrasts
from panelstats.models.mixed import Fit
from panelstats.models.reml import LOT, LOT_POT, LOT_TASTER, RESIDUAL, TASTER
from panelstats.models.ties import tied

if TYPE_CHECKING:
    from collections.abc import Sequence

# Above this many distinct incidences the eigen-decomposition of the F test would cost more than it tells.
MOST_INCIDENCES = 500


@dataclass(frozen=True, eq=False)
class LotTest:
    """Test that all lots are equal, shape (D,) each; NaN where there is nothing to test or to test against."""

    statistic: np.ndarray
    df: np.ndarray
    df_error: np.ndarray

    @property
    def p(self) -> np.ndarray:
        """Chance of as much if the lots were alike."""
        return np.asarray(fdtrc(self.df, self.df_error, self.statistic))


@dataclass(frozen=True, eq=False)
class _Terms:
    """A contrast's pieces: sums over lots of l^2 / a, l^2 |v|^2, l^2 |z|^2, and of l v, l K v, l J z."""

    inv_a: np.ndarray
    v2: np.ndarray
    z2: np.ndarray
    r: np.ndarray
    kv: np.ndarray
    jz: np.ndarray


class LotEffects:
    """Means and contrasts of the lots of a fit with lots fixed.

    Parameters
    ----------
    fit : Fit
    held_covariance : ndarray, shape (D, 5, 5), optional
        Covariance of the values at which components are held, as estimates: it enters the degrees of freedom.
    """

    def __init__(self, fit: Fit, held_covariance: np.ndarray | None = None) -> None:
        self.fit, self.held_covariance = fit, held_covariance
        self._tested: dict[tuple[int, bytes], tuple[float, float, float]] = {}
        b, lot, whole = fit.blocks, fit.at.lots_in, fit.at.tasters_in
        self.M = whole.M
        v, z = lot.omega / lot.a[:, None], lot.psi / lot.a[:, None]
        kv = (lot.K @ v[:, :, None])[:, :, 0]
        jz = (lot.J @ z[:, :, None])[:, :, 0]
        self._block = _Terms(1 / lot.a, (v**2).sum(axis=1), (z**2).sum(axis=1), v, kv, jz)
        weigh = b.lots[:, None, None]
        self._G = {
            LOT_TASTER: b.per_descriptor(weigh * (lot.K @ lot.K)),
            LOT_POT: b.per_descriptor(weigh * (lot.J @ np.swapaxes(lot.J, 1, 2))),
        }
        t, row = b.tasters, b.row_block
        step = (whole.u - b.shift)[b.row_descriptor]
        ratio = (fit.variances[:, LOT_POT] / fit.variances[:, RESIDUAL])[b.row_descriptor]
        pots = np.einsum("rp,rp->r", z[row], b.z[:, t:])
        mean = b.centre + np.einsum("rt,rt->r", v[row], b.z[:, :t] - step) - ratio * pots
        ends = np.searchsorted(b.row_descriptor, np.arange(1, len(b.p)))
        self.mean = np.concatenate([tied(part) for part in np.split(mean, ends)])

    def rows_of(self, d: int) -> np.ndarray:
        """Index of the descriptor's rows (its lots) in `mean` and in the blocks' row arrays."""
        b = self.fit.blocks
        return np.arange(*np.searchsorted(b.row_descriptor, [d, d + 1]))

    def means(self, d: int) -> Contrasts:
        """Mean of each lot for such a panel: its standard error holds the tasters' variance."""
        rows = self.rows_of(d)
        return self._finish(d, self.mean[rows], _at(self._block, self.fit.blocks.row_block[rows]))

    def pairs(self, d: int, first: np.ndarray, second: np.ndarray) -> Contrasts:
        """Differences between lots; `first` and `second` count the descriptor's lots from 0."""
        rows = self.rows_of(d)
        at = self.fit.blocks.row_block[rows]
        one, two = _at(self._block, at[first]), _at(self._block, at[second])
        return self._finish(d, self.mean[rows[first]] - self.mean[rows[second]], _apart(one, two))

    def correlation_with(self, d: int, control: int, others: np.ndarray) -> np.ndarray:
        """Correlation of the differences of `others` from `control` (both count the descriptor's lots from 0)."""
        at = self.fit.blocks.row_block[self.rows_of(d)]
        v = self._block.r[at[others]] - self._block.r[at[control]]
        shared = self.fit.variances[d, TASTER] * v @ self.M[d] @ v.T
        covariance = np.diag(self._block.inv_a[at[others]]) + self._block.inv_a[at[control]] + shared
        sd = np.sqrt(np.diag(covariance))
        return covariance / np.outer(sd, sd)

    def deviations(self, d: int) -> Contrasts:
        """Each lot minus the plain mean of all lots of the descriptor."""
        rows = self.rows_of(d)
        lots, p = _at(self._block, self.fit.blocks.row_block[rows]), len(rows)
        linear = {name: getattr(lots, name) - getattr(lots, name).mean(axis=0) for name in ("r", "kv", "jz")}
        square = {
            name: getattr(lots, name) * (1 - 2 / p) + getattr(lots, name).sum() / p**2 for name in ("inv_a", "v2", "z2")
        }
        mean = self.mean[rows]
        return self._finish(d, mean - mean.mean(), _Terms(**square, **linear))

    def test(self, compared: np.ndarray, which: Sequence[int] | None = None) -> LotTest:
        """F test that lots are equal, degrees of freedom after Fai & Cornelius in an orthonormal basis.

        Parameters
        ----------
        compared : ndarray of bool, shape (L,)
            The lots of the grid that enter the test; controls and standards stay in the fit but not in the question.
        which : sequence of int, optional
            Descriptors to test; all by default.
        """
        b = self.fit.blocks
        which = range(len(b.p)) if which is None else which
        tests = []
        for d in which:
            asked = d, compared.tobytes()
            if asked not in self._tested:  # the comparison and the agreement ask the same
                rows = self.rows_of(d)
                self._tested[asked] = self._test_of(d, rows[compared[b.row_lot[rows]]])
            tests.append(self._tested[asked])
        statistic, df, df_error = np.array(tests).reshape(-1, 3).T
        return LotTest(statistic, df, df_error)

    def _test_of(self, d: int, rows: np.ndarray) -> tuple[float, float, float]:
        """Statistic, its df and those of the error; NaN for fewer than two lots."""
        q = len(rows) - 1
        return (self._quadratic(d, rows) / q, float(q), self._test_df(d, rows)) if q > 0 else (np.nan,) * 3

    def _quadratic(self, d: int, rows: np.ndarray) -> float:
        """Wald statistic of the equality of the lots in these rows."""
        fit = self.fit
        lot, at = fit.at.lots_in, fit.blocks.row_block[rows]
        omega, a = lot.omega[at], lot.a[at]
        s_t = fit.variances[d, TASTER]
        whole = fit.at.tasters_in.K[d] + np.einsum("rt,ru->tu", omega, omega / a[:, None])
        inner = s_t * np.linalg.inv(np.eye(len(whole)) + s_t * whole)
        y = self.mean[rows] - self.mean[rows].mean()
        G_y = a * y - omega @ (inner @ (omega.T @ y))
        G_1 = a - omega @ (inner @ omega.sum(axis=0))
        return float(y @ G_y - G_y.sum() ** 2 / G_1.sum())

    def _test_df(self, d: int, rows: np.ndarray) -> float:
        """Denominator degrees of freedom; lots of one incidence need no algebra, too many incidences a mean."""
        mine, lots = np.unique(self.fit.blocks.row_block[rows], return_counts=True)
        if len(mine) > MOST_INCIDENCES:
            df = self.deviations(d).df
            return float(len(df) / (1 / df).sum())
        inside = _at(self._block, mine[lots > 1])
        flat = np.zeros_like(inside.r)
        within = _Terms(inside.inv_a, inside.v2, inside.z2, flat, flat, flat)
        nu, times = [self._finish(d, np.zeros(len(flat)), within).df], [(lots[lots > 1] - 1).astype(float)]
        if len(mine) > 1:
            nu.append(self._between(d, mine, lots).df)
            times.append(np.ones(len(mine) - 1))
        return fai_cornelius(np.concatenate(nu), np.concatenate(times))

    def _between(self, d: int, mine: np.ndarray, lots: np.ndarray) -> Contrasts:
        """The eigen-contrasts between groups of lots of one incidence."""
        group, root = _at(self._block, mine), np.sqrt(lots)
        basis = orthonormal_complement(root)
        v = root[:, None] * group.r
        covariance = (basis.T * group.inv_a) @ basis
        side = basis.T @ v
        covariance += self.fit.variances[d, TASTER] * side @ self.M[d] @ side.T
        weights = basis @ np.linalg.eigh(covariance)[1]  # (groups, contrasts)
        scaled = (weights * root[:, None]).T
        terms = _Terms(
            *((weights**2).T @ x for x in (group.inv_a, group.v2, group.z2)),
            *(scaled @ x for x in (group.r, group.kv, group.jz)),
        )
        return self._finish(d, np.zeros(weights.shape[1]), terms)

    def _finish(self, d: int, estimate: np.ndarray, terms: _Terms) -> Contrasts:
        variance, gradient = self._variance(d, terms)
        A = self.fit.covariance[d]
        spread = np.einsum("kf,kf->k", gradient @ A, gradient)
        if self.held_covariance is not None:  # total derivatives: the fitted components follow the held ones
            total = gradient - gradient @ (A / 2) @ self.fit.hessian[d]
            spread = spread + np.einsum("kf,fg,kg->k", total, self.held_covariance[d], total)
        with np.errstate(divide="ignore", invalid="ignore"):
            df = np.where(spread > 0, 2 * variance**2 / spread, np.inf if self.fit.held[d].all() else np.nan)
        se = np.where(np.isnan(df), np.nan, np.sqrt(variance))  # a likelihood without a greatest value tells neither
        return Contrasts(estimate, se, np.where(df < 1, 1.0, df))

    def _variance(self, d: int, terms: _Terms) -> tuple[np.ndarray, np.ndarray]:
        """Variance of each contrast and its derivatives by the five variances."""
        theta, M = self.fit.variances[d], self.M[d]
        s_t, Mr = theta[TASTER], terms.r @ M
        variance = terms.inv_a + s_t * np.einsum("kt,kt->k", terms.r, Mr)
        gradient = np.zeros((len(variance), 5))
        gradient[:, TASTER] = np.einsum("kt,kt->k", Mr, Mr)
        for f, own, moved in ((LOT_TASTER, terms.v2, terms.kv), (LOT_POT, terms.z2, terms.jz)):
            back = np.einsum("kt,kt->k", Mr @ self._G[f][d], Mr)
            gradient[:, f] = own - 2 * s_t * np.einsum("kt,kt->k", moved, Mr) + s_t**2 * back
        gradient[:, RESIDUAL] = (variance - gradient @ theta) / theta[RESIDUAL]
        return variance, gradient


def _at(terms: _Terms, index: np.ndarray) -> _Terms:
    return _Terms(**{name: value[index] for name, value in vars(terms).items()})


def _apart(one: _Terms, two: _Terms) -> _Terms:
    """Of one lot less another: squares add up, what is linear in the lots is taken off."""
    square = {name: getattr(one, name) + getattr(two, name) for name in ("inv_a", "v2", "z2")}
    linear = {name: getattr(one, name) - getattr(two, name) for name in ("r", "kv", "jz")}
    return _Terms(**square, **linear)


def orthonormal_complement(x: np.ndarray) -> np.ndarray:
    """Orthonormal basis of the vectors orthogonal to x (positive entries), by one Householder reflection."""
    w = x / np.linalg.norm(x)
    w = w + np.eye(len(x))[0]
    reflection = np.eye(len(x)) - 2 * np.outer(w, w) / (w @ w)
    return reflection[:, 1:]


def fai_cornelius(nu: np.ndarray, times: np.ndarray) -> float:
    """Denominator degrees of freedom from those of the eigen-contrasts, each counted `times`."""
    if not np.isfinite(nu).all():
        return float("nan")
    if np.ptp(nu) <= 1e-8 * nu.max():
        return float(nu[0])
    if (nu <= 2).any():
        return 2.0
    expected = (times * nu / (nu - 2)).sum()
    return float(2 * expected / (expected - times.sum()))


def lot_predictions(fit: Fit) -> tuple[np.ndarray, np.ndarray]:
    """Predicted deviation of each lot from the mean of all lots, and its standard error of prediction.

    Parameters
    ----------
    fit : Fit
        With lots random.

    Returns
    -------
    prediction, se : ndarray, shape (R,)
        In the order of the blocks' rows. The standard error takes the variances as known
        (Henderson 1975, Biometrics 31:423).
    """
    b, lot, whole = fit.blocks, fit.at.lots_in, fit.at.tasters_in
    t, d, at = b.tasters, b.row_descriptor, b.row_block
    variance = fit.variances[d, LOT]
    ratio = fit.variances[d, LOT_POT] / fit.variances[d, RESIDUAL]
    row, pot_row = lot.K.sum(axis=2), lot.J.sum(axis=1)
    level = b.z[:, :t] - (whole.u - b.shift)[d]
    pull = np.einsum("rt,rt->r", row[at], level) - ratio * np.einsum("rp,rp->r", pot_row[at], b.z[:, t:])
    information = row.sum(axis=1)[at] - np.einsum("rt,rtu,ru->r", row[at], whole.inner[d], row[at], optimize=True)
    return variance * pull, np.sqrt(np.maximum(variance - variance**2 * information, 0.0))
