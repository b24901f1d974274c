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
class Estimable:
    """What can be fitted, descriptor by descriptor.

    Attributes
    ----------
    state : ndarray of str, shape (D,)
        "" where the model can be fitted, else NO_VARIATION, NO_ERROR or NO_DF.
    held : ndarray of bool, shape (D, 5)
        Components that the layout cannot tell from others, held at 0; the residual where there is none.
    within_df, pot_df, error_df : ndarray of int, shape (D,)
        Degrees of freedom within cells; of those between pots and of those left.
    within_ss, pot_ss, pot_k : ndarray, shape (D,)
        Sums of squares within cells and, of these, between pots; k in E(MS) = error + k x pot variance.
    """

    state: np.ndarray
    held: np.ndarray
    within_df: np.ndarray
    pot_df: np.ndarray
    error_df: np.ndarray
    within_ss: np.ndarray
    pot_ss: np.ndarray
    pot_k: np.ndarray

    def of(self, keep: np.ndarray) -> Estimable:
        """The same for some descriptors."""
        return Estimable(**{name: value[keep] for name, value in vars(self).items()})

    @property
    def fits(self) -> np.ndarray:
        """Index of the descriptors that can be fitted."""
        return np.flatnonzero(self.state == "")


def estimable(b: Blocks, spread: np.ndarray, *, lots_random: bool = False) -> Estimable:
    """Decide what can be estimated.

    Parameters
    ----------
    b : Blocks
    spread : ndarray, shape (D,)
        Largest less smallest cell mean or score of each descriptor.
    lots_random : bool

    Returns
    -------
    Estimable

    Notes
    -----
    Degrees of freedom: within cells n - C; lot:taster the rank left of the additive table of cells. One score per cell:
    lot:taster and error are one. One taster: taster and lot:taster are no components. One lot: taster and lot:taster
    are one. No degree of freedom between pots within cells: pots are no component. Tasters who follow the pots to the
    last digit (few scores on a coarse scale) leave no residual: it is held at next to nothing, lest the likelihood grow
    without bound.
    """
    within_df = b.scores - b.cells
    additive_ss, additive_df = _additive_residual(b)
    pot_ss, pot_df, pot_k = _between_pots(b)
    held = np.zeros((len(b.p), 5), bool)
    held[:, LOT] = ~np.full(len(b.p), lots_random) | (b.p < 2)
    held[:, LOT_POT] = (pot_df == 0) | (within_df - pot_df == 0)
    held[:, LOT_TASTER] = (within_df == 0) | (additive_df == 0)
    held[:, TASTER] = ~_tasters_overlap(b) | (b.p < 2)
    floor = ROUNDING * b.scores * spread**2
    silent = (pot_df > 0) & (within_df > pot_df) & (b.within_ss - pot_ss <= floor)
    pot_ss = np.where(silent, b.within_ss, pot_ss)
    held[:, RESIDUAL] = silent & (b.within_ss > floor)
    state = np.full(len(b.p), "", dtype="U32")
    state[(within_df == 0) & (additive_df == 0)] = NO_DF
    state[(b.within_ss <= floor) & (additive_ss <= floor) & (state == "")] = NO_ERROR
    state[spread == 0] = NO_VARIATION
    return Estimable(state, held, within_df, pot_df, within_df - pot_df, b.within_ss, pot_ss, pot_k)


def _tasters_overlap(b: Blocks) -> np.ndarray:
    """Whether some lot was met by two tasters, so that tasters can be told apart, shape (D,)."""
    seen = (b.counts.sum(axis=2) > 0).sum(axis=1)
    return np.maximum.reduceat(seen, np.searchsorted(b.descriptor, np.arange(len(b.p)))) > 1


def _additive_residual(b: Blocks) -> tuple[np.ndarray, np.ndarray]:
    """Residual sum of squares and degrees of freedom of cell means about lot + taster, each cell counting once."""
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
    return left, b.cells - b.p - np.where(alone, 0, rank)


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
