"""Few pots: the pot variance of each descriptor, steadied over the descriptors of its stage where pots are few."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from panelstats.models.estimable import Estimable
from panelstats.models.fewpots import ENOUGH_DF, pot_sd_upper, pot_variance_steadied


@dataclass(frozen=True, eq=False)
class Pots:
    """Pot variances by descriptor, shape (D,) each.

    Attributes
    ----------
    steadied : ndarray of bool
        Whether the variance is borrowed, and so held in the fit.
    variance, variance_of_variance : ndarray
        The borrowed value and its variance; 0 where not borrowed.
    df : ndarray
        Degrees of freedom behind the pot mean square, borrowed ones included.
    upper_sd : ndarray
        One-sided upper 95 % limit of the pot SD; NaN without degrees of freedom.
    """

    steadied: np.ndarray
    variance: np.ndarray
    variance_of_variance: np.ndarray
    df: np.ndarray
    upper_sd: np.ndarray


def steadied_pots(can: Estimable, stage: np.ndarray) -> Pots:
    """Borrow pot variances within each stage whose pots are few.

    Parameters
    ----------
    can : Estimable
        Of D descriptors that can be fitted.
    stage : ndarray of str, shape (D,)

    Returns
    -------
    Pots
    """
    size = len(stage)
    out = Pots(np.zeros(size, bool), np.zeros(size), np.zeros(size), can.pot_df.astype(float), np.full(size, np.nan))
    lines = _mean_squares(can)
    out.upper_sd[:] = pot_sd_upper(*lines)
    for name in np.unique(stage):
        mine = np.flatnonzero((stage == name) & (can.pot_df > 0))
        if not len(mine) or can.pot_df[mine].min() >= ENOUGH_DF:
            continue
        borrowed = pot_variance_steadied(*(line[mine] for line in lines))
        lent = np.isfinite(borrowed.variance)
        out.steadied[mine] = lent
        out.variance[mine[lent]] = borrowed.variance[lent]
        out.variance_of_variance[mine[lent]] = borrowed.variance_of_variance[lent]
        out.df[mine[lent]] = borrowed.df[lent]
    return out


def _mean_squares(can: Estimable) -> tuple[np.ndarray, ...]:
    """MS and df between pots, MS and df of error, and k."""
    ms_pot = can.pot_ss / np.maximum(can.pot_df, 1)
    ms_error = (can.within_ss - can.pot_ss) / np.maximum(can.error_df, 1)
    return ms_pot, can.pot_df, ms_error, can.error_df, can.pot_k
