"""The tables of a lot comparison, one function a table."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from scipy.special import fdtrc, ndtri, stdtrit

from panelstats.lots.classfit import FEW_LOTS
from panelstats.models.contrasts import Contrasts
from panelstats.models.degrees import lot_predictions
from panelstats.models.lending import RECORDED
from panelstats.models.letters import letters
from panelstats.models.meansquares import MeanSquares, lot_ratio, mean_squares
from panelstats.models.reml import LOT as LOT_SOURCE
from panelstats.models.reml import LOT_POT, LOT_TASTER, SOURCES, TASTER
from panelstats.scores.cells import CLASS, DESCRIPTOR, LOT, SESSION, SHARED
from panelstats.speech import Phrase

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from panelstats.lots.classfit import ClassFit
    from panelstats.lots.compare.pairs import Compared
    from panelstats.models.panelfit import DescriptorFit

SEASON = "season"
MERIT = (DESCRIPTOR, LOT, "merit", "se", "low", "high")
PAIRS = (DESCRIPTOR, "lot_a", "lot_b", "difference", "se", "df", "low", "high", "p", "p_adjusted")
_TEXT = {SEASON, DESCRIPTOR, LOT, "joined_by", "reason", "source", "lot_a", "lot_b"}
# Lines of the classical table and the sources they stand for.
LINES = {"lot": "lot", "taster": "taster", "lot_taster": "lot:taster", "pot": "lot:pot", "error": "residual"}
MEAN_SQUARES = [DESCRIPTOR, "source", "df", "mean_square", "statistic", "df_error", "p"]
# Columns that say where variances come from.
FROM = ("lot_taster_from", "lot_pot_from", "classes_pooled")
# The order in which a reader meets the sources.
ORDER = ("lot", "taster", "lot:taster", "lot:pot", "residual")


def no_rows(columns: Iterable[str]) -> pd.DataFrame:
    """A table without rows: what is text is text, all else numbers."""
    return pd.DataFrame({name: pd.Series(dtype="str" if name in _TEXT else float) for name in columns})


def anova_lines(group: ClassFit) -> pd.DataFrame:
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
            **{name: [_from(group.of(d))[k] for d in everywhere] for k, name in enumerate(FROM)},
        }
    )


def _from(one: DescriptorFit | None) -> tuple[str, str, int]:
    """Where the variances of lot:taster and lot:pot come from, and how many classes share them."""
    if one is None:
        return "", "", 0
    absent, k = one.part.can.held[one.place], one.slot
    crossed = "" if absent[LOT_TASTER] else str(one.part.interactions.rule[k])
    rule = str(one.part.pots.rule[k])
    pots = rule if one.part.shared and (rule == RECORDED or not absent[LOT_POT]) else ""
    return crossed, pots, int(one.part.classes[k])


def error_term(group: ClassFit, d: int) -> str:
    """What a lot difference is measured against."""
    one = group.of(d)
    if one is None:
        return ""
    variance, part, absent = one.variances, one.part, one.part.can.held[one.place]
    steadied = part.interactions.held[one.slot]
    if absent[TASTER] and len(one.lots) > 1:
        return Phrase("error within cells, for this taster only")
    if absent[LOT_TASTER]:
        named = [Phrase("lot:taster and error together (one look a cell)")]
    elif variance[LOT_TASTER] == 0 and not steadied:
        named = [Phrase("error, lot:taster not detectable and pooled")]
    else:
        named = [Phrase("lot:taster")]
    if part.shared and part.can.pot_df[one.place] > 0:
        named.append(Phrase("lot:pot") if variance[LOT_POT] > 0 else Phrase("lot:pot not detectable and pooled"))
    elif not absent[LOT_TASTER] and variance[LOT_TASTER] > 0:
        named.append(Phrase("error within cells"))
    return " + ".join(map(str, named))


def _reason(group: ClassFit, d: int) -> str:
    if np.isfinite(group.p[d]):
        return ""
    return group.state(d) or ("one lot" if group.count < 2 else "its error cannot be told")


def mean_square_lines(group: ClassFit) -> pd.DataFrame:
    """Mean squares of the descriptors that every taster scored from every pot; no rows for the others."""
    grid = group.grid
    looks = grid.looks.reshape(-1, len(grid.descriptors))
    complete = (looks == looks[:1]).all(axis=0) & (looks[0] > 0)
    tables = []
    for shared in (True, False):
        which = np.flatnonzero(complete & ((grid.pots == SHARED) == shared))
        if len(which) and len(grid.lots) > 1 and len(grid.tasters) > 1 and group.compared.all():
            ms = mean_squares(
                grid.centred[..., which],
                shared=shared,
                within_ss=grid.within_ss[..., which].sum(axis=(0, 1, 2)),
                looks=int(looks[0, which[0]]),
            )
            tables.append(_mean_squares(grid.descriptors[which], ms))
    return pd.concat(tables, ignore_index=True) if tables else no_rows(MEAN_SQUARES)


def _mean_squares(descriptors: np.ndarray, ms: MeanSquares) -> pd.DataFrame:
    statistic, df_error = lot_ratio(ms)
    rows = []
    for d, name in enumerate(descriptors):
        for line, source in LINES.items():
            if ms.df[line]:
                rows.append((name, source, ms.df[line], getattr(ms, line)[d], np.nan, np.nan))
                if line == "lot":
                    rows[-1] = (*rows[-1][:4], statistic[d], df_error[d])
    table = pd.DataFrame(rows, columns=MEAN_SQUARES[:-1])
    return table.assign(p=fdtrc(table["df"], table["df_error"], table["statistic"]))


def component_lines(group: ClassFit) -> pd.DataFrame:
    """Variance by source with the SD and its limits; the lot's from the fit with lots random."""
    words = group.grid.descriptors
    found = [_components(group.of(d)) for d in range(len(words))]
    variance, se = (np.stack(parts) for parts in zip(*found, strict=True))  # (descriptor, source)
    total = np.nansum(variance, axis=1, keepdims=True)
    share = np.divide(variance, total, out=np.full(variance.shape, np.nan), where=total > 0)
    columns = {"variance": variance, "share": share} | sd_limits(variance, se, group.level)
    keys = {DESCRIPTOR: np.repeat(words, len(ORDER)), "source": np.tile(ORDER, len(words))}
    return pd.DataFrame(keys | {name: values.ravel() for name, values in columns.items()})


def sd_limits(variance: np.ndarray, se: np.ndarray, level: float) -> dict[str, np.ndarray]:
    """The SD of each variance with its limits, normal on the log scale; of a variance at 0 low is 0, high unknown."""
    sd = np.sqrt(variance)
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        spread = np.exp(ndtri((1 + level) / 2) * se / variance / 2)
    low = np.where(variance > 0, sd / spread, np.where(np.isnan(variance), np.nan, 0.0))
    return {"sd": sd, "low": low, "high": np.where(variance > 0, sd * spread, np.nan)}


def _components(one: DescriptorFit | None) -> tuple[np.ndarray, np.ndarray]:
    """Variance of each source in ORDER and its standard error; NaN where it is not in the model."""
    if one is None:
        return np.full(len(ORDER), np.nan), np.full(len(ORDER), np.nan)
    k, fit = one.slot, one.part.random or one.effects.fit
    absent = one.part.can.held[one.place] & (fit.variances[k] == 0)
    absent[LOT_SOURCE] = fit.held[k, LOT_SOURCE]
    order = [SOURCES.index(source) for source in ORDER]
    variance = np.where(absent, np.nan, np.maximum(fit.variances[k], 0.0))[order]  # one held below 0 is none to show
    se = np.sqrt(np.diagonal(fit.covariance[k]))[order]
    return variance, np.where(se > 0, se, np.nan)


def mean_lines(group: ClassFit, compared: list[Compared]) -> pd.DataFrame:
    """Mean of each lot for such a panel, and its deviation from the mean of its class."""
    grid = group.grid
    letter = np.full((len(grid.descriptors), len(grid.lots)), "", dtype=object)
    for one in compared:
        if one.all_pairs and group.count <= FEW_LOTS:
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


def _means(group: ClassFit) -> dict[str, np.ndarray]:
    """The number columns of the means, arrays (descriptor, lot); where no model was fitted the plain mean alone."""
    grid = group.grid
    looks, cell, _ = grid.over_brews()
    scored = (looks > 0).sum(axis=1)
    mean = np.where(scored > 0, np.where(looks > 0, cell, 0.0).sum(axis=1) / np.maximum(scored, 1), np.nan).T
    deviation = mean - np.nanmean(mean, axis=1, keepdims=True)
    se, df, reach, away_reach = np.full((4, *mean.shape), np.nan)
    offset = grid.offset
    for d in range(len(offset)):
        if (one := group.of(d)) is None:
            continue
        lots, found = one.lots, one.effects.means(one.slot)
        mean[d, lots], se[d, lots], df[d, lots] = found.estimate + offset[d], found.se, found.df
        reach[d, lots] = found.reach(group.level)
        if len(lots) > 1:
            away = one.effects.deviations(one.slot)
            deviation[d, lots], away_reach[d, lots] = away.estimate, away.reach(group.level)
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


def _letters(group: ClassFit, one: Compared) -> dict[str, str]:
    """Letters by lot: two lots share one exactly when their pair is not different."""
    members = np.unique(np.concatenate([one.first, one.second]))
    place = {int(lot): i for i, lot in enumerate(members)}
    different = np.zeros((len(members), len(members)), bool)
    for a, b, apart in zip(one.first, one.second, one.p_adjusted < 1 - group.level, strict=True):
        different[place[int(a)], place[int(b)]] = different[place[int(b)], place[int(a)]] = apart
    fit = group.of(one.descriptor)
    assert fit is not None  # noqa: S101 - pairs exist only where the model was fitted
    mean = fit.mean[np.isin(fit.lots, members)]
    return dict(zip(group.grid.lots[members], letters(different, mean), strict=True))


def pair_lines(group: ClassFit, compared: list[Compared]) -> pd.DataFrame:
    """Differences between lots with simultaneous intervals."""
    if not compared:
        return no_rows(PAIRS)
    found = Contrasts.joined([one.contrasts for one in compared])
    words = np.repeat([one.descriptor for one in compared], [len(one.first) for one in compared])
    first, second, half, p_adjusted = (
        np.concatenate([getattr(one, name) for one in compared]) for name in ("first", "second", "half", "p_adjusted")
    )
    named = {DESCRIPTOR: group.grid.descriptors[words], "lot_a": group.grid.lots[first],
             "lot_b": group.grid.lots[second]}  # fmt: skip
    return pd.DataFrame(named | found.columns("difference", half) | {"p": found.p, "p_adjusted": p_adjusted})


def merit_lines(group: ClassFit) -> pd.DataFrame:
    """Predicted deviation of each lot, shrunk towards the mean of its class as far as one look deserves."""
    tables = []
    for part in group.fits:
        if part.random is None:
            continue
        merit, se = lot_predictions(part.random)
        b = part.random.blocks
        place = np.full(len(b.p), -1)
        place[list(part.slot.values())] = list(part.slot)
        place = place[b.row_descriptor]
        mine = np.flatnonzero(place >= 0)  # lots of other classes may stand in one fit with these
        mine = mine[group.compared[b.row_lot[mine]]]
        named = {DESCRIPTOR: group.grid.descriptors[place[mine]], LOT: group.grid.lots[b.row_lot[mine]]}
        # The variance between lots is known as well as so many lots tell it.
        lots = np.bincount(b.row_descriptor)[b.row_descriptor[mine]]
        middle, reach = merit[mine], stdtrit(np.maximum(lots - 1, 1), (1 + group.level) / 2) * se[mine]
        columns = {"merit": middle, "se": se[mine], "low": middle - reach, "high": middle + reach}
        tables.append(pd.DataFrame(named | columns))
    return pd.concat(tables, ignore_index=True) if tables else no_rows(MERIT)


def stacked(groups: Sequence[ClassFit], tables: Iterable[pd.DataFrame]) -> pd.DataFrame:
    """One table; session and class come first where there is more than one of them."""
    sessions = {group.grid.session for group in groups}
    classes = {group.grid.lot_class for group in groups}
    named = []
    for group, table in zip(groups, tables, strict=True):
        front = {SESSION: group.grid.session} if len(sessions) > 1 else {}
        front |= {CLASS: group.grid.lot_class} if len(classes) > 1 else {}
        named.append(pd.concat([pd.DataFrame(front, index=table.index), table], axis=1))
    return pd.concat(named, ignore_index=True)
