"""Units measured in several replicates: whose replicates lie farther apart than those of the other units?

The question is not whether two replicates differ (they always do a little) but whether those of one unit differ more
than replicates do in this set; the unit is what is exchangeable.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from panelstats.models.steadying import Prior, moderated_variance, variance_prior

# The largest variances of the others that are left out of a unit's scale, and from how many units two are (ours).
LEFT_OUT, MANY_UNITS = 2, 12
# Degrees of freedom of a trimmed scale, as a share of its untrimmed ones (ours).
TRIMMED_DF = 0.8
# Limits that keep one wild replicate from ruling the correlations, and the statistic from overflowing (ours).
_HELD, _WIDEST, _LEAST_EIGENVALUE = 2.0, 12.0, 0.05
# Simulated tables, as many as these numbers allow for large sets, and no fewer than the least.
DRAWS, LEAST_DRAWS, _NUMBERS = 1999, 399, 12_000_000
ALIKE = 1e-9  # of two replicates, which are equally far out, the first is taken, however the sums are rounded
_CHUNK = 60_000  # numbers held at a time, so that they stay in the processor's cache


@dataclass(frozen=True, eq=False)
class OddReplicates:
    """How far each unit's replicates lie apart, judged against the others.

    Attributes
    ----------
    p : ndarray, shape (unit,)
        Chance that the most extreme of so many units lies so far apart where all are alike; all variables allowed for.
    odd : ndarray of int, shape (unit,)
        The replicate farthest out.
    z : ndarray, shape (unit, replicate, variable)
        Distance of each replicate from its unit's mean, in standard deviations of such distances.
    scale : ndarray, shape (variable,)
        Standard deviation between replicates of one unit.
    limit : float
        The distance on one variable that the farthest of all passes in 5 of 100 sets without an odd replicate.
    """

    p: np.ndarray
    odd: np.ndarray
    z: np.ndarray
    scale: np.ndarray
    limit: float


def odd_replicates(values: np.ndarray, *, draws: int | None = None, seed: int = 0) -> OddReplicates:
    """Judge every unit's replicates against those of the other units, several variables at once.

    Parameters
    ----------
    values : ndarray, shape (unit, replicate, variable)
        NaN where a unit has fewer replicates, or a variable was not measured; a variable is known for all replicates
        of a unit or for none. Three units or more, each with two replicates or more.
    draws : int, optional
        Simulated tables; by default 1,999, fewer (399 at least) for large sets.
    seed : int

    Returns
    -------
    OddReplicates

    Notes
    -----
    Each unit's deviations are divided by a scale from the *other* units, their largest variances left out, moderated
    over variables (Smyth 2004, Stat. Appl. Genet. Mol. Biol. 3: 3). Two statistics, the largest deviation on one
    variable and the squared Mahalanobis distance over all of them, are referred to their largest over units in tables
    of normal deviates with the same shape, scales and correlations (a parametric bootstrap of the maximum: Davison and
    Hinkley 1997, section 4.2); the smaller of the two p is itself ranked in the same tables.

    Examples
    --------
    >>> rng = np.random.default_rng(1)
    >>> values = rng.normal(size=(24, 2, 3))
    >>> values[5, 1] += 6
    >>> found = odd_replicates(values, draws=199)
    >>> int(found.p.argmin()), bool(found.p[5] < 0.05)
    (5, True)
    """
    known = np.isfinite(values).any(axis=1)
    replicates = np.isfinite(values).any(axis=2).sum(axis=1)
    measured = np.isfinite(values)
    mean = np.where(measured, values, 0.0).sum(axis=1, keepdims=True) / np.maximum(
        measured.sum(axis=1, keepdims=True), 1
    )
    deviation = np.where(measured, values - mean, 0.0)  # 0 where not known adds nothing
    z, single, several = _judged(deviation[None], known, replicates)
    sd = np.sqrt(_pooled(np.sort(_mean_squares(deviation[None], replicates), axis=1), known))[0]
    root, _ = _roots(_correlation(deviation[None], sd[None]))
    count = draws or int(np.clip(_NUMBERS // values.size, LEAST_DRAWS, DRAWS))
    rng = np.random.default_rng(seed)
    null_single, null_several = _null(measured, replicates, sd, root[0], count, rng)
    p = _joined(single[0].max(axis=1), several[0].max(axis=1), null_single, null_several)
    farthest = several[0] >= several[0].max(axis=1, keepdims=True) * (1 - ALIKE)
    return OddReplicates(p, farthest.argmax(axis=1), z[0], sd, float(np.quantile(null_single, 0.95)))


def _judged(
    deviation: np.ndarray, known: np.ndarray, replicates: np.ndarray
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Standardised deviations, their largest on one variable, and their squared distance over all variables.

    The correlations are those of the table itself, in the simulated ones too: a table fits its own errors.
    """
    squares = _mean_squares(deviation, replicates)
    ordered = np.sort(squares, axis=1)
    pooled = _pooled(ordered, known)
    z = _standardised(deviation, _of_others(squares, ordered, known), pooled, known, replicates)
    _, inverse = _roots(_correlation(deviation, np.sqrt(pooled)))
    free = z.reshape(len(z), -1, z.shape[3]) @ inverse
    several = np.einsum("tav,tav->ta", free, free).reshape(z.shape[:3])
    return z, np.abs(z).max(axis=3), several


def _mean_squares(deviation: np.ndarray, replicates: np.ndarray) -> np.ndarray:
    """Mean squares between replicates, (table, unit, variable)."""
    return np.einsum("turv,turv->tuv", deviation, deviation) / (replicates - 1)[:, None]


def _pooled(ordered: np.ndarray, known: np.ndarray) -> np.ndarray:
    """Mean over all units but those of the largest variances, (table, variable), of variances ordered over units."""
    drop = _dropped(len(known))
    return ordered[:, :-drop].sum(axis=1) / np.maximum(known.sum(axis=0) - drop, 1)


def _of_others(squares: np.ndarray, ordered: np.ndarray, known: np.ndarray) -> np.ndarray:
    """For each unit the mean over the others but for their largest, (table, unit, variable)."""
    drop = _dropped(len(known))
    top = ordered[:, : -drop - 2 : -1]  # the largest drop + 1, falling
    among = squares >= top[:, drop - 1 : drop]
    left_out = np.where(among, top.sum(axis=1, keepdims=True), squares + top[:, :drop].sum(axis=1, keepdims=True))
    count = np.maximum(known.sum(axis=0) - 1 - drop, 1)
    return np.maximum(squares.sum(axis=1, keepdims=True) - left_out, 0.0) / count


def _dropped(units: int) -> int:
    return LEFT_OUT if units >= MANY_UNITS else LEFT_OUT - 1


def _standardised(
    deviation: np.ndarray, others: np.ndarray, pooled: np.ndarray, known: np.ndarray, replicates: np.ndarray
) -> np.ndarray:
    """Deviations over the moderated scale of the other units, (table, unit, replicate, variable); 0 where not known."""
    df = TRIMMED_DF * np.maximum(known.sum(axis=0) - LEFT_OUT - 1, 1) * (replicates.mean() - 1)
    prior = variance_prior(pooled, np.broadcast_to(df, pooled.shape))
    variance, _ = moderated_variance(others, df, _per_unit(prior))
    wide = np.sqrt(replicates / (replicates - 1))[:, None] / np.sqrt(np.maximum(variance, 1e-300))
    return np.clip(deviation * wide[:, :, None], -_WIDEST, _WIDEST)


def _per_unit(prior: Prior) -> Prior:
    return Prior(prior.df[:, None], prior.variance[:, None])


def _correlation(deviation: np.ndarray, sd: np.ndarray) -> np.ndarray:
    """Correlations of the variables between replicates, drawn half-way to one common correlation, a matrix a table."""
    held = deviation.reshape(len(deviation), -1, deviation.shape[3]) / np.where(sd > 0, sd, 1.0)[:, None]
    held = np.clip(held, -_HELD, _HELD)
    products = np.swapaxes(held, 1, 2) @ held
    size = np.sqrt(np.einsum("bii->bi", products))
    size = np.where(size > 0, size, 1.0)
    found = products / size[:, :, None] / size[:, None]
    n = found.shape[1]
    off = ~np.eye(n, dtype=bool)
    common = found[:, off].mean(axis=1)[:, None, None] if n > 1 else 0.0
    return np.where(off, (found + common) / 2, 1.0)


def _roots(correlation: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Roots of the correlations, with no eigenvalue too near 0, and the roots of their inverses."""
    values, vectors = np.linalg.eigh(correlation)
    size = np.sqrt(np.maximum(values, _LEAST_EIGENVALUE))[:, None]
    return vectors * size, vectors / size


def _null(
    known: np.ndarray, replicates: np.ndarray, sd: np.ndarray, root: np.ndarray, draws: int, rng: np.random.Generator
) -> tuple[np.ndarray, np.ndarray]:
    """The largest of both statistics over units in simulated tables of the same shape, (draw,) each."""
    single, several = [], []
    for start in range(0, draws, max(1, _CHUNK // known.size)):
        n = min(max(1, _CHUNK // known.size), draws - start)
        table = rng.standard_normal((n, *known.shape)) @ root.T * sd * known
        table -= table.sum(axis=2, keepdims=True) / replicates[:, None, None]
        table *= known
        _, one, all_ = _judged(table, np.asarray(known.any(axis=1)), replicates)
        single.append(one.max(axis=(1, 2)))
        several.append(all_.max(axis=(1, 2)))
    return np.concatenate(single), np.concatenate(several)


def _joined(single: np.ndarray, several: np.ndarray, null_single: np.ndarray, null_several: np.ndarray) -> np.ndarray:
    """The smaller of both p-values of each unit, ranked among the smaller ones of the simulated tables."""
    draws = len(null_single)

    def beyond(values: np.ndarray, null: np.ndarray) -> np.ndarray:
        return draws - np.searchsorted(np.sort(null), values, side="left")

    seen = np.minimum(beyond(single, null_single), beyond(several, null_several))
    null = np.sort(np.minimum(beyond(null_single, null_single), beyond(null_several, null_several)))
    return (1 + np.searchsorted(null, seen + 1, side="right")) / (draws + 1)
