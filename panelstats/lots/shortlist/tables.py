"""The tables of a short list."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from scipy.special import stdtrit

from panelstats.lots.looksquares import PARTS
from panelstats.lots.shortlist import words
from panelstats.lots.shortlist.classday import NOTHING, THE_LOTS, THESE_POTS
from panelstats.lots.shortlist.ranking import FEWEST
from panelstats.scores.cells import CLASS, DESCRIPTOR, LOT, SESSION
from panelstats.words import percent

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from panelstats.lots.shortlist.classday import ClassDay
    from panelstats.lots.shortlist.ranking import Ranking

# Columns of what was found of the lots, by what holds them.
CHANCES = {"merit": "merit", "low": "low", "high": "high", "chance_best": "best", "chance_worst": "worst"}
FORECAST = [CLASS, DESCRIPTOR, "take", "looks", "share_right_now", "share_right_then"]
# A second look that gains less than this share of what the most useful gains is not told (ours).
NO_GAIN = 1e-3


def list_lines(ranking: Ranking) -> pd.DataFrame:
    """A row per ranked lot of one class and descriptor, the likeliest first."""
    day, d, found = ranking.day, ranking.d, ranking.found
    calls = ranking.calls
    columns = {
        CLASS: day.grid.lot_class,
        DESCRIPTOR: ranking.descriptor,
        LOT: ranking.names,
        "looks": day.looks[ranking.lots, :, d].sum(axis=1),
        "score": _mean(day, ranking.lots, d),
        **{name: np.nan if found is None else getattr(found, of) for name, of in CHANCES.items()},
        "listed": ranking.listed,
        "call": calls,
        "reason": _reasons(ranking, calls),
    }
    table = pd.DataFrame(columns)
    order = np.lexsort((ranking.names, -ranking.score, -np.nan_to_num(table["chance_best"]), ~ranking.listed))
    return table.iloc[order].reset_index(drop=True)


def _mean(day: ClassDay, lots: np.ndarray, d: int) -> np.ndarray:
    """Mean mark of each lot over its tasters, as on the sheets but for the day's line."""
    seen = day.looks[lots, :, d] > 0
    return np.where(seen, day.mean[lots, :, d], 0.0).sum(axis=1) / np.maximum(seen.sum(axis=1), 1)


def why_no_list(ranking: Ranking) -> str:
    """The key of the sentence that says why a class has no list; "" where it has one."""
    speaks = str(ranking.day.speaks[ranking.d])
    if ranking.passed:
        return ""
    if len(ranking.lots) < FEWEST:
        return "few"
    if speaks in (NOTHING, THESE_POTS):
        return speaks
    return "nobody out" if ranking.take >= len(ranking.lots) else "alike"


def _reasons(ranking: Ranking, calls: np.ndarray) -> list[str]:
    why = why_no_list(ranking)
    if ranking.found is None:
        return [words.REASONS[why].format(take=ranking.take)] * len(calls)
    chances = [percent(chance) for chance in ranking.found.best]
    return [
        words.REASONS[str(call)].format(take=ranking.take, chance=chance)
        for call, chance in zip(calls, chances, strict=True)
    ]


def again_lines(ranking: Ranking) -> pd.DataFrame:
    """Lots by what a second look is expected to gain, as far as it gains anything; none where there is no list."""
    if ranking.found is None:
        return EMPTY_AGAIN.copy()
    table = pd.DataFrame(
        {
            CLASS: ranking.day.grid.lot_class,
            DESCRIPTOR: ranking.descriptor,
            LOT: ranking.names,
            "gain": ranking.gains,
            "chance_best": ranking.found.best,
            "taster_advice": words.ADVICE_TASTER,
            "pot_advice": words.ADVICE_POT,
        }
    )
    table = table[table["gain"] >= NO_GAIN * table["gain"].max()]
    return table.sort_values(["gain", LOT], ascending=[False, True], kind="stable").reset_index(drop=True)


def forecast_lines(ranking: Ranking) -> pd.DataFrame:
    """How much of the list is right now, and after a batch of second looks."""
    front = [ranking.day.grid.lot_class, ranking.descriptor, ranking.take]
    return pd.DataFrame([[*front, *each] for each in ranking.forecasts], columns=FORECAST)


def class_lines(every: Sequence[Ranking]) -> pd.DataFrame:
    """The test that lots differ beyond one look, one row per class and descriptor."""
    rows = [
        [
            r.day.grid.lot_class, r.descriptor, len(r.lots), r.take, np.sqrt(r.observed), np.sqrt(r.error),
            np.sqrt(max(r.observed - r.error, 0.0)) if np.isfinite(r.error) else np.nan,
            r.observed / r.error if r.error > 0 else np.nan, len(r.lots) - 1, r.df, r.p, r.passed, r.lopsided,
        ]
        for r in every
    ]  # fmt: skip
    columns = [
        CLASS, DESCRIPTOR, "lots", "take", "score_sd", "error_sd", "lot_sd", "statistic", "df", "df_error", "p",
        "passed", "lopsided",
    ]  # fmt: skip
    return pd.DataFrame(rows, columns=columns)


def error_lines(day: ClassDay, level: float, *, today: bool) -> pd.DataFrame:
    """The error of one look of a class: for the tasters and pots that most of its lots had."""
    d = np.arange(len(day.grid.descriptors))
    scored = [tasters[tasters > 0] for tasters in day.tasters[day.ranked].T]
    tasters = np.array([int(np.median(some)) if len(some) else 0 for some in scored])
    lots = [_usual_lot(day, int(k)) for k in d]
    value, df = day.error.of(day.share[lots, d])
    with np.errstate(invalid="ignore"):
        reach = np.where(tasters > 0, stdtrit(df, (1 + level) / 2) * np.sqrt(value), np.nan)
    source = np.where(day.own_repeats, "today" if today else "room", "borrowed")
    source = np.where(day.speaks == THE_LOTS, source, day.speaks)
    return pd.DataFrame(
        {
            CLASS: day.grid.lot_class,
            DESCRIPTOR: day.grid.descriptors,
            "tasters": tasters,
            "pots": day.pots[lots, d],
            **{f"{part}_sd": sd for part, sd in zip(PARTS, day.error.sds.T, strict=True)},
            "df": df,
            "half_width": reach,
            "least_difference": np.sqrt(2) * reach,
            "source": source,
        }
    )


def _usual_lot(day: ClassDay, d: int) -> int:
    """A lot that had the number of tasters and pots that most had."""
    scored = np.flatnonzero(day.ranked & (day.tasters[:, d] > 0))
    if not len(scored):
        return 0
    pairs = np.column_stack([day.tasters[scored, d], day.pots[scored, d]])
    kinds, of, count = np.unique(pairs, axis=0, return_inverse=True, return_counts=True)
    return int(scored[np.flatnonzero(of.reshape(-1) == count.argmax())[0]]) if len(kinds) else 0


def day_lines(day: ClassDay) -> pd.DataFrame:
    """How the level moved along the row, a row per descriptor; none where no place was recorded."""
    line = day.line
    if line is None:
        return EMPTY_DAY.copy()
    return pd.DataFrame(
        {
            CLASS: day.grid.lot_class,
            DESCRIPTOR: day.grid.descriptors,
            "change": line.change,
            "low": line.low,
            "high": line.high,
            "factor": line.factor,
            "corrected": line.taken,
            "jumped": day.jumps.jumped if day.jumps is not None else False,
            "jump_p": day.jumps.p if day.jumps is not None else np.nan,
            **walk_taken(day),
            "basis": day.basis,
        }
    )


def walk_taken(day: ClassDay) -> dict[str, np.ndarray]:
    """The lowest and the highest level a walk took off the lots, and its usual standard error; NaN where none did."""
    walked = day.jumps.walked if day.jumps is not None else np.zeros(len(day.grid.descriptors), bool)
    seen, taken = (day.looks > 0)[day.ranked], day.taken[day.ranked]
    values = {
        "walk_low": np.where(seen, taken, np.inf).min(axis=(0, 1), initial=np.inf),
        "walk_high": np.where(seen, taken, -np.inf).max(axis=(0, 1), initial=-np.inf),
        "walk_error": np.sqrt(day.left[day.ranked].sum(axis=0) / max(day.ranked.sum(), 1)),
    }
    return {name: np.where(walked, value, np.nan) for name, value in values.items()}


EMPTY_AGAIN = pd.DataFrame(columns=[CLASS, DESCRIPTOR, LOT, "gain", "chance_best", "taster_advice", "pot_advice"])
EMPTY_DAY = pd.DataFrame(columns=[
    CLASS, DESCRIPTOR, "change", "low", "high", "factor", "corrected", "jumped", "jump_p", "walk_low", "walk_high",
    "walk_error", "basis",
])  # fmt: skip


def stacked(days: Sequence[ClassDay], tables: Iterable[pd.DataFrame]) -> pd.DataFrame:
    """One table; the session comes first where there are several."""
    parts, several = list(tables), len({day.grid.session for day in days}) > 1
    for day, part in zip(days, parts, strict=True):
        if several and len(part):
            part.insert(0, SESSION, day.grid.session)
    return pd.concat([part for part in parts if len(part)] or parts[:1], ignore_index=True)
