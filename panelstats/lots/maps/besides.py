"""What is read off a map, or laid on it without steering it: groups, distances, facts of the lots."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import pandas as pd

from panelstats.lots.maps.ground import difference_factor
from panelstats.lots.maps.placed import SHOWN, error_known
from panelstats.lots.plaintables import by_name
from panelstats.models.clusters import divided, find_groups, stability, ward
from panelstats.models.multiplicity import adjusted
from panelstats.models.regions import noncentral_limits, noncentrality, t_squared
from panelstats.scores.cells import LOT
from panelstats.sheets.content.roles import MONEY, role_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from panelstats.lots.maps.placed import Placed
    from panelstats.models.clusters import Groups
    from panelstats.models.regions import TSquared

# Lots among which groups are looked for, of more so many drawn at random; clouds; tasters drawn again (ours).
GROUPED, CLOUDS, AGAIN = 300, 99, 50
LEAST_GROUPED = 4
# A fact is fitted to a map of so many lots; below that nothing can be told (ours).
LEAST_FITTED = 8
# Facts of lots that are laid on a map unless others are asked for.
USUAL = ("grade", "elevation")


@dataclass(frozen=True, eq=False)
class Grouped:
    """Groups of lots.

    Attributes
    ----------
    found : Groups
        Of the lots in `row`.
    row : ndarray of int
        Lots looked at.
    stable : ndarray, shape (group,)
        Overlap when tasters are drawn again; empty where there are no clear groups.
    clear : bool
    """

    found: Groups
    row: np.ndarray
    stable: np.ndarray
    clear: bool


def grouped(placed: Placed, *, resamples: int, level: float, seed: int) -> Grouped | None:
    """Whether the lots fall into groups on the trusted axes; None where that cannot be asked."""
    points = placed.axes.scores[:, : placed.trusted]
    if not placed.trusted or len(points) < LEAST_GROUPED:
        return None
    rng = np.random.default_rng([seed, 1])
    at = np.sort(rng.choice(len(points), GROUPED, replace=False)) if len(points) > GROUPED else np.arange(len(points))
    clouds = min(resamples, CLOUDS) if len(at) < GROUPED else min(resamples, CLOUDS // 2)
    found = find_groups(points[at], resamples=clouds, rng=rng)
    if found.p > 1 - level:
        return Grouped(found, at, np.zeros(0), clear=False)
    ground, tasters = placed.ground, len(placed.ground.tasters)
    turn = placed.coefficients[:, : placed.trusted]
    drawn = []
    for _ in range(AGAIN):
        some = ground.marks[rng.integers(tasters, size=tasters)]
        known = np.isfinite(some)
        means = ground.means_of(np.where(known, some, 0.0).sum(axis=0), known.sum(axis=0))[at]
        drawn.append(divided(ward(means @ turn), found.count))
    return Grouped(found, at, stability(found.label, drawn), clear=True)


class Distance(NamedTuple):
    """How far a lot lies from another, what the error adds taken off: in points, and in sds of the error."""

    lot: str
    distance: float
    low: float
    high: float
    sds: float
    sds_low: float
    sds_high: float
    f: float
    df: float
    df_error: float
    p: float
    p_adjusted: float


_NONE = 1e-12  # of a distance squared, a variance that is none


def distances(placed: Placed, standard: str, level: float) -> list[Distance]:
    """Every lot from one of them on the trusted axes, the nearest first; none where there is no error to go by."""
    ground, lots = placed.ground, list(placed.ground.lots)
    if standard not in lots or not placed.trusted or not error_known(ground):
        return []
    q = min(placed.trusted, SHOWN)
    mine, turn = lots.index(standard), placed.coefficients[:, :q]
    others = np.array([at for at in range(len(lots)) if at != mine])
    factor = difference_factor(ground, mine, others)
    away = np.sqrt(factor)[:, :, None] * turn
    covariance = np.einsum("lpa,pr,lrb->lab", away, ground.error, away, optimize=True)
    if ground.pots is not None:
        count = 1 / ground.pots.count[others] + 1 / ground.pots.count[mine]
        covariance = covariance + count[:, None, None] * (turn.T @ ground.pots.variance @ turn)
    gap = placed.axes.scores[others, :q] - placed.axes.scores[mine, :q]
    if (np.linalg.eigvalsh(covariance)[:, 0] <= _NONE * (gap**2).max()).any():
        return []  # along some direction nobody ever differed
    found = []
    for at, d, v, unit in zip(others, gap, covariance, factor.mean(axis=1), strict=True):
        found.append(_distance(str(lots[at]), math.hypot(*d), t_squared(d, v, placed.df), float(unit), level))
    held = adjusted(np.array([each.p for each in found]), "holm")
    found = [each._replace(p_adjusted=float(p)) for each, p in zip(found, held, strict=True)]
    return sorted(found, key=lambda each: (each.distance, each.lot))


def _distance(lot: str, seen: float, test: TSquared, unit: float, level: float) -> Distance:
    """A distance from its T-squared; in points along the direction seen, in sds of the error by `unit`."""
    limits = noncentral_limits(test.f, test.df, test.df_error, level)
    size = [noncentrality(test.f, test.df, test.df_error), *limits]
    points = [seen * math.sqrt(nc / test.t_squared) if test.t_squared > 0 else math.nan for nc in size]
    sds = [math.sqrt(unit * nc) for nc in size]
    return Distance(lot, points[0], points[1], points[2], sds[0], sds[1], sds[2], test.f, test.df, test.df_error,
                    test.p, test.p)  # fmt: skip


class Fitted(NamedTuple):
    """A fact of the lots beside the map: `share` is R-squared or eta-squared; slopes per step, NaN of a category."""

    variable: str
    kind: str
    lots: int
    share: float
    slope_1: float
    slope_2: float
    p: float
    p_adjusted: float


def usual_facts(register: pd.DataFrame) -> list[str]:
    """Columns of the lots register that are laid on a map unasked: grade, elevation, and money."""
    return [str(name) for name in register.columns if name in USUAL or role_of(str(name)) == MONEY]


def fitted(placed: Placed, register: pd.DataFrame, names: Sequence[str], *, resamples: int, seed: int) -> list[Fitted]:
    """Each fact regressed on the trusted axes; p by relabelling lots, Holm over the facts."""
    if not placed.trusted or not names:
        return []
    table = by_name(register, LOT).reindex(placed.ground.lots)
    scores = placed.axes.scores[:, : placed.trusted]
    asked = (_one(str(name), table[name], scores, resamples, np.random.default_rng([seed, 2, at]))
             for at, name in enumerate(names))  # fmt: skip
    found = [each for each in asked if each is not None]
    held = adjusted(np.array([each.p for each in found]), "holm")
    return [each._replace(p_adjusted=float(p)) for each, p in zip(found, held, strict=True)]


def _one(name: str, column: pd.Series, scores: np.ndarray, resamples: int, rng: np.random.Generator) -> Fitted | None:
    """One fact; None where it does not vary, or no lot has it."""
    text = column.astype("string").str.strip()
    told = text.notna() & (text != "")
    number = pd.to_numeric(text.where(told), errors="coerce")
    is_number = bool(number[told].notna().all())
    at = np.flatnonzero(told.to_numpy())
    if text[told].nunique() < 2 or (not is_number and text[told].nunique() > len(at) / 2):
        return None
    kind = "number" if is_number else "category"
    if len(at) < LEAST_FITTED:
        return Fitted(name, kind, len(at), math.nan, math.nan, math.nan, math.nan, math.nan)
    x = scores[at] - scores[at].mean(axis=0)
    if is_number:
        y = number.to_numpy(float)[at]
        y = y - y.mean()
        basis = np.linalg.qr(x)[0]
        slopes = np.linalg.lstsq(x, y, rcond=None)[0]
        drawn = np.stack([y, *(rng.permutation(y) for _ in range(resamples))])
        shares = ((drawn @ basis) ** 2).sum(axis=1) / (y @ y)
    else:
        code = np.unique(text[told].to_numpy(str), return_inverse=True)[1]
        slopes = np.array([math.nan])
        shares = np.array([_between(x, each) for each in [code, *(rng.permutation(code) for _ in range(resamples))]])
    p = float((shares >= shares[0] * (1 - 1e-9)).sum() / len(shares))
    return Fitted(name, kind, len(at), float(shares[0]), float(slopes[0]),
                  float(slopes[1]) if len(slopes) > 1 else math.nan, p, p)  # fmt: skip


def _between(x: np.ndarray, code: np.ndarray) -> float:
    """Share of the squares of centred places that lies between categories."""
    member = np.equal.outer(np.arange(code.max() + 1), code).astype(float)
    sums = member @ x
    return float((sums**2 / member.sum(axis=1)[:, None]).sum() / (x**2).sum())
