"""Few pots: the variance between pots of one lot, borrowed from other descriptors or from the room's record.

With two lots of two pots the pot mean square has 2 df and a test against it proves little. Symbols: T tasters share P
pots of each of L lots; ms_pot on f_P df has expectation error + k x pot variance (k = T in complete data), ms_error
on f_E df has expectation error.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import fdtri, polygamma

from panelstats.models.steadying import log_shift, trigamma_inverse

# Above this many pot df today's own estimate stands; a record needs as many to stand in for it (ours).
ENOUGH_DF = 20
# Fewer descriptors cannot say how much pot variances differ between descriptors (ours).
LEAST_DESCRIPTORS = 4
# Smallest ratio of mean squares that counts: a logarithm cannot take 0 (ours).
LEAST_RATIO = 1e-3


@dataclass(frozen=True, eq=False)
class PotVariance:
    """Variance between pots of one lot to hold in the model; arrays of shape (descriptor,), NaN where nothing is lent.

    Attributes
    ----------
    mean_square : ndarray
        The pot mean square that stands in for today's own; never below it.
    df : ndarray
        Degrees of freedom behind `mean_square`.
    component : ndarray
        The pot variance that `mean_square` stands for, below 0 where it lies below the error.
    variance_of_variance : ndarray
        Variance of `component` as an estimate.
    """

    mean_square: np.ndarray
    df: np.ndarray
    component: np.ndarray
    variance_of_variance: np.ndarray

    @property
    def variance(self) -> np.ndarray:
        """The pot variance, 0 or more."""
        return np.maximum(self.component, 0.0)


@dataclass(frozen=True, eq=False)
class PotRecord:
    """What earlier sessions of the same brewing showed of the pots; arrays of shape (session, descriptor).

    Attributes
    ----------
    ss_pot, df_pot : ndarray
        Sum of squares between pots within lots, and its degrees of freedom; 0 df where no lot had two pots.
    ss_error, df_error : ndarray
        The same for what is left within cells.
    k_df : ndarray
        df_pot times k.
    """

    ss_pot: np.ndarray
    df_pot: np.ndarray
    ss_error: np.ndarray
    df_error: np.ndarray
    k_df: np.ndarray

    def of(self, index: np.ndarray) -> PotRecord:
        """The same for some descriptors, in the order of `index`; -1 for one without a record."""
        return PotRecord(**{name: np.where(index >= 0, part[:, index], 0.0) for name, part in vars(self).items()})


def pot_variance_steadied(
    ms_pot: np.ndarray, df_pot: np.ndarray, ms_error: np.ndarray, df_error: np.ndarray, k: np.ndarray
) -> PotVariance:
    """Pot variance of each descriptor, steadied over the descriptors of one stage.

    Parameters
    ----------
    ms_pot, df_pot, ms_error, df_error, k : array_like of float, shape (descriptor,) or scalar
        Mean squares of one session, their degrees of freedom and the coefficient of the pot variance. A descriptor
        without pot or error df, or whose error mean square is 0, neither lends nor borrows.

    Returns
    -------
    PotVariance
        NaN throughout where fewer than 4 descriptors can take part.

    Notes
    -----
    The moderated variance of Smyth (2004, Statistical Applications in Genetics and Molecular Biology 3: 3), applied
    to the ratio of mean squares: its logarithm, freed of both small-sample shifts, has variance
    trigamma(d0/2) + trigamma(f_P/2) + trigamma(f_E/2) over descriptors. Nobody can lend more than the others have:
    d0 <= (descriptors - 1) f_P; the ratio lent is at least 1.

    Examples
    --------
    >>> lent = pot_variance_steadied(np.array([0.8, 1.5, 0.2, 0.9]), 2, np.array([0.5, 0.6, 0.6, 0.4]), 18, 10)
    >>> print(lent.df.round(1), np.sqrt(lent.variance).round(2))
    [8. 8. 8. 8.] [0.23 0.3  0.21 0.22]
    """
    ms_pot, f_p, ms_error, f_e, k = _float_arrays(ms_pot, df_pot, ms_error, df_error, k)
    known = (f_p > 0) & (f_e > 0) & (ms_error > 0) & (ms_pot >= 0)
    lent = np.full((4, known.size), np.nan)
    if known.sum() >= LEAST_DESCRIPTORS:
        mp, fp, me, fe, kk = (each[known] for each in (ms_pot, f_p, ms_error, f_e, k))
        ratio, d0 = ratio_prior(mp, fp, me, fe)
        mean_square = np.maximum((fp * mp + d0 * ratio * me) / (fp + d0), mp)
        sampling = (2 * mean_square**2 / (fp + d0) + 2 * me**2 / fe) / kk**2
        lent[:, known] = mean_square, fp + d0, (mean_square - me) / kk, sampling
    return PotVariance(*lent)


# The logarithm of a mean square on fewer degrees of freedom tells less than half of what the mean square does (of one:
# 2 / trigamma(1/2) = 0.41). Simulated for 2 tasters, 2 lots, 8 pots, 6 descriptors: with the plain mean in its place
# 26 for 16 of 100 differences of 1.5 points are found after Holm, false ones in 3.3 for 2.0 of 100; from two on, 3
# tasters, it brings nothing but false ones (6.7 for 4.7).
TELLING_DF = 2


def ratio_prior(ms: np.ndarray, df: np.ndarray, ms_error: np.ndarray, df_error: np.ndarray) -> tuple[float, float]:
    """Ratio of mean square to error that a group of descriptors shares, 1 or more, and the df it can lend."""
    z = np.log(np.maximum(ms / ms_error, LEAST_RATIO)) - log_shift(df) + log_shift(df_error)
    excess = z.var(ddof=1) - np.mean(polygamma(1, df / 2) + polygamma(1, df_error / 2))
    cap = (len(ms) - 1) * df.mean()
    d0 = float(np.fmin(2 * trigamma_inverse(excess), cap)) if excess > 0 else float(cap)
    if d0 >= cap and df.mean() < TELLING_DF <= df_error.min() - 1:  # alike as far as seen: their plain mean
        return max(1.0, float((ms / ms_error * (1 - 2 / df_error)).mean())), d0
    return max(1.0, float(np.exp(z.mean()))), d0


def pot_variance_from_record(record: PotRecord, ms_pot: np.ndarray, ms_error: np.ndarray, k: np.ndarray) -> PotVariance:
    """Pot variance of each descriptor from earlier sessions, never below what today shows.

    Parameters
    ----------
    record : PotRecord
        Earlier sessions of the same mass of leaf, water, time, vessel and stage.
    ms_pot, ms_error, k : array_like of float, shape (descriptor,) or scalar
        Today's mean squares and coefficient of the pot variance; ms_pot may be NaN (one pot a lot today).

    Returns
    -------
    PotVariance
        NaN for a descriptor whose record holds fewer than 20 pot df, or whose error mean square is 0 today.

    Notes
    -----
    Method of moments over sessions; the variance of each mean square is 2 E(MS)^2 / df.

    Examples
    --------
    >>> past = PotRecord(*(np.full((6, 1), value) for value in (8.0, 4.0, 18.0, 36.0, 40.0)))
    >>> lent = pot_variance_from_record(past, np.array([1.0]), np.array([0.5]), 10)
    >>> print(lent.df, np.sqrt(lent.variance).round(2))
    [24.] [0.39]
    """
    ms_pot, ms_error, k = _float_arrays(ms_pot, ms_error, k)
    surplus, noise, df, weight = _past(record)
    weight = np.where((df >= ENOUGH_DF) & (ms_error > 0), weight, np.nan)
    expected = k * np.maximum(0, surplus / weight) + ms_error
    mean_square = np.where(ms_pot > expected, ms_pot, expected)  # False where ms_pot is NaN
    variance_of_variance = noise / weight**2 * (mean_square / expected) ** 2
    component = (mean_square - ms_error) / k
    return PotVariance(mean_square, np.where(np.isnan(weight), np.nan, df), component, variance_of_variance)


def _past(record: PotRecord) -> tuple[np.ndarray, ...]:
    """Sums over sessions: surplus of the pots over the error, its variance, pot df, and pot df times k."""
    use = (record.df_pot > 0) & (record.df_error > 0)
    f_p, f_e = np.where(use, record.df_pot, 0.0), np.where(use, record.df_error, 1.0)
    ss_pot, ms_error = np.where(use, record.ss_pot, 0.0), np.where(use, record.ss_error, 0.0) / f_e
    noise = 2 * (ss_pot**2 / np.maximum(f_p, 1) + (f_p * ms_error) ** 2 / f_e)
    return tuple(each.sum(axis=0) for each in (ss_pot - f_p * ms_error, noise, f_p, np.where(use, record.k_df, 0.0)))


def pot_sd_upper(
    ms_pot: np.ndarray, df_pot: np.ndarray, ms_error: np.ndarray, df_error: np.ndarray, k: np.ndarray
) -> np.ndarray:
    """One-sided upper 95 % limit of the SD between pots of one lot, in scale points.

    Parameters
    ----------
    ms_pot, df_pot, ms_error, df_error, k
        As for `pot_variance_steadied`.

    Returns
    -------
    ndarray, shape (descriptor,)
        NaN without pot or error df.

    Notes
    -----
    ms_pot / ms_error over its expectation follows F on the two df: exact under normality.

    Examples
    --------
    >>> print(pot_sd_upper(np.array([0.5]), 30, np.array([0.5]), 270, 10).round(2))
    [0.18]
    """
    ms_pot, f_p, ms_error, f_e, k = _float_arrays(ms_pot, df_pot, ms_error, df_error, k)
    f_p, f_e = (np.where(f > 0, f, np.nan) for f in (f_p, f_e))
    return np.sqrt(np.maximum(0, (ms_pot / fdtri(f_p, f_e, 0.05) - ms_error) / k))


def _float_arrays(*arrays: np.ndarray) -> tuple[np.ndarray, ...]:
    """All as floats of one shape, at least one-dimensional."""
    return tuple(np.array(each) for each in np.broadcast_arrays(*(np.atleast_1d(np.asarray(a, float)) for a in arrays)))
