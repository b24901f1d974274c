"""The tables of lots compared across sessions, one function a table."""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from panelstats.lots.classfit import FEW_LOTS
from panelstats.lots.compare.pairs import Asked, judged_together
from panelstats.lots.compare.seasonwords import TOO_MANY
from panelstats.lots.compare.tables import PAIRS, SEASON, no_rows, sd_limits
from panelstats.models.seasonsources import SOURCES
from panelstats.scores.cells import CLASS, DESCRIPTOR, LOT
from panelstats.speech import Phrase
from panelstats.words import listing

if TYPE_CHECKING:
    from collections.abc import Callable

    from panelstats.lots.compare.seasonfits import SeasonClass
    from panelstats.models.linkedsessions import SeasonPart

    _RowsOf = Callable[[SeasonClass, int, SeasonPart, int], pd.DataFrame | None]

NUMBERS = ("mean", "se", "df", "low", "high", "deviation", "deviation_low", "deviation_high")
COLUMNS = {
    "season_anova": (DESCRIPTOR, "sessions", "lots", "joined_by", "df", "df_error", "statistic", "p", "p_adjusted",
                     "reason"),
    "season_components": (DESCRIPTOR, "source", "variance", "share", "sd", "low", "high"),
    "season_means": (DESCRIPTOR, LOT, "sessions", *NUMBERS, "tasters", "compared"),
    "season_pairs": PAIRS,
}  # fmt: skip
# Components of a day, in the order in which a reader meets them.
ORDER = ("taster", "lot:taster", "session", "taster:session", "lot:taster:session", "lot:session:pot", "residual")


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
        return pd.concat(found, ignore_index=True) if found else no_rows((SEASON, *COLUMNS[name]))

    return {
        "season_anova": together("season_anova", _anova),
        "season_components": together("season_components", _components),
        "season_means": together("season_means", _means),
        "season_pairs": together("season_pairs", partial(_pairs, adjust=adjust, control=control, pairs=pairs)),
    }


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
    columns = {"source": ORDER, "variance": variance, "share": variance / np.nansum(variance)}
    return pd.DataFrame(columns | sd_limits(variance, np.sqrt(np.diagonal(fit.covariance[k]))[order], one.level))


def _means(one: SeasonClass, at: int, part: SeasonPart, d: int) -> pd.DataFrame | None:  # noqa: ARG001
    if part.effects is None or d not in part.slot:
        return None
    k, lots, compared = part.slot[d], one.lots_in(part, d), one.compared_in(part, d)
    found = part.effects.means(k)
    columns = replace(found, estimate=found.estimate + one.offset[d]).columns("mean", found.reach(one.level))
    if compared.sum() > 1:
        away = part.effects.deviations(k, compared)
        reach = away.reach(one.level)
        columns |= {"deviation": away.estimate}
        columns |= {"deviation_low": away.estimate - reach, "deviation_high": away.estimate + reach}
    sessions, tasters = part.effects.met(k)
    front, back = {LOT: one.lots[lots], "sessions": sessions}, {"tasters": tasters, "compared": compared}
    table = pd.DataFrame(front | columns | back)
    return table.reindex(columns=list(COLUMNS["season_means"][1:]))


def _pairs(
    one: SeasonClass, at: int, part: SeasonPart, d: int, *, adjust: str, control: str | None, pairs: bool | None
) -> pd.DataFrame | None:
    if part.effects is None or d not in part.slot:
        return None
    few = one.compared_in(part, d).sum() <= FEW_LOTS
    if not (pairs or control is not None or (pairs is None and few and one.passed(at, d))):
        return None
    labels = one.lots[one.lots_in(part, d)]
    asked = Asked.of(part.effects, part.slot[d], one.compared_in(part, d), labels, control)
    if asked is None:
        return None
    ((p_adjusted, half),) = judged_together([asked], adjust=adjust, control=control, level=one.level)
    named = {"lot_a": labels[asked.first], "lot_b": labels[asked.second]}
    numbers = asked.contrasts.columns("difference", half)
    return pd.DataFrame(named | numbers | {"p": asked.contrasts.p, "p_adjusted": p_adjusted})
