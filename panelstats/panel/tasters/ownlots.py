"""A taster's own marks over lots, nobody else's: between and within lots."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy import special

from panelstats.models.meansquares import ratio
from panelstats.panel.tasters.reference import Pool, block_sums

# Two servings differ by less than this many standard deviations 19 times in 20: Bland & Altman, BMJ 1996; 313: 744.
PAIR_FACTOR = 1.96 * np.sqrt(2)


@dataclass(frozen=True, eq=False)
class OwnLots:
    """One-way analysis of a taster's own scores over lots; shape (taster, descriptor), or with a row axis.

    Attributes
    ----------
    lots_ss, lots_df, error_ss, error_df : ndarray
        Between lots within session and class, and within lots (pot and palate together).
    servings : ndarray
        Servings a lot, for unequal numbers (N - sum r^2 / N) / (lots - 1).
    """

    lots_ss: np.ndarray
    lots_df: np.ndarray
    error_ss: np.ndarray
    error_df: np.ndarray
    servings: np.ndarray

    @property
    def f(self) -> np.ndarray:
        """Mean square between lots over mean square within lots."""
        return ratio(ratio(self.lots_ss, self.lots_df), ratio(self.error_ss, self.error_df))

    def lot_share(self, tail: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Share of one serving's variance that is the lot, with its limits from F."""
        df = (self.lots_df, self.error_df)
        low, high = (self.f / special.fdtri(*df, chance) for chance in (1 - tail, tail))
        return signal_share(self.f, self.servings), signal_share(low, self.servings), signal_share(high, self.servings)


def signal_share(f: np.ndarray, servings: np.ndarray) -> np.ndarray:
    """What an F of lots says of one of so many servings: (F - 1) / (F + r - 1)."""
    return ratio(f - 1, f - 1 + servings)


def own_lots(pool: Pool) -> tuple[OwnLots, OwnLots]:
    """One-way analysis over all lots, and without each lot."""
    r = pool.looks.astype(float)
    y = np.where(r > 0, np.nan_to_num(pool.mean), 0.0)
    total = block_sums(r, pool.block)
    lots = block_sums((r > 0).astype(float), pool.block)
    deviation = np.where(r > 0, y - (block_sums(r * y, pool.block) / np.maximum(total, 1))[pool.block], 0.0)
    deviation[np.abs(deviation) <= 1e-12 * np.abs(y)] = 0.0
    n, squares = total.sum(axis=0), (r**2).sum(axis=0)
    error_df = np.maximum(r - 1, 0)
    whole = OwnLots(
        lots_ss=(r * deviation**2).sum(axis=0),
        lots_df=np.maximum(lots - 1, 0).sum(axis=0),
        error_ss=pool.within_ss.sum(axis=0),
        error_df=error_df.sum(axis=0),
        servings=ratio(n - ratio(squares, n), (r > 0).sum(axis=0) - 1),
    )
    # Leaving out a lot of r servings from a block of N takes r N / (N - r) times its squared distance from the mean.
    taken = np.nan_to_num(ratio(r * total[pool.block], total[pool.block] - r)) * deviation**2
    return whole, replace(
        whole,
        lots_ss=np.maximum(whole.lots_ss - taken, 0.0),
        lots_df=whole.lots_df - ((r > 0) & (lots > 1)[pool.block]),  # a lot alone in its block had none
        error_ss=np.maximum(whole.error_ss - pool.within_ss, 0.0),
        error_df=whole.error_df - error_df,
    )


@dataclass(frozen=True)
class TypicalRepeat:
    """How far two servings of one lot lie apart at most, 19 times in 20, in points; NaN where nothing was repeated."""

    gap: float
    low: float
    high: float


def typical_repeat(own: OwnLots, tail: float) -> TypicalRepeat:
    """The typical repeat over the descriptors of the one taster there is."""
    df = own.error_df.sum()
    sd = float(np.sqrt(own.error_ss.sum() / df)) if df else np.nan
    free = max(own.error_df.max(), 1) if df else np.nan  # descriptors of one lot are no independent repeats
    low, high = (sd * float(np.sqrt(free / special.chdtri(free, t))) for t in (tail, 1 - tail))
    return TypicalRepeat(*(PAIR_FACTOR * x for x in (sd, low, high)))
