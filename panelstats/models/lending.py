"""Few degrees of freedom: the variance of lot:taster or lot:pot, lent by the other descriptors of the session.

A mean square of a few degrees of freedom proves little, and a component that it puts at 0 would hand its test the many
degrees of freedom of the looks. So the component is held where the descriptors together put it, with the degrees of
freedom they have; a descriptor that stands out from the others neither lends nor borrows.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy.special import fdtrc

from panelstats.models.estimable import Estimable
from panelstats.models.fewpots import (
    ENOUGH_DF,
    LEAST_DESCRIPTORS,
    PotRecord,
    pot_sd_upper,
    pot_variance_from_record,
    pot_variance_steadied,
    ratio_prior,
)
from panelstats.models.reml import LOT_POT, LOT_TASTER

# How a component came to its value.
REML, STEADIED, ALONE, RECORDED = "reml", "steadied", "own mean square", "room's record"
# Level at which a descriptor stands out from what the others share (ours; simulated beside LEAST_DESCRIPTORS).
STANDS_OUT = 0.05


@dataclass(frozen=True, eq=False)
class Lent:
    """One component of D descriptors, shape (D,) each.

    Attributes
    ----------
    rule : ndarray of str
        REML where the fit estimates it, STEADIED over descriptors, or ALONE: held at its own mean square's value.
    variance, sampling : ndarray
        The value held and its variance as an estimate; 0 under REML. Complete data may hold less than 0: the test is
        then against the mean square itself.
    df : ndarray
        Degrees of freedom behind the mean square, lent ones included.
    """

    rule: np.ndarray
    variance: np.ndarray
    sampling: np.ndarray
    df: np.ndarray

    @staticmethod
    def none(size: int) -> Lent:
        """Nothing is lent: the fit estimates the component."""
        return Lent(np.full(size, REML, dtype="U16"), np.zeros(size), np.zeros(size), np.zeros(size))

    @property
    def held(self) -> np.ndarray:
        """Whether the component is held."""
        return self.rule != REML

    def of(self, index: np.ndarray) -> Lent:
        """The same for some descriptors, in the order of `index`."""
        return Lent(**{name: value[index] for name, value in vars(self).items()})


@dataclass(frozen=True, eq=False)
class _Lines:
    """A mean square of each descriptor beside its error: E(ms) = error + k x component."""

    ms: np.ndarray
    df: np.ndarray
    ms_error: np.ndarray
    df_error: np.ndarray
    k: np.ndarray

    def of(self, keep: np.ndarray) -> tuple[np.ndarray, ...]:
        return tuple(each[keep] for each in vars(self).values())

    @property
    def sampling(self) -> np.ndarray:
        """Variance of the component as an estimate from these two mean squares alone."""
        own = self.ms**2 / np.maximum(self.df, 1) + self.ms_error**2 / np.maximum(self.df_error, 1)
        return 2 * own / self.k**2


def lent_pots(can: Estimable, stage: np.ndarray) -> Lent:
    """Pot variances, steadied over the descriptors of one stage where pots are few; else left to REML.

    Parameters
    ----------
    can : Estimable
        Of D descriptors that can be fitted.
    stage : ndarray of str, shape (D,)
    """
    found = _lent(_pot_lines(can), stage, can.pot_df > 0)
    return replace(found, variance=np.maximum(found.variance, 0.0))


def lent_by_record(lent: Lent, can: Estimable, record: PotRecord) -> Lent:
    """Pot variances as the room's earlier sessions know them, where today's pots are few; the others as they were lent.

    Parameters
    ----------
    lent : Lent
        Of D descriptors, as `lent_pots` found them.
    can : Estimable
    record : PotRecord
        Arrays of shape (session, D).

    Notes
    -----
    Where every taster met each lot once, looks and lot:taster are one error.
    """
    lines = _pot_lines(can)
    cross = can.cross_ss / np.maximum(can.cross_df, 1)
    known = pot_variance_from_record(
        record, np.where(can.pot_df > 0, lines.ms, np.nan), np.where(can.error_df > 0, lines.ms_error, cross), lines.k
    )
    at = (can.pot_df < ENOUGH_DF) & np.isfinite(known.component)
    return Lent(
        rule=np.where(at, RECORDED, lent.rule),
        variance=np.where(at, known.variance, lent.variance),
        sampling=np.where(at, known.variance_of_variance, lent.sampling),
        df=np.where(at, known.df, lent.df),
    )


def lent_interactions(can: Estimable, stage: np.ndarray) -> Lent:
    """Lot:taster variances, steadied where tasters or lots are few.

    Notes
    -----
    Complete data of fewer than four descriptors, or of one that stands out, test lots against the lot:taster mean
    square itself, on (L - 1)(T - 1) degrees of freedom, whatever component would be negative.
    """
    lines = _beside_error(can, can.cross_ss, can.cross_df, can.cross_k)
    usable = ~can.held[:, LOT_TASTER] & (can.error_df > 0) & (lines.ms_error > 0)
    found = _lent(lines, stage, usable)
    alone = usable & (can.cross_df < ENOUGH_DF) & can.complete & (found.rule == REML)
    variance = np.where(alone, (lines.ms - lines.ms_error) / lines.k, found.variance)
    return Lent(
        rule=np.where(alone, ALONE, found.rule),
        variance=np.where(can.complete, variance, np.maximum(variance, 0.0)),
        sampling=np.where(alone, lines.sampling, found.sampling),
        df=found.df,
    )


def held_covariance(pots: Lent, interactions: Lent, can: Estimable) -> np.ndarray:
    """Covariance of the held values, shape (D, 5, 5): both were taken off one error mean square."""
    out = np.zeros((len(pots.rule), 5, 5))
    out[:, LOT_POT, LOT_POT], out[:, LOT_TASTER, LOT_TASTER] = pots.sampling, interactions.sampling
    lines = _pot_lines(can)
    error = 2 * lines.ms_error**2 / np.maximum(lines.df_error, 1)
    both = pots.held & interactions.held
    shared = np.where(both, error / np.where(both, np.maximum(can.pot_k * can.cross_k, 1e-300), 1.0), 0.0)
    out[:, LOT_POT, LOT_TASTER] = out[:, LOT_TASTER, LOT_POT] = shared
    return out


def upper_pot_sd(can: Estimable) -> np.ndarray:
    """One-sided upper 95 % limit of the SD between pots; NaN without degrees of freedom."""
    return pot_sd_upper(*vars(_pot_lines(can)).values())


def _pot_lines(can: Estimable) -> _Lines:
    return _beside_error(can, can.pot_ss, can.pot_df, can.pot_k)


def _beside_error(can: Estimable, ss: np.ndarray, df: np.ndarray, k: np.ndarray) -> _Lines:
    ms_error = (can.within_ss - can.pot_ss) / np.maximum(can.error_df, 1)
    return _Lines(ss / np.maximum(df, 1), df, ms_error, can.error_df, np.where(df > 0, k, 1.0))


def _lent(lines: _Lines, stage: np.ndarray, usable: np.ndarray) -> Lent:
    """Steady within each stage whose mean squares have few degrees of freedom."""
    size = len(stage)
    rule = np.full(size, REML, dtype="U16")
    variance, sampling, df = np.zeros(size), np.zeros(size), lines.df.astype(float)
    for name in np.unique(stage):
        mine = np.flatnonzero((stage == name) & usable)
        if not len(mine) or lines.df[mine].min() >= ENOUGH_DF:
            continue
        out = stands_out(*lines.of(mine)[:4])
        alike = mine[~out]
        if len(alike) < LEAST_DESCRIPTORS:
            continue
        borrowed = pot_variance_steadied(*lines.of(alike))
        lent = np.isfinite(borrowed.variance)
        at = alike[lent]
        rule[at], df[at] = STEADIED, borrowed.df[lent]
        variance[at] = borrowed.component[lent]
        sampling[at] = borrowed.variance_of_variance[lent]
    return Lent(rule, variance, sampling, df)


def stands_out(ms: np.ndarray, df: np.ndarray, ms_error: np.ndarray, df_error: np.ndarray) -> np.ndarray:
    """Which descriptors have a mean square beyond what all the others would lend.

    Parameters
    ----------
    ms, df, ms_error, df_error : ndarray of float, shape (descriptor,)
        Of one stage. Where fewer than four others are left, nobody stands out.

    Notes
    -----
    The ratio to the error over the ratio the others share follows F on df and the others' prior degrees of freedom, the
    error's own taken in (Smyth 2004); p below 5 % stands out.

    Examples
    --------
    >>> ms = np.array([0.8, 9.0, 0.9, 0.7, 0.8, 0.6])
    >>> print(stands_out(ms, np.full(6, 4.0), np.full(6, 0.7), np.full(6, 60.0)))
    [False  True False False False False]
    """
    known = (df > 0) & (df_error > 0) & (ms_error > 0)
    out = np.zeros(len(ms), bool)
    if known.sum() <= LEAST_DESCRIPTORS:
        return out
    for d in np.flatnonzero(known):
        others = known.copy()
        others[d] = False
        ratio, d0 = ratio_prior(ms[others], df[others], ms_error[others], df_error[others])
        beyond = ms[d] / ms_error[d] / ratio
        out[d] = fdtrc(df[d], 1 / (1 / d0 + 1 / df_error[d]), beyond) < STANDS_OUT
    return out
