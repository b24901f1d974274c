"""How many lots an interval needs to come clear of a tolerance, and two makes to be told apart."""

from __future__ import annotations

import numpy as np
from scipy import special

# Beyond this many lots the answer is that the value sits at the tolerance (ours).
MOST_LOTS = 400
# Beyond this many lots of each make the answer is "more than that" (ours).
MOST_OF_EACH = 1000
# Power with which the lots needed settle what they are for: common practice.
POWER = 0.8


def settling_lots(sd: np.ndarray, gap: np.ndarray, *, tail: float = 0.025, assurance: float = 0.5) -> np.ndarray:
    """Fewest lots n with (t + t of the assurance) sd / sqrt(n) <= gap, t on n - 1 df; inf beyond MOST_LOTS."""
    n = np.arange(3, MOST_LOTS + 1)
    reach = (special.stdtrit(n - 1, 1 - tail) + special.stdtrit(n - 1, assurance)) / np.sqrt(n)
    wanted = np.divide(gap, sd, out=np.full(np.shape(sd), np.inf), where=np.asarray(sd) > 0)
    at = np.searchsorted(-reach, -wanted)  # reach falls with n
    found = np.where(at < len(n), n[np.minimum(at, len(n) - 1)], np.inf)
    return np.where(np.isnan(wanted), np.nan, found)


def lots_in_all(se: np.ndarray, gap: np.ndarray, lots: np.ndarray, *, tail: float = 0.025) -> np.ndarray:
    """Lots in all with which an interval is likely to be clear of the tolerance, whichever side the truth lies.

    Parameters
    ----------
    se : ndarray
        Standard error of a value on the lots tasted so far.
    gap : ndarray, same shape
        From the value to the edge of the tolerance, 0 or more.
    lots : ndarray, broadcastable
        Lots tasted so far.
    tail : float
        On each side of the interval.

    Returns
    -------
    ndarray of float
        The lots so far where the interval is clear already, inf beyond MOST_LOTS, NaN where `se` or `gap` is.

    Notes
    -----
    What is known now is a Student t about the value, so the value after n lots lies from it by se sqrt(1 - lots / n) t
    on lots - 1 df (the predictive distribution under a flat prior: Gelman et al., Bayesian Data Analysis, ch. 3), and
    the interval will reach t on n - 1 df times se sqrt(lots / n).

    Examples
    --------
    >>> print(lots_in_all(np.array([0.2, 0.2]), np.array([0.3, 1.0]), np.array([12, 12])))
    [86. 12.]
    """
    se, gap, lots = np.broadcast_arrays(*(np.asarray(x, float) for x in (se, gap, lots)))
    needed = np.where(special.stdtrit(lots - 1, 1 - tail) * se <= gap, lots, np.inf)
    needed = np.where(np.isnan(se + gap), np.nan, needed)
    open_ = np.isinf(needed) & (lots < MOST_LOTS)
    needed[open_] = _first_enough(se[open_], gap[open_], lots[open_], tail)
    return needed


def _first_enough(se: np.ndarray, gap: np.ndarray, lots: np.ndarray, tail: float) -> np.ndarray:
    """Fewest lots with the power, found by halving: it rises with every lot; inf where MOST_LOTS are too few."""
    too_few, enough = lots, np.full(lots.shape, MOST_LOTS + 1.0)
    while (enough - too_few > 1).any():
        n = np.floor((too_few + enough) / 2)
        with np.errstate(divide="ignore", invalid="ignore"):
            reach = special.stdtrit(n - 1, 1 - tail) * se * np.sqrt(lots / n)
            away = se * np.sqrt(1 - lots / n)
            clear = special.stdtr(lots - 1, (gap - reach) / away) + special.stdtr(lots - 1, (-gap - reach) / away)
        too_few, enough = np.where(clear >= POWER, too_few, n), np.where(clear >= POWER, n, enough)
    return np.where(enough > MOST_LOTS, np.inf, enough)


def lots_of_each(ratio: np.ndarray | float, *, level: float = 0.95) -> np.ndarray:
    """Lots of each of two makes that would show a difference of `ratio` standard deviations of a lot's mean.

    Parameters
    ----------
    ratio : array_like of float > 0
        Difference to be found over the standard deviation of lots of one make; NaN where not known.
    level : float in (0, 1)
        The test is two-sided at 1 - level.

    Returns
    -------
    ndarray
        2 or more; infinite beyond `MOST_OF_EACH`, NaN where the ratio is.

    Notes
    -----
    Noncentral t on 2 (lots - 1) degrees of freedom, both tails counted.

    Examples
    --------
    >>> print(lots_of_each(np.array([0.5, 1.0, 2.0])))
    [64. 17.  6.]
    """
    ratio = np.asarray(ratio, float)
    lots = np.arange(2, MOST_OF_EACH + 1)
    df = 2.0 * (lots - 1)
    shift, critical = np.minimum(ratio, 50.0)[..., None] * np.sqrt(lots / 2), special.stdtrit(df, (1 + level) / 2)
    power = 1 - special.nctdtr(df, np.minimum(shift, 30.0), critical)
    found = power + np.nan_to_num(special.nctdtr(df, shift, -critical)) >= POWER
    needed = np.where(found.any(axis=-1), lots[found.argmax(axis=-1)], np.inf)
    return np.where(np.isnan(ratio), np.nan, needed)
