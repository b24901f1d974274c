"""The tables of a lot comparison, one function a table."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from scipy.stats import norm
from scipy.stats import t as t_distribution

from panelstats.models.blups import lot_predictions
from panelstats.models.letters import letters
from panelstats.models.reml import LOT_POT, LOT_TASTER, SOURCES, TASTER
from panelstats.scores.cells import DESCRIPTOR, LOT

if TYPE_CHECKING:
    from panelstats.lots.fitted import Fitted
    from panelstats.lots.pairs import Compared
    from panelstats.models.panel import PanelFit

EMPTY_MERIT = pd.DataFrame(
    {name: pd.Series(dtype=kind) for name, kind in ((DESCRIPTOR, "str"), (LOT, "str"))}
    | {name: pd.Series(dtype=float) for name in ("merit", "se", "low", "high")}
)
# The order in which a reader meets the sources.
ORDER = ("lot", "taster", "lot:taster", "lot:pot", "residual")


def anova_lines(group: Fitted) -> pd.DataFrame:
    """Test of the lots, a row per descriptor."""
    everywhere = range(len(group.grid.descriptors))
    return pd.DataFrame(
        {
            DESCRIPTOR: group.grid.descriptors,
            "source": "lot",
            "df": group.df,
            "df_error": group.df_error,
            "error_term": [error_term(group, d) for d in everywhere],
            "statistic": group.statistic,
            "p": group.p,
            "p_adjusted": group.p_adjusted,
            "reason": [_reason(group, d) for d in everywhere],
        }
    )


def error_term(group: Fitted, d: int) -> str:
    """What a lot difference is measured against."""
    part = group.part(d)
    if d not in part.slot or part.effects is None:
        return ""
    fit, k = part.effects.fit, part.slot[d]
    variance, held = fit.variances[k], fit.held[k]
    if held[TASTER] and fit.blocks.p[k] > 1:
        return "error within cells, for this taster only"
    if held[LOT_TASTER]:
        named = ["lot:taster and error together (one look a cell)"]
    elif variance[LOT_TASTER] == 0:
        named = ["error, lot:taster not detectable and pooled"]
    else:
        named = ["lot:taster"]
    if part.shared and part.can.pot_df[np.flatnonzero(part.index == d)[0]] > 0:
        named.append("lot:pot" if variance[LOT_POT] > 0 else "lot:pot not detectable and pooled")
    elif not held[LOT_TASTER] and variance[LOT_TASTER] > 0:
        named.append("error within cells")
    return " + ".join(named)


def _reason(group: Fitted, d: int) -> str:
    if np.isfinite(group.p[d]):
        return ""
    return group.state(d) or ("one lot" if group.count < 2 else "too few lots scored")


def component_lines(group: Fitted) -> pd.DataFrame:
    """Variance by source with the SD and its limits; the lot's from the fit with lots random."""
    tables = []
    for d, name in enumerate(group.grid.descriptors):
        variance, se = _components(group.part(d), d)
        total = np.nansum(variance)
        with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
            spread = np.exp(norm.isf((1 - group.level) / 2) * se / variance / 2)
        sd = np.sqrt(variance)
        columns = {
            DESCRIPTOR: name,
            "source": ORDER,
            "variance": variance,
            "share": variance / total if total > 0 else np.nan,
            "sd": sd,
            "low": np.where(variance > 0, sd / spread, np.where(np.isnan(variance), np.nan, 0.0)),
            "high": np.where(variance > 0, sd * spread, np.nan),
        }
        tables.append(pd.DataFrame(columns))
    return pd.concat(tables, ignore_index=True)


def _components(part: PanelFit, d: int) -> tuple[np.ndarray, np.ndarray]:
    """Variance of each source in ORDER and its standard error; NaN where it is not in the model."""
    if part.effects is None or d not in part.slot:
        return np.full(len(ORDER), np.nan), np.full(len(ORDER), np.nan)
    k = part.slot[d]
    fit = part.random or part.effects.fit
    absent = fit.held[k] & (fit.variances[k] == 0)
    order = [SOURCES.index(source) for source in ORDER]
    variance = np.where(absent, np.nan, fit.variances[k])[order]
    se = np.sqrt(np.diagonal(fit.covariance[k]))[order]
    return variance, np.where(se > 0, se, np.nan)


def mean_lines(group: Fitted, compared: list[Compared]) -> pd.DataFrame:
    """Mean of each lot for such a panel, and its deviation from the mean of its class."""
    letter_of = {one.descriptor: _letters(group, one) for one in compared if one.all_pairs}
    tables = [_means_of(group, d) for d in range(len(group.grid.descriptors))]
    for d, table in enumerate(tables):
        table["letters"] = [letter_of.get(d, {}).get(lot, "") for lot in table[LOT]]
    return pd.concat(tables, ignore_index=True)


def _means_of(group: Fitted, d: int) -> pd.DataFrame:
    grid, part = group.grid, group.part(d)
    seen = grid.looks[..., d].sum(axis=2) > 0  # (lot, taster)
    looks, cell, _ = grid.take_descriptors(np.array([d])).over_brews()
    with np.errstate(invalid="ignore"):
        plain = np.where(seen, cell[..., 0], 0).sum(axis=1) / seen.sum(axis=1)
    table = pd.DataFrame({DESCRIPTOR: grid.descriptors[d], LOT: grid.lots, "mean": plain})
    for name in ("se", "df", "low", "high", "deviation", "deviation_low", "deviation_high"):
        table[name] = np.nan
    table["deviation"] = plain - np.nanmean(plain)
    if part.effects is not None and d in part.slot:
        k = part.slot[d]
        rows = part.effects.fit.blocks.row_lot[part.effects.rows_of(k)]
        means, away = part.effects.means(k), part.effects.deviations(k)
        reach, away_reach = (_reach(found.df, group.level) * found.se for found in (means, away))
        mean = means.estimate + grid.offset[d]
        table.loc[rows, ["mean", "se", "df"]] = np.column_stack([mean, means.se, means.df])
        table.loc[rows, ["low", "high"]] = np.column_stack([mean - reach, mean + reach])
        if len(rows) > 1:
            spread = [away.estimate, away.estimate - away_reach, away.estimate + away_reach]
            table.loc[rows, ["deviation", "deviation_low", "deviation_high"]] = np.column_stack(spread)
    return table.assign(tasters=seen.sum(axis=1), looks=looks[..., 0].sum(axis=1), compared=group.compared)


def _reach(df: np.ndarray, level: float) -> np.ndarray:
    return np.asarray(t_distribution.isf((1 - level) / 2, df))


def _letters(group: Fitted, one: Compared) -> dict[str, str]:
    """Letters by lot: two lots share one exactly when their pair is not different."""
    members = np.unique(np.concatenate([one.first, one.second]))
    place = {int(lot): i for i, lot in enumerate(members)}
    different = np.zeros((len(members), len(members)), bool)
    for a, b, apart in zip(one.first, one.second, one.p_adjusted < 1 - group.level, strict=True):
        different[place[int(a)], place[int(b)]] = different[place[int(b)], place[int(a)]] = apart
    part = group.part(one.descriptor)
    assert part.effects is not None  # noqa: S101 - pairs exist only where the model was fitted
    k = part.slot[one.descriptor]
    rows = part.effects.rows_of(k)
    lots = part.effects.fit.blocks.row_lot[rows]
    mean = part.effects.mean[rows][np.isin(lots, members)]
    return dict(zip(group.grid.lots[members], letters(different, mean), strict=True))


def pair_lines(group: Fitted, compared: list[Compared]) -> pd.DataFrame:
    """Differences between lots with simultaneous intervals."""
    lots = group.grid.lots
    tables = [
        pd.DataFrame(
            {
                DESCRIPTOR: group.grid.descriptors[one.descriptor],
                "lot_a": lots[one.first],
                "lot_b": lots[one.second],
                "difference": one.contrasts.estimate,
                "se": one.contrasts.se,
                "df": one.contrasts.df,
                "low": one.low,
                "high": one.high,
                "p": one.p,
                "p_adjusted": one.p_adjusted,
            }
        )
        for one in compared
    ]
    return pd.concat(tables, ignore_index=True) if tables else EMPTY_PAIRS.copy()


EMPTY_PAIRS = pd.DataFrame(
    {name: pd.Series(dtype="str") for name in (DESCRIPTOR, "lot_a", "lot_b")}
    | {name: pd.Series(dtype=float) for name in ("difference", "se", "df", "low", "high", "p", "p_adjusted")}
)


def merit_lines(group: Fitted) -> pd.DataFrame:
    """Predicted deviation of each lot, shrunk towards the mean of its class as far as one look deserves."""
    tables = []
    z = norm.isf((1 - group.level) / 2)
    for part in group.fits:
        if part.random is None:
            continue
        merit, se = lot_predictions(part.random)
        b = part.random.blocks
        name = group.grid.descriptors[np.array(list(part.slot))][b.row_descriptor]
        tables.append(
            pd.DataFrame(
                {
                    DESCRIPTOR: name,
                    LOT: group.grid.lots[b.row_lot],
                    "merit": merit,
                    "se": se,
                    "low": merit - z * se,
                    "high": merit + z * se,
                }
            )[group.compared[b.row_lot]]
        )
    return pd.concat(tables, ignore_index=True) if tables else EMPTY_MERIT.copy()
