"""Each week's blend against the sealed master: a chain of matches is not a match."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from scipy.special import stdtrit

from panelstats.arguments import checked
from panelstats.errors import DesignError
from panelstats.lots.standard.beside import (
    BREWS,
    DF,
    DIFFERENCE,
    LOOKS_BEHIND,
    SE,
    beside_standard,
    over_all,
)
from panelstats.lots.standard.matchtolerance import TOLERANCE, TOLERANCE_FROM, lots_asked, tolerances
from panelstats.lots.track.weekcalls import call_of, master_verdict, tracking_verdicts
from panelstats.lots.track.weeklychart import (
    WEEKS,
    WeeklyChart,
    WeeklyErrors,
    chart_weeks,
    newest_inside,
    pooled_errors,
)
from panelstats.lots.track.words import CREEPING, LEFT, METHOD, ON, STRONG_RATE, WANDER_RATE
from panelstats.result import Chart, Result, chart_rows, in_order, mark_by_call, of_descriptor
from panelstats.scores.cells import DESCRIPTOR, LOT, ROLE, SESSION, cells_from
from panelstats.speech import Phrase
from panelstats.words import stated, stated_percent

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from panelstats.result import Verdict
    from panelstats.scores.cells import Cells
    from panelstats.scores.table import Scores

LOW, HIGH, LEVEL, SD, Z, ALARM = "low", "high", "smoothed", "sd", "z", "alarm"


@dataclass(frozen=True, eq=False, repr=False, kw_only=True)
class StandardTrack(Result):
    """Answer of `track_standard`.

    Attributes
    ----------
    standard : str
    table : DataFrame
        session, lot, descriptor, difference (blend less master, points), se (pooled over weeks, steadied over
        descriptors), low, high (Student's t), smoothed (weighted mean of the weeks so far), sd, z, alarm (beyond the
        limit, either way), df (of se), se_own (the week's own), brews (shared pots behind it; 0 where each taster had
        his own).
    summary : DataFrame
        descriptor, call (on the standard, creeping, left the standard, cannot tell), smoothed, low, high, tolerance,
        tolerance_from, since (session from which the alarm stands, "" if none), weeks, past_alarms (sessions of
        alarms that have ended).
    distances : DataFrame
        session, lot, distance, low, high: root mean square difference per descriptor, week by week.
    limit : float
        Of ``|z|``, for all descriptors and weeks to the planned end together.
    level : float
    """

    standard: str
    table: pd.DataFrame
    summary: pd.DataFrame
    distances: pd.DataFrame
    limit: float
    level: float

    def chart(self, descriptor: str | None = None) -> Chart:
        """Where each descriptor stands after the last week; of one descriptor, all its weeks."""
        now = of_descriptor(self.summary, descriptor)
        marks = [
            mark_by_call(*row, within={ON}, outside={LEFT, CREEPING})
            for row in zip(now["call"], now["smoothed"], strict=True)
        ]
        sure = stated_percent(self.level)
        if descriptor is None:
            since = [Phrase(", since {when}").format(when=when) if when else "" for when in now["since"]]
            said = now["call"].astype(str) + since
            rows = chart_rows(now[DESCRIPTOR], marks=marks, notes=said, value=now["smoothed"], low=now["low"],
                              high=now["high"], floor=-now["tolerance"], ceiling=now["tolerance"])  # fmt: skip
            words = Phrase("the smoothed level after the last week, with its {sure} interval").format(sure=sure)
            return Chart(
                Phrase("The blend after the last week"),
                Phrase("blend less {standard}, smoothed (points)").format(standard=self.standard),
                rows,
                words,
                0.0,
            )
        weeks, size = of_descriptor(self.table, descriptor), float(now["tolerance"].iloc[0])
        rows = chart_rows(weeks[SESSION], value=weeks["difference"], low=weeks["low"], high=weeks["high"],
                          level=weeks["smoothed"], floor=-size, ceiling=size)  # fmt: skip
        words = Phrase("each week with its {sure} interval; the line is the smoothed level").format(sure=sure)
        return Chart(
            descriptor,
            Phrase("{descriptor}: blend less {standard} (points)").format(
                descriptor=descriptor, standard=self.standard
            ),
            rows,
            words,
            0.0,
            along=SESSION,
        )


@checked()
def track_standard(
    scores: Scores | Cells,
    standard: str,
    *,
    lots: Sequence[str] | None = None,
    tolerance: float | Mapping[str, float] | None = None,
    pots: str | Mapping[str, str] | None = None,
    weeks: int = WEEKS,
    false_alarm: float = 0.05,
    level: float = 0.95,
    seed: int = 0,
) -> StandardTrack:
    """Chart each week's blend against the sealed master.

    Parameters
    ----------
    scores : Scores or Cells
        Sessions in which the master and that week's blend were tasted together; trainees do not count.
    standard : str
        The sealed master.
    lots : sequence of str, optional
        The blend of each week, one a session; by default the lots of role "trial".
    tolerance, pots
        As for `match_standard`.
    weeks : int
        Weeks to the end of the season; the limit holds for all of them.
    false_alarm : float in (0, 1)
        Chance of any alarm on any descriptor in all weeks while the blend stays on the master.

    Raises
    ------
    DesignError
        The master is no lot, several blends stand in one session, or none was tasted beside it.

    Notes
    -----
    Each week's difference comes from that session's own model, pots included; its error is pooled over the weeks and
    steadied over four descriptors or more. The weeks are smoothed with weight 0.2 and precision 1/(se^2 + w^2), target
    0, w^2 the variance between weeks from successive differences. The limit is simulated for the timetable at hand, the
    errors estimated as they are here, neighbouring weeks alike as far as a correlation of 0.3. "On the standard" also
    needs the newest three weeks alone to lie inside the tolerance (Schuirmann 1987).

    Examples
    --------
    >>> import panelstats as pst
    >>> room = pst.example.blends()
    >>> found = track_standard(pst.read_scores(room.frame, room=room.registers), "S", lots=["B1"])
    >>> sorted(set(found.summary["call"]))
    ['cannot tell']
    """
    cells = cells_from(scores, pots)
    asked = list(lots) if lots is not None else lots_asked(cells, standard)
    found = beside_standard(cells, standard, asked, level=level)
    rows = found.rows[found.rows[SE] > 0]
    if rows.empty:
        raise DesignError("no blend was tasted beside the master", where=f"standard={standard!r}, lots {asked[:6]}",
                          do="taste the week's blend and the master in one session")  # fmt: skip
    _one_a_session(rows)
    found_weeks = _Weeks.of(rows, weeks=weeks, false_alarm=false_alarm, seed=seed)
    chart, table = found_weeks.chart, _table(found_weeks, level)
    sizes = tolerances(scores, cells, standard, tolerance)
    summary = _summary(table, found_weeks, sizes, level)
    return StandardTrack(
        standard=standard,
        table=table,
        summary=summary,
        distances=pd.DataFrame(
            [(*key, *over_all(found, mine, standard, level)) for key, mine in rows.groupby([SESSION, LOT], sort=False)],
            columns=[SESSION, LOT, "distance", LOW, HIGH],
        ),
        limit=chart.limit,
        level=level,
        verdicts=in_order([*tracking_verdicts(table, summary, standard, level), *_masters(cells, standard, level)]),
        method=METHOD.format(
            limit=stated(chart.limit, ".2f"),
            weeks=weeks,
            risk=stated_percent(false_alarm),
            wander=WANDER_RATE,
            strong=STRONG_RATE,
        ),
    )


def _one_a_session(rows: pd.DataFrame) -> None:
    several = rows.groupby(SESSION)[LOT].nunique()
    if (several > 1).any():
        session = several.index[several > 1][0]
        names = rows.loc[rows[SESSION] == session, LOT].unique()
        raise DesignError(
            "several blends stand beside the master in one session", where=f"session {session}: {', '.join(names[:6])}",
            do="name the blend of each week: lots=[...]",
        )  # fmt: skip


def _wide(rows: pd.DataFrame, value: str) -> np.ndarray:
    """Array (week, descriptor) in the order the rows stand."""
    sessions, descriptors = rows[SESSION].unique(), rows[DESCRIPTOR].unique()
    wide = rows.pivot_table(index=SESSION, columns=DESCRIPTOR, values=value, observed=True)
    return wide.reindex(index=sessions, columns=descriptors).to_numpy(float)


@dataclass(frozen=True, eq=False)
class _Weeks:
    """The weeks of all descriptors: their rows with pooled errors, and the chart made of them."""

    rows: pd.DataFrame
    errors: WeeklyErrors
    chart: WeeklyChart

    @staticmethod
    def of(rows: pd.DataFrame, *, weeks: int = WEEKS, false_alarm: float = 0.05, seed: int = 0) -> _Weeks:
        """Pool the errors of the rows, and chart them."""
        difference, own, df, size = (_wide(rows, name) for name in (DIFFERENCE, SE, DF, LOOKS_BEHIND))
        errors = pooled_errors(own, df, size)
        chart = chart_weeks(difference, errors.se, df=errors.df, weeks=weeks, false_alarm=false_alarm, seed=seed)
        return _Weeks(rows, errors, chart)


def _table(found: _Weeks, level: float) -> pd.DataFrame:
    rows, chart = found.rows, found.chart
    week = pd.Index(rows[SESSION].unique()).get_indexer(rows[SESSION])
    column = pd.Index(rows[DESCRIPTOR].unique()).get_indexer(rows[DESCRIPTOR])
    smoothed, sd = chart.smoothed[week, column], chart.sd[week, column]
    se, df = found.errors.se[week, column], found.errors.df[column]
    reach = stdtrit(np.maximum(df, 1.0), (1 + level) / 2) * se
    out = rows[[SESSION, LOT, DESCRIPTOR, DIFFERENCE]].assign(
        **{SE: se, LOW: rows[DIFFERENCE] - reach, HIGH: rows[DIFFERENCE] + reach, LEVEL: smoothed, SD: sd},
        **{
            Z: smoothed / sd,
            ALARM: np.abs(smoothed / sd) > chart.limit,
            DF: df,
            "se_own": rows[SE],
            BREWS: rows[BREWS],
        },
    )
    return out.reset_index(drop=True)


def _summary(table: pd.DataFrame, found: _Weeks, sizes: pd.DataFrame, level: float) -> pd.DataFrame:
    out = []
    for (name, mine), between in zip(table.groupby(DESCRIPTOR, sort=False), found.chart.between, strict=True):
        last, df = mine.iloc[-1], float(mine[DF].iloc[-1])
        reach = float(stdtrit(max(df, 1.0), (1 + level) / 2)) * last[SD]
        size, whose = float(sizes[TOLERANCE][str(name)]), sizes[TOLERANCE_FROM][str(name)]
        weeks = mine[DIFFERENCE].to_numpy(float), mine[SE].to_numpy(float)
        call = call_of(
            last[LEVEL] - reach,
            last[LEVEL] + reach,
            size,
            alarm=bool(last[ALARM]),
            weeks=len(mine),
            newest=newest_inside(*weeks, df, float(between), size, level),
            one_brew=bool((mine[BREWS] == 1).all()),
        )
        standing, past = _alarms(mine)
        out.append((name, call, last[LEVEL], last[LEVEL] - reach, last[LEVEL] + reach, size, whose, standing, len(mine),
                    past))  # fmt: skip
    names = [DESCRIPTOR, "call", LEVEL, LOW, HIGH, TOLERANCE, TOLERANCE_FROM, "since", "weeks", "past_alarms"]
    return pd.DataFrame(out, columns=names)


def _alarms(mine: pd.DataFrame) -> tuple[str, str]:
    """The session from which an alarm stands, and the sessions of alarms that have ended."""
    alarm, session = mine[ALARM].to_numpy(bool), mine[SESSION].astype(str).to_numpy()
    standing = int(alarm[::-1].cumprod().sum())
    ended = session[: len(alarm) - standing][alarm[: len(alarm) - standing]]
    return (session[-standing] if standing else ""), ", ".join(ended)


def _masters(cells: Cells, standard: str, level: float) -> list[Verdict]:
    """Verdicts on other masters tasted beside this one: one that moves from the other may be ageing."""
    roles = cells.lots[cells.lots[ROLE] == "standard"]
    out = []
    for other in roles[LOT].astype(str):
        if other == standard:
            continue
        rows = beside_standard(cells, standard, [other], level=level).rows
        rows = rows[rows[SE] > 0]
        if len(rows):
            out.append(master_verdict(_table(_Weeks.of(rows), level), standard, other))
    return out
