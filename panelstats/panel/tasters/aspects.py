"""The other five aspects: repeatability, discrimination, agreement, scale use and scatter, against the others.

Each comes by taster and descriptor, and by taster over all descriptors with a jackknife that leaves one lot out at a
time, so that errors shared by the descriptors of a lot are counted once.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy import special

from panelstats.panel.tasters.finding import (
    ALIKE,
    NOT_TESTED,
    ORDER_SHARE,
    SD_RATIO,
    SIGNAL_SHARE,
    SLOPE,
    Finding,
    finding,
    ratio,
    settling_lots,
)
from panelstats.panel.tasters.moments import Moments
from panelstats.panel.tasters.repeats import LEAST_LOTS, OwnLots, Repeats

# Correlations nearer 1 than this are 1 but for rounding; their Fisher z would be infinite.
NEARLY_ONE = 1 - 1e-12
CONSTANT, IDENTICAL = "constant scores", "the others gave identical scores"


@dataclass(frozen=True, eq=False)
class Evidence:
    """What the aspects are computed from, over all lots and with each lot left out.

    Attributes
    ----------
    moments, moments_without : Moments
    repeats, repeats_without : Repeats
    own, own_without : OwnLots
    active : ndarray of bool, shape (taster, descriptor)
        Who stands in the others' references.
    rows : ndarray of bool, shape (row, taster)
        The lots of each taster.
    sessions : ndarray of int, shape (taster,)
    judged : ndarray of bool, shape (taster, descriptor)
        Where there are lots and others enough to judge.
    """

    moments: Moments
    moments_without: Moments
    repeats: Repeats
    repeats_without: Repeats
    own: OwnLots
    own_without: OwnLots
    active: np.ndarray
    rows: np.ndarray
    sessions: np.ndarray
    judged: np.ndarray


def _why(*cases: tuple[Any, str]) -> np.ndarray:
    """The first reason that applies, "" where none does."""
    return np.select([case for case, _ in cases], [reason for _, reason in cases], default="").astype(object)


def jackknife(
    whole: np.ndarray, without: np.ndarray, rows: np.ndarray, sessions: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Standard error over lots and its degrees of freedom; `without` is (row, taster) with one lot left out."""
    n = rows.sum(axis=0)
    values = np.where(rows & ~np.isnan(without), without, whole)
    mean = np.where(rows, values, 0.0).sum(axis=0) / np.maximum(n, 1)
    squares = np.where(rows, (values - mean) ** 2, 0.0).sum(axis=0)
    return np.sqrt(squares * (n - 1) / np.maximum(n, 1)), np.maximum(n - sessions, 0)


def _averages(
    evidence: Evidence, used: np.ndarray, value: Callable[[bool], np.ndarray], log: bool = False
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Mean over the descriptors `used` of a value (its logarithm if `log`), its standard error and df, by taster."""
    count = used.sum(axis=1)

    def average(values: np.ndarray) -> np.ndarray:
        total = np.where(used, values, 0.0).sum(axis=-1)
        mean = ratio(total, np.broadcast_to(count, total.shape))
        return np.log(np.where(mean > 0, mean, np.nan)) if log else mean

    whole = value(False)
    left_out = value(True)
    estimate = average(whole)
    left_out = np.where(np.isnan(left_out), whole, left_out)
    return (estimate, *jackknife(estimate, average(left_out), evidence.rows, evidence.sessions))


def _mean_where(values: np.ndarray | float, used: np.ndarray) -> np.ndarray:
    return ratio(np.where(used, values, 0.0).sum(axis=1), used.sum(axis=1))


def _tail(df: np.ndarray, t: np.ndarray) -> np.ndarray:
    """Chance of a Student t above `t`."""
    return special.stdtr(df, -t)


def _t(difference: np.ndarray, se: np.ndarray) -> np.ndarray:
    """Difference / se; infinite where se is 0."""
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where(difference == 0, 0.0, difference / se)


# ── standard deviations against the others': repeatability, scatter ──────────────────────────────────────────────────


def _sd_ratio(
    quotient: np.ndarray, term: np.ndarray, df: tuple[np.ndarray, np.ndarray], lots: np.ndarray, why: np.ndarray,
    tail: float,
) -> Finding:  # fmt: skip
    """sqrt(q - c) with limits from F, against SD_RATIO."""
    upper, lower = special.fdtri(*df, 1 - tail), special.fdtri(*df, tail)
    estimate, low, high = (np.sqrt(np.maximum(quotient / f - term, 0.0)) for f in (1.0, upper, lower))
    p = special.fdtrc(*df, quotient / (SD_RATIO**2 + term))
    half = np.log(np.maximum(upper, 1e-9) / np.maximum(lower, 1e-9)) / 4
    gap = np.abs(np.log(np.maximum(quotient, 1e-9)) - np.log(SD_RATIO**2 + term)) / 2
    enough = settling_lots(half * np.sqrt(lots) / special.stdtrit(np.maximum(lots - 1, 1), 1 - tail), gap, tail=tail)
    return finding(estimate, (low, high), p, ceiling=SD_RATIO, lots=enough, why=why)


def _sd_ratio_over_descriptors(
    evidence: Evidence, used: np.ndarray, values: Callable[[bool], np.ndarray], term: np.ndarray, tail: float
) -> Finding:
    """Log mean q against log mean (SD_RATIO^2 + c), t from the jackknife."""
    estimate, se, df = _averages(evidence, used, values, log=True)
    added = _mean_where(np.nan_to_num(term), used)
    reach = special.stdtrit(df, 1 - tail) * se
    ends = (np.sqrt(np.maximum(np.exp(estimate + k * reach) - added, 0.0)) for k in (0, -1, 1))
    value, low, high = ends
    with np.errstate(divide="ignore"):
        p = _tail(df, _t(estimate - np.log(SD_RATIO**2 + added), se))
    return finding(value, (low, high), p, ceiling=SD_RATIO, why=_why((~used.any(axis=1), NOT_TESTED)))


def _shrunk(quotient: np.ndarray, others_df: np.ndarray) -> np.ndarray:
    """A quotient of variances freed of the bias of its denominator: E(1 / chi-square) = 1 / (df - 2)."""
    return quotient * np.where(others_df > 2, (others_df - 2) / np.maximum(others_df, 1), np.nan)


def repeatability(evidence: Evidence, tail: float = 0.025) -> tuple[Finding, Finding]:
    """Spread of repeated servings against the others': by taster and descriptor, and by taster."""
    found, without = evidence.repeats, evidence.repeats_without
    lots = evidence.rows.sum(axis=0)[:, None]
    enough = (found.lots >= np.minimum(LEAST_LOTS, lots)) & (found.df > 0) & (found.others_df > 0)
    why = _why(
        (~evidence.judged | (found.lots == 0), NOT_TESTED),
        ((found.df > 0) & (found.others_df == 0), "whose noise it is needs two others on the same pots"),
        (~enough, "too few lots served twice"),
        (found.others_ss == 0, IDENTICAL),
    )
    cells = _sd_ratio(found.quotient, found.term, (found.df, found.others_df), lots, why, tail)
    used = why == ""

    def values(left_out: bool) -> np.ndarray:
        part = without if left_out else found
        return _shrunk(part.quotient, part.others_df)

    used &= ~np.isnan(values(False))
    return cells, _sd_ratio_over_descriptors(evidence, used, values, found.term, tail)


def scatter(evidence: Evidence, tail: float = 0.025) -> tuple[Finding, Finding]:
    """Distance from the line of the others' scores against the others' own spread (Grubbs 1948, slopes taken out)."""
    found, without = evidence.moments, evidence.moments_without
    lots = evidence.rows.sum(axis=0)[:, None]
    term = found.scatter_term(found.open)
    why = _why(
        (~evidence.judged | (found.residual_df <= 0) | (found.others_df <= 0), NOT_TESTED),
        (found.own_ss == 0, CONSTANT),
        (found.others_ss == 0, IDENTICAL),
        (found.reference_ss == 0, ALIKE),
    )
    cells = _sd_ratio(found.scatter, term, (found.residual_df, found.others_df), lots, why, tail)

    def values(left_out: bool) -> np.ndarray:
        part = without if left_out else found
        return _shrunk(part.scatter, part.others_df)

    used = (why == "") & ~np.isnan(values(False))
    return cells, _sd_ratio_over_descriptors(evidence, used, values, term, tail)


# ── telling the lots apart: discrimination, agreement, scale use ─────────────────────────────────────────────────────


def _gate(evidence: Evidence, *more: tuple[np.ndarray, str]) -> np.ndarray:
    found = evidence.moments
    return _why(
        (~evidence.judged | np.isnan(found.gate_p), NOT_TESTED),
        *more,
        (~found.open, ALIKE),
    )


def _of_others(values: np.ndarray, active: np.ndarray) -> np.ndarray:
    """Median over the other active tasters, by taster and descriptor; NaN where nobody has a value."""
    others = np.where(active, values, np.nan)[None].repeat(len(values), axis=0)  # (taster, other, descriptor)
    others[np.arange(len(values)), np.arange(len(values))] = np.nan
    known = np.ma.masked_invalid(others)
    return np.ma.filled(np.ma.median(known, axis=1).astype(float), np.nan)


def discrimination(evidence: Evidence, tail: float = 0.025) -> tuple[Finding, Finding]:
    """Signal share of one serving, (F - 1) / (F + r - 1), against a quarter of the others' signal-to-noise."""
    own, without = evidence.own, evidence.own_without
    f, r = own.f, own.servings
    bound = SIGNAL_SHARE * _of_others(ratio(np.maximum(f - 1, 0.0), r), evidence.active)
    why = _gate(evidence, ((own.error_df <= 0) | np.isnan(bound), NOT_TESTED), (np.isnan(f), "no variation recorded"))
    df = (own.lots_df, own.error_df)
    ends = (f, f / special.fdtri(*df, 1 - tail), f / special.fdtri(*df, tail))
    value, low, high = (_signal_share(x, r) for x in ends)
    p = special.fdtr(*df, ratio(f, 1 + r * bound))
    lots = evidence.rows.sum(axis=0)[:, None]
    half = np.log(special.fdtri(*df, 1 - tail) / special.fdtri(*df, tail)) / 2
    gap = np.abs(np.log(np.maximum(f, 1e-9)) - np.log(1 + r * bound))
    enough = settling_lots(half * np.sqrt(lots) / special.stdtrit(np.maximum(lots - 1, 1), 1 - tail), gap, tail=tail)
    cells = finding(value, (low, high), p, floor=ratio(bound, 1 + bound), lots=enough, why=why)

    used = (why == "") & (f > 0)
    with np.errstate(divide="ignore", invalid="ignore"):
        mean, se, free = _averages(evidence, used, lambda left: np.log((without if left else own).f))
        edge = _mean_where(np.log(1 + r * bound), used)
    servings = _mean_where(r, used)
    reach = special.stdtrit(free, 1 - tail) * se
    value, low, high = (_signal_share(np.exp(mean + k * reach), servings) for k in (0, -1, 1))
    p = special.stdtr(free, _t(mean - edge, se))
    floor = _signal_share(np.exp(edge), servings)
    return cells, finding(value, (low, high), p, floor=floor, why=_over(used, why))


def _signal_share(f: np.ndarray, servings: np.ndarray) -> np.ndarray:
    return ratio(f - 1, f - 1 + servings)


def _over(used: np.ndarray, why: np.ndarray) -> np.ndarray:
    """Reason at the taster's level: lots too alike where that is why no descriptor could be used."""
    return _why((used.any(axis=1), ""), ((why == ALIKE).any(axis=1), ALIKE), (np.ones(len(used), bool), NOT_TESTED))


def agreement(evidence: Evidence, tail: float = 0.025) -> tuple[Finding, Finding]:
    """Correlation with the others' scores against half the median correlation of the others with theirs."""
    found, without = evidence.moments, evidence.moments_without
    r = found.correlation
    edge = np.arctanh(np.clip(ORDER_SHARE * _of_others(r, evidence.active), 0.0, NEARLY_ONE))
    free = found.df - 2.0  # lots - 3 in one session and class
    why = _gate(evidence, ((free <= 0) | np.isnan(edge), NOT_TESTED), (np.isnan(r), CONSTANT))
    z, se = _fisher(r), ratio(1.0, np.sqrt(np.maximum(free, 0.0)))
    reach = special.ndtri(1 - tail) * se
    lots = evidence.rows.sum(axis=0)[:, None]
    enough = settling_lots(np.where(free > 0, se * np.sqrt(lots), np.nan), np.abs(z - edge), tail=tail)
    cells = finding(
        r, (np.tanh(z - reach), np.tanh(z + reach)), special.ndtr(_t(z - edge, se)),
        floor=np.tanh(edge), lots=enough, why=why,
    )  # fmt: skip
    used = why == ""
    mean, se, df = _averages(evidence, used, lambda left: _fisher((without if left else found).correlation))
    bound = _mean_where(edge, used)
    reach = special.stdtrit(df, 1 - tail) * se
    p = special.stdtr(df, _t(mean - bound, se))
    interval = (np.tanh(mean - reach), np.tanh(mean + reach))
    return cells, finding(np.tanh(mean), interval, p, floor=np.tanh(bound), why=_over(used, why))


def _fisher(r: np.ndarray) -> np.ndarray:
    return np.arctanh(np.clip(r, -NEARLY_ONE, NEARLY_ONE))


def scale_use(evidence: Evidence, tail: float = 0.025) -> tuple[Finding, Finding]:
    """Slope on the others' scores, freed of the noise in them, against 2/3 to 3/2."""
    found, without = evidence.moments, evidence.moments_without
    df = found.residual_df
    why = _gate(evidence, (df <= 0, NOT_TESTED), (found.own_ss == 0, CONSTANT))
    slope = found.plain_slope / found.reliability
    se = np.sqrt(ratio(found.residual_variance, found.reference_ss)) / found.reliability
    lots = evidence.rows.sum(axis=0)[:, None]
    gap = np.minimum(np.abs(slope - SLOPE[0]), np.abs(slope - SLOPE[1]))
    cells = _slope(slope, se, df, settling_lots(se * np.sqrt(lots), gap, tail=tail), why, tail)
    used = why == ""

    def values(left_out: bool) -> np.ndarray:
        part = without if left_out else found
        return part.plain_slope / part.reliability

    mean, se, df = _averages(evidence, used, values)
    return cells, _slope(mean, se, df, np.nan, _over(used, why), tail)


def _slope(
    slope: np.ndarray, se: np.ndarray, df: np.ndarray, lots: np.ndarray | float, why: np.ndarray, tail: float
) -> Finding:
    reach = special.stdtrit(df, 1 - tail) * se
    sides = (special.stdtr(df, _t(slope - SLOPE[0], se)), _tail(df, _t(slope - SLOPE[1], se)))
    p = np.minimum(1.0, 2 * np.minimum(*sides))
    return finding(slope, (slope - reach, slope + reach), p, floor=SLOPE[0], ceiling=SLOPE[1], lots=lots, why=why)
