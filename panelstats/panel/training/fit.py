"""When a trainee's scores may count: a licence for each descriptor, against the seniors or one named master."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from panelstats.arguments import checked
from panelstats.errors import DesignError
from panelstats.panel.tasters.declared import tolerances
from panelstats.panel.tasters.fit import TRAINEE as ROLE_OF_TRAINEE
from panelstats.panel.tasters.fit import panel_size
from panelstats.panel.tasters.judgement import Bench
from panelstats.panel.tasters.naming import LEAST_LEFT, name_tasters
from panelstats.panel.tasters.reference import Pool, pool_of
from panelstats.panel.tasters.scaleends import busy_end
from panelstats.panel.training.learning import learning_curve
from panelstats.panel.training.licence import licence
from panelstats.panel.training.tables import (
    TRAINEE_NAME,
    Judged,
    licence_table,
    limits_table,
    summary_row,
    trainee_bowls,
)
from panelstats.panel.training.traineecharts import learning_chart
from panelstats.panel.training.trial import trial
from panelstats.panel.training.words import trainee_verdict
from panelstats.result import Chart, Result, in_order
from panelstats.scores.cells import ROLE, TASTER, Cells, cells_from
from panelstats.speech import Phrase
from panelstats.words import stated_percent

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from panelstats.scores.table import Scores


@dataclass(frozen=True, eq=False, repr=False, kw_only=True)
class TraineeAssessment(Result):
    """Answer of `assess_trainees`.

    Attributes
    ----------
    table : DataFrame
        trainee, descriptor, call (ready / not yet / cannot tell: ready is a licence, these scores count from today),
        licence (full / level only / noticed / ""), difference to the reference in points with low and high, tolerance,
        slope with slope_low and slope_high (1 = a point is a point), spread with spread_low and spread_high (multiple
        of the reference's), spread_from (repeats / scatter), lots, lots_in_all (with 80 % assurance; inf beyond 400),
        reason.
    summary : DataFrame
        trainee, call (over all descriptors), licensed, descriptors, lesson, lots_more (at most), sessions
        (that count), sessions_seen, counted_from (first session that counts), lots, reference, forecast.
    curve : DataFrame
        trainee, session, ratio (distance from the reference over the seniors' own), low, high.
    limits : DataFrame
        trainee, descriptor, lots, difference, limit_low and limit_high (19 of 20 marks lie between them) each with its
        interval (_from, _to), seniors_reach, concordance with its interval, order and accuracy (its two factors), and
        for one master freed_limit_low, freed_limit_high (his wavering taken out) and wavering with its interval.
    taste_again : DataFrame
        trainee, descriptor, session, lot, own, others, difference: three lots on which it showed.
    level : float
        Of every interval.
    """

    table: pd.DataFrame
    summary: pd.DataFrame
    curve: pd.DataFrame
    limits: pd.DataFrame
    taste_again: pd.DataFrame
    level: float

    def chart(self, descriptor: str | None = None, *, taster: str | None = None) -> Chart:
        """A column for each thing a licence asks for, a row for each trainee and descriptor; of `taster` alone."""
        return learning_chart(self, descriptor, taster)


@checked()
def assess_trainees(
    scores: Scores | Cells,
    *,
    trainees: str | Sequence[str] | None = None,
    reference: str | Sequence[str] | None = None,
    tolerance: float | Mapping[str, float] | None = None,
    pots: str | Mapping[str, str] | None = None,
    level: float = 0.95,
) -> TraineeAssessment:
    """Say on which descriptors a trainee's scores may count, and what is missing.

    Parameters
    ----------
    scores : Scores or Cells
        The sessions so far; a licence needs two.
    trainees : str or list of str, optional
        Who is judged; by default everyone whom the register calls a trainee.
    reference : str or list of str, optional
        Whom the trainee must agree with; by default the seniors, less those apart from the others. One name is a master
        by authority: measured by his own hidden repeats.
    tolerance : float or mapping of descriptor to float, optional
        Smallest difference of level that matters, in points; by default the register's.

    Raises
    ------
    DesignError
        Nobody is a trainee, nobody is a reference, or a name is unknown.

    Notes
    -----
    A licence asks that the interval of level lies inside the tolerance (Schuirmann 1987), with the wander of sessions
    in it; that the slope on the reference is above 0 and not wholly outside 2/3 to 3/2 where the lots differ; and that
    slope and spread over all descriptors are shown inside. It is full where they are shown inside on the descriptor
    itself. Where the learning curve falls, only sessions count from the one by which its whole band had passed the
    tolerance (at least three, with 24 lots): first weeks are not paid for later. Of simulated learners over 12 sessions
    of 8 lots, those who end at the edge of the tolerance are licensed there in 0 to 3 % (60 runs each), those who end
    without fault on 99 % of descriptors, where all sessions together gave 35 %. "Not yet" is beyond a tolerance after
    Benjamini & Hochberg (1995). Judging after every session, about 1 licence in 10 is given at the very edge of the
    tolerance within 12 sessions; 1.5 tolerances off, fewer than 1 in 100.

    Examples
    --------
    >>> import panelstats as pst
    >>> room = pst.example.new_tasters()
    >>> scores = pst.read_scores(room.frame, room=room.registers)
    >>> pst.assess_trainees(scores).summary[["trainee", "call"]]
         trainee     call
    0  whitebeam    ready
    1    spindle  not yet
    """
    cells = cells_from(scores, pots)
    pool = pool_of(cells)
    who, masters = _people(cells, pool, trainees, reference)
    points, tail = tolerances(cells, pool, tolerance), (1 - level) / 2
    active = _in_line(pool, points, masters, clean=reference is None)
    asked = _Asked(pool, points, busy_end(cells, pool), masters, active, tail)
    judged = [_judged(asked, i) for i in who]
    again = [trainee_bowls(j) for j in judged]
    curves = [j.curve.table.assign(**{TRAINEE_NAME: j.trial.trainee}) for j in judged]
    return TraineeAssessment(
        verdicts=in_order([trainee_verdict(j, bowls) for j, bowls in zip(judged, again, strict=True)]),
        method=_method(judged, level),
        table=pd.concat([licence_table(j) for j in judged], ignore_index=True),
        summary=pd.DataFrame([summary_row(j) for j in judged]),
        curve=pd.concat(curves, ignore_index=True)[[TRAINEE_NAME, "session", "ratio", "low", "high"]],
        limits=pd.concat([limits_table(j, tail) for j in judged], ignore_index=True),
        taste_again=pd.concat(again, ignore_index=True),
        level=level,
    )


@dataclass(frozen=True, eq=False)
class _Asked:
    """What every trainee is judged by."""

    pool: Pool
    points: np.ndarray
    busy_end: np.ndarray
    masters: np.ndarray
    active: np.ndarray
    tail: float


def _people(
    cells: Cells, pool: Pool, trainees: str | Sequence[str] | None, reference: str | Sequence[str] | None
) -> tuple[np.ndarray, np.ndarray]:
    """Indices of the trainees and of the reference."""
    role = dict(zip(cells.tasters[TASTER].astype(str), cells.tasters[ROLE].astype(str), strict=True))
    is_trainee = np.array([role.get(name) == ROLE_OF_TRAINEE for name in pool.tasters], bool)
    who = np.flatnonzero(is_trainee) if trainees is None else _indices(pool, trainees, "trainees")
    if not len(who):
        raise DesignError(
            "nobody is a trainee", where="the tasters that were read", do="name them, or say so in the tasters register"
        )
    rest = ~is_trainee
    rest[who] = False
    masters = np.flatnonzero(rest) if reference is None else _indices(pool, reference, "reference")
    if not len(masters):
        raise DesignError("nobody to be measured against", where="the tasters that were read",
                          do="name a senior taster")  # fmt: skip
    both = np.intersect1d(who, masters)
    if len(both):
        raise DesignError(
            "nobody is measured against himself", where=f"reference holds {pool.tasters[both[0]]!r}", do="leave it out"
        )
    return who, masters


def _indices(pool: Pool, names: str | Sequence[str], argument: str) -> np.ndarray:
    asked = [names] if isinstance(names, str) else list(names)
    known = {str(name): i for i, name in enumerate(pool.tasters)}
    for name in asked:
        if name not in known:
            raise DesignError("this taster scored nothing here", where=f"{argument}={name!r}", do="name one who did")
    return np.array([known[name] for name in asked], int)


def _in_line(pool: Pool, points: np.ndarray, masters: np.ndarray, *, clean: bool) -> np.ndarray:
    """Who of the reference stands in it, (master, descriptor): seniors named as apart leave it where they are."""
    active = np.ones((len(masters), len(points)), bool)
    if not clean or len(masters) < LEAST_LEFT:
        return active
    seniors = pool.take(masters)
    seniors = seniors.rows((~np.isnan(seniors.mean)).any(axis=(1, 2)))
    bench = Bench(seniors, points, wander=None if len(seniors.sessions) > 1 else 0.0)
    names = name_tasters(bench, panel_size(seniors))
    for aspect in names.judgement.judged:
        active &= ~(names.cells[aspect] | names.tasters[aspect][:, None])
    return np.where(active.sum(axis=0) >= min(2, len(masters) - 1), active, True)


def _judged(asked: _Asked, i: int) -> Judged:
    """One trainee, on the sessions the trainee sat in, and of those on the ones since the curve had passed."""
    pool, points, end, masters, active, tail = vars(asked).values()
    sat = np.unique(pool.session[(~np.isnan(pool.mean[:, i])).any(axis=1)])
    mine = pool.take(np.append(i, masters)).rows(np.isin(pool.session, sat))
    stands = np.vstack([np.zeros(len(points), bool), active])
    whole = trial(mine, stands, points, tail=tail, busy_end=end)
    curve = learning_curve(whole, tail=tail)
    recent = mine.session >= curve.counted_from
    tested = whole if recent.all() else trial(mine.rows(recent), stands, points, tail=tail, busy_end=end)
    removed = tuple(str(name) for name in pool.tasters[masters[~active.all(axis=1)]])
    return Judged(tested, licence(tested), curve, removed, whole.sessions)


def _method(judged: list[Judged], level: float) -> str:
    t = judged[0].trial
    master = Phrase("one named master, his noise taken from his hidden repeats")
    against = master if judged[0].master else Phrase("the seniors who sat")
    steady = Phrase("hidden repeats") if t.repeated else Phrase("the scatter about the reference's line")
    return Phrase(
        "Each trainee against {against}, on the lots both scored; variances borrowed over the trainee's own "
        "descriptors (Smyth 2004), the wander of sessions in the error; steadiness from {steady}; {level} "
        "intervals. A licence is given descriptor by descriptor, each with its own error; ready overall never makes a "
        "descriptor count."
    ).format(against=against, steady=steady, level=stated_percent(level))
