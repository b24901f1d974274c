"""A taster's scores against the others' within session and class: slope, order, scatter from sums of squares."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy import special

from panelstats.models.additive import ROUNDING
from panelstats.models.meansquares import ratio
from panelstats.panel.tasters.finding import GATE, SD_RATIO
from panelstats.panel.tasters.reference import Pool, Reference, block_sums, centred

# Least share of the reference's variance that may be taken for signal; guards the division (ours).
LEAST_RELIABILITY = 0.2


@dataclass(frozen=True, eq=False)
class Moments:
    """Sums of squares and products about the mean of each session and class, by taster and descriptor.

    Attributes
    ----------
    reference_ss, product, own_ss : ndarray
        Of the others' score, of it with the taster's, of the taster's.
    df : ndarray
        Lots less blocks.
    others_ss, others_df : ndarray
        The others' residual sum of squares from lot + taster.
    others : ndarray
        Number of others, harmonic mean over the lots.
    least_signal : float
        Least reliability of the reference at which order and scale are judged, beside the test of the lots.
    """

    reference_ss: np.ndarray
    product: np.ndarray
    own_ss: np.ndarray
    df: np.ndarray
    others_ss: np.ndarray
    others_df: np.ndarray
    others: np.ndarray
    least_signal: float = 0.0

    @property
    def others_variance(self) -> np.ndarray:
        """Variance of one other's lot mean about lot + taster."""
        return ratio(self.others_ss, self.others_df)

    @property
    def reference_variance(self) -> np.ndarray:
        """Variance over lots of the others' score."""
        return ratio(self.reference_ss, self.df)

    @property
    def reliability(self) -> np.ndarray:
        """Share of the reference's variance that is not the others' own noise, at least LEAST_RELIABILITY."""
        noise = ratio(self.others_variance, self.others * self.reference_variance)
        return np.maximum(LEAST_RELIABILITY, 1 - noise)

    @property
    def plain_slope(self) -> np.ndarray:
        """Regression of the taster on the reference, not yet freed of the reference's noise."""
        return ratio(self.product, self.reference_ss)

    @property
    def slope(self) -> np.ndarray:
        """The slope freed of the reference's noise."""
        return self.plain_slope / self.reliability

    @property
    def residual_df(self) -> np.ndarray:
        """Degrees of freedom of the regression's residual."""
        return np.maximum(self.df - 1, 0)

    @property
    def residual_variance(self) -> np.ndarray:
        """Residual mean square of the regression."""
        left = self.own_ss - np.nan_to_num(self.plain_slope * self.product)
        return ratio(np.where(left <= ROUNDING * self.own_ss, 0.0, left), self.residual_df)

    @property
    def correlation(self) -> np.ndarray:
        """Correlation of the taster with the reference."""
        return np.clip(ratio(self.product, np.sqrt(self.reference_ss * self.own_ss)), -1, 1)

    @property
    def gate_p(self) -> np.ndarray:
        """Level at which the others tell the lots apart; NaN with fewer than two others, 0 where they are identical."""
        f = ratio(self.others * self.reference_variance, self.others_variance)
        p = special.fdtrc(self.df, self.others_df, f)
        same = (self.others_df > 0) & (self.others_ss == 0) & (self.reference_ss > 0)
        return np.where(same, 0.0, p)

    @property
    def open(self) -> np.ndarray:
        """Whether the others tell the lots apart, so that order and scale can be judged."""
        return (self.gate_p < GATE) & (self.reliability >= self.least_signal)

    @property
    def scatter(self) -> np.ndarray:
        """The taster's residual variance against the others' variance."""
        return ratio(self.residual_variance, self.others_variance)

    def scatter_term(self, shown: np.ndarray) -> np.ndarray:
        """What the noise of the reference adds to `scatter`; `shown` says where the lots differ for the others."""
        squared = np.minimum(SD_RATIO**2, self.plain_slope**2 / self.reliability)
        return np.where(shown & ~np.isnan(squared), squared, 1.0) / self.others


def moments(pool: Pool, ref: Reference) -> tuple[Moments, Moments]:
    """Moments over all lots, shape (taster, descriptor), and without each lot, shape (row, taster, descriptor)."""
    both, own, x = beside(pool, ref)
    whole = over_lots(pool, ref, both, own, x)
    in_block = block_sums(both.astype(float), pool.block)
    # A lot left out of a block of k takes k / (k - 1) times its squared distance from the block's mean.
    told = both & (in_block > 1)[pool.block]  # a lot alone in its block told nothing
    factor = np.where(told, ratio(in_block, in_block - 1)[pool.block], 0.0)
    return whole, replace(
        whole,
        reference_ss=np.maximum(whole.reference_ss - factor * x**2, 0.0),
        product=whole.product - factor * x * own,
        own_ss=np.maximum(whole.own_ss - factor * own**2, 0.0),
        df=np.maximum(whole.df - told, 0),
        others_ss=np.maximum(whole.others_ss - factor * ref.residual_ss, 0.0),
        others_df=np.maximum(whole.others_df - np.where(told, ref.others - 1, 0), 0),
    )


def beside(pool: Pool, ref: Reference) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Where taster and reference are known, and both about the mean of their block; shape (row, taster, descriptor)."""
    both = ~np.isnan(pool.mean) & ~np.isnan(ref.score)
    own, x = (centred(np.where(both, values, np.nan), pool.block) for values in (pool.mean, ref.score))
    return both, own, x


def over_lots(pool: Pool, ref: Reference, both: np.ndarray, own: np.ndarray, x: np.ndarray) -> Moments:
    """Moments over all lots, shape (taster, descriptor), of what `beside` gives."""
    lots, blocks = both.sum(axis=0), (block_sums(both.astype(float), pool.block) > 0).sum(axis=0)
    others = lots / np.maximum((both / np.maximum(ref.others, 1)).sum(axis=0), 1e-9)
    return Moments(
        reference_ss=(x**2).sum(axis=0),
        product=(x * own).sum(axis=0),
        own_ss=(own**2).sum(axis=0),
        df=np.maximum(lots - blocks, 0),
        others_ss=ref.residual_ss.sum(axis=0),
        others_df=np.maximum(ref.df, 0),
        others=np.maximum(others, 1.0),
    )
