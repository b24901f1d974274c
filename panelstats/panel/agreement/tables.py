"""The table of an agreement: correlations, what a mark of the panel is worth, and a call, descriptor by descriptor."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from scipy.special import stdtrit

from panelstats.models.degrees import LotTest
from panelstats.models.meansquares import ratio
from panelstats.models.normality import omnibus_p
from panelstats.models.panelfit import panel_fits
from panelstats.models.reliability import Intraclass, from_components, limits_of_these_lots, trust_in_mean
from panelstats.models.reml import LOT, LOT_POT, LOT_TASTER, RESIDUAL, TASTER
from panelstats.panel.agreement.crossed import centred_rows, complete_tables, from_tables, rank_agreement
from panelstats.scores.cells import DESCRIPTOR
from panelstats.speech import Phrase, said

if TYPE_CHECKING:
    from panelstats.models.degrees import LotEffects
    from panelstats.models.panelfit import PanelFit
    from panelstats.panel.agreement.layout import Layout

    # A fit and where its descriptors stand in the session.
    _Placed = tuple[PanelFit, np.ndarray]

# The lots differ enough to judge agreement when their own test passes this level.
GATE = 0.01
AGREE, APART, CANNOT_TELL, TOO_ALIKE = "agree", "apart", "cannot tell", "too alike to judge"
# Below this the marks say more of the tasters than of the lots (Koo & Li 2016, J Chiropr Med 15:155).
MODERATE = 0.5
# Lots whose means would be as skewed or peaked less often than this, were they normal, do not look it (ours).
LOTS_NORMAL = 0.05
# A variance known this well is as good as known.
MOST_DF = 1e4


def together(layout: Layout, stage: np.ndarray) -> list[PanelFit]:
    """All classes of a session in one fit."""
    arrays = layout.looks, layout.mean, layout.within_ss
    return panel_fits(*arrays, shared=layout.shared, stage=stage, group=layout.group)


def agreement_table(layout: Layout, fits: list[PanelFit], stage: np.ndarray, level: float) -> pd.DataFrame:
    """A row a descriptor of one session; `stage` names each descriptor's."""
    looks, cell = layout.cell_means()
    seen = looks > 0
    sizes = _Sizes.of(layout, seen)
    theta, covariance = _components([(part, np.arange(len(stage))) for part in fits], len(stage))
    complete = complete_tables(layout, looks)
    on_pots = _on_these_pots(layout, fits, stage, ~complete)
    found = _components(on_pots, len(stage))
    icc = from_components(*found, k=sizes.tasters, looks=sizes.looks, pots=np.ones(len(theta)), level=level)
    test, levels = _gate(layout, on_pots), _levels(*found, sizes)
    if complete.any():
        icc, test, levels = from_tables(layout, cell, complete, icc, test, levels, level)
    rank = rank_agreement(layout, cell, seen)
    mark, mark_df = _mark(theta, covariance, sizes)
    of_lots = limits_of_these_lots(test.statistic, (test.df, test.df_error), *levels, level=level)
    normal_p = omnibus_p(_about_class(layout, np.where(seen, cell, np.nan)))
    icc = icc if not (normal_p < LOTS_NORMAL).any() else _without_population(icc, normal_p < LOTS_NORMAL)
    table = pd.DataFrame(
        {
            DESCRIPTOR: layout.descriptors,
            "lots": seen.any(axis=1).sum(axis=0),
            "tasters": _people(layout, seen),
            **{f"icc_{name}": values for name, values in vars(icc).items()},
            "share": icc.mean,
            "share_low": of_lots[0],
            "share_high": of_lots[1],
            "lots_normal_p": normal_p,
            "lot_sd": np.sqrt(theta[:, LOT]),
            "error_sd": np.sqrt(theta[:, LOT_TASTER] + theta[:, RESIDUAL] / sizes.looks),
            "mark_se": mark,
            "mark_df": mark_df,
            "mark_reach": mark * stdtrit(mark_df, (1 + level) / 2),
            "reliability_lots": trust_in_mean(theta, k=sizes.tasters, looks=sizes.looks, pots=sizes.pots),
            "concordance_w": rank[0],
            "spearman": rank[1],
            "p_concordance": rank[2],
            "p_lots": test.p,
        }
    )
    calls = [_call(row) for _, row in table.iterrows()]
    return table.assign(call=[call for call, _ in calls], reason=[reason for _, reason in calls])


@dataclass(frozen=True, eq=False)
class _Sizes:
    """Harmonic means over lots: tasters a lot, looks a cell, pots a lot, shape (D,)."""

    tasters: np.ndarray
    looks: np.ndarray
    pots: np.ndarray

    @classmethod
    def of(cls, layout: Layout, seen: np.ndarray) -> _Sizes:
        pots = (layout.looks > 0).any(axis=1).sum(axis=1)  # (lot, descriptor)
        return cls(
            _harmonic(seen.sum(axis=1)),
            _harmonic(layout.looks.sum(axis=2).reshape(-1, len(layout.descriptors))),
            np.where(layout.shared, _harmonic(pots), 1.0),
        )


def _harmonic(count: np.ndarray) -> np.ndarray:
    inverse = np.where(count > 0, 1 / np.maximum(count, 1), 0.0).sum(axis=0)
    return (count > 0).sum(axis=0) / np.maximum(inverse, 1e-300)


def _on_these_pots(layout: Layout, fits: list[PanelFit], stage: np.ndarray, which: np.ndarray) -> list[_Placed]:
    """Fits of the descriptors in `which` without lot:pot: pots that differ are then part of the lots that differ.

    A few pots' variance held at a steadied value would leave the lots' own at zero where lots are few, and an interval
    far too short.
    """
    again = np.array([d for part in fits if part.shared for d in part.index if which[d]], int)
    arrays = (array[..., again] for array in (layout.looks, layout.mean, layout.within_ss))
    refits = panel_fits(*arrays, shared=np.zeros(len(again), bool), stage=stage[again], group=layout.group)
    everywhere = np.arange(len(layout.descriptors))
    return [(part, again) for part in refits] + [(part, everywhere) for part in fits if not part.shared]


def _components(fits: list[_Placed], size: int) -> tuple[np.ndarray, np.ndarray]:
    """Variances and their covariance with lots random, NaN where not fitted."""
    theta, covariance = np.full((size, 5), np.nan), np.full((size, 5, 5), np.nan)
    for part, place in fits:
        if part.random is not None:
            at = place[list(part.slot)]
            theta[at], covariance[at] = part.random.variances, part.random.covariance
    return theta, covariance


def _people(layout: Layout, seen: np.ndarray) -> np.ndarray:
    """Number of persons who scored each descriptor."""
    scored: np.ndarray = np.any(seen, axis=0)  # (column, descriptor)
    return np.array([len(np.unique(layout.taster[scored[:, d]])) for d in range(scored.shape[1])])


def _mark(theta: np.ndarray, covariance: np.ndarray, sizes: _Sizes) -> tuple[np.ndarray, np.ndarray]:
    """Standard error of the panel's mark of a lot, the tasters' levels counted, and its df after Satterthwaite."""
    weight = np.zeros(theta.shape)
    weight[:, TASTER] = weight[:, LOT_TASTER] = 1 / sizes.tasters
    weight[:, LOT_POT] = 1 / sizes.pots
    weight[:, RESIDUAL] = 1 / (sizes.tasters * sizes.looks)
    square = (weight * theta).sum(axis=1)
    return np.sqrt(square), _satterthwaite(square, weight, covariance)


def _satterthwaite(square: np.ndarray, weight: np.ndarray, covariance: np.ndarray) -> np.ndarray:
    """Degrees of freedom of a sum of variances; many where their estimates do not vary."""
    variance = np.einsum("df,dfg,dg->d", weight, np.nan_to_num(covariance), weight)
    return np.clip(ratio(2 * square**2, variance), 1.0, MOST_DF)


def _levels(theta: np.ndarray, covariance: np.ndarray, sizes: _Sizes) -> tuple[np.ndarray, np.ndarray]:
    """Variance of one taster's mark with his level over that without, and the df of the former."""
    weight = np.zeros(theta.shape)
    weight[:, TASTER] = weight[:, LOT_TASTER] = 1.0
    weight[:, RESIDUAL] = 1 / sizes.looks
    with_level = (weight * theta).sum(axis=1)
    return ratio(with_level, with_level - theta[:, TASTER]), _satterthwaite(with_level, weight, covariance)


def _about_class(layout: Layout, cell: np.ndarray) -> np.ndarray:
    """Lot means about those of their class, each taster about his level: (lot, descriptor)."""
    out = np.full((len(cell), cell.shape[2]), np.nan)
    for g in range(len(layout.classes)):
        at, who = layout.lot_group == g, layout.group == g
        out[at] = centred_rows(cell[at][:, who])
    return out


def _without_population(icc: Intraclass, skewed: np.ndarray) -> Intraclass:
    """No limits for all such lots where these do not look drawn from a normal law."""
    limits = ("single_low", "single_high", "mean_low", "mean_high")
    return replace(icc, **{name: np.where(skewed, np.nan, getattr(icc, name)) for name in limits})


def _gate(layout: Layout, fits: list[_Placed]) -> LotTest:
    """The lots' own test on these pots, classes taken together; NaN where not fitted."""
    out = LotTest(*(np.full(len(layout.descriptors), np.nan) for _ in range(3)))
    for part, place in fits:
        if part.effects is not None:
            for array, values in zip(vars(out).values(), _of_classes(layout, part.effects), strict=True):
                array[place[list(part.slot)]] = values
    return out


def _of_classes(layout: Layout, effects: LotEffects) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Statistic and both df of the lots within their classes."""
    tests = [effects.test(layout.lot_group == g) for g in range(len(layout.classes))]
    df = np.stack([test.df for test in tests])
    with np.errstate(invalid="ignore"):
        statistic = np.nansum(np.stack([test.statistic for test in tests]) * df, axis=0) / np.nansum(df, axis=0)
        error = np.nansum(df, axis=0) / np.nansum(df / np.stack([test.df_error for test in tests]), axis=0)
    return statistic, np.nansum(df, axis=0), error


def _call(row: pd.Series) -> tuple[str, str]:
    """The call on one descriptor and its reason."""
    low, high = row["share_low"], row["share_high"]
    for unable, why in (
        (row["tasters"] < 2, Phrase("one taster: there is nobody to agree with")),
        (row["lots"] < 2, Phrase("one lot: there is no order to agree on")),
        (not np.isfinite(row["p_lots"]), Phrase("nothing to test the lots against")),
    ):
        if unable:
            return CANNOT_TELL, why
    if row["p_lots"] >= GATE:
        return TOO_ALIKE, Phrase("the lots are too alike on this descriptor to judge agreement")
    if np.isnan(low):
        return CANNOT_TELL, Phrase("no interval could be formed")
    bands = Phrase("{low} to {high} in the wording of Koo and Li 2016").format(
        low=said(_band(low)), high=said(_band(high))
    )
    if low >= MODERATE:
        return AGREE, bands
    if high < MODERATE:
        return APART, bands
    return CANNOT_TELL, Phrase("{bands}: the interval is too wide").format(bands=bands)


def _band(value: float) -> str:
    """Bands of Koo & Li 2016, meant for the ends of the interval."""
    return next((word for edge, word in ((0.9, "excellent"), (0.75, "good"), (MODERATE, "moderate")) if value >= edge),
                "poor")  # fmt: skip
