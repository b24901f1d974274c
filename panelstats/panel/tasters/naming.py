"""Who may be named: false discoveries held down, references cleaned, and no name where the rest do not agree.

With two others at odds nobody can say who is off, and a taster far from the rest pulls everyone's reference. So the
taster who stands out most leaves the others' references, all is computed again, and he is named only if those who stay
agree with each other. How many can be named depends on how many sat.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from panelstats.models.meansquares import ratio
from panelstats.models.multiplicity import benjamini_hochberg
from panelstats.panel.tasters.finding import LEVEL, Finding
from panelstats.panel.tasters.judgement import Bench, Judgement
from panelstats.panel.tasters.level import level, level_over_descriptors, levels
from panelstats.panel.tasters.reference import reference

WITH, APART, CANNOT, EACH_OTHER = "with the panel", "apart", "cannot tell", "with each other"

# Share of false names among names, in each family of tests (Benjamini & Hochberg 1995).
FALSE_SHARE = 0.05
# The rest agree if none of them has a smaller p than this (ours).
REST_P = 0.025
# Tasters who must stay in every reference (ours).
LEAST_LEFT = 3


def rejected(p: np.ndarray) -> np.ndarray:
    """Which of a family are discoveries at FALSE_SHARE; NaN is no member of the family."""
    return benjamini_hochberg(p, axis=None) <= FALSE_SHARE


@dataclass(frozen=True, eq=False)
class Names:
    """Who is named, and for what.

    Attributes
    ----------
    judgement : Judgement
        With the final references.
    cells : dict of str to ndarray of bool, shape (taster, descriptor)
        Named, by aspect.
    tasters : dict of str to ndarray of bool, shape (taster,)
        Named over all descriptors, by aspect.
    cells_out, tasters_out : dict, same shapes
        Rejected in their family, named or not.
    dropped : ndarray of bool, shape (taster, descriptor)
        Taken out of the others' references.
    """

    judgement: Judgement
    cells: dict[str, np.ndarray]
    tasters: dict[str, np.ndarray]
    cells_out: dict[str, np.ndarray]
    tasters_out: dict[str, np.ndarray]
    dropped: np.ndarray
    splits: tuple[Split, ...] = field(default=())


@dataclass(frozen=True)
class Split:
    """An aspect on which the panel falls apart; `descriptor` is -1 over all. Tasters by index."""

    aspect: str
    descriptor: int
    above: tuple[int, ...]
    below: tuple[int, ...]


def name_tasters(bench: Bench, size: int) -> Names:
    """Judge the tasters of `bench` and name whom `size`, the number who sat together, allows to be named."""
    shape = bench.pool.mean.shape[1:]
    active = np.ones(shape, bool)
    judgement = bench.judge(active)
    if size >= LEAST_LEFT + 1:
        active, judgement = _cleaned(bench, judgement, size)
        cells, tasters = _named_if_rest_agree(judgement, active)
    elif size == LEAST_LEFT:
        cells, tasters = _named_of_three(bench, judgement)
    else:
        cells, tasters = _nobody(judgement)
    splits = tuple(_splits(judgement, cells, tasters))
    return Names(judgement, cells, tasters, *_out(judgement), ~active, splits)


def _out(found: Judgement) -> tuple[dict[str, np.ndarray], dict[str, np.ndarray]]:
    """Discoveries by aspect, among cells and among tasters."""
    return (
        {a: rejected(found.cells[a].p) for a in found.judged},
        {a: rejected(found.tasters[a].p) for a in found.judged},
    )


def _nobody(found: Judgement) -> tuple[dict[str, np.ndarray], dict[str, np.ndarray]]:
    cells, tasters = _out(found)
    return {a: np.zeros_like(v) for a, v in cells.items()}, {a: np.zeros_like(v) for a, v in tasters.items()}


# ── four tasters or more ─────────────────────────────────────────────────────────────────────────────────────────────


def _cleaned(bench: Bench, found: Judgement, size: int) -> tuple[np.ndarray, Judgement]:
    """Drop from the references who stands out most, at most (size - 1) / 3 times; who stays, and what is found then."""
    active = np.ones(bench.pool.mean.shape[1:], bool)
    for _ in range(max(1, (size - 1) // 3)):
        smaller = np.logical_and(active, ~_drop(found, active))
        if (smaller == active).all():
            break
        active, found = smaller, bench.judge(smaller)
    return active, found


def _drop(found: Judgement, active: np.ndarray) -> np.ndarray:
    """The taster with the smallest rejected p, over all descriptors; else the one of each descriptor."""
    cells_out, tasters_out = _out(found)
    still_in = np.asarray(active.any(axis=1))
    p = _least(found.tasters, tasters_out, still_in)
    drop = np.zeros(active.shape, bool)
    if np.isfinite(p).any() and (active.sum(axis=0) > LEAST_LEFT).all():
        drop[np.argmin(p)] = True
        return drop
    p = _least(found.cells, cells_out, active)
    who, at = p.argmin(axis=0), np.arange(active.shape[1])
    drop[who, at] = np.isfinite(p.min(axis=0)) & (active.sum(axis=0) > LEAST_LEFT)
    return drop


def _least(found: dict[str, Finding], out: dict[str, np.ndarray], among: np.ndarray) -> np.ndarray:
    """Smallest rejected p over the aspects, inf where there is none."""
    p = [np.where(out[a] & among, found[a].p, np.inf) for a in out]
    return np.min(p, axis=0, initial=np.inf) if p else np.full(among.shape, np.inf)


def _named_if_rest_agree(found: Judgement, active: np.ndarray) -> tuple[dict[str, np.ndarray], dict[str, np.ndarray]]:
    """Dropped tasters, named where nobody who stays has a small p in the same aspect."""
    cells_out, tasters_out = _out(found)
    whole = ~active.any(axis=1)
    # Rejected only now, where nobody was dropped: the smallest p counts as dropped.
    p = _least(found.cells, cells_out, np.broadcast_to(active.all(axis=0), active.shape))
    counted = ~active | ((p == p.min(axis=0)) & np.isfinite(p))
    cells, tasters = {}, {}
    for aspect in found.judged:
        rest = (found.tasters[aspect].p < REST_P) & ~whole
        tasters[aspect] = tasters_out[aspect] & whole & ~rest.any()
        split = (tasters_out[aspect] & whole).any() and rest.any()
        rest = (found.cells[aspect].p < REST_P) & ~counted
        cells[aspect] = cells_out[aspect] & counted & ~rest.any(axis=0) & ~split
    return cells, tasters


# ── three tasters ────────────────────────────────────────────────────────────────────────────────────────────────────


def _named_of_three(bench: Bench, found: Judgement) -> tuple[dict[str, np.ndarray], dict[str, np.ndarray]]:
    """The smallest rejected p of each aspect, if the other two are shown to agree; one taster a descriptor."""
    cells_out, tasters_out = _out(found)
    cells, tasters = {}, {}
    for aspect in found.judged:
        tasters[aspect] = _smallest(found.tasters[aspect].p, tasters_out[aspect])
        cells[aspect] = _smallest(found.cells[aspect].p, cells_out[aspect])
    if LEVEL in cells and (cells[LEVEL].any() or tasters[LEVEL].any()):
        on_cells, on_tasters = _others_agree_on_level(bench, cells[LEVEL].any(axis=1) | tasters[LEVEL])
        cells[LEVEL] &= on_cells
        tasters[LEVEL] &= on_tasters
    _one_taster(tasters, found.tasters)
    for aspect, named in tasters.items():
        if named.any():
            cells[aspect] &= named[:, None]
    _one_taster(cells, found.cells)
    return cells, tasters


def _smallest(p: np.ndarray, out: np.ndarray) -> np.ndarray:
    """The rejected p that is smallest over tasters, as a mask."""
    p = np.where(out, p, np.inf)
    who = p.argmin(axis=0)
    return out & (np.arange(len(p)).reshape(-1, *[1] * (p.ndim - 1)) == who)


def _one_taster(named: dict[str, np.ndarray], found: dict[str, Finding]) -> None:
    """Keep, over the aspects, only the taster with the smallest p (of each descriptor)."""
    p = _least(found, named, np.ones(next(iter(named.values())).shape, bool)) if named else np.zeros(0)
    named.update({aspect: mask & (p == p.min(axis=0)) for aspect, mask in named.items()})


def _others_agree_on_level(bench: Bench, who: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Whether those other than each taster of `who` are shown to be within tolerance of each other."""
    shape = bench.pool.mean.shape[1:]
    cells, tasters = np.zeros(shape, bool), np.zeros(shape[0], bool)
    for i in np.flatnonzero(who):
        others = np.delete(np.arange(shape[0]), i)
        by_descriptor, over_all = pair_levels(bench, others, tail=0.05)
        cells[i] = by_descriptor.inside.all(axis=0)
        tasters[i] = bool(over_all.inside.all())
    return cells, tasters


def pair_levels(bench: Bench, tasters: np.ndarray, *, tail: float) -> tuple[Finding, Finding]:
    """Level of each of a few tasters against the rest of them: by descriptor and over all, `tail` on each side."""
    pool = bench.pool.take(tasters)
    ref = reference(pool, np.ones(pool.mean.shape[1:], bool), least=1)
    found = levels(pool, ref, moderated=False, wander=bench.wander)
    tolerance = bench.tolerance_on_level(found)
    why = np.where(found.plain_df > 0, "", "too few lots").astype(object)
    return level(found, tolerance, why, tail=tail), level_over_descriptors(found, tolerance, why, tail=tail)


# ── splits ───────────────────────────────────────────────────────────────────────────────────────────────────────────


def _splits(found: Judgement, cells: dict[str, np.ndarray], tasters: dict[str, np.ndarray]) -> list[Split]:
    """Where something was rejected and nobody could be named: who stands on which side."""
    cells_out, tasters_out = _out(found)
    out = []
    for aspect in found.judged:
        if tasters[aspect].any():
            continue
        if tasters_out[aspect].any():
            out.append(_sides(found, aspect, -1))
            continue
        unnamed = cells_out[aspect].any(axis=0) & ~cells[aspect].any(axis=0)
        out += [_sides(found, aspect, int(d)) for d in np.flatnonzero(unnamed)]
    return out


def _sides(found: Judgement, aspect: str, descriptor: int) -> Split:
    """The tasters above and below the middle; over all descriptors, by the mean of their estimates."""
    values = found.cells[aspect].estimate
    values = values[:, descriptor] if descriptor >= 0 else ratio(np.nansum(values, axis=1), (~np.isnan(values)).sum(1))
    known = np.flatnonzero(~np.isnan(values))
    middle = 0.0 if aspect == LEVEL else np.median(values[known])
    above = tuple(int(i) for i in known if values[i] > middle)
    return Split(aspect, descriptor, above, tuple(int(i) for i in known if values[i] <= middle))
