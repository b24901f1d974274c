"""The tables of lots compared across sessions, one function a table."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache, partial
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from scipy.special import ndtri, stdtr, stdtrit

from panelstats.lots.classfit import FEW_LOTS
from panelstats.lots.compare.seasonwords import TOO_MANY
from panelstats.models import comparisons
from panelstats.models.multiplicity import adjusted
from panelstats.models.seasonsources import SOURCES
from panelstats.scores.cells import CLASS, DESCRIPTOR, LOT
from panelstats.speech import Phrase
from panelstats.words import listing

if TYPE_CHECKING:
    from collections.abc import Callable

    from panelstats.lots.compare.seasonfits import SeasonClass
    from panelstats.models.degrees import Contrasts
    from panelstats.models.linkedsessions import SeasonPart

    _RowsOf = Callable[[SeasonClass, int, SeasonPart, int], pd.DataFrame | None]

SEASON = "season"
NUMBERS = ("mean", "se", "df", "low", "high", "deviation", "deviation_low", "deviation_high")
COLUMNS = {
    "season_anova": (DESCRIPTOR, "sessions", "lots", "joined_by", "df", "df_error", "statistic", "p", "p_adjusted",
                     "reason"),
    "season_components": (DESCRIPTOR, "source", "variance", "share", "sd", "low", "high"),
    "season_means": (DESCRIPTOR, LOT, "sessions", *NUMBERS, "tasters", "compared"),
    "season_pairs": (DESCRIPTOR, "lot_a", "lot_b", "difference", "se", "df", "low", "high", "p", "p_adjusted"),
}  # fmt: skip
TEXT = {DESCRIPTOR, LOT, "joined_by", "reason", "source", "lot_a", "lot_b"}
# Components of a day, in the order in which a reader meets them.
ORDER = ("taster", "lot:taster", "session", "taster:session", "lot:taster:session", "lot:session:pot", "residual")


@dataclass(frozen=True, eq=False)
class SeasonPairs:
    """Comparisons of one descriptor's lots; `first` and `second` count the lots of its fit."""

    first: np.ndarray
    second: np.ndarray
    contrasts: Contrasts
    p: np.ndarray
    p_adjusted: np.ndarray
    half: np.ndarray


def season_tables(
    classes: list[SeasonClass], *, adjust: str, control: str | None, pairs: bool | None
) -> dict[str, pd.DataFrame]:
    """All tables by name; empty ones where no lot joins two sessions."""
    several = len(classes) > 1

    def together(name: str, rows_of: _RowsOf) -> pd.DataFrame:
        found = []
        for one in classes:
            for at, part in enumerate(one.parts):
                for d in part.descriptors:
                    rows = rows_of(one, at, part, int(d))
                    if rows is not None and len(rows):
                        front = {SEASON: named_sessions(one, part)} | ({CLASS: one.lot_class} if several else {})
                        front |= {DESCRIPTOR: one.descriptors[d]}
                        found.append(pd.concat([pd.DataFrame(front, index=rows.index), rows], axis=1))
        return pd.concat(found, ignore_index=True) if found else _without_rows(name).copy()

    return {
        "season_anova": together("season_anova", _anova),
        "season_components": together("season_components", _components),
        "season_means": together("season_means", _means),
        "season_pairs": together("season_pairs", partial(_pairs, adjust=adjust, control=control, pairs=pairs)),
    }


@cache
def _without_rows(name: str) -> pd.DataFrame:
    columns = (SEASON, *COLUMNS[name])
    return pd.DataFrame({c: pd.Series(dtype="str" if c in {*TEXT, SEASON} else float) for c in columns})


def named_sessions(one: SeasonClass, part: SeasonPart) -> str:
    """The joined sessions by the first and the last of them."""
    first, last = one.sessions[part.sessions[[0, -1]]]
    return Phrase("{low} to {high}").format(low=first, high=last)


def _anova(one: SeasonClass, at: int, part: SeasonPart, d: int) -> pd.DataFrame:
    test, k = one.tests.get((at, d)), int(np.flatnonzero(part.descriptors == d)[0])
    lots = int(one.compared_in(part, d).sum()) if d in part.slot else 0
    why = str(part.state[k]) or ("" if test is not None and np.isfinite(test.p) else _why(lots))
    numbers = (test.df, test.df_error, test.statistic, test.p) if test is not None else (np.nan,) * 4
    return pd.DataFrame(
        [(len(part.sessions), lots, listing(one.lots[part.links]), *numbers, one.p_adjusted.get((at, d), np.nan), why)],
        columns=list(COLUMNS["season_anova"][1:]),
    )


def _why(lots: int) -> str:
    return "one lot" if lots < 2 else TOO_MANY


def _components(one: SeasonClass, at: int, part: SeasonPart, d: int) -> pd.DataFrame | None:  # noqa: ARG001
    if part.effects is None or d not in part.slot:
        return None
    fit, k = part.effects.fit, part.slot[d]
    order = [SOURCES.index(source) for source in ORDER]
    variance = np.where(fit.held[k], np.nan, fit.variances[k])[order]
    se, sd = np.sqrt(np.diagonal(fit.covariance[k]))[order], np.sqrt(variance)
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        spread = np.exp(ndtri((1 + one.level) / 2) * se / variance / 2)
    low = np.where(variance > 0, sd / spread, np.where(np.isnan(variance), np.nan, 0.0))
    high = np.where(variance > 0, sd * spread, np.nan)
    columns = {"source": ORDER, "variance": variance, "share": variance / np.nansum(variance), "sd": sd}
    return pd.DataFrame(columns | {"low": low, "high": high})


def _means(one: SeasonClass, at: int, part: SeasonPart, d: int) -> pd.DataFrame | None:  # noqa: ARG001
    if part.effects is None or d not in part.slot:
        return None
    k, lots, compared = part.slot[d], one.lots_in(part, d), one.compared_in(part, d)
    found = part.effects.means(k)
    columns = {"mean": found.estimate + one.offset[d], "se": found.se, "df": found.df}
    reach = critical(found.df, one.level) * found.se
    columns |= {"low": columns["mean"] - reach, "high": columns["mean"] + reach}
    if compared.sum() > 1:
        away = part.effects.deviations(k, compared)
        reach = critical(away.df, one.level) * away.se
        columns |= {"deviation": away.estimate}
        columns |= {"deviation_low": away.estimate - reach, "deviation_high": away.estimate + reach}
    sessions, tasters = part.effects.met(k)
    front, back = {LOT: one.lots[lots], "sessions": sessions}, {"tasters": tasters, "compared": compared}
    table = pd.DataFrame(front | columns | back)
    return table.reindex(columns=list(COLUMNS["season_means"][1:]))


def critical(df: np.ndarray, level: float) -> np.ndarray:
    """Student's t; NaN where the degrees of freedom are unknown."""
    return np.asarray(-stdtrit(df, (1 - level) / 2))


def _pairs(
    one: SeasonClass, at: int, part: SeasonPart, d: int, *, adjust: str, control: str | None, pairs: bool | None
) -> pd.DataFrame | None:
    if part.effects is None or d not in part.slot:
        return None
    few = one.compared_in(part, d).sum() <= FEW_LOTS
    if not (pairs or control is not None or (pairs is None and few and one.passed(at, d))):
        return None
    found = compared_over(one, part, d, adjust=adjust, control=control)
    if found is None:
        return None
    labels = one.lots[one.lots_in(part, d)]
    estimate = found.contrasts.estimate
    return pd.DataFrame(
        {
            "lot_a": labels[found.first],
            "lot_b": labels[found.second],
            "difference": estimate,
            "se": found.contrasts.se,
            "df": found.contrasts.df,
            "low": estimate - found.half,
            "high": estimate + found.half,
            "p": found.p,
            "p_adjusted": found.p_adjusted,
        }
    )


def compared_over(
    one: SeasonClass, part: SeasonPart, d: int, *, adjust: str, control: str | None
) -> SeasonPairs | None:
    """All pairs of the compared lots, or each against one lot; None where there are no two."""
    assert part.effects is not None  # noqa: S101 - asked only of what was fitted
    ours = np.flatnonzero(one.compared_in(part, d))
    if control is None:
        first, second = (ours[side] for side in np.triu_indices(len(ours), 1))
    else:
        place = np.flatnonzero(one.lots[one.lots_in(part, d)] == control)
        first = ours[ours != place] if len(place) else ours[:0]
        second = np.repeat(place, len(first))
    if not len(first):
        return None
    k = part.slot[d]
    found = part.effects.pairs(k, first, second)
    t = found.estimate / found.se
    p = np.asarray(2 * stdtr(found.df, -np.abs(t)))
    if control is not None and adjust != "none":
        correlation = part.effects.correlation_with(k, int(second[0]), first)
        family = comparisons.against_control(correlation, t, found.df, level=one.level)
        half = family.half_width(found.se, found.df, one.level)
        return SeasonPairs(first, second, found, p, family.p(t, found.df), half)
    if adjust == "tukey":
        means = np.full(len(t), len(ours))
        half = comparisons.pairs_half_width(found.se, found.df, means, level=one.level)
        return SeasonPairs(first, second, found, p, comparisons.pairs_p(t, found.df, means), half)
    tail = (1 - one.level) / 2 / (len(p) if adjust == "holm" else 1)
    return SeasonPairs(first, second, found, p, adjusted(p, adjust), stdtrit(found.df, 1 - tail) * found.se)
