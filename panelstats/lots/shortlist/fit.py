"""Which of many lots tasted once are likely the best, how sure that is, and which to taste again."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import pandas as pd

from panelstats.arguments import checked
from panelstats.arguments.amounts import points
from panelstats.arguments.objects import room_record, scores_whole
from panelstats.errors import DesignError
from panelstats.lots.classfit import nobody_counts
from panelstats.lots.looksquares import look_squares
from panelstats.lots.shortlist import words
from panelstats.lots.shortlist.classday import class_days
from panelstats.lots.shortlist.listcalls import list_verdicts, reach_verdicts
from panelstats.lots.shortlist.ranking import rankings
from panelstats.lots.shortlist.tables import (
    again_lines,
    class_lines,
    day_lines,
    error_lines,
    forecast_lines,
    list_lines,
    stacked,
)
from panelstats.lots.worth import OVERALL, declared_weights, with_overall
from panelstats.models.chances import CUT_FROM, DRAWS
from panelstats.result import Chart, Mark, Result, chart_rows, in_order, joined, of_descriptor
from panelstats.scores.cells import CLASS, DESCRIPTOR, LOT, SESSION
from panelstats.speech import Phrase, said
from panelstats.words import stated

if TYPE_CHECKING:
    from collections.abc import Mapping

    from panelstats.lots.roomerror.fit import RoomError
    from panelstats.scores.table import Scores


@dataclass(frozen=True, eq=False, repr=False, kw_only=True)
class Shortlist(Result):
    """Answer of `shortlist_lots`; where there are several sessions their column comes first.

    Attributes
    ----------
    table : DataFrame
        class, descriptor ("overall" for merit over all that is wanted), lot, looks, score (mean over its tasters,
        freed of the day's line), merit (predicted points from the mean of the class), low, high, chance_best and
        chance_worst (to be among the best, and the worst, of the class), listed, call (in / out / taste again /
        cannot tell), reason. Controls and standards are never ranked.
    look_again : DataFrame
        class, descriptor, lot, gain (points of merit in one place of the list, expected of one more look), chance_best,
        taster_advice, pot_advice; the most useful first, without lots that gain less than a thousandth of it.
    forecast : DataFrame
        class, descriptor, take, looks, share_right_now, share_right_then: of the list, after so many second looks.
    classes : DataFrame
        class, descriptor, lots, take, score_sd, error_sd, lot_sd, statistic, df, df_error, p, passed, lopsided.
    errors : DataFrame
        class, descriptor, tasters, pots, pot_sd, taster_lot_sd, look_sd (points; NaN where not known), df, half_width,
        least_difference, source (today / room / borrowed / this taster only / these pots only / nothing).
    day : DataFrame
        class, descriptor, change (over the whole row, points), low, high, factor, corrected, jumped, jump_p (chance of
        such a jump off the line by error alone), walk_low and walk_high (where it jumped: the least and the most that
        was taken off a score in place of the line, about their mean), walk_error (standard error of that), basis.
    level : float
    """

    table: pd.DataFrame
    look_again: pd.DataFrame
    forecast: pd.DataFrame
    classes: pd.DataFrame
    errors: pd.DataFrame
    day: pd.DataFrame
    level: float

    def chart(self, descriptor: str | None = None) -> Chart:
        """Lots on the list and lots to taste again by merit, on one descriptor; by default overall, or the first."""
        shown = self.table[self.table["merit"].notna()]
        if not len(shown):
            raise DesignError("nothing to draw", where="no class has a short list", do="read the verdicts")
        names = list(dict.fromkeys(shown[DESCRIPTOR]))
        chosen = descriptor or (OVERALL if OVERALL in names else names[0])
        name = said(chosen) if chosen == OVERALL else chosen
        table = of_descriptor(shown, chosen)
        table = table[table["listed"] | (table["call"] == "taste again")]
        over = [name for name in (SESSION, CLASS) if name in table]
        marks = [Mark.AGAIN if call == "taste again" else None for call in table["call"]]
        return Chart(
            Phrase("Short list: {chosen}").format(chosen=name),
            Phrase("{chosen}: merit, points from the mean of the class").format(chosen=name),
            chart_rows(table[LOT], value=table["merit"], low=table["low"], high=table["high"], marks=marks,
                       groups=joined(table, over)),
            words=Phrase("a lot: its merit with the {level} % interval").format(level=stated(100 * self.level)),
            zero=0.0,
        )  # fmt: skip


@checked(scores=scores_whole, error=room_record, weights=points)
def shortlist_lots(
    scores: Scores,
    *,
    take: int | None = None,
    error: RoomError | None = None,
    weights: Mapping[str, float] | None = None,
    pots: str | Mapping[str, str] | None = None,
    level: float = 0.95,
    seed: int = 0,
) -> Shortlist:
    """Rank the lots of each class by merit, with the chance of each to be among the best.

    Parameters
    ----------
    scores : Scores
        Each session alone; trainees do not count.
    take : int, optional
        Places on the list of each class; by default a tenth of its lots, at least 3.
    error : RoomError, optional
        What earlier sessions showed of the error of a look, as `room_error` gives it; today's own is added.
    weights : mapping of descriptor to float, optional
        Points of merit for a point of each descriptor, signed. By default what the register declares as weight, else
        one tolerance of every descriptor that is wanted more (or less) counts one. Where nothing is declared, there is
        one list for each descriptor.
    level : float in (0, 1)
        Of every interval; that lots differ at all is tested at 1 - level.
    seed : int
        Of the draws; the same seed gives the same answer, whatever the order of the sheet.

    Raises
    ------
    DesignError
        A weight for no descriptor, or an argument that is none of the above.

    Notes
    -----
    See `panelstats.models.lookerror`, `merit` and `chances`. Henderson 1975; Laird 1978; Gupta & Miescke 1996.

    Examples
    --------
    >>> import panelstats as pst
    >>> room = pst.example.row()
    >>> found = pst.shortlist_lots(pst.read_scores(room.frame, room=room.registers))
    >>> found.forecast.loc[0, ["take", "looks"]].tolist()
    [30, 30]
    """
    worth = dict(declared_weights(scores.descriptors)) if weights is None else dict(weights)
    ours = with_overall(scores, worth) if len(worth) > 1 else scores
    cells = ours.cells(pots=pots)
    squares = look_squares(cells, ours)
    today = set(squares[SESSION])
    if error is not None:
        squares = pd.concat([squares, error.squares[~error.squares[SESSION].isin(today)]], ignore_index=True)
    days = class_days(cells, ours, squares, level=level)
    if not days:
        raise nobody_counts()
    found = [rankings(day, take=take, level=level, seed=seed) for day in days]
    lists = [each for every in found for each in every]
    of = [each.day for each in lists]
    errors = stacked(days, (error_lines(day, level, today=error is None) for day in days))
    verdicts = [told for day, every in zip(days, found, strict=True)
                for told in list_verdicts(day, every, named=len(days) > 1)]  # fmt: skip
    for session, table in errors.groupby(SESSION, sort=False) if SESSION in errors else [("", errors)]:
        verdicts += reach_verdicts(table, str(session))
    parts = ", ".join(words.PART.format(points=stated(point, "+.3g"), descriptor=name) for name, point in worth.items())
    return Shortlist(
        table=stacked(of, map(list_lines, lists)),
        look_again=stacked(of, map(again_lines, lists)),
        forecast=stacked(of, map(forecast_lines, lists)),
        classes=stacked(days, map(class_lines, found)),
        errors=errors,
        day=stacked(days, map(day_lines, days)),
        level=level,
        verdicts=in_order(verdicts),
        method=words.METHOD.format(
            draws=stated(DRAWS, ","), cut=CUT_FROM,
            weights=words.BY_WEIGHT.format(parts=parts) if len(worth) > 1 else words.NO_WEIGHTS,
        )
        + (f" {words.DAY_METHOD}" if any(day.line is not None for day in days) else ""),
    )  # fmt: skip
