"""Auditing each taster's consistency over a season: who has moved, since when, by how much, and what cannot be seen."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from panelstats.arguments import checked
from panelstats.errors import DesignError
from panelstats.panel.season.alongrow import NOTHING_KNOWN, SPREAD, row_effects
from panelstats.panel.season.cautions import caution_verdicts
from panelstats.panel.season.charted import AFTER, SHORT_BASELINE
from panelstats.panel.season.crossedsince import crossed_since
from panelstats.panel.season.drift import tasters_drift
from panelstats.panel.season.driftverdicts import drift_verdicts
from panelstats.panel.season.firstsessions import moving_baselines
from panelstats.panel.season.halfverdicts import half_verdicts
from panelstats.panel.season.halves import half_by_half
from panelstats.panel.season.judging import Asked, judge
from panelstats.panel.season.rowverdicts import row_verdicts
from panelstats.panel.season.rowwords import METHOD as ROW_METHOD
from panelstats.panel.season.rowwords import SPREAD_METHOD
from panelstats.panel.season.ruling import rulings
from panelstats.panel.season.rulingverdicts import ruling_verdicts
from panelstats.panel.season.seasoncharts import season_chart
from panelstats.panel.season.seasonmethod import limits_table, method_of
from panelstats.panel.season.seasonverdicts import (
    alone_verdict,
    baseline_verdicts,
    crossed_verdicts,
    moved_verdicts,
    panel_verdicts,
    split_verdicts,
    steady_verdict,
)
from panelstats.panel.season.tables import (
    AWAY,
    LEVEL_CHART,
    MOVES,
    Judged,
    crossed_table,
    orders,
    series_table,
    summary_of,
    table_of,
    with_absences,
)
from panelstats.panel.season.until import sessions_until
from panelstats.panel.season.wander import by_taster, wander
from panelstats.panel.season.words import DRIFT_METHOD, HALVES_METHOD
from panelstats.panel.tasters.declared import tolerances
from panelstats.panel.tasters.fit import TRAINEE
from panelstats.panel.tasters.reference import Pool, pool_of
from panelstats.result import Chart, Result, Verdict, in_order
from panelstats.scores.cells import LOT, ROLE, SESSION, TASTER, Cells, cells_from
from panelstats.speech import Phrase

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from panelstats.scores.table import Scores


@dataclass(frozen=True, eq=False, repr=False, kw_only=True)
class SeasonAudit(Result):
    """Answer of `audit_season`.

    Attributes
    ----------
    table : DataFrame
        taster ("" for the whole panel), descriptor ("" over all), chart (level / controls / noise / agreement), call
        (steady / drifting / jumped / moved / moved apart / cannot tell), alarm (the session of the first, "" for
        none), since, since_low, since_high (the session of a move, and between which it lies), change, low, high (of
        a move; else the smoothed level at the end less the baseline), floor, ceiling (what is tolerated), reason (why
        it cannot be told), sessions_more (that would tell; inf: sessions will not), attended, baseline, last, away
        (the taster's last session, of who missed four or more since; "" of who still comes), shape. Units: level and
        controls in points; noise as a multiple of the standard deviation; agreement in Fisher's z.
    series : DataFrame
        taster, descriptor, chart, session, value (less the baseline), se (sessions included), smoothed, low, high (its
        interval), passed (beyond the limit).
    summary : DataFrame
        taster, sessions, last, call (the first that matters), moves, steady, open, wander, wander_low, wander_high
        (standard deviation of the level between sessions beyond its error, in points, descriptors together),
        wander_others, p_wander (of wandering no more than they; Holm over tasters), away.
    crossed_words : DataFrame
        taster, descriptor, other, kind (swapped / follows / one impression), own, across, since, since_low,
        since_high.
    row : DataFrame
        taster ("" for the whole panel), descriptor, effect (place in the row: points in ten cups; the lot before:
        points after a lot that is one point higher; spread along the row: times the spread of repeats ten cups on),
        estimate, low, high (95 %), df, p, p_adjusted, sessions. Empty where no place is known, or where all tasters had
        one order.
    halves : DataFrame
        Repeats of the second half of the season against the first: taster, descriptor ("" over all), first, second
        (standard deviation in points; over all, as a multiple of the panel's), ratio, low, high, df_first, df_second,
        p, p_adjusted, since (the first session of the second half). Empty without repeats.
    drift : DataFrame
        Whether tasters drift at all, in points over ten sessions against the whole panel: descriptor ("" for the mean
        of all), spread (standard deviation of the tasters' trends), low, high, tasters, df_error, p, p_rest (without
        the charts that alarmed, where these are few; adjusted), p_adjusted.
    trends : DataFrame
        taster, descriptor, slope, low, high, shrunken (to the panel's, by what its error leaves), shrunken_low,
        shrunken_high.
    rulings : DataFrame
        Where tasters have moved apart and controls were served: descriptor, taster, since (the step of the level that
        alarmed), change of the mean on controls, low, high, z, bound (on its size, 5 % over the tasters).
    limits : DataFrame
        chart, limit (standard deviations), false_alarm (its share), alike (correlation of neighbouring sessions that
        the limit allows for), between_low, between_high (standard deviation between sessions beyond the errors, over
        descriptors).
    """

    table: pd.DataFrame
    series: pd.DataFrame
    summary: pd.DataFrame
    crossed_words: pd.DataFrame
    row: pd.DataFrame
    halves: pd.DataFrame
    drift: pd.DataFrame
    trends: pd.DataFrame
    rulings: pd.DataFrame
    limits: pd.DataFrame

    def chart(self, descriptor: str | None = None, *, taster: str | None = None, kind: str = LEVEL_CHART) -> Chart:
        """The largest change of each taster; of one descriptor; with `taster` too, its sessions."""
        return season_chart(self.table, self.series, descriptor, taster, kind)


@checked()
def audit_season(
    scores: Scores | Cells,
    *,
    baseline: int = 8,
    controls: Sequence[str] | None = None,
    false_alarm: float = 0.05,
    until: str | None = None,
    seed: int = 0,
    progress: Callable[[str], None] | None = None,
) -> SeasonAudit:
    """Say of every senior taster who has moved over a season, since when, and by how much.

    Parameters
    ----------
    scores : Scores or Cells
        The sessions of a season, in their order; lots need not recur. Trainees are left out: they are meant to move.
    baseline : int
        First sessions of each taster, 5 or more, that say what is usual; who came late has 5.
    controls : sequence of str, optional
        Lots served hidden again and again; by default those of role "control".
    false_alarm : float in (0, 1)
        Chance of any alarm in the whole panel and season if nobody moves.
    until : str, optional
        A session or a date: the answer as it stood then.
    seed : int
        Of the simulations that find the limits.
    progress : callable, optional
        Told each kind of chart before it is made.

    Raises
    ------
    DesignError
        Nothing was scored by a senior, a baseline below 5, or no session up to `until`.

    Notes
    -----
    Level, noise and agreement are charted as smoothed means weighted by precision, each against the taster's own
    baseline, with limits simulated for the timetable at hand (NIST/SEMATECH e-Handbook, section 6.3.2.4; Lucas &
    Saccucci 1990, Technometrics 32: 1; Sidak 1967). Against one another nothing shows of what all do together: hidden
    controls do.

    Examples
    --------
    >>> import numpy as np, pandas as pd, panelstats as pst
    >>> rng = np.random.default_rng(3)
    >>> rows = [(f"2031-{1 + week // 4:02d}-{1 + 7 * (week % 4):02d}", f"{week}-{lot}", taster,
    ...          5 + lot / 4 + (taster == "yew") * (week >= 12) + rng.normal(0, 0.4))
    ...         for week in range(24) for lot in range(6) for taster in ("elm", "yew", "larch", "beech", "alder")]
    >>> sheet = pd.DataFrame(rows, columns=["session", "lot", "taster", "strength"]).round(1)
    >>> found = pst.audit_season(pst.read_scores(sheet))
    >>> found.table.query("call == 'jumped'")[["taster", "descriptor", "since"]].to_string(index=False, header=False)
    'yew strength 2031-04-01'
    """
    if baseline < SHORT_BASELINE:
        raise DesignError("too short a baseline", where=f"baseline={baseline}", do="take 5 sessions or more, better 8")
    tell = progress or (lambda _: None)
    tell("season: cells")
    cells = _seniors(cells_from(scores))
    sessions = sessions_until(cells.sessions, until)
    cells = cells.where(cells.frame[SESSION].isin(sessions).to_numpy())
    pool = pool_of(cells)
    if not len(pool.lots):
        raise DesignError("nothing was scored by a senior", where="scores", do="check what was selected, and the roles")
    asked = Asked(pool, tolerances(cells, pool, None), _controls(cells, pool, controls), baseline, false_alarm, seed)
    judged, unlinked = judge(asked, tell)
    table = pd.concat([table_of(each, pool.sessions) for each in judged.values()], ignore_index=True)
    table = with_absences(table, [str(name) for name in pool.sessions])
    wanders = wander(judged[LEVEL_CHART].charts) if LEVEL_CHART in judged else None
    least = asked.least
    kept = ~judged[LEVEL_CHART].charts.out if LEVEL_CHART in judged else np.ones(pool.mean.shape[1:], bool)
    tell("season: words")
    found = crossed_since(pool, kept, cells, least=least) if least > 1 and len(pool.tasters) > 2 else []
    crossed = crossed_table(found, pool)
    limits = limits_table(judged, asked)
    row = NOTHING_KNOWN
    ruled = rulings(judged, table, pool.sessions)
    halves = half_by_half(pool)
    drift = tasters_drift(judged.get(LEVEL_CHART))
    tell(Phrase("season: the row"))
    if not isinstance(scores, Cells):  # cells no longer know the places
        row = row_effects(scores.select(session=set(sessions)), [str(name) for name in pool.tasters], cells)
    spread = row.table[row.table["effect"] == SPREAD]
    besides = ((ROW_METHOD, row.table), (SPREAD_METHOD, spread), (HALVES_METHOD, halves), (DRIFT_METHOD, drift.spread))
    how = [method_of(asked, judged, limits), *(told for told, rows in besides if len(rows))]
    return SeasonAudit(
        verdicts=in_order(
            [
                *_verdicts(asked, judged, table, crossed, unlinked),
                *ruling_verdicts(ruled),
                *row_verdicts(row),
                *half_verdicts(halves),
                *drift_verdicts(drift.spread),
                *caution_verdicts(judged, wanders),
            ]
        ),
        method=" ".join(map(str, how)),
        table=table,
        series=pd.concat([series_table(each, pool.sessions) for each in judged.values()], ignore_index=True),
        summary=summary_of(table, crossed, [str(name) for name in pool.sessions], by_taster(wanders, pool.tasters)),
        crossed_words=crossed,
        row=row.table,
        halves=halves,
        drift=drift.spread,
        trends=drift.trends,
        rulings=ruled,
        limits=limits,
    )


def _seniors(cells: Cells) -> Cells:
    if ROLE not in cells.tasters:
        return cells
    seniors = set(cells.tasters.loc[cells.tasters[ROLE].astype(str) != TRAINEE, TASTER])
    return cells.where(cells.frame[TASTER].isin(seniors).to_numpy())


def _controls(cells: Cells, pool: Pool, asked: Sequence[str] | None) -> list[str]:
    """Controls that were met in two sessions or more."""
    if asked is None:
        asked = list(cells.lots.loc[cells.lots[ROLE] == "control", LOT].astype(str)) if ROLE in cells.lots else []
    return [name for name in asked if len(set(pool.session[pool.lots == name])) > 1]


def _verdicts(
    asked: Asked, judged: dict[str, Judged], table: pd.DataFrame, crossed: pd.DataFrame, unlinked: list[str]
) -> list[Verdict]:
    pool, source = asked.pool, asked.source
    of_tasters = table[table[TASTER] != ""]
    movers = {*of_tasters.loc[of_tasters["call"].isin(MOVES), TASTER], *crossed[TASTER]}
    steady = [
        steady_verdict(
            str(name),
            rows,
            noise=source,
            needed=int(rows["baseline"].min()) + AFTER,
            moved=name in movers,
            away=str(rows[AWAY].iloc[0]),
        )
        for name, rows in of_tasters.groupby(TASTER, sort=False)
    ]
    return [
        *([alone_verdict(str(pool.tasters[0]), followed=bool(asked.controls))] if len(pool.tasters) == 1 else []),
        *moved_verdicts(table, orders(judged, table, pool.sessions), crossed, size=asked.size, noise=source),
        *crossed_verdicts(crossed),
        *split_verdicts(table),
        *(
            baseline_verdicts(moving_baselines(level.charts), level.tasters, level.columns)
            if (level := judged.get(LEVEL_CHART)) is not None
            else []
        ),
        *(verdict for verdict in steady if verdict is not None),
        *panel_verdicts(table, [name for name in asked.controls if name not in unlinked], unlinked),
    ]
