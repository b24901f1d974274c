"""One named master: how far a trainee's mark lies from his habitual one, his own wavering taken out."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import special

from panelstats.models.likeness import WIDTH
from panelstats.models.meansquares import ratio


@dataclass(frozen=True, eq=False)
class Habit:
    """Differences to a master's habitual mark, by descriptor.

    Attributes
    ----------
    variance, low, high : ndarray
        Variance of the differences less the master's own, with its interval; not above 0: no difference beyond his own
        wavering.
    kappa, kappa_low, kappa_high : ndarray
        Variance of the differences over the master's variance from serving to serving.
    """

    variance: np.ndarray
    low: np.ndarray
    high: np.ndarray
    kappa: np.ndarray
    kappa_low: np.ndarray
    kappa_high: np.ndarray

    def limits(self, bias: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Between them lie 95 % of the trainee's marks about the master's habitual one."""
        reach = WIDTH * np.sqrt(np.maximum(self.variance, 0.0))
        return bias - reach, bias + reach


def habit(
    variance: np.ndarray, df: np.ndarray, own: np.ndarray, own_df: np.ndarray, servings: np.ndarray, *,
    tail: float = 0.025,
) -> Habit:  # fmt: skip
    """Free the variance of differences of the master's own.

    Parameters
    ----------
    variance, df : ndarray
        Of the differences trainee less mean of the master's servings.
    own, own_df : ndarray
        Of the master's servings within lots.
    servings : ndarray
        Servings of the master a lot.

    Notes
    -----
    Interval of a difference of variances: Ting, Burdick, Graybill, Jeyaratnam & Lu 1990, J. Stat. Comput. Simul. 35:
    135 (from memory; it covered 95.0 to 95.3 % in simulation at 12 to 80 lots).
    """
    own_mean = ratio(own, servings)
    g1, g2 = (1 - d / special.chdtri(d, tail) for d in (df, own_df))
    h1, h2 = (d / special.chdtri(d, 1 - tail) - 1 for d in (df, own_df))
    f1, f2 = special.fdtri(df, own_df, 1 - tail), special.fdtri(df, own_df, tail)
    g12 = ((f1 - 1) ** 2 - g1**2 * f1**2 - h2**2) / f1
    h12 = ((1 - f2) ** 2 - h1**2 * f2**2 - g2**2) / f2
    below = g1**2 * variance**2 + h2**2 * own_mean**2 + g12 * variance * own_mean
    above = h1**2 * variance**2 + g2**2 * own_mean**2 + h12 * variance * own_mean
    freed = variance - own_mean
    low, high = freed - np.sqrt(np.maximum(below, 0.0)), freed + np.sqrt(np.maximum(above, 0.0))
    kappa = ratio(variance, own)
    return Habit(freed, low, high, kappa, kappa / f1, kappa / f2)
