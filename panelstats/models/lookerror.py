"""The error of one look, joined from mean squares that each show other parts of it.

Three variances make it: between pots of a lot, between tasters on a lot (lot:taster), between looks. A mean square
shows a weighted sum of them: repeats show pots, several tasters show lot:taster, the same cup again shows looks.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

POT, TASTER_LOT, LOOK = range(3)
STEPS, SETTLED = 200, 1e-11  # steps of the fit, and the relative change after which it rests: rounding leaves less
# A sum of variances counts as known when its weights are these many parts away from what was observed.
NEAR = 1e-8
# A mean square of 0 is rounding, not proof: it counts as this share of the largest.
LEAST_SHARE = 1e-9


@dataclass(frozen=True, eq=False)
class LookError:
    """Variances of one look for N tables (a class and descriptor each) from S mean squares.

    Attributes
    ----------
    design : ndarray, shape (N, S, 3)
        What each mean square expects of pot, lot:taster and look variance.
    mean_square, df : ndarray, shape (N, S)
        df 0 where there is none.
    components : ndarray, shape (N, 3)
        Variances, 0 or more.
    weight : ndarray, shape (N, S)
        Of each mean square in the last step of the fit, df / (2 expectation^2).
    """

    design: np.ndarray
    mean_square: np.ndarray
    df: np.ndarray
    components: np.ndarray
    weight: np.ndarray

    @property
    def covariance(self) -> np.ndarray:
        """Of the three components, also where one stands at 0: this keeps the degrees of freedom small."""
        return np.linalg.pinv(self._information, rcond=1e-12, hermitian=True)

    @property
    def _information(self) -> np.ndarray:
        return np.einsum("nsi,ns,nsj->nij", self.design, self.weight, self.design)

    def knows(self, share: np.ndarray) -> np.ndarray:
        """Whether sums of variances can be told from these sources; `share` (N, ..., 3), answer (N, ...)."""
        seen = np.where(self.df[:, :, None] > 0, self.design, 0.0)
        onto = np.linalg.pinv(seen, rcond=1e-9) @ seen  # (N, 3, 3), onto what was observed
        left = share - np.einsum("n...i,nij->n...j", share, onto)
        return np.abs(left).max(axis=-1) <= NEAR

    @property
    def sds(self) -> np.ndarray:
        """Standard deviations of the three, shape (N, 3); NaN where the sources do not tell one from the others."""
        each = np.broadcast_to(np.eye(3), (len(self.df), 3, 3))
        return np.where(self.knows(each), np.sqrt(self.components), np.nan)

    def of(self, share: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Variance of a mean of looks and its degrees of freedom (Satterthwaite); NaN where it cannot be known.

        Parameters
        ----------
        share : ndarray, shape (N, ..., 3)
            What pot, lot:taster and look variance count in it: (1/P, 1/T, 1/(T P)) for T tasters at P shared pots.
        """
        known = self.knows(share)
        value = np.einsum("n...i,ni->n...", share, self.components)
        sampling = np.einsum("n...i,nij,n...j->n...", share, self.covariance, share)
        with np.errstate(divide="ignore", invalid="ignore"):
            df = np.maximum(2 * value**2 / sampling, 1.0)
        return np.where(known, value, np.nan), np.where(known & (value > 0), df, np.nan)

    def drawn(self, rng: np.random.Generator, draws: int) -> np.ndarray:
        """Components as they may be, shape (draws, N, 3): each mean square redrawn, the fit's last step repeated."""
        df = np.maximum(self.df, 1)
        again = self.mean_square * df / np.maximum(rng.chisquare(np.broadcast_to(df, (draws, *df.shape))), 1e-12)
        onto = np.einsum("nij,nsj,ns->nis", self.covariance, self.design, self.weight)
        return np.maximum(np.einsum("nis,kns->kni", onto, again), 0.0)

    def take(self, index: np.ndarray) -> LookError:
        """The same for some tables."""
        return replace(self, **{name: value[index] for name, value in vars(self).items()})


def join_sources(mean_square: np.ndarray, df: np.ndarray, design: np.ndarray) -> LookError:
    """Join mean squares into the variances of one look.

    Parameters
    ----------
    mean_square, df : array_like of float, shape (N, S)
        df 0 where a table lacks the source.
    design : array_like of float, shape (N, S, 3)
        Expectation of each mean square: its weights of pot, lot:taster and look variance.

    Returns
    -------
    LookError

    Notes
    -----
    Gamma model with identity link: maximises sum of -df/2 [log theta + MS/theta], theta = x'(pot, lot:taster, look),
    all 0 or more, by weighted least squares with weights df/(2 theta^2), repeated; a component that goes negative is
    set to 0 and the rest fitted again. McCullagh & Nelder 1989, *Generalized Linear Models*, 8; degrees of freedom
    after Satterthwaite 1946.

    Examples
    --------
    >>> room = join_sources([[0.42, 0.3, 0.61, 0.24]], [[598, 20, 12, 24]],
    ...     [[[0, 1, 1], [1, 0, 1], [3, 0, 1], [0, 0, 1]]])
    >>> variance, df = room.of(np.array([[1 / 1, 1 / 3, 1 / 3]]))
    >>> print(variance.round(4), df.round(1))
    [0.2477] [24.2]
    """
    x = np.asarray(design, float)
    ms, nu = np.broadcast_arrays(np.asarray(mean_square, float), np.asarray(df, float))
    ms = np.where(nu > 0, ms, 0.0)
    largest = ms.max(axis=1, keepdims=True)
    floor = LEAST_SHARE * np.where(largest > 0, largest, 1.0)
    free = np.ones((len(ms), 3), bool)
    theta = np.maximum(ms, floor)
    found = np.zeros((len(ms), 3))
    weight = nu / (2 * theta**2)
    for _ in range(STEPS):
        weight = nu / (2 * theta**2)
        before = found
        found = _weighted(x, ms, weight, free)
        negative = found < 0
        if negative.any():
            free &= ~negative
            found = _weighted(x, ms, weight, free)
        theta = np.maximum(np.einsum("nsi,ni->ns", x, found), floor)
        if not negative.any() and np.allclose(found, before, rtol=SETTLED, atol=0):
            break
    return LookError(x, ms, np.array(nu), np.maximum(found, 0.0), nu / (2 * theta**2))


def _weighted(x: np.ndarray, y: np.ndarray, weight: np.ndarray, free: np.ndarray) -> np.ndarray:
    """Weighted least squares of each table over its free components; the others 0."""
    scale = weight.max(axis=1, keepdims=True)
    w = weight / np.where(scale > 0, scale, 1.0)
    used = x * free[:, None, :]
    information = np.einsum("nsi,ns,nsj->nij", used, w, used)
    right = np.einsum("nsi,ns,ns->ni", used, w, y)
    return (np.linalg.pinv(information, rcond=1e-12, hermitian=True) @ right[:, :, None])[:, :, 0]
