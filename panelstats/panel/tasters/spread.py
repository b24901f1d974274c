"""Standard deviations against the others': repeatability and scatter, by descriptor and over all."""

from __future__ import annotations

import numpy as np
from scipy import special

from panelstats.models.lotsneeded import lots_in_all
from panelstats.panel.tasters.evidence import Evidence, averages, mean_where, reason_why, standardised
from panelstats.panel.tasters.finding import ALIKE, AT_FLOOR, NOT_TESTED, SD_RATIO, Finding, finding
from panelstats.panel.tasters.repeats import LEAST_LOTS

CONSTANT, IDENTICAL = "constant scores", "the others gave identical scores"


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
    enough = lots_in_all(half / special.stdtrit(np.maximum(lots - 1, 1), 1 - tail), gap, lots, tail=tail)
    return finding(estimate, (low, high), p, ceiling=SD_RATIO, lots=enough, why=why)


def _sd_ratio_over_descriptors(
    evidence: Evidence, used: np.ndarray, quotients: list[np.ndarray], term: np.ndarray, tail: float
) -> Finding:
    """Log mean q against log mean (SD_RATIO^2 + c), t from the jackknife; q over all lots, and without each."""
    estimate, se, df = averages(evidence, used, *quotients, log=True)
    added = mean_where(np.nan_to_num(term), used)
    reach = special.stdtrit(df, 1 - tail) * se
    value, low, high = (np.sqrt(np.maximum(np.exp(estimate + k * reach) - added, 0.0)) for k in (0, -1, 1))
    with np.errstate(divide="ignore"):
        p = special.stdtr(df, -standardised(estimate - np.log(SD_RATIO**2 + added), se))
    return finding(value, (low, high), p, ceiling=SD_RATIO, why=reason_why((~used.any(axis=1), NOT_TESTED)))


def _shrunk(quotient: np.ndarray, others_df: np.ndarray) -> np.ndarray:
    """A quotient of variances freed of the bias of its denominator: E(1 / chi-square) = 1 / (df - 2)."""
    return quotient * np.where(others_df > 2, (others_df - 2) / np.maximum(others_df, 1), np.nan)


def repeatability(evidence: Evidence, tail: float = 0.025) -> tuple[Finding, Finding]:
    """Spread of repeated servings against the others': by taster and descriptor, and by taster."""
    found, without = evidence.repeats, evidence.repeats_without
    lots = evidence.rows.sum(axis=0)[:, None]
    enough = (found.lots >= np.minimum(LEAST_LOTS, lots)) & (found.df > 0) & (found.others_df > 0)
    why = reason_why(
        (~evidence.judged | (found.lots == 0), NOT_TESTED),
        (evidence.floored, AT_FLOOR),
        ((found.df > 0) & (found.others_df == 0), "whose noise it is needs two others on the same pots"),
        (~enough, "too few lots served twice"),
        (found.others_ss == 0, IDENTICAL),
    )
    cells = _sd_ratio(found.quotient, found.term, (found.df, found.others_df), lots, why, tail)
    quotients = [_shrunk(part.quotient, part.others_df) for part in (found, without)]
    used = (why == "") & ~np.isnan(quotients[0])
    return cells, _sd_ratio_over_descriptors(evidence, used, quotients, found.term, tail)


def scatter(evidence: Evidence, tail: float = 0.025) -> tuple[Finding, Finding]:
    """Distance from the line of the others' scores against the others' own spread (Grubbs 1948, slopes taken out)."""
    found, without = evidence.moments, evidence.moments_without
    lots = evidence.rows.sum(axis=0)[:, None]
    term = found.scatter_term(found.open)
    why = reason_why(
        (~evidence.judged | (found.residual_df <= 0) | (found.others_df <= 0), NOT_TESTED),
        (evidence.floored, AT_FLOOR),
        (found.own_ss == 0, CONSTANT),
        (found.others_ss == 0, IDENTICAL),
        (found.reference_ss == 0, ALIKE),
    )
    cells = _sd_ratio(found.scatter, term, (found.residual_df, found.others_df), lots, why, tail)
    quotients = [_shrunk(part.scatter, part.others_df) for part in (found, without)]
    used = (why == "") & ~np.isnan(quotients[0])
    return cells, _sd_ratio_over_descriptors(evidence, used, quotients, term, tail)
