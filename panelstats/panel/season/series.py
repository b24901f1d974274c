"""One number a session for each taster: level against the others, level on hidden controls, noise, agreement."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from panelstats.models.additive import fit_additive
from panelstats.models.meansquares import ratio
from panelstats.panel.tasters.level import levels
from panelstats.panel.tasters.moments import beside, over_lots
from panelstats.panel.tasters.reference import Pool, block_sums, centred, reference
from panelstats.panel.tasters.repeats import repeats

# Degrees of freedom a descriptor within a session that a spread needs, and lots that an order needs (ours).
LEAST_DF, LEAST_LOTS = 4, 5
# A correlation of a few lots may be 1: its logarithm ends here.
HIGHEST = 0.99
# Sessions in which an old and a new control stood side by side before the new one is counted (ours).
OVERLAP = 3
REPEATS, SCATTER = "repeats", "scatter"


@dataclass(frozen=True, eq=False)
class Series:
    """Values by session, taster and descriptor (one column where descriptors are pooled); NaN where absent.

    Attributes
    ----------
    value, se : ndarray, shape (session, taster, column)
        Values and their standard errors; 0 where the whole variance is estimated from the sessions.
    scale : ndarray, same shape
        Factor of the variance between sessions.
    df : ndarray or None, shape (taster, column)
        Degrees of freedom behind `se`; None where `se` is 0.
    plain : ndarray or None
        The values before the other tasters' median was taken off.
    left_out : ndarray of bool or None, same shape
        Sessions whose marks leave no spread from which an error could be told.
    """

    value: np.ndarray
    se: np.ndarray
    scale: np.ndarray
    df: np.ndarray | None = None
    plain: np.ndarray | None = None
    left_out: np.ndarray | None = None


def level_series(pool: Pool, active: np.ndarray, *, least: int) -> Series:
    """Mean difference to the others in each session; its error pooled over the season.

    Parameters
    ----------
    pool : Pool
    active : ndarray of bool, shape (taster, descriptor)
        Who stands in the references.
    least : int
        Fewest others on a lot.
    """
    ref = reference(pool, active, least=least)
    found = levels(pool, ref, wander=0.0)
    value, lots = _session_means(pool.mean - ref.score, pool)
    se = np.sqrt(ratio(found.within, lots))
    se = np.where(se > 0, se, np.nan)  # never infinite weight
    left_out = ~np.isnan(value) & np.isnan(se)
    value = np.where(left_out, np.nan, value)
    return Series(value, se, np.ones_like(value), found.df, left_out=left_out)


def _session_means(d: np.ndarray, pool: Pool) -> tuple[np.ndarray, np.ndarray]:
    """Mean of each session and number of lots behind it."""
    lots = block_sums((~np.isnan(d)).astype(float), pool.session)
    return ratio(block_sums(np.nan_to_num(d), pool.session), lots), lots


def noise_source(pool: Pool) -> str:
    """Repeated servings where most sessions hold enough of them, else the scatter about the others."""
    df = block_sums(np.maximum(pool.looks - 1, 0), pool.session)
    there = df[block_sums(pool.looks, pool.session) > 0]
    return REPEATS if there.size and np.median(there) >= LEAST_DF else SCATTER


def noise_series(pool: Pool, active: np.ndarray, *, least: int, source: str) -> Series:
    """Logarithm of a taster's variance over the other tasters' in the same session, descriptors pooled.

    Notes
    -----
    Each descriptor's mean square is divided by the panel's over the season, so that none outweighs the others. What is
    left is judged by the scatter of the sessions, whatever the correlation of descriptors.
    """
    counted = np.broadcast_to(active, pool.mean.shape[1:])
    if source == REPEATS:
        each = repeats(pool, counted)
        ss, df = block_sums(each.ss, pool.session), block_sums(each.df, pool.session)
    else:
        ref = reference(pool, counted, least=least)
        deviations = centred(pool.mean - ref.score, pool.session)
        ss = block_sums(deviations**2, pool.session)
        lots = block_sums((~np.isnan(pool.mean - ref.score)).astype(float), pool.session)
        df = np.maximum(lots - 1, 0)
    usual = ratio(ss.sum(axis=(0, 1)), df.sum(axis=(0, 1)))
    told = (df >= LEAST_DF) & (usual > 0)
    share = np.where(told, ratio(ss, df * usual), 0.0)
    count = told.sum(axis=2)
    own = np.where(count > 0, ratio(share.sum(axis=2), count), np.nan)
    nu = np.where(count > 0, ratio(np.where(told, df, 0.0).sum(axis=2), count), np.nan)
    left_out = own == 0  # marks without any spread say nothing of it
    own = np.where(left_out, np.nan, own)
    others, freedom = _others(own, active[:, 0]), _others(nu, active[:, 0]) * _others_count(own, active[:, 0])
    alone = own.shape[1] == 1
    value = np.log(own) - (0.0 if alone else np.log(others))
    scale = 2 / nu + (0.0 if alone else 2 / freedom)
    return replace(_pooled(value, scale), left_out=left_out[..., None])


def agreement_series(pool: Pool, active: np.ndarray, *, least: int) -> Series:
    """Fisher's z of the correlation with the others, mean over descriptors, less the other tasters' median.

    Notes
    -----
    Counted are descriptors whose lots the others tell apart over the season. A correlation depends on the day's lots,
    so the median of the others in the same session is taken off; two tasters have one correlation, which stands alone.
    """
    counted = np.broadcast_to(active, pool.mean.shape[1:])
    ref = reference(pool, counted, least=least)
    both, own, others = beside(pool, ref)
    shown = over_lots(pool, ref, both, own, others).open if least > 1 else np.ones(pool.mean.shape[1:], bool)
    pairs = ((own, others), (own, own), (others, others), (both, both.astype(float)))
    product, own_ss, others_ss, lots = (block_sums(one * other, pool.session) for one, other in pairs)
    blocks = np.array([len(np.unique(pool.block[pool.session == s])) for s in range(len(pool.sessions))])
    df = lots - blocks[:, None, None]
    told = shown & (df >= LEAST_LOTS - 1) & (own_ss > 0) & (others_ss > 0)
    r = np.clip(ratio(product, np.sqrt(own_ss * others_ss)), -HIGHEST, HIGHEST)
    count = told.sum(axis=2)
    z = np.where(count > 0, ratio(np.where(told, np.arctanh(np.where(told, r, 0.0)), 0.0).sum(axis=2), count), np.nan)
    left = np.where(count > 0, ratio(np.where(told, df, 0.0).sum(axis=2), count), np.nan)
    value = z if z.shape[1] == 2 else z - _others_median(z, active[:, 0])
    return replace(_pooled(value, 1 / np.maximum(left - 2, 1.0)), plain=z[..., None])


def _pooled(value: np.ndarray, scale: np.ndarray) -> Series:
    there = np.isfinite(value) & np.isfinite(scale)
    value, scale = np.where(there, value, np.nan)[..., None], np.where(there, scale, 1.0)[..., None]
    usual = scale[there].mean() if there.any() else 1.0
    return Series(value, np.where(np.isfinite(value), 0.0, np.nan), scale / usual)


def _others_count(own: np.ndarray, active: np.ndarray) -> np.ndarray:
    seen = ~np.isnan(own) & active
    return seen.sum(axis=1, keepdims=True) - seen


def _others(own: np.ndarray, active: np.ndarray) -> np.ndarray:
    """Mean over the other active tasters; arrays (session, taster)."""
    counted = np.where(~np.isnan(own) & active, own, 0.0)
    return ratio(counted.sum(axis=1, keepdims=True) - counted, _others_count(own, active))


def _others_median(z: np.ndarray, active: np.ndarray) -> np.ndarray:
    seen = np.where(active, z, np.nan)
    out = np.full(z.shape, np.nan)
    for i in range(z.shape[1]):
        rest = np.ma.masked_invalid(np.delete(seen, i, axis=1))
        out[:, i] = np.ma.filled(np.ma.median(rest, axis=1), np.nan)
    return out


def control_series(
    pool: Pool, controls: list[str], active: np.ndarray, *, baseline: int
) -> tuple[Series, Series, list[str]]:
    """Level on hidden controls, taster by taster and for the whole panel, and the controls that could not be linked.

    Parameters
    ----------
    pool : Pool
    controls : list of str
    active : ndarray of bool, shape (taster, descriptor)
        Who counts for the panel.
    baseline : int
        First sessions that say what a control is.

    Notes
    -----
    A control's reference is its mean over the baseline sessions and all tasters; a later one is linked where it stood
    beside linked ones in OVERLAP sessions. One to three cups say nothing of their own error: the whole variance is
    estimated from the sessions.
    """
    shape = (len(pool.sessions), *pool.mean.shape[1:])
    cups = np.full((len(controls), *shape), np.nan)
    for at, name in enumerate(controls):
        rows = pool.lots == name
        cups[at, pool.session[rows]] = pool.mean[rows]
    off, unlinked = _linked(cups, controls, baseline)
    count = (~np.isnan(off)).sum(axis=0)
    own = np.where(count > 0, np.nansum(off, axis=0) / np.maximum(count, 1), np.nan)
    zero = np.where(np.isnan(own), np.nan, 0.0)
    tasters = Series(own, zero, 1 / np.maximum(count, 1))
    fit = fit_additive(own, ~np.isnan(own) & active)  # a session's level whoever was there
    panel = fit.row[:, None]
    return tasters, Series(panel, np.where(np.isnan(panel), np.nan, 0.0), np.ones(panel.shape)), unlinked


def _linked(cups: np.ndarray, controls: list[str], baseline: int) -> tuple[np.ndarray, list[str]]:
    """Every control's marks less its reference; NaN for those that cannot be linked, which are named."""
    panel = _mean(cups, 2)  # (control, session, descriptor)
    off = np.full(cups.shape, np.nan)
    linked = np.zeros(len(controls), bool)
    for at in range(len(controls)):
        first = panel[at, :baseline]
        if np.isfinite(first).any():
            off[at], linked[at] = cups[at] - _mean(first, 0), True
    while True:
        known = _mean(_mean(off[linked], 2), 0) if linked.any() else np.full(panel.shape[1:], np.nan)
        beside = np.isfinite(panel) & np.isfinite(known)
        able = ~linked & (beside.any(axis=2).sum(axis=1) >= OVERLAP)
        if not able.any():
            return off, [name for name, told in zip(controls, linked, strict=True) if not told]
        for late in np.flatnonzero(able):
            reference_of = _mean(np.where(beside[late], panel[late] - known, np.nan), 0)
            off[late], linked[late] = cups[late] - reference_of, True


def _mean(values: np.ndarray, axis: int) -> np.ndarray:
    """Mean over what is there; NaN where nothing is."""
    count = (~np.isnan(values)).sum(axis=axis)
    return np.where(count > 0, np.nansum(values, axis=axis) / np.maximum(count, 1), np.nan)
