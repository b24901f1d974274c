"""Fixed effects of lots, tested against the scatter of lots: least squares on lot means, else REML.

Model, one descriptor: score = fixed + day + lot + taster + error, all but the first random. Complete scores need no
taster: the means of the lots carry all there is, and lot and error are one term. Patterson & Thompson 1971, Biometrika
58:545; Satterthwaite 1946, Biometrics Bulletin 2:110; Fai & Cornelius 1996, J. Stat. Comput. Simul. 54:363.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy.optimize import minimize, minimize_scalar

from panelstats.models.contrasts import Contrasts, JointTest
from panelstats.models.degrees import fai_cornelius

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

# A random term whose share of the error is below this is taken as 0; it then costs no degree of freedom.
NEXT_TO_NOTHING = 1e-6
# Square roots of the ratio at which a single random term is first tried; the largest is the largest there may be.
ROOTS = (0.0, 0.1, 0.2, 0.35, 0.5, 0.7, 1.0, 1.5, 2.5, 5.0, 15.0, 50.0)
# Relative step of the numerical derivatives of the likelihood.
STEP = 1e-3


class LotModel:
    """Restricted likelihood of one descriptor, in ratios of the variances to that of the error.

    Parameters
    ----------
    y : ndarray, shape (N,)
    fixed : ndarray, shape (N, p)
        Of full column rank.
    swept : ndarray of int, shape (N,), optional
        Codes of the random term with most levels, swept out in closed form: the lot of each score; the day of each lot
        where `y` holds a mean for each lot.
    others : sequence of ndarray of int, shape (N,)
        Codes of further random terms: taster, day.

    Attributes
    ----------
    variances : ndarray
        Error, swept (unless None), others. Of lots' means the error is the scatter of lots.
    loglik : float
        Restricted, constants included.
    """

    def __init__(
        self, y: np.ndarray, fixed: np.ndarray, swept: np.ndarray | None = None, others: Sequence[np.ndarray] = ()
    ) -> None:
        self.n, self.p = fixed.shape
        terms = [np.eye(code.max() + 1)[code] for code in others]
        self._sizes = [term.shape[1] for term in terms]
        whole = np.column_stack([fixed, *terms, y])
        self._cross = whole.T @ whole
        self._by_size = [] if swept is None else _sums(whole, swept)
        self._sweeps = swept is not None
        ratios = _best(self._criterion, len(terms) + self._sweeps, self.n - self.p)
        self.loglik = -self._criterion(ratios) / 2
        self.variances = self._error(ratios) * np.append(1.0, ratios)
        self._covariance = self._of_variances()

    @property
    def df(self) -> int:
        """Scores or lots less fixed effects."""
        return self.n - self.p

    @property
    def plain(self) -> bool:
        """Whether no other random term is left: degrees of freedom are then exact."""
        return not self.variances[1:].any()

    def contrasts(self, weights: np.ndarray) -> Contrasts:
        """Contrasts of the fixed effects; `weights` has a row for each."""
        beta, inverse = self._fixed(self.variances)
        variance = _forms(weights, inverse)
        return Contrasts(weights @ beta, np.sqrt(variance), self._satterthwaite(weights, variance))

    def joint(self, weights: np.ndarray) -> JointTest:
        """F test that all contrasts (independent rows of `weights`) are 0."""
        q = len(weights)
        beta, inverse = self._fixed(self.variances)
        covariance = weights @ inverse @ weights.T
        effect = weights @ beta
        if not self.variances[0] > 0 or q == 0:
            return JointTest(np.nan, q, np.nan)
        statistic = float(effect @ np.linalg.solve(covariance, effect)) / q
        turned = np.linalg.eigh(covariance)[1].T @ weights
        df = fai_cornelius(self._satterthwaite(turned, _forms(turned, inverse)), np.ones(q))
        return JointTest(statistic, q, df)

    # --- the likelihood -----------------------------------------------------------------------------------------------

    def _solved(self, ratios: np.ndarray) -> tuple[np.ndarray, float]:
        """Cross-products of fixed effects and y with everything random swept out, and the log determinant."""
        matrix, logdet = self._cross, 0.0
        if self._sweeps:
            g = ratios[0]
            matrix = matrix - sum(g / (1 + size * g) * total for size, _, total in self._by_size)
            logdet = sum(levels * np.log1p(size * g) for size, levels, _ in self._by_size)
        keep = np.r_[: self.p, len(matrix) - 1]
        out = matrix[np.ix_(keep, keep)]
        if self._sizes:
            inside = slice(self.p, len(matrix) - 1)
            root = np.sqrt(np.repeat(ratios[self._sweeps :], self._sizes))
            inner = np.eye(len(root)) + root[:, None] * matrix[inside, inside] * root
            side = root[:, None] * matrix[inside][:, keep]
            out = out - side.T @ np.linalg.solve(inner, side)
            logdet += np.linalg.slogdet(inner)[1]
        return out, logdet

    def _criterion(self, ratios: np.ndarray) -> float:
        """-2 log restricted likelihood, the error profiled out."""
        out, logdet = self._solved(ratios)
        rest = _residual(out)
        if not rest > 0:
            return -np.inf
        return float(self.df * (1 + np.log(2 * np.pi * rest / self.df)) + logdet + np.linalg.slogdet(out[:-1, :-1])[1])

    def _error(self, ratios: np.ndarray) -> float:
        return max(_residual(self._solved(ratios)[0]), 0.0) / self.df

    def _full(self, variances: np.ndarray) -> float:
        """-2 log restricted likelihood at given variances."""
        out, logdet = self._solved(variances[1:] / variances[0])
        scale = self.df * np.log(2 * np.pi * variances[0]) + _residual(out) / variances[0]
        return float(scale + logdet + np.linalg.slogdet(out[:-1, :-1])[1])

    def _fixed(self, variances: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Estimates of the fixed effects and their covariance."""
        error = variances[0] if variances[0] > 0 else 1.0
        out, _ = self._solved(variances[1:] / error)
        inverse = np.linalg.inv(out[:-1, :-1])
        return inverse @ out[:-1, -1], inverse * variances[0]

    # --- degrees of freedom -------------------------------------------------------------------------------------------

    def _of_variances(self) -> np.ndarray:
        """Covariance of the estimated variances: twice the inverse Hessian over those above 0."""
        out = np.zeros((len(self.variances),) * 2)
        if self.plain or not self.variances[0] > 0:
            out[0, 0] = 2 * self.variances[0] ** 2 / self.df
            return out
        free = np.flatnonzero(self.variances > 0)
        hessian = _hessian(self._full, self.variances, free)
        out[np.ix_(free, free)] = 2 * np.linalg.pinv(hessian)
        return out

    def _satterthwaite(self, weights: np.ndarray, variance: np.ndarray) -> np.ndarray:
        if self.plain:
            return np.full(len(weights), float(self.df))
        gradient = np.zeros((len(weights), len(self.variances)))
        for k in np.flatnonzero(self.variances > 0):
            step = STEP * self.variances[k] * np.eye(len(self.variances))[k]
            ends = [_forms(weights, self._fixed(self.variances + way * step)[1]) for way in (1, -1)]
            gradient[:, k] = (ends[0] - ends[1]) / (2 * step[k])
        spread = _forms(gradient, self._covariance)
        with np.errstate(divide="ignore", invalid="ignore"):
            return np.maximum(2 * variance**2 / spread, 1.0)


def _sums(whole: np.ndarray, code: np.ndarray) -> list[tuple[int, int, np.ndarray]]:
    """For every number of rows a level has: that number, how many levels have it, products of their sums."""
    sums = np.zeros((code.max() + 1, whole.shape[1]))
    np.add.at(sums, code, whole)
    size = np.bincount(code)
    return [(int(m), int((size == m).sum()), sums[size == m].T @ sums[size == m]) for m in np.unique(size) if m]


def _residual(out: np.ndarray) -> float:
    """The residual sum of squares that cross-products of fixed effects and y leave."""
    return float(out[-1, -1] - out[:-1, -1] @ np.linalg.solve(out[:-1, :-1], out[:-1, -1]))


def _best(criterion: Callable[[np.ndarray], float], terms: int, df: int) -> np.ndarray:
    """The ratios of variances at which the criterion is smallest; those next to nothing are 0."""
    if not terms or df < 1 or not np.isfinite(criterion(np.ones(terms))):
        return np.zeros(terms)

    def rooted(root: np.ndarray) -> float:
        return criterion(root**2)

    def alone(root: float) -> float:
        return criterion(np.array([root**2]))

    if terms == 1:
        values = [alone(root) for root in ROOTS]
        at = int(np.argmin(values))
        ends = ROOTS[max(at - 1, 0)], ROOTS[min(at + 1, len(ROOTS) - 1)]
        root = np.atleast_1d(minimize_scalar(alone, bounds=ends, method="bounded", options={"xatol": 1e-8}).x)
    else:
        starts = [np.full(terms, 0.7), np.full(terms, 0.1)]  # a small variance can have a maximum of its own
        bounds = [(0.0, ROOTS[-1])] * terms
        near = min((minimize(rooted, start, bounds=bounds) for start in starts), key=lambda end: end.fun)
        root = minimize(rooted, near.x, bounds=bounds, method="Nelder-Mead", options={"xatol": 1e-7, "fatol": 1e-11}).x
    return np.where(root**2 < NEXT_TO_NOTHING, 0.0, root**2)


def _hessian(function: Callable[[np.ndarray], float], at: np.ndarray, free: np.ndarray) -> np.ndarray:
    """Second derivatives by central differences over the free arguments."""
    steps = [STEP * at[k] * np.eye(len(at))[k] for k in free]
    out = np.empty((len(free),) * 2)
    for i, one in enumerate(steps):
        for j, two in enumerate(steps[: i + 1]):
            corners = [a * b * function(at + a * one + b * two) for a in (1, -1) for b in (1, -1)]
            out[i, j] = out[j, i] = sum(corners) / (4 * one[free[i]] * two[free[j]])
    return out


def _forms(weights: np.ndarray, matrix: np.ndarray) -> np.ndarray:
    """The quadratic form of each row."""
    return np.einsum("kp,pq,kq->k", weights, matrix, weights)
