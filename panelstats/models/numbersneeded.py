"""How many pots or tasters would find a difference: the search behind every next step."""

from __future__ import annotations

from typing import Any

import numpy as np
from scipy.special import nctdtr, stdtrit

# Pot-to-pot SD in scale points to plan with where the room has no record (ours).
PLANNING_POT_SD = 0.25
# More pots of one lot than this are not brewed for one sitting (common practice).
MOST_POTS = 12
# More tasters than this do not sit at one bench (common practice).
MOST_TASTERS = 40


def power_with_pots(
    pots: np.ndarray,
    pot_variance: np.ndarray,
    interaction: np.ndarray,
    error: np.ndarray,
    *,
    tasters: int,
    lots: int = 2,
    difference: float = 1.0,
    level: float = 0.95,
    lent: tuple[float, float] = (1.0, 1.0),
) -> np.ndarray:
    """Chance that a true difference between two lots is found, when all tasters share the pots.

    Parameters
    ----------
    pots : array_like of int >= 2
        Pots of each lot.
    pot_variance, interaction, error : array_like of float, broadcastable
        Variances of lot:pot, lot:taster and the residual to plan with.
    tasters, lots : int >= 2
    difference : float
        In scale points.
    level : float in (0, 1)
        The test is two-sided at 1 - level.
    lent : pair of float >= 1
        Degrees of freedom of lot:pot and of lot:taster over those of the descriptor alone, where others lend theirs.

    Returns
    -------
    ndarray
        Noncentral t on Satterthwaite's df, mean squares at their expectations: an approximation.

    Examples
    --------
    >>> print(power_with_pots(np.array([2, 4]), 0.0625, 0.16, 0.64, tasters=10).round(2))
    [0.38 0.81]
    """
    pots = np.asarray(pots, float)
    pot, error = tasters * np.asarray(pot_variance) + error, np.asarray(error, float)
    cross = pots * np.asarray(interaction) + error
    freedom = (
        lent[0] * lots * (pots - 1), lent[1] * (lots - 1) * (tasters - 1), lots * (pots - 1) * (tasters - 1),
    )  # fmt: skip
    total = pot + cross - error
    df = total**2 / sum(ms**2 / f for ms, f in zip((pot, cross, error), freedom, strict=True))
    shift, critical = difference / np.sqrt(2 * total / (tasters * pots)), stdtrit(df, (1 + level) / 2)
    return 1 - nctdtr(df, shift, critical) + np.nan_to_num(nctdtr(df, shift, -critical))


def pots_needed(
    pot_variance: np.ndarray,
    interaction: np.ndarray,
    error: np.ndarray,
    *,
    tasters: int,
    lots: int = 2,
    difference: float = 1.0,
    power: float = 0.8,
    level: float = 0.95,
    lent: tuple[float, float] = (1.0, 1.0),
) -> np.ndarray:
    """Pots of each lot with which a true difference would be found with the power asked for.

    Parameters
    ----------
    power : float in (0, 1)
    pot_variance, interaction, error, tasters, lots, difference, level, lent
        As for `power_with_pots`; plan pot variances with the room's record, else with `PLANNING_POT_SD` squared.

    Returns
    -------
    ndarray of float
        The smallest number from 2 up; infinity where `MOST_POTS` do not suffice, NaN where a variance is NaN.

    Examples
    --------
    >>> print(pots_needed(PLANNING_POT_SD**2, 0.16, 0.64, tasters=10))
    4.0
    """
    variances = np.stack(np.broadcast_arrays(pot_variance, interaction, error)).astype(float)[..., None]
    pots = np.arange(2, MOST_POTS + 1)
    reached = power_with_pots(
        pots, *variances, tasters=tasters, lots=lots, difference=difference, level=level, lent=lent
    )
    found = reached >= power
    needed = np.where(found.any(axis=-1), pots[found.argmax(axis=-1)], np.inf)
    return np.where(np.isnan(variances).any(axis=(0, -1)), np.nan, needed)


def pots_and_tasters_needed(
    pot_variance: float, interaction: float, error: float, *, tasters: int, **plan: Any
) -> tuple[int, int] | None:
    """Pots of each lot, and the fewest tasters from `tasters` up, that would find a true difference.

    Parameters
    ----------
    pot_variance, interaction, error
        As for `pots_needed`, one value each.
    tasters : int
        Those there are.
    **plan
        lots, difference, power, level and lent, as for `pots_needed`.

    Returns
    -------
    (int, int) or None
        Pots and tasters; None where neither `MOST_POTS` nor `MOST_TASTERS` suffice.

    Examples
    --------
    >>> pots_and_tasters_needed(0.25, 0.16, 0.64, tasters=3)
    (11, 7)
    """
    variances = [np.array(value) for value in (pot_variance, interaction, error)]
    for many in range(tasters, MOST_TASTERS + 1):
        pots = float(pots_needed(*variances, tasters=many, **plan))
        if np.isfinite(pots):
            return int(pots), many
    return None


def tasters_needed(
    interaction: float,
    error: float,
    *,
    looks: int,
    lots: int = 2,
    difference: float = 1.0,
    power: float = 0.8,
    level: float = 0.95,
) -> int | None:
    """Tasters, each with pots of his own or all with one, with whom a true difference would be found.

    Parameters
    ----------
    interaction, error : float
        Variances of lot:taster and of a look.
    looks : int
        Looks of each taster at each lot.
    lots, difference, power, level
        As for `pots_needed`.

    Returns
    -------
    int or None
        The smallest number from 2 up; None where `MOST_TASTERS` do not suffice.

    Notes
    -----
    The difference must reach the sum of the two quantiles of t on (lots - 1)(tasters - 1) df in standard errors.

    Examples
    --------
    >>> tasters_needed(0.16, 0.64, looks=2)
    10
    """
    tasters = np.arange(2, MOST_TASTERS + 1)
    df = (lots - 1) * (tasters - 1)
    reach = stdtrit(df, (1 + level) / 2) + stdtrit(df, power)
    enough = reach * np.sqrt(2 * (interaction + error / looks) / tasters) <= difference
    return int(tasters[enough.argmax()]) if enough.any() else None
