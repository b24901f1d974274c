"""How many lots an interval needs to come clear of a tolerance."""

from __future__ import annotations

import numpy as np
from scipy import special

# Beyond this many lots the answer is that the value sits at the tolerance (ours).
MOST_LOTS = 400
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
