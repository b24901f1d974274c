"""The tables of a season: a row for each chart, what it says at the end, and every session of it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from scipy.special import stdtrit

from panelstats.models.charts import WEIGHT
from panelstats.panel.season.charted import AFTER, Charted
from panelstats.panel.season.moved import DRIFTING, JUMPED, LEVEL, MOVED, move
from panelstats.panel.season.words import APART, BASELINE_ONLY, CANNOT_TELL, CLOSE, NOT_TOGETHER, SPLIT, STEADY, WIDE
from panelstats.scores.cells import DESCRIPTOR, SESSION, TASTER
from panelstats.speech import Phrase, said

if TYPE_CHECKING:
    from panelstats.panel.season.crossedsince import CrossedSince
    from panelstats.panel.tasters.reference import Pool

LEVEL_CHART, CONTROLS, NOISE, AGREEMENT = "level", "controls", "noise", "agreement"
CHART, CALL, ALARM, REASON, MORE = "chart", "call", "alarm", "reason", "sessions_more"
SINCE, SINCE_LOW, SINCE_HIGH = "since", "since_low", "since_high"
CHANGE, LOW, HIGH, FLOOR, CEILING = "change", "low", "high", "floor", "ceiling"
VALUE, SE, SMOOTHED, PASSED = "value", "se", "smoothed", "passed"
AWAY = "away"
COLUMNS = [TASTER, DESCRIPTOR, CHART, CALL, ALARM, SINCE, SINCE_LOW, SINCE_HIGH, CHANGE, LOW, HIGH, FLOOR, CEILING,
           REASON, MORE, "attended", "baseline", "last", AWAY, "shape"]  # fmt: skip
# Also where a chart has no row: beside others its columns would make theirs text.
_NUMBERS = dict.fromkeys((CHANGE, LOW, HIGH, FLOOR, CEILING, MORE), float) | {"attended": int, "baseline": int}
MOVES = (DRIFTING, JUMPED, MOVED, APART)
# Of a taster's level from session to session, and the others'; p adjusted over tasters.
WANDERS = ("wander", "wander_low", "wander_high", "wander_others", "p_wander")
# Loss of agreement that matters, in Fisher's z: from a correlation of 0.85 to one of 0.64 (ours).
AGREEMENT_LOSS = 0.5
# Sessions missed in a row after which a taster's level is that of long ago (ours).
ABSENCES = 4
# Further sessions that are counted; beyond, more sessions are no way (ours).
MOST_SESSIONS = 60


@dataclass(frozen=True, eq=False)
class Judged:
    """Charts of one kind with all that their calls need.

    Attributes
    ----------
    kind : str
        level, controls, noise or agreement.
    charts : Charted
    tasters, columns : list of str
        Labels of the axes; "" for the whole panel, and for all descriptors together.
    floor, ceiling : ndarray, shape (column,)
        What change is tolerated, in the unit of the chart; infinite where one side has no limit.
    named : ndarray of bool, shape (taster, column)
        Alarms that may be told of the taster.
    reason : ndarray of str, shape (taster, column)
        Why other alarms are not told of anybody.
    """

    kind: str
    charts: Charted
    tasters: list[str]
    columns: list[str]
    floor: np.ndarray
    ceiling: np.ndarray
    named: np.ndarray
    reason: np.ndarray
    few: bool = False


def named_among(charts: Charted, size: int, *, together: np.ndarray | None = None) -> tuple[np.ndarray, np.ndarray]:
    """Whose alarms may be told, and why the others' may not; both (taster, column).

    Parameters
    ----------
    charts : Charted
    size : int
        Tasters who sat together.
    together : ndarray of bool, shape (taster, column), optional
        With three tasters: whether the other two kept together.
    """
    alarmed, reason = charts.alarmed, np.full(charts.alarmed.shape, "", dtype=object)
    if size <= 2:
        return alarmed, reason
    if size == 3:
        peak = np.where(alarmed, charts.peak, 0.0)
        first = alarmed & (np.arange(len(peak))[:, None] == peak.argmax(axis=0))
        named = first & (True if together is None else together)
        reason[alarmed & ~named] = NOT_TOGETHER
        reason[alarmed & ~named & named.any(axis=0)] = ""
        return named, reason
    still = alarmed & ~charts.out
    named = alarmed & charts.out & ~still.any(axis=0)
    reason[alarmed & ~named] = SPLIT
    return named, reason


def table_of(judged: Judged, sessions: np.ndarray) -> pd.DataFrame:
    """A row for each taster and descriptor."""
    rows = [
        _row(judged, sessions, i, c)
        for i in range(len(judged.tasters))
        for c in range(len(judged.columns))
        if judged.charts.attended[i, c]
    ]
    return pd.DataFrame(rows, columns=COLUMNS).astype(_NUMBERS)


def _row(judged: Judged, sessions: np.ndarray, i: int, c: int) -> dict[str, object]:
    charts = judged.charts
    smoothed, sd = charts.chart.level[:, i, c], charts.chart.sd[:, i, c]
    passed = np.flatnonzero(charts.passed[:, i, c])
    there = np.flatnonzero(np.isfinite(smoothed))
    row: dict[str, object] = {
        TASTER: judged.tasters[i], DESCRIPTOR: judged.columns[c], CHART: judged.kind, CALL: CANNOT_TELL,
        ALARM: str(sessions[passed[0]]) if len(passed) else "", SINCE: "", SINCE_LOW: "", SINCE_HIGH: "",
        CHANGE: np.nan, LOW: np.nan, HIGH: np.nan, FLOOR: unit(judged.kind, judged.floor[c]),
        CEILING: unit(judged.kind, judged.ceiling[c]), REASON: "", MORE: np.nan,
        "attended": int(charts.attended[i, c]), "baseline": int(charts.baseline[i, 0]),
        "last": str(sessions[np.flatnonzero(np.isfinite(charts.series.value[:, i, c]))[-1]]),
        AWAY: "", "shape": "",
    }  # fmt: skip
    if len(there) < AFTER or not np.isfinite(charts.limit):
        missing = charts.baseline[i, 0] + AFTER - charts.attended[i, c]
        return row | {REASON: BASELINE_ONLY, MORE: float(max(missing, 1))}
    now, error = float(smoothed[there[-1]]), float(sd[there[-1]])
    if len(passed) and judged.named[i, c]:
        found = move(charts.series.value[:, i, c], charts.variance[:, i, c], now=(now, error))
        ends = (found.since, found.since_low, found.since_high)
        return row | {CALL: APART if judged.few else found.call, "shape": found.call} | {
            name: str(sessions[at]) for name, at in zip((SINCE, SINCE_LOW, SINCE_HIGH), ends, strict=True)
        } | {name: unit(judged.kind, x) for name, x in zip((CHANGE, LOW, HIGH), (found.change, found.low, found.high),
                                                           strict=True)}  # fmt: skip
    reach = float(stdtrit(_df(charts, i, c), (1 + LEVEL) / 2)) * error
    row |= {name: unit(judged.kind, x) for name, x in zip((CHANGE, LOW, HIGH), (now, now - reach, now + reach),
                                                          strict=True)}  # fmt: skip
    if len(passed) and judged.reason[i, c]:
        return row | {REASON: judged.reason[i, c]}
    if judged.floor[c] < now - reach and now + reach < judged.ceiling[c]:
        return row | {CALL: STEADY}
    more = _sessions_more(charts, i, c, now, (judged.floor[c], judged.ceiling[c]))
    return row | {REASON: CLOSE if np.isinf(more) and reach < judged.ceiling[c] / 2 else WIDE, MORE: more}


def with_absences(table: pd.DataFrame, sessions: list[str]) -> pd.DataFrame:
    """The table with the last session of whoever missed so many since; "" of who still comes."""
    last = table["last"].map(sessions.index).groupby(table[TASTER]).transform("max")
    return table.assign(**{AWAY: [sessions[at] if len(sessions) - 1 - at >= ABSENCES else "" for at in last]})


def unit(kind: str, value: float) -> float:
    """A change as it is told: a ratio of standard deviations for noise, as it is for the rest."""
    return float(np.exp(value / 2)) if kind == NOISE else float(value)


def _df(charts: Charted, i: int, c: int) -> float:
    return float(max(charts.series.df[i, c], 1.0)) if charts.series.df is not None else float("inf")


def _sessions_more(charts: Charted, i: int, c: int, now: float, ends: tuple[float, float]) -> float:
    """Sessions, as precise as the usual one, until the interval would lie inside; inf where they do not do."""
    variance = charts.variance[:, i, c][np.isfinite(charts.series.value[:, i, c])]
    t = charts.attended[i, c] - charts.baseline[i, 0] + np.arange(1, MOST_SESSIONS + 1)
    faded = (1 - WEIGHT) ** t
    left = WEIGHT / (2 - WEIGHT) * (1 - faded**2) / (1 - faded) ** 2
    sd = np.sqrt(np.median(variance) * left + charts.chart.baseline_variance[i, c])
    reach = stdtrit(_df(charts, i, c), (1 + LEVEL) / 2) * sd
    able = (ends[0] < now - reach) & (now + reach < ends[1])
    return float(able.argmax() + 1) if able.any() else float("inf")


def series_table(judged: Judged, sessions: np.ndarray) -> pd.DataFrame:
    """Every attended session of every chart: the value less the baseline, and the smoothed level with its interval."""
    charts = judged.charts
    session, taster, column = np.nonzero(np.isfinite(charts.series.value))
    at = (session, taster, column)
    center = charts.chart.baseline[taster, column]
    df = np.inf if charts.series.df is None else np.maximum(charts.series.df, 1.0)[taster, column]
    reach = stdtrit(df, (1 + LEVEL) / 2) * charts.chart.sd[at]
    smoothed = charts.chart.level[at]
    told = [charts.series.value[at] - center, smoothed, smoothed - reach, smoothed + reach]
    se = np.sqrt(charts.variance[at])
    if judged.kind == NOISE:
        told = [np.exp(x / 2) for x in told]
        se = se / 2 * told[0]
    names = (VALUE, SMOOTHED, LOW, HIGH)
    return pd.DataFrame(
        {
            TASTER: np.array(judged.tasters, dtype=object)[taster],
            DESCRIPTOR: np.array(judged.columns, dtype=object)[column],
            CHART: judged.kind,
            SESSION: sessions[session],
            SE: se,
            **dict(zip(names, told, strict=True)),
            PASSED: charts.passed[at],
        }
    )[[TASTER, DESCRIPTOR, CHART, SESSION, VALUE, SE, SMOOTHED, LOW, HIGH, PASSED]]


def crossed_table(found: list[CrossedSince], pool: Pool) -> pd.DataFrame:
    """A row for each taster whose word goes with another word of the others."""
    names = [TASTER, DESCRIPTOR, "other", "kind", "own", "across", SINCE, SINCE_LOW, SINCE_HIGH]
    rows = [
        (pool.tasters[each.found.taster], pool.descriptors[each.found.word], pool.descriptors[each.found.other],
         each.found.kind, each.found.own, each.found.across,
         *(pool.sessions[at] for at in (each.since, each.since_low, each.since_high)))
        for each in found
    ]  # fmt: skip
    return pd.DataFrame(rows, columns=names)


def orders(judged: dict[str, Judged], table: pd.DataFrame, sessions: np.ndarray) -> dict[str, tuple[float, float]]:
    """Correlation with the others before and since, of each taster whose agreement fell.

    Of a fall from the first session on, that of the baseline and that of the sessions after it.
    """
    fallen = table[(table[CHART] == AGREEMENT) & table[CALL].isin(MOVES)]
    out = {}
    for name, since in zip(fallen[TASTER], fallen[SINCE], strict=True):
        plain = judged[AGREEMENT].charts.series.plain
        assert plain is not None  # noqa: S101 - agreement keeps it
        who, charts = judged[AGREEMENT].tasters.index(name), judged[AGREEMENT].charts
        z, at = plain[:, who, 0], list(sessions).index(since)
        seen = np.flatnonzero(np.isfinite(z))
        at = at if at > seen[0] else int(seen[int(charts.baseline[who, 0])])
        before, after = (float(np.tanh(np.nanmean(part))) for part in (z[:at], z[at:]))
        out[str(name)] = before, after
    return out


def summary_of(
    table: pd.DataFrame, crossed: pd.DataFrame, sessions: list[str], wanders: dict[str, tuple[float, ...]]
) -> pd.DataFrame:
    """A row for each taster: what moved, what is steady, what is open, how far the level wanders between sessions."""
    rows = []
    for name, mine in table[table[TASTER] != ""].groupby(TASTER, sort=False):
        moves = mine[mine[CALL].isin(MOVES) & (mine[CHART] != CONTROLS)]
        hidden = mine[mine[CALL].isin(MOVES) & (mine[CHART] == CONTROLS) & ~mine[DESCRIPTOR].isin(moves[DESCRIPTOR])]
        told = [
            Phrase("{part}: {call} since {since}").format(
                part=row[DESCRIPTOR] or said(str(row[CHART])), call=said(str(row[CALL])), since=row[SINCE]
            )
            for _, row in moves.iterrows()
        ]
        told += [
            Phrase("{descriptor} on controls: {call} since {since}").format(
                descriptor=row[DESCRIPTOR], call=said(str(row[CALL])), since=row[SINCE]
            )
            for _, row in hidden.iterrows()
        ]
        words = crossed[crossed[TASTER] == name]
        told += [
            Phrase("{descriptor} and {other}: {kind} since {since}").format(
                descriptor=row[DESCRIPTOR], other=row["other"], kind=said(str(row["kind"])), since=row[SINCE]
            )
            for _, row in words.iterrows()
        ]
        rest = mine[(mine[CHART] != CONTROLS) & ~mine[CALL].isin(MOVES)]
        steady = int((rest[CALL] == STEADY).sum())
        first = [*moves[CALL], *["crossed words"] * len(words), *hidden[CALL], ""]
        rows.append((name, int(mine["attended"].max()), max(mine["last"], key=sessions.index), first[0] or
                     (STEADY if 2 * steady >= len(rest) else CANNOT_TELL), "; ".join(told), steady,
                     len(rest) - steady, *wanders.get(str(name), (np.nan,) * len(WANDERS)),
                     mine[AWAY].iloc[0]))  # fmt: skip
    return pd.DataFrame(rows, columns=[TASTER, "sessions", "last", CALL, "moves", STEADY, "open", *WANDERS, AWAY])
