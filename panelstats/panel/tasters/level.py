"""Level: how far above or below the others a taster scores, session by session and over all of them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import special

from panelstats.models.lotsneeded import lots_in_all
from panelstats.models.meansquares import ratio
from panelstats.models.rootmeansquare import root_mean_square
from panelstats.models.steadying import moderated_variance, variance_prior
from panelstats.panel.tasters.finding import Finding, finding
from panelstats.panel.tasters.reference import Pool, Reference, block_sums, centred

# With this many others or more the tolerance on level is the room's own (ours).
MANY_OTHERS = 9
# Fewer descriptors than this lend each other nothing (ours).
LEAST_DESCRIPTORS = 4
# From this many differences on, the wander of sessions is estimated descriptor by descriptor (ours).
OWN_WANDER = 20


@dataclass(frozen=True, eq=False)
class Levels:
    """Differences to the others by taster and descriptor.

    Attributes
    ----------
    bias : ndarray, shape (taster, descriptor)
        Mean difference to the others.
    within, df : ndarray, same shape
        Variance of the differences within sessions, moderated with 4 descriptors or more, and its degrees of freedom.
    plain, plain_df : ndarray, same shape
        The same before moderation.
    wander : ndarray, shape (descriptor,)
        Variance of a session's level about the taster's own, 0 with one session.
    share : ndarray, shape (taster, descriptor)
        Sum over sessions of lots squared, over all lots squared: what `wander` counts for in the variance of `bias`.
    lots, others : ndarray, same shape
        Lots compared, and number of others (harmonic mean).
    deviations : ndarray, shape (row, taster, descriptor)
        Differences less their session's mean; 0 where not compared.
    """

    bias: np.ndarray
    within: np.ndarray
    df: np.ndarray
    plain: np.ndarray
    plain_df: np.ndarray
    wander: np.ndarray
    share: np.ndarray
    lots: np.ndarray
    others: np.ndarray
    deviations: np.ndarray

    @property
    def se(self) -> np.ndarray:
        """Standard error of `bias`: lots are random, and sessions where there are several."""
        return np.sqrt(ratio(self.within, self.lots) + self.wander * self.share)


def levels(pool: Pool, ref: Reference, *, moderated: bool = True, wander: float | None = None) -> Levels:
    """Levels of every taster against the reference; `wander` replaces the estimate from the sessions."""
    d = pool.mean - ref.score
    seen = ~np.isnan(d)
    per_session = block_sums(seen.astype(float), pool.session)
    lots, sessions = per_session.sum(axis=0), (per_session > 0).sum(axis=0)
    bias = ratio(np.where(seen, d, 0.0).sum(axis=0), lots)
    deviations = centred(d, pool.session)
    plain_df = np.maximum(lots - sessions, 0)
    plain = ratio((deviations**2).sum(axis=0), plain_df)
    within, df = plain, plain_df
    if moderated and d.shape[2] >= LEAST_DESCRIPTORS:
        within, df = moderated_variance(plain, plain_df, variance_prior(plain, plain_df, axis=0, pooled=(1,)))
        within = np.where(plain_df > 0, within, np.nan)
    return Levels(
        bias=bias,
        within=within,
        df=df,
        plain=plain,
        plain_df=plain_df,
        wander=_wander(d, per_session, pool.session, plain) if wander is None else np.full(d.shape[2], wander),
        share=ratio((per_session**2).sum(axis=0), lots**2),
        lots=lots,
        others=np.maximum(ratio(lots, (seen / np.maximum(ref.others, 1)).sum(axis=0)), 1.0),
        deviations=deviations,
    )


def _wander(d: np.ndarray, per_session: np.ndarray, session: np.ndarray, within: np.ndarray) -> np.ndarray:
    """Variance between sessions, averaged over tasters and, while the differences are few, over descriptors."""
    seen = per_session > 0
    count = seen.sum(axis=0)
    lots = per_session.sum(axis=0)
    mean = block_sums(np.nan_to_num(d), session) / np.maximum(per_session, 1)
    grand = (per_session * mean).sum(axis=0) / np.maximum(lots, 1)
    between = ratio((per_session * (mean - grand) ** 2).sum(axis=0), count - 1)
    size = ratio(lots - ratio((per_session**2).sum(axis=0), lots), count - 1)
    usable = ~np.isnan(between) & ~np.isnan(within)
    parts = [np.where(usable, values, 0.0) for values in (between - within, size)]
    one_each = ((usable.sum(axis=0) - 1) * (count.max(axis=0, initial=0) - 1) >= OWN_WANDER).all()
    excess, scale = (part.sum(axis=0) if one_each else np.full(d.shape[2], part.sum()) for part in parts)
    return np.maximum(np.nan_to_num(ratio(excess, scale)), 0.0)


def widened(tolerance: np.ndarray, others: np.ndarray) -> np.ndarray:
    """The tolerance on level against few others, whose own levels are in the reference: D sqrt(.9 (1 + 1/m))."""
    return np.where(others < MANY_OTHERS, tolerance * np.sqrt(0.9 * (1 + 1 / others)), tolerance)


def level(found: Levels, tolerance: np.ndarray, why: np.ndarray, *, tail: float = 0.025) -> Finding:
    """Level by taster and descriptor against +- `tolerance`; t interval with `tail` on each side."""
    se, size = found.se, np.abs(found.bias)
    reach = special.stdtrit(found.df, 1 - tail) * se
    with np.errstate(divide="ignore", invalid="ignore"):
        p = special.stdtr(found.df, -(size - tolerance) / se) + special.stdtr(found.df, -(size + tolerance) / se)
    p = np.where(se == 0, (size <= tolerance).astype(float), np.minimum(p, 1.0))
    lots = lots_in_all(se, np.abs(tolerance - size), found.lots, tail=tail)
    interval = (found.bias - reach, found.bias + reach)
    return finding(found.bias, interval, p, floor=-tolerance, ceiling=tolerance, lots=lots, why=why)


def level_over_descriptors(found: Levels, tolerance: np.ndarray, why: np.ndarray, *, tail: float = 0.025) -> Finding:
    """Root-mean-square level over descriptors, by taster.

    Notes
    -----
    With Q the sum of squared levels and S the covariance over lots of the D differences, Q n / tr S is close to a
    noncentral F on h and h (n - 1) degrees of freedom, h = (tr S)^2 / tr S^2, noncentrality D rms^2 n h / tr S.
    """
    used = (why == "") & ~np.isnan(found.bias)
    squares = np.where(used, found.bias, 0.0) ** 2
    count = used.sum(axis=1)
    noise = np.where(used, np.nan_to_num(ratio(found.plain, found.lots)), 0.0).sum(axis=1)
    wander = np.where(used, np.nan_to_num(found.wander * found.share), 0.0).sum(axis=1)
    nu = ratio(np.where(used, found.plain_df, 0).sum(axis=1), count)
    h = _spread(np.where(used, found.deviations, 0.0), nu, count)
    bound = np.sqrt(ratio(np.where(used, tolerance**2, 0.0).sum(axis=1), count))
    rms = root_mean_square(squares.sum(axis=1), noise + wander, count, (h, h * nu), bound=bound, tail=tail)
    why = np.where(count > 0, "", "not tested")
    return finding(rms.value, (rms.low, rms.high), rms.p, ceiling=bound, why=why)


def _spread(deviations: np.ndarray, nu: np.ndarray, count: np.ndarray) -> np.ndarray:
    """Effective number of independent descriptors."""
    by_taster = np.moveaxis(deviations, 1, 0)  # (taster, row, descriptor)
    covariance = np.swapaxes(by_taster, 1, 2) @ by_taster
    nu = np.where(nu > 1, nu, np.nan)
    t1 = np.trace(covariance, axis1=1, axis2=2) / nu
    t2 = nu**2 / ((nu - 1) * (nu + 2)) * ((covariance**2).sum(axis=(1, 2)) / nu**2 - t1**2 / nu)
    return ratio(t1**2, np.maximum(t2, t1**2 / np.maximum(count, 1)))
