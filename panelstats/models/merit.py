"""Merit of lots tasted once: how far each is predicted to lie from the mean of its class, lots a random draw."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from panelstats.models.ties import tied

# Levels of tasters and the variance between lots need each other; so many rounds settle them.
ROUNDS = 3


@dataclass(frozen=True, eq=False)
class Looked:
    """What one session saw of N lots by T tasters on D descriptors.

    Attributes
    ----------
    mean : ndarray, shape (N, T, D)
        Mean of a taster's looks at a lot.
    looks : ndarray of int, shape (N, T, D)
        0 where not scored.
    common : ndarray, shape (N, D)
        What all tasters of a lot share beside the lot: the variance of its pots' mean.
    error : ndarray, shape (N, D)
        Variance of one taster's mean beside that.
    """

    mean: np.ndarray
    looks: np.ndarray
    common: np.ndarray
    error: np.ndarray

    @property
    def seen(self) -> np.ndarray:
        """Which taster scored which lot."""
        return self.looks > 0

    @property
    def tasters(self) -> np.ndarray:
        """Tasters of each lot, shape (N, D)."""
        return self.seen.sum(axis=1)

    @property
    def variance(self) -> np.ndarray:
        """Of a lot's score as a statement on the lot, shape (N, D); infinite where nobody scored it."""
        with np.errstate(divide="ignore"):
            return self.common + self.error / self.tasters


@dataclass(frozen=True, eq=False)
class Merit:
    """Merit of each lot, shape (N, D) each; NaN where it was not scored.

    Attributes
    ----------
    score : ndarray
        Mean over its tasters, each freed of his level; mean 0 over lots.
    merit, variance : ndarray
        Predicted deviation from the mean of the class, and the variance of that prediction.
    levels : ndarray, shape (T, D)
        Level of each taster; NaN where he scored nothing.
    """

    score: np.ndarray
    merit: np.ndarray
    variance: np.ndarray
    levels: np.ndarray


def merit_given(looked: Looked, lot_variance: np.ndarray) -> Merit:
    """Predict each lot's deviation from its class, all variances known.

    Parameters
    ----------
    looked : Looked
    lot_variance : ndarray, shape (D,)
        Variance between lots.

    Returns
    -------
    Merit

    Notes
    -----
    Best linear unbiased prediction with tasters fixed, lot and pot random (Henderson 1975, Biometrics 31: 423): with
    s = lot + pot variance and e the error of one taster's mean, levels b = K^-1 g from the weights
    diag(1/e) - J s / (e^2 (1 + s n/e)) of each lot; merit = lot/(s + e/n) x mean of (score - level).
    """
    between, seen = np.broadcast_to(lot_variance, looked.common.shape), looked.seen
    s, n, e = between + looked.common, np.maximum(looked.tasters, 1), np.maximum(looked.error, 1e-300)
    joint = s / (e**2 * (1 + s * n / e))
    w = seen.astype(float)
    K = np.einsum("ntd,nd,tu->dtu", w, 1 / e, np.eye(w.shape[1])) - np.einsum("ntd,nud,nd->dtu", w, w, joint)
    y = np.where(seen, looked.mean, 0.0)
    g = np.einsum("ntd,nd->dt", y, 1 / e) - np.einsum("ntd,nd,nd->dt", w, joint, y.sum(axis=1))
    inverse = np.linalg.pinv(K, rcond=1e-10, hermitian=True)
    levels = np.einsum("dtu,du->td", inverse, g)
    score = np.apply_along_axis(tied, 0, (y - np.where(seen, levels, 0.0)).sum(axis=1) / n)
    kept = between / (s + e / n)
    h = w * (kept / n)[:, None]
    spread = between - between * kept + np.einsum("ntd,dtu,nud->nd", h, inverse, h)
    blank = looked.tasters == 0
    return Merit(
        score=np.where(blank, np.nan, score),
        merit=np.where(blank, np.nan, kept * score),
        variance=np.where(blank, np.nan, spread),
        levels=np.where(seen.any(axis=0), levels, np.nan),
    )


def spread_of_lots(looked: Looked) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Variance of the lots' scores, the part of it that one look explains, and the number of lots; shape (D,) each."""
    lots = (looked.tasters > 0).sum(axis=0)
    blank = looked.tasters == 0
    within = np.where(blank, 0.0, looked.variance).sum(axis=0) / np.maximum(lots, 1)
    between, observed = np.zeros(len(lots)), np.zeros(len(lots))
    for _ in range(ROUNDS if blank.any() or not looked.seen.all() else 1):
        score = merit_given(looked, between).score
        mean = np.nansum(score, axis=0) / np.maximum(lots, 1)
        observed = np.nansum((score - mean) ** 2, axis=0) / np.maximum(lots - 1, 1)
        between = np.maximum(observed - within, 0.0)
    return observed, within, lots
