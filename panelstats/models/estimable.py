"""What a layout of scores can estimate: which components the model holds at zero, and where nothing can be fitted."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from panelstats.models.blocks import Blocks
from panelstats.models.reml import LOT, LOT_POT, LOT_TASTER, RESIDUAL, TASTER

# Sums of squares below this share of (scores x squared range) are rounding, not variation.
ROUNDING = 1e-14

# Why a descriptor cannot be fitted.
NO_VARIATION = "no variation"
NO_ERROR = "no error to test against"
NO_DF = "no degrees of freedom"


@dataclass(frozen=True, eq=False)
class Evidence:
    """Sums of squares and degrees of freedom of each descriptor, and what they were taken from; shape (D,) each.

    Attributes
    ----------
    lots, scores, spread : ndarray
        Lots scored, scores, and the largest less the smallest of them.
    overlap : ndarray of bool
        Whether some lot was met by two tasters, so that tasters can be told apart.
    complete : ndarray of bool
        Whether every taster gave every lot, and every pot, the same number of looks.
    within_df, within_ss, pot_df, pot_ss, pot_k
        Within cells and, of these, between pots; k in E(MS) = error + k x pot variance.
    cross_df, cross_ss, cross_k
        Of cell means about lot + taster, in units of one look: E(MS) = error + k x lot:taster variance.
    """

    lots: np.ndarray
    scores: np.ndarray
    spread: np.ndarray
    overlap: np.ndarray
    complete: np.ndarray
    within_df: np.ndarray
    within_ss: np.ndarray
    pot_df: np.ndarray
    pot_ss: np.ndarray
    pot_k: np.ndarray
    cross_df: np.ndarray
    cross_ss: np.ndarray
    cross_k: np.ndarray

    @property
    def error_df(self) -> np.ndarray:
        """Degrees of freedom within cells that the pots leave."""
        return self.within_df - self.pot_df

    @staticmethod
    def of(b: Blocks, spread: np.ndarray) -> Evidence:
        """What the blocks show of each descriptor."""
        pot_ss, pot_df, pot_k = _between_pots(b)
        cross_ss, cross_df, cross_k = _additive_residual(b)
        first = np.searchsorted(b.descriptor, np.arange(len(b.p)))
        even = (b.counts == b.counts.max(axis=(1, 2), keepdims=True)).all(axis=(1, 2))
        alone = np.diff(np.append(first, len(b.descriptor))) == 1
        return Evidence(
            lots=b.p,
            scores=b.scores,
            spread=spread,
            overlap=np.maximum.reduceat((b.counts.sum(axis=2) > 0).sum(axis=1), first) > 1,
            complete=alone & even[first],
            within_df=b.scores - b.cells,
            within_ss=b.within_ss,
            pot_df=pot_df,
            pot_ss=pot_ss,
            pot_k=pot_k,
            cross_df=cross_df,
            cross_ss=cross_ss,
            cross_k=cross_k,
        )

    def together(self, pool: np.ndarray) -> Evidence:
        """Evidence added over descriptors that share their variances; `pool` gives the place of each in the sum."""
        size = int(pool.max(initial=-1)) + 1

        def total(values: np.ndarray) -> np.ndarray:
            return np.bincount(pool, values, size).astype(values.dtype)

        def most(values: np.ndarray) -> np.ndarray:
            out = np.zeros(size, values.dtype)
            np.maximum.at(out, pool, values)
            return out

        def mean(values: np.ndarray, weight: np.ndarray) -> np.ndarray:
            return np.bincount(pool, values * weight, size) / np.maximum(np.bincount(pool, weight, size), 1)

        sums = {name: total(getattr(self, name)) for name in _SUMS}
        return Evidence(
            **sums,
            lots=most(self.lots),
            spread=most(self.spread),
            overlap=most(self.overlap),
            complete=~most(~self.complete),
            pot_k=mean(self.pot_k, self.pot_df),
            cross_k=mean(self.cross_k, self.cross_df),
        )


_SUMS = ("scores", "within_df", "within_ss", "pot_df", "pot_ss", "cross_df", "cross_ss")


@dataclass(frozen=True, eq=False)
class Estimable(Evidence):
    """What can be fitted, descriptor by descriptor, beside what shows it.

    Attributes
    ----------
    state : ndarray of str, shape (D,)
        "" where the model can be fitted, else NO_VARIATION, NO_ERROR or NO_DF.
    held : ndarray of bool, shape (D, 5)
        Components that the layout cannot tell from others, held at 0; the residual where there is none.
    """

    state: np.ndarray
    held: np.ndarray

    def take(self, keep: np.ndarray) -> Estimable:
        """The same for some descriptors."""
        return Estimable(**{name: value[keep] for name, value in vars(self).items()})

    @property
    def fits(self) -> np.ndarray:
        """Index of the descriptors that can be fitted."""
        return np.flatnonzero(self.state == "")


def estimable(b: Blocks, spread: np.ndarray) -> Estimable:
    """Decide what can be estimated of some blocks; `spread` (D,) is the largest less the smallest of the scores."""
    return decided(Evidence.of(b, spread))


def decided(seen: Evidence) -> Estimable:
    """Decide what can be estimated, lots fixed.

    Notes
    -----
    Degrees of freedom: within cells n - C; lot:taster the rank left of the additive table of cells. One score per cell:
    lot:taster and error are one. One taster: taster and lot:taster are no components. One lot: taster and lot:taster
    are one. No degree of freedom between pots within cells: pots are no component. Tasters who follow the pots to the
    last digit (few scores on a coarse scale) leave no residual: it is held at next to nothing, lest the likelihood grow
    without bound.
    """
    held = np.zeros((len(seen.lots), 5), bool)
    held[:, LOT] = True
    held[:, LOT_POT] = (seen.pot_df == 0) | (seen.error_df == 0)
    held[:, LOT_TASTER] = (seen.within_df == 0) | (seen.cross_df == 0)
    held[:, TASTER] = ~seen.overlap | (seen.lots < 2)
    floor = ROUNDING * seen.scores * seen.spread**2
    silent = (seen.pot_df > 0) & (seen.error_df > 0) & (seen.within_ss - seen.pot_ss <= floor)
    held[:, RESIDUAL] = silent & (seen.within_ss > floor)
    state = np.full(len(seen.lots), "", dtype="U32")
    state[(seen.within_df == 0) & (seen.cross_df == 0)] = NO_DF
    state[(seen.within_ss <= floor) & (seen.cross_ss <= floor * seen.cross_k) & (state == "")] = NO_ERROR
    state[seen.spread == 0] = NO_VARIATION
    shown = vars(seen) | {"pot_ss": np.where(silent, seen.within_ss, seen.pot_ss)}
    return Estimable(**shown, state=state, held=held)


def _additive_residual(b: Blocks) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Residual sum of squares of cell means about lot + taster, in units of one look; its df; and looks a cell.

    Each cell counts once; looks a cell are their harmonic mean.
    """
    t = b.tasters
    seen = (b.counts.sum(axis=2) > 0).astype(float)
    each = seen.sum(axis=1)
    share = 1 / each
    K_b = seen[:, :, None] * np.eye(t) - share[:, None, None] * seen[:, :, None] * seen[:, None, :]
    K = b.per_descriptor(b.lots[:, None, None] * K_b)
    g = b.per_descriptor((K_b @ b.first[:, :t, None])[:, :, 0])
    total = b.per_descriptor(np.einsum("btu,btu->b", K_b, b.second[:, :t, :t]))
    explained = np.einsum("dt,dtu,du->d", g, np.linalg.pinv(K, hermitian=True), g)
    rank = np.linalg.matrix_rank(K, hermitian=True)
    alone = b.p < 2  # of one lot the tasters' levels are all there is to see
    left = np.where(alone, (b.shift**2).sum(axis=1), np.maximum(total - explained, 0.0))
    looks = b.counts.sum(axis=2)
    inverse = b.per_descriptor(b.lots * np.where(looks > 0, 1 / np.maximum(looks, 1), 0.0).sum(axis=1))
    k = b.cells / inverse
    return left * k, b.cells - b.p - np.where(alone, 0, rank), k


def _between_pots(b: Blocks) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Sum of squares between pots of a lot, adjusted for the tasters who met them; its df; and k."""
    if not b.pots:
        none = np.zeros(len(b.p))
        return none, none.astype(int), none
    t = b.tasters
    n_cell = b.counts.sum(axis=2)
    S = -np.einsum("btp,bt,btq->bpq", b.counts, 1 / np.maximum(n_cell, 1), b.counts)
    S += np.eye(S.shape[1]) * b.counts.sum(axis=1)[:, None, :]
    ss = b.per_descriptor(np.einsum("bpq,bpq->b", np.linalg.pinv(S, hermitian=True), b.second[:, t:, t:]))
    df = b.per_descriptor(b.lots * np.linalg.matrix_rank(S, hermitian=True, tol=1e-9)).astype(int)
    trace = b.per_descriptor(b.lots * np.einsum("bpp->b", S))
    return ss, df, trace / np.maximum(df, 1)
