"""A letter to a garden: its lots beside their class, by the step of making that each descriptor tells of."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from panelstats.arguments import checked
from panelstats.arguments.objects import scores_whole
from panelstats.errors import DesignError
from panelstats.lots.garden import words
from panelstats.lots.garden.lettercalls import first_verdict, standing_verdicts
from panelstats.lots.garden.ownlots import DATE, GARDEN, changes, making_columns, own_lots
from panelstats.lots.garden.weekly import standing, weekly
from panelstats.lots.garden.words import ABOVE, BELOW, WITH
from panelstats.lots.makes.layout import Tasted
from panelstats.lots.plaintables import by_name, tolerances
from panelstats.result import Chart, Result, chart_rows, in_order, mark_by_call, of_descriptor
from panelstats.scores.cells import CLASS, DESCRIPTOR, LOT, SESSION, STAGE, TASTER
from panelstats.speech import Phrase
from panelstats.words import count, stated, stated_percent

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from panelstats.lots.garden.ownlots import OwnLots
    from panelstats.lots.garden.weekly import Weekly
    from panelstats.lots.makes.fit import MakeEffects
    from panelstats.result import Verdict
    from panelstats.scores.table import Scores


@dataclass(frozen=True, eq=False, repr=False, kw_only=True)
class GardenLetter(Result):
    """Answer of `garden_letter`.

    Attributes
    ----------
    garden : str
    summary : DataFrame
        descriptor, stage, tells (step of making), wanted, tolerance, lots, difference (garden less the other lots of
        its class, points: smoothed to the last week, with fewer than four weeks over all lots), low, high, call (above
        its class, below its class, with its class, cannot tell), since (week from which it stands so), lot_sd.
    lots : DataFrame
        session, lot, class, date (made, else of the session), descriptor, score (mean over tasters), class_mean (of
        the others), difference, band_low, band_high (eight of ten others lie between, less their mean).
    weeks : DataFrame
        week (its Monday, or the session), descriptor, lots, difference, se, smoothed, sd, alarm.
    changes : DataFrame
        column, before, after, since, lots_before, lots_after: makes changed on a day.
    remarks : DataFrame
        session, lot, date, taster, remark, as written.
    limit : float
        Of smoothed / sd; NaN with fewer than four weeks.
    level : float
    """

    garden: str
    summary: pd.DataFrame
    lots: pd.DataFrame
    weeks: pd.DataFrame
    changes: pd.DataFrame
    remarks: pd.DataFrame
    limit: float
    level: float

    @property
    def first(self) -> Verdict:
        """What the factory should look at first."""
        return next(verdict for verdict in self.verdicts if verdict.question == words.FIRST_QUESTION)

    def chart(self, descriptor: str | None = None) -> Chart:
        """Where each descriptor stands beside the class; of one descriptor, its weeks."""
        sure = stated_percent(self.level)
        if descriptor is not None:
            weeks = of_descriptor(self.weeks, descriptor)
            rows = chart_rows(weeks["week"], value=weeks["difference"], low=weeks["difference"] - 2 * weeks["se"],
                              high=weeks["difference"] + 2 * weeks["se"], level=weeks["smoothed"])  # fmt: skip
            told = Phrase("each week with two standard errors either way; the line is the smoothed level")
            return Chart(
                descriptor,
                Phrase("{descriptor}: garden less its class (points)").format(descriptor=descriptor),
                rows,
                told,
                0.0,
                along="week",
            )
        now = self.summary
        marks = [mark_by_call(*row, within={WITH}, outside={ABOVE, BELOW})
                 for row in zip(now["call"], now["difference"], strict=True)]  # fmt: skip
        size = now["tolerance"]
        rows = chart_rows(now[DESCRIPTOR], marks=marks, notes=now["call"], groups=now["tells"], value=now["difference"],
                          low=now["low"], high=now["high"], floor=-size, ceiling=size)  # fmt: skip
        return Chart(
            Phrase("{garden} beside its class").format(garden=self.garden),
            Phrase("garden less its class (points)"),
            rows,
            Phrase("where it stands, with its {sure} interval").format(sure=sure),
            0.0,
        )


@checked(scores=scores_whole)
def garden_letter(
    scores: Scores,
    garden: str,
    *,
    makes: Sequence[MakeEffects] = (),
    by: Sequence[str] | None = None,
    tolerance: float | Mapping[str, float] | None = None,
    level: float = 0.95,
) -> GardenLetter:
    """The lots of one garden beside the other lots of their class: what stands off, since when, what to look at.

    Parameters
    ----------
    scores : Scores
        One session or several, the garden's lots among those of others.
    garden : str
        As in the column garden of the lots register.
    makes : sequence of MakeEffects
        What went with the making of these lots (`compare_makes`): what to look at first then starts there.
    by : sequence of str, optional
        Columns that tell how lots were made; by default those named for a step of making.

    Raises
    ------
    DesignError
        The lots carry no garden, or not this one.

    Notes
    -----
    A garden's lot is held against the mean of the other gardens' lots of its class and session, with their scatter as
    the error. Four weeks or more are charted against 0 (`track_standard` has the same chart); fewer are judged over
    all lots, Holm over descriptors. The chance of a false call is 1 - level for each letter.

    Examples
    --------
    >>> import pandas as pd, panelstats as pst
    >>> lots = [str(n) for n in range(12)]
    >>> sheet = pd.DataFrame({"lot": lots, "taster": "elm", "brisk": [7, 7.5, 7, 8, 4, 4.5, 5, 4, 5, 4.5, 4, 5]})
    >>> register = pd.DataFrame({"lot": lots, "garden": ["Hill"] * 4 + ["Flats"] * 8})
    >>> letter = garden_letter(pst.read_scores(sheet, room={"lots": register}), "Hill")
    >>> dict(zip(letter.summary["descriptor"], letter.summary["call"]))
    {'brisk': 'above its class'}
    """
    tasted = Tasted.of(scores.cells())
    if not (tasted.units[GARDEN].astype(str) == garden).any():
        raise DesignError("no lot of this garden was tasted", where=f"garden={garden!r}",
                          do="controls and standards are no lots of a garden; name another")  # fmt: skip
    own = own_lots(tasted, scores.sessions, garden)
    found = weekly(own, level=level)
    summary = _summary(scores, tasted, own, found, tolerance, level)
    changed = changes(own.units, making_columns(own.units, by))
    said = _remarks(scores, own.units)
    faulty = sorted(_faulty(scores) & set(own.units[LOT].astype(str)))
    return GardenLetter(
        garden=garden,
        summary=summary,
        lots=_lots(own, tasted.descriptors),
        weeks=found.table(tasted.descriptors),
        changes=changed,
        remarks=said,
        limit=found.limit,
        level=level,
        verdicts=in_order([
            first_verdict(summary, changed, makes, faulty), *standing_verdicts(summary, charted=found.charted)
        ]),
        method=_method(found, len(tasted.descriptors), level),
    )  # fmt: skip


def _summary(
    scores: Scores,
    tasted: Tasted,
    own: OwnLots,
    found: Weekly,
    tolerance: float | Mapping[str, float] | None,
    level: float,
) -> pd.DataFrame:
    names = tasted.descriptors
    register = by_name(scores.descriptors, DESCRIPTOR)
    told = {name: _column(register, name).reindex(names).to_numpy() for name in (STAGE, "tells", "wanted")}
    size = tolerances(scores.descriptors, tolerance).loc[names].to_numpy()
    stands = standing(found, own.df, size, level)
    since = [found.since(d) if call in (ABOVE, BELOW) else "" for d, call in enumerate(stands["call"])]
    table = pd.DataFrame({DESCRIPTOR: names, **told, "tolerance": size,
                          "lots": np.isfinite(own.difference).sum(axis=0)})  # fmt: skip
    return pd.concat([table, stands], axis=1).assign(since=since, lot_sd=np.sqrt(own.variance))


def _column(register: pd.DataFrame, name: str) -> pd.Series:
    return register[name].fillna("").astype(str) if name in register else pd.Series("", index=register.index)


def _lots(own: OwnLots, names: list[str]) -> pd.DataFrame:
    """A row for each lot and descriptor, by date."""
    keys = own.units[[SESSION, LOT, CLASS, DATE]]
    n, d = own.score.shape
    table = keys.iloc[np.repeat(np.arange(n), d)].reset_index(drop=True).assign(**{DESCRIPTOR: names * n})
    for name, values in (("score", own.score), ("class_mean", own.centre), ("difference", own.difference),
                         ("band_low", own.low - own.centre), ("band_high", own.high - own.centre)):  # fmt: skip
        table[name] = values.ravel()
    table = table[table["score"].notna()]
    return table.sort_values([DATE, LOT], kind="stable").reset_index(drop=True)


def _remarks(scores: Scores, units: pd.DataFrame) -> pd.DataFrame:
    """What was written of these lots, by date."""
    said = scores.remarks[[SESSION, LOT, TASTER, "remark"]].astype(str)
    mine = said.merge(units[[SESSION, LOT, DATE]].astype(str), on=[SESSION, LOT])
    return mine.sort_values([DATE, LOT], kind="stable")[[SESSION, LOT, DATE, TASTER, "remark"]].reset_index(drop=True)


def _faulty(scores: Scores) -> set[str]:
    return set(scores.faults.loc[scores.faults["noticed"].astype(bool), LOT].astype(str))


def _method(found: Weekly, descriptors: int, level: float) -> str:
    weeks = count(len(found.weeks), "week")
    if found.charted:
        chart = words.CHART.format(limit=stated(found.limit, ".2f"), weeks=weeks, risk=stated_percent(1 - level))
    else:
        chart = words.TOO_FEW.format(weeks=weeks, n=descriptors)
    return words.METHOD.format(chart=chart)
