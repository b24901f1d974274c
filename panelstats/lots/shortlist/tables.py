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
    from collections.abc import Sequence

    from panelstats.lots.shortlist.classday import ClassDay
    from panelstats.lots.shortlist.ranking import Ranking

# A second look that gains less than this share of what the most useful gains is not told (ours).
NO_GAIN = 1e-3


def list_lines(ranking: Ranking) -> pd.DataFrame:
    """A row per ranked lot of one class and descriptor, the likeliest first."""
    day, d, found = ranking.day, ranking.d, ranking.found
    blank = np.full(len(ranking.lots), np.nan)
    calls = ranking.calls
    columns = {
        CLASS: day.grid.lot_class,
        DESCRIPTOR: ranking.descriptor,
        LOT: ranking.names,
        "looks": day.looks[ranking.lots, :, d].sum(axis=1),
        "score": _mean(day, ranking.lots, d),
        "merit": blank if found is None else found.merit,
        "low": blank if found is None else found.low,
        "high": blank if found is None else found.high,
        "chance_best": blank if found is None else found.best,
        "chance_worst": blank if found is None else found.worst,
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
    return pd.DataFrame([[*front, *each] for each in ranking.forecasts], columns=EMPTY_FORECAST.columns)


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
    usual = [int(np.median(day.tasters[day.ranked, k][day.tasters[day.ranked, k] > 0])) for k in d if day.ranked.any()]
    lots = [_usual_lot(day, int(k)) for k in d]
    value, df = day.error.of(day.share[lots, d])
    with np.errstate(invalid="ignore"):
        reach = stdtrit(df, (1 + level) / 2) * np.sqrt(value)
    source = np.where(day.own_repeats, "today" if today else "room", "borrowed")
    source = np.where(day.speaks == THE_LOTS, source, day.speaks)
    return pd.DataFrame(
        {
            CLASS: day.grid.lot_class,
            DESCRIPTOR: day.grid.descriptors,
            "tasters": usual or 0,
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
EMPTY_FORECAST = pd.DataFrame(columns=[CLASS, DESCRIPTOR, "take", "looks", "share_right_now", "share_right_then"])
EMPTY_DAY = pd.DataFrame(columns=[
    CLASS, DESCRIPTOR, "change", "low", "high", "factor", "corrected", "jumped", "jump_p", "walk_low", "walk_high",
    "walk_error", "basis",
])  # fmt: skip


def stacked(parts: Sequence[tuple[str, pd.DataFrame]], *, sessions: bool) -> pd.DataFrame:
    """One table of all parts; the session first where there are several, the class left out where there is none."""
    full = [part for _, part in parts if len(part)] or [part for _, part in parts][:1]
    named = [table.assign(**{SESSION: session}) if sessions else table for session, table in parts if len(table)]
    table = pd.concat(named or full, ignore_index=True)
    front = [SESSION] if sessions and SESSION in table else []
    return table[[*front, *[name for name in table.columns if name not in front]]]
