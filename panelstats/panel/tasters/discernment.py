"""Telling the lots apart: discrimination, agreement and scale use, by descriptor and over all."""

from __future__ import annotations

import numpy as np
from scipy import special

from panelstats.models.lotsneeded import lots_in_all
from panelstats.models.meansquares import ratio
from panelstats.panel.tasters.evidence import Evidence, averages, jackknife, mean_where, reason_why, standardised
from panelstats.panel.tasters.finding import (
    ALIKE,
    AT_FLOOR,
    NOT_TESTED,
    ORDER_SHARE,
    SIGNAL_SHARE,
    SLOPE,
    Finding,
    finding,
)
from panelstats.panel.tasters.ownlots import signal_share
from panelstats.panel.tasters.spread import CONSTANT

# Correlations nearer 1 than this are 1 but for rounding; their Fisher z would be infinite.
NEARLY_ONE = 1 - 1e-12


def _gate(evidence: Evidence, *more: tuple[np.ndarray, str]) -> np.ndarray:
    found = evidence.moments
    return reason_why(
        (~evidence.judged | np.isnan(found.gate_p), NOT_TESTED),
        (evidence.floored, AT_FLOOR),
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
    value, low, high = own.lot_share(tail)
    p = special.fdtr(*df, ratio(f, 1 + r * bound))
    lots = evidence.rows.sum(axis=0)[:, None]
    half = np.log(special.fdtri(*df, 1 - tail) / special.fdtri(*df, tail)) / 2
    gap = np.abs(np.log(np.maximum(f, 1e-9)) - np.log(1 + r * bound))
    enough = lots_in_all(half / special.stdtrit(np.maximum(lots - 1, 1), 1 - tail), gap, lots, tail=tail)
    cells = finding(value, (low, high), p, floor=ratio(bound, 1 + bound), lots=enough, why=why)

    used = (why == "") & (f > 0)
    with np.errstate(divide="ignore", invalid="ignore"):
        mean, se, free = averages(evidence, used, np.log(own.f), np.log(without.f))
        edge = mean_where(np.log(1 + r * bound), used)
    servings = mean_where(r, used)
    reach = special.stdtrit(free, 1 - tail) * se
    value, low, high = (signal_share(np.exp(mean + k * reach), servings) for k in (0, -1, 1))
    p = special.stdtr(free, standardised(mean - edge, se))
    floor = signal_share(np.exp(edge), servings)
    return cells, finding(value, (low, high), p, floor=floor, why=_over(used, why))


def _over(used: np.ndarray, why: np.ndarray) -> np.ndarray:
    """Reason at the taster's level: lots too alike where that is why no descriptor could be used."""
    return reason_why(
        (used.any(axis=1), ""), ((why == ALIKE).any(axis=1), ALIKE), (np.ones(len(used), bool), NOT_TESTED)
    )


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
    enough = lots_in_all(np.where(free > 0, se, np.nan), np.abs(z - edge), lots, tail=tail)
    cells = finding(
        r, (np.tanh(z - reach), np.tanh(z + reach)), special.ndtr(standardised(z - edge, se)),
        floor=np.tanh(edge), lots=enough, why=why,
    )  # fmt: skip
    used = why == ""
    mean, se, df = averages(evidence, used, _fisher(r), _fisher(without.correlation))
    bound = mean_where(edge, used)
    reach = special.stdtrit(df, 1 - tail) * se
    p = special.stdtr(df, standardised(mean - bound, se))
    interval = (np.tanh(mean - reach), np.tanh(mean + reach))
    return cells, finding(np.tanh(mean), interval, p, floor=np.tanh(bound), why=_over(used, why))


def _fisher(r: np.ndarray) -> np.ndarray:
    return np.arctanh(np.clip(r, -NEARLY_ONE, NEARLY_ONE))


def scale_use(evidence: Evidence, tail: float = 0.025) -> tuple[Finding, Finding]:
    """Slope on the others' scores, freed of the noise in them, against 2/3 to 3/2.

    Its error is that of leaving out each lot in turn: where opinions grow with the lot, or a few lots lie far out, the
    usual error of a regression is too small (MacKinnon & White 1985, J. Econometrics 29: 305).
    """
    found, without = evidence.moments, evidence.moments_without
    df = found.residual_df
    why = _gate(evidence, (df <= 0, NOT_TESTED), (found.own_ss == 0, CONSTANT))
    slope, without_each = found.slope, without.slope
    rows = evidence.rows[..., None] & ~np.isnan(without_each)
    se, _ = jackknife(slope, without_each, rows, evidence.sessions[:, None])
    lots = evidence.rows.sum(axis=0)[:, None]
    gap = np.minimum(np.abs(slope - SLOPE[0]), np.abs(slope - SLOPE[1]))
    cells = _slope(slope, se, df, lots_in_all(se, gap, lots, tail=tail), why, tail)
    used = why == ""
    mean, se, df = averages(evidence, used, slope, without_each)
    return cells, _slope(mean, se, df, np.nan, _over(used, why), tail)


def _slope(
    slope: np.ndarray, se: np.ndarray, df: np.ndarray, lots: np.ndarray | float, why: np.ndarray, tail: float
) -> Finding:
    reach = special.stdtrit(df, 1 - tail) * se
    below, above = standardised(slope - SLOPE[0], se), -standardised(slope - SLOPE[1], se)
    p = np.minimum(1.0, 2 * np.minimum(special.stdtr(df, below), special.stdtr(df, above)))
    return finding(slope, (slope - reach, slope + reach), p, floor=SLOPE[0], ceiling=SLOPE[1], lots=lots, why=why)
