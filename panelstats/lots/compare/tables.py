"""The tables of a lot comparison, one function a table."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from scipy.special import stdtrit
from scipy.stats import norm

from panelstats.models.blups import lot_predictions
from panelstats.models.letters import letters
from panelstats.models.reml import LOT_POT, LOT_TASTER, SOURCES, TASTER
from panelstats.scores.cells import DESCRIPTOR, LOT

if TYPE_CHECKING:
    from collections.abc import Iterable

    from panelstats.lots.compare.fitted import Fitted
    from panelstats.lots.compare.pairs import Compared
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
    words = group.grid.descriptors
    found = [_components(group.part(d), d) for d in range(len(words))]
    variance, se = (np.stack(parts) for parts in zip(*found, strict=True))  # (descriptor, source)
    total, sd = np.nansum(variance, axis=1, keepdims=True), np.sqrt(variance)
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        spread = np.exp(norm.isf((1 - group.level) / 2) * se / variance / 2)
        share = np.where(total > 0, variance / total, np.nan)
    at_zero = np.where(np.isnan(variance), np.nan, 0.0)
    columns = {
        "variance": variance,
        "share": share,
        "sd": sd,
        "low": np.where(variance > 0, sd / spread, at_zero),
        "high": np.where(variance > 0, sd * spread, np.nan),
    }
    keys = {DESCRIPTOR: np.repeat(words, len(ORDER)), "source": np.tile(ORDER, len(words))}
    return pd.DataFrame(keys | {name: values.ravel() for name, values in columns.items()})


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
    grid = group.grid
    letter = np.full((len(grid.descriptors), len(grid.lots)), "", dtype=object)
    for one in compared:
        if one.all_pairs:
            of_lot = _letters(group, one)
            letter[one.descriptor] = [of_lot.get(lot, "") for lot in grid.lots]
    looks = grid.looks.sum(axis=2)
    lots, words = len(grid.lots), len(grid.descriptors)
    columns = {name: values.ravel() for name, values in _means(group).items()}
    return pd.DataFrame(
        {
            DESCRIPTOR: np.repeat(grid.descriptors, lots),
            LOT: np.tile(grid.lots, words),
            **columns,
            "tasters": (looks > 0).sum(axis=1).T.ravel(),
            "looks": looks.sum(axis=1).T.ravel(),
            "compared": np.tile(group.compared, words),
            "letters": pd.Series(letter.ravel(), dtype="str"),
        }
    )


def _means(group: Fitted) -> dict[str, np.ndarray]:
    """The number columns of the means, arrays (descriptor, lot); where no model was fitted the plain mean alone."""
    grid = group.grid
    looks, cell, _ = grid.over_brews()
    scored = (looks > 0).sum(axis=1)
    mean = np.where(scored > 0, np.where(looks > 0, cell, 0.0).sum(axis=1) / np.maximum(scored, 1), np.nan).T
    deviation = mean - np.nanmean(mean, axis=1, keepdims=True)
    se, df, away_se, away_df = np.full((4, *mean.shape), np.nan)
    offset = grid.offset
    for part in group.fits:
        for d, k in part.slot.items():
            assert part.effects is not None  # noqa: S101 - a descriptor with a slot was fitted
            rows = part.effects.fit.blocks.row_lot[part.effects.rows_of(k)]
            found = part.effects.means(k)
            mean[d, rows], se[d, rows], df[d, rows] = found.estimate + offset[d], found.se, found.df
            if len(rows) > 1:
                away = part.effects.deviations(k)
                deviation[d, rows], away_se[d, rows], away_df[d, rows] = away.estimate, away.se, away.df
    reach, away_reach = se * _critical(df, group.level), away_se * _critical(away_df, group.level)
    return {
        "mean": mean,
        "se": se,
        "df": df,
        "low": mean - reach,
        "high": mean + reach,
        "deviation": deviation,
        "deviation_low": deviation - away_reach,
        "deviation_high": deviation + away_reach,
    }


def _critical(df: np.ndarray, level: float) -> np.ndarray:
    """Student's t by its df; lots of one incidence share theirs."""
    distinct, where = np.unique(df, return_inverse=True)
    return np.asarray(-stdtrit(distinct, (1 - level) / 2))[where].reshape(df.shape)


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
    if not compared:
        return EMPTY_PAIRS.copy()
    words = np.repeat([one.descriptor for one in compared], [len(one.first) for one in compared])

    def together(parts: Iterable[np.ndarray]) -> np.ndarray:
        return np.concatenate(list(parts))

    return pd.DataFrame(
        {
            DESCRIPTOR: group.grid.descriptors[words],
            "lot_a": group.grid.lots[together(one.first for one in compared)],
            "lot_b": group.grid.lots[together(one.second for one in compared)],
            "difference": together(one.contrasts.estimate for one in compared),
            "se": together(one.contrasts.se for one in compared),
            "df": together(one.contrasts.df for one in compared),
            **{name: together(getattr(one, name) for one in compared) for name in ("low", "high", "p", "p_adjusted")},
        }
    )


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
