"""How many lots of each make would show a difference."""

from __future__ import annotations

import numpy as np
from scipy.special import nctdtr, stdtrit

# Beyond this many lots of each make the answer is "more than that" (ours).
MOST = 1000


def lots_of_each(ratio: np.ndarray | float, *, power: float = 0.8, level: float = 0.95) -> np.ndarray:
    """Lots of each of two makes that would show a difference of `ratio` standard deviations of a lot's mean.

    Parameters
    ----------
    ratio : array_like of float > 0
        Difference to be found over the standard deviation of lots of one make; NaN where not known.
    power : float in (0, 1)
    level : float in (0, 1)
        The test is two-sided at 1 - level.

    Returns
    -------
    ndarray
        2 or more; infinite beyond `MOST`, NaN where the ratio is.

    Notes
    -----
    Noncentral t on 2 (lots - 1) degrees of freedom, both tails counted.

    Examples
    --------
    >>> print(lots_of_each(np.array([0.5, 1.0, 2.0])))
    [64. 17.  6.]
    """
    ratio = np.asarray(ratio, float)
    lots = np.arange(2, MOST + 1)
    df = 2.0 * (lots - 1)
    shift, critical = np.minimum(ratio, 50.0)[..., None] * np.sqrt(lots / 2), stdtrit(df, (1 + level) / 2)
    found = 1 - nctdtr(df, np.minimum(shift, 30.0), critical) + np.nan_to_num(nctdtr(df, shift, -critical)) >= power
    needed = np.where(found.any(axis=-1), lots[found.argmax(axis=-1)], np.inf)
    return np.where(np.isnan(ratio), np.nan, needed)
