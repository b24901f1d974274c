"""Lots and agreement, from cells to tables and sentences, against the same model in statsmodels.

The reference is the two fits that tests and components need, lots fixed and lots random, on two descriptors, scaled to
all; `compare_lots` and `panel_agreement` make both fits twice, and besides test, compare, check and write sentences.
"""

from __future__ import annotations

import warnings
from time import process_time

import numpy as np
import pandas as pd
import statsmodels.api as sm

import panelstats as pst
from panelstats.lots.classfit import class_fits
from panelstats.lots.compare.pairs import compared_pairs
from panelstats.models import comparisons
from panelstats.models.panelfit import panel_fits
from panelstats.scores.cells import Cells
from tests.bench.made import made_cells, peak_mb, scores_by_look, timed

SMALL = {"lots": 40, "tasters": 10, "pots": 2, "descriptors": 16, "missing": 0.08}
LARGE = {"lots": 2000, "tasters": 8, "pots": 2, "descriptors": 16}
TIMED_DESCRIPTORS = 2
LEAST_RATIO = 100


def both(cells: Cells) -> tuple[pst.LotComparison, pst.PanelAgreement]:
    """Everything a session asks of the models."""
    return pst.compare_lots(cells), pst.panel_agreement(cells)


VC = {"taster": "0 + C(taster)", "lot_taster": "0 + C(lot):C(taster)"}


def reference(scores: pd.DataFrame) -> dict[str, np.ndarray]:
    """Both fits of one descriptor by a general library: log-likelihoods, variances, lot means and standard errors."""
    scores = scores.assign(all=1)
    fits = []
    for formula, more in (("score ~ 0 + lot", {}), ("score ~ 1", {"lot": "0 + C(lot)"})):
        model = sm.MixedLM.from_formula(formula, groups="all", re_formula="0", vc_formula=VC | more, data=scores)
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # it warns where its optimiser stops; the numbers are compared below
            fits.append((model.exog_vc.names, model.fit(reml=True, method="lbfgs")))
    variances = [dict(zip(names, fit.vcomp, strict=True)) | {"residual": fit.scale} for names, fit in fits]
    (_, fixed), (_, random) = fits
    return {
        "loglik": np.array([fixed.llf, random.llf]),
        "fixed": np.array([variances[0][name] for name in ("taster", "lot_taster", "residual")]),
        "random": np.array([variances[1][name] for name in ("taster", "lot_taster", "lot", "residual")]),
        "means": fixed.fe_params.to_numpy(),
        "se": fixed.bse_fe.to_numpy(),
    }


def same_answers(cells: Cells, theirs: list[dict[str, np.ndarray]], found: pst.LotComparison) -> bool:
    """Log-likelihoods to 1e-4, variances and standard errors to 1e-3, means to 1e-4: its optimiser stops early."""
    grid = next(cells.grids())
    none = np.zeros(len(grid.descriptors), bool)
    (part,) = panel_fits(grid.looks, grid.centred, grid.within_ss, shared=none, stage=none.astype(str))
    fixed, random = part.effects.fit, part.random
    ok = []
    for d, fit in enumerate(theirs):
        means = found.means[found.means["descriptor"] == grid.descriptors[d]]
        ok += [
            np.allclose([fixed.loglik[d], random.loglik[d]], fit["loglik"], atol=1e-4),
            np.allclose(fixed.variances[d, [0, 1, 4]], fit["fixed"], rtol=1e-3),
            np.allclose(random.variances[d, [0, 1, 3, 4]], fit["random"], rtol=1e-3),
            np.allclose(means["mean"], fit["means"], atol=1e-4),
            np.allclose(means["se"], fit["se"], rtol=1e-3),
        ]
    return all(ok)


def against_statsmodels() -> dict[str, object]:
    """The small panel beside the general library."""
    cells = made_cells(**SMALL)
    seconds, (found, _) = timed(lambda: both(cells))
    peak = peak_mb()
    scores = scores_by_look(cells)
    timed_on, start = found.anova["descriptor"][:TIMED_DESCRIPTORS], process_time()
    theirs = [reference(scores[scores["descriptor"] == name]) for name in timed_on]
    each = (process_time() - start) / TIMED_DESCRIPTORS
    ratio = each * SMALL["descriptors"] / seconds
    return {
        "name": "40 lots x 10 tasters x 2 own pots x 16 descriptors, 8 % missing: lots and agreement",
        "seconds": seconds,
        "reference": "statsmodels MixedLM, lots fixed and lots random, 16 x the mean of 2 descriptors",
        "reference_seconds": each * SMALL["descriptors"],
        "ratio": ratio,
        "peak_mb": peak,
        "bound": f"ratio >= {LEAST_RATIO}, same numbers",
        "held": bool(ratio >= LEAST_RATIO and same_answers(cells, theirs, found)),
    }


def bounded(name: str, cells: Cells, most: float, most_mb: float = 1000) -> dict[str, object]:
    """Lots and agreement within so many seconds."""
    seconds, _ = timed(lambda: both(cells))
    peak = peak_mb()
    return {
        "name": f"{name}: lots and agreement",
        "seconds": seconds,
        "peak_mb": peak,
        "bound": f"< {most:g} s, < {most_mb:g} MB",
        "held": bool(seconds < most and peak < most_mb),
    }


def each_bounded(name: str, cells: Cells, most: float, most_mb: float = 1000) -> list[dict[str, object]]:
    """Lots, and agreement, each within so many seconds."""
    rows = []
    for what, job in (("lots", pst.compare_lots), ("agreement", pst.panel_agreement)):
        seconds, _ = timed(lambda job=job: job(cells))
        peak = peak_mb()
        bound = f"< {most:g} s, < {most_mb:g} MB"
        held = bool(seconds < most and peak < most_mb)
        rows.append({"name": f"{name}: {what}", "seconds": seconds, "peak_mb": peak, "bound": bound, "held": held})
    return rows


def complete_fit() -> dict[str, object]:
    """The fits alone of complete shared pots, lots fixed and random."""
    grid = next(made_cells(**LARGE, shared=True).grids())
    shared, stage = np.ones(16, bool), np.full(16, "")
    fit = lambda: panel_fits(grid.looks, grid.centred, grid.within_ss, shared=shared, stage=stage)  # noqa: E731
    seconds, _ = timed(fit)
    name = "2,000 lots x 8 x 2 shared pots x 16, complete: fits, lots fixed and random"
    return {"name": name, "seconds": seconds, "peak_mb": peak_mb(), "bound": "< 0.5 s", "held": bool(seconds < 0.5)}


def all_pairs() -> dict[str, object]:
    """Every pair of 40 lots on 16 descriptors, tables of the studentised range made anew."""
    (group,) = class_fits(made_cells(**SMALL), tolerance=None, across="holm", level=0.95)

    def pairs() -> object:
        comparisons.all_pairs.cache_clear()
        return compared_pairs(group, adjust="tukey", control=None, wanted=True)

    seconds, found = timed(pairs)
    assert sum(len(one.p) for one in found) == 16 * 780
    name = "780 pairs of 40 lots x 16 descriptors, p-values and intervals by the studentised range"
    return {"name": name, "seconds": seconds, "peak_mb": peak_mb(), "bound": "< 0.5 s", "held": bool(seconds < 0.5)}


def growth(name: str, *, shared: bool) -> list[dict[str, object]]:
    """1x, 10x, 100x the lots; the exponent is that of the last tenfold."""
    rows, before = [], np.nan
    for lots in (200, 2000, 20_000):
        cells = made_cells(lots, 8, 2, 16, missing=0.08, shared=shared)
        seconds, _ = timed(lambda cells=cells: both(cells), repeats=3 if lots < 20_000 else 1)
        rows.append(
            {
                "name": f"growth, {name}, 8 % missing: {lots:,} lots",
                "seconds": seconds,
                "peak_mb": peak_mb(),
                "exponent": float(np.log10(seconds / before)),
            }
        )
        before = seconds
    return rows


def run() -> list[dict[str, object]]:
    """A row for each job."""
    rows = [against_statsmodels(), all_pairs()]
    for tasters in (1, 2, 3):
        cells = made_cells(2000, tasters, 1, 5, shared=True)
        rows.append(bounded(f"2,000 lots x {tasters} taster{'s' * (tasters > 1)} x 1 pot x 5", cells, 1))
    for share in (0.0, 0.08):
        name = f"2,000 lots x 8 x 2 own pots x 16, {share:.0%} missing".replace("%", " %")
        rows += each_bounded(name, made_cells(**LARGE, missing=share), 1)
    rows.append(complete_fit())
    rows.append(bounded("2,000 lots x 8 x 2 shared pots x 16, complete", made_cells(**LARGE, shared=True), 2))
    missing = made_cells(**LARGE, missing=0.08, shared=True)
    rows.append(bounded("2,000 lots x 8 x 2 shared pots x 16, 8 % missing", missing, 5))
    return [*rows, *growth("own pots", shared=False), *growth("shared pots", shared=True)]
