"""The lots of one garden beside the other lots of their class and session, when they were made, what was changed."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from panelstats.errors import DesignError
from panelstats.lots.makes.layout import BLOCK, DAY, MADE, day_of
from panelstats.lots.plaintables import ASIDE
from panelstats.scores.cells import LOT, ROLE, SESSION
from panelstats.scores.spelling import natural, plain

if TYPE_CHECKING:
    from collections.abc import Sequence

    from panelstats.lots.makes.layout import Tasted
    from panelstats.scores.table import Scores

GARDEN, DATE, WEEK = "garden", "date", "week"
# Fewer lots of others make no class to stand beside (ours).
FEWEST_OTHERS = 3
# The band of the class: eight of ten of its lots lie in it (ours).
BAND = (0.1, 0.9)
# A column with more changes than this was dealt out lot by lot, not changed (ours).
MOST_CHANGES = 3
# Beginnings of words that name a step of making (common practice).
STEPS = (
    "make", "method", "pluck", "wither", "roll", "cut", "ferment", "oxid", "fire", "firing", "dry", "steam", "sort",
)  # fmt: skip
NEVER_A_STEP = ("made", "date")


@dataclass(frozen=True, eq=False)
class OwnLots:
    """Arrays over the garden's lots (n) and the descriptors (D); NaN where not scored or without a class beside it.

    Attributes
    ----------
    units : DataFrame
        session, lot, class, date (made, else the session's; "" where neither is known), week, then the register.
    score, centre, low, high : ndarray, shape (n, D)
        Mean of the lot; mean of the others of its class and session; the band in which eight of ten of them lie.
    variance, df, others : ndarray, shape (D,)
        Of a lot's mean about its class, among the others; how many these are, the fewest beside any lot.
    """

    units: pd.DataFrame
    score: np.ndarray
    centre: np.ndarray
    low: np.ndarray
    high: np.ndarray
    variance: np.ndarray
    df: np.ndarray
    others: np.ndarray

    @property
    def difference(self) -> np.ndarray:
        """Each lot less the mean of the others of its class."""
        return self.score - self.centre


def own_lots(tasted: Tasted, sessions: pd.DataFrame, garden: str) -> OwnLots:
    """The garden's lots beside those of others."""
    units = tasted.units
    score = np.column_stack(
        [tasted.lot_means(name).reindex(range(len(units))).to_numpy(float) for name in tasted.descriptors]
    )
    mine = (units[GARDEN].astype(str) == garden).to_numpy()
    block = units[BLOCK].to_numpy()
    centre, low, high = (np.full(score.shape, np.nan) for _ in range(3))
    ss, df, others = np.zeros(score.shape[1]), np.zeros(score.shape[1]), np.full(score.shape[1], np.inf)
    for at in np.unique(block[mine]):
        rest, here = score[~mine & (block == at)], mine & (block == at)
        seen = np.isfinite(rest).sum(axis=0)
        enough = seen >= FEWEST_OTHERS
        if not enough.any():
            continue
        some = rest[:, enough]
        centre[np.ix_(here, enough)] = np.nanmean(some, axis=0)
        low[np.ix_(here, enough)], high[np.ix_(here, enough)] = np.nanquantile(some, BAND, axis=0)
        ss[enough] += np.nanvar(some, axis=0) * seen[enough]
        df[enough] += seen[enough] - 1
        others[enough] = np.minimum(others[enough], seen[enough])
    with np.errstate(invalid="ignore"):
        variance = ss / np.where(df > 0, df, np.nan)
    own = units[mine].reset_index(drop=True)
    own[DATE] = dates_of(own, sessions)
    own[WEEK] = [week_of(date) or session for date, session in zip(own[DATE], own[SESSION], strict=True)]
    return OwnLots(own, score[mine], centre[mine], low[mine], high[mine], variance, df, others)


def dates_of(units: pd.DataFrame, sessions: pd.DataFrame) -> list[str]:
    """The day each lot was made; where that is not known the day of its session, "" where that is not either."""
    register = sessions.astype(str).drop_duplicates(SESSION).set_index(SESSION)
    told = register["date"] if "date" in register else pd.Series(dtype=str)
    of_session = {name: day_of(told.get(name, "")) or day_of(name) for name in units[SESSION].unique()}
    return [day or of_session[session] for day, session in zip(units[DAY], units[SESSION], strict=True)]


def gardens_of(scores: Scores) -> list[str]:
    """Every garden whose lots were tasted, in natural order.

    Raises
    ------
    DesignError
        The lots carry no garden.
    """
    lots = scores.lots[scores.lots[LOT].isin(scores.frame[LOT].unique()) & ~scores.lots[ROLE].isin(ASIDE)]
    names = set(lots[GARDEN].astype(str)) - {""} if GARDEN in lots else set()
    if not names:
        raise DesignError("no garden is known", where="the lots register",
                          do="write the garden of each lot in a column garden of the register lots")  # fmt: skip
    return sorted(names, key=natural)


def week_of(date: str) -> str:
    """The Monday of the week a date lies in.

    Examples
    --------
    >>> week_of("2026-02-18")
    '2026-02-16'
    """
    if not date:
        return ""
    day = dt.date.fromisoformat(date)
    return (day - dt.timedelta(days=day.weekday())).isoformat()


def making_columns(units: pd.DataFrame, asked: Sequence[str] | None = None) -> list[str]:
    """Columns of the register that tell how lots were made, and in which these lots differ.

    Parameters
    ----------
    units : DataFrame
    asked : sequence of str, optional
        By default the columns of which a word begins as a step of making does.
    """
    names = [name for name in map(str, units.columns) if _is_step(name)] if asked is None else list(asked)
    return [name for name in names if len(set(units[name].fillna("").astype(str)) - {""}) > 1]


def makes_changed(scores: Scores, lots: pd.DataFrame, by: Sequence[str] | None) -> tuple[list[str], list[str]]:
    """Columns of the making that were changed on a day, and those dealt out lot by lot.

    Parameters
    ----------
    scores : Scores
        Of the garden's lots.
    lots : DataFrame
        Their rows of the lots register.
    by : sequence of str, optional
        As for `making_columns`.
    """
    met = scores.frame[[SESSION, LOT]].astype(str).drop_duplicates()
    units = met.merge(lots.astype({LOT: str}), on=LOT)
    units[DAY] = units[MADE].map(day_of) if MADE in units else ""
    units[DATE] = dates_of(units, scores.sessions)
    columns = making_columns(units, by)
    changed = set(changes(units, columns)["column"])
    return [name for name in columns if name in changed], [name for name in columns if name not in changed]


def _is_step(name: str) -> bool:
    return plain(name) not in NEVER_A_STEP and any(word.startswith(STEPS) for word in plain(name).split())


def changes(units: pd.DataFrame, columns: Sequence[str]) -> pd.DataFrame:
    """Days from which a column holds another setting: column, before, after, since, lots_before, lots_after.

    A column of which one day holds two settings, or with more than three changes, was not changed on a day.

    Examples
    --------
    >>> lots = pd.DataFrame({"date": ["2026-02-01", "2026-02-02", "2026-02-05"], "rolling": ["30", "30", "40"]})
    >>> changes(lots, ["rolling"]).to_dict("records")
    [{'column': 'rolling', 'before': '30', 'after': '40', 'since': '2026-02-05', 'lots_before': 2, 'lots_after': 1}]
    """
    out = []
    for column in columns:
        known = units[(units[DATE] != "") & (units[column].fillna("").astype(str) != "")]
        by_day = known.astype({column: str}).groupby(DATE)[column]
        if (by_day.min() != by_day.max()).any():
            continue
        setting, lots = by_day.first(), by_day.size()
        run = (setting != setting.shift()).cumsum()
        if not 1 < run.max() <= MOST_CHANGES + 1:
            continue
        for now in range(2, int(run.max()) + 1):
            before, after = setting[run == now - 1], setting[run == now]
            counts = int(lots[before.index].sum()), int(lots[after.index].sum())
            out.append((column, before.iloc[0], after.iloc[0], after.index[0], *counts))
    names = ["column", "before", "after", "since", "lots_before", "lots_after"]
    return pd.DataFrame(out, columns=names)
