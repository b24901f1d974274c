"""Does a lot match the standard? Per descriptor and over all, within a tolerance that says whose it is."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from scipy.special import stdtrit

from panelstats.arguments import checked
from panelstats.errors import DesignError
from panelstats.lots.compare.lotmethod import pot_sentences
from panelstats.lots.standard.beside import (
    BREWS,
    DF,
    DIFFERENCE,
    P_ADJUSTED,
    REASON,
    SE,
    Beside,
    beside_standard,
    over_all,
)
from panelstats.lots.standard.matchcalls import match_verdict
from panelstats.lots.standard.matchtolerance import TOLERANCE, TOLERANCE_FROM, lots_asked, tolerances
from panelstats.lots.standard.words import CANNOT_TELL, DIFFER, MATCH, METHOD
from panelstats.result import Chart, Result, chart_rows, in_order, joined, mark_by_call, of_descriptor
from panelstats.scores.cells import DESCRIPTOR, LOT, SESSION, cells_from
from panelstats.speech import Phrase
from panelstats.words import stated_percent

if TYPE_CHECKING:
    from collections.abc import Mapping

    from panelstats.scores.cells import Cells
    from panelstats.scores.table import Scores

LOW, HIGH, WITHIN_LOW, WITHIN_HIGH, CALL = "low", "high", "within_low", "within_high", "call"
_TABLE = [
    LOT, DESCRIPTOR, DIFFERENCE, SE, DF, LOW, HIGH, WITHIN_LOW, WITHIN_HIGH, TOLERANCE, TOLERANCE_FROM, "p",
    P_ADJUSTED, CALL, REASON,
]  # fmt: skip


_DRAWN = {"value": "difference", "low": "low", "high": "high", "inner_low": "within_low", "inner_high": "within_high"}


@dataclass(frozen=True, eq=False, repr=False, kw_only=True)
class StandardMatch(Result):
    """Answer of `match_standard`; a `session` column comes first where the standard was tasted in several.

    Attributes
    ----------
    standard : str
    table : DataFrame
        lot, descriptor, difference (lot less standard, in points), se, df, low, high (interval of that level),
        within_low, within_high (limits that each hold at the error rate 1 - level: a match lies inside), tolerance,
        tolerance_from (whose it is), p, p_adjusted (Holm over the lot's descriptors), call (match, differ, cannot
        tell), reason (why there is no answer).
    summary : DataFrame
        lot, call, distance, low, high (root mean square difference per descriptor in points, errors taken off).
    level : float
    """

    standard: str
    table: pd.DataFrame
    summary: pd.DataFrame
    level: float

    def chart(self, descriptor: str | None = None) -> Chart:
        """A row for each lot and descriptor: how far from the standard, over what is tolerated."""
        table = of_descriptor(self.table, descriptor)
        pairs = zip(table["call"], table["difference"], strict=True)
        wide, narrow = map(stated_percent, (self.level, 2 * self.level - 1))
        rows = chart_rows(
            table[DESCRIPTOR], groups=joined(table, [name for name in (LOT, SESSION) if name in table]),
            marks=[mark_by_call(*pair, within={MATCH}, outside={DIFFER}) for pair in pairs], notes=table["call"],
            floor=-table["tolerance"], ceiling=table["tolerance"],
            **{ours: table[theirs] for ours, theirs in _DRAWN.items()},
        )  # fmt: skip
        words = Phrase("lot less standard, in points: {wide} interval, its thick part {narrow}").format(
            wide=wide, narrow=narrow
        )
        return Chart(
            Phrase("Lots less {standard}").format(standard=self.standard),
            Phrase("lot less {standard} (points)").format(standard=self.standard),
            rows,
            words,
            zero=0.0,
        )


@checked()
def match_standard(
    scores: Scores | Cells,
    standard: str,
    *,
    tolerance: float | Mapping[str, float] | None = None,
    pots: str | Mapping[str, str] | None = None,
    level: float = 0.95,
) -> StandardMatch:
    """Hold lots against the standard: do they match it, do they differ, or can't we tell?

    Parameters
    ----------
    scores : Scores or Cells
        The standard and the lots, tasted in one session or several; trainees do not count. Lots of the role "trial"
        are judged, or, if there are none, all lots of the standard's class but controls.
    standard : str
        The lot to be matched.
    tolerance : float or mapping of descriptor to float, optional
        Largest difference that still is a match, in points. If not given: the register's; else the distance that 95 %
        of hidden pairs of the standard itself keep (6 degrees of freedom or more); else the default.
    level : float in (0, 1)
        1 - level is the error rate of "differ" (over all descriptors of a lot) and of "match".

    Raises
    ------
    DesignError
        The standard is no lot that was tasted, nothing is there to be held against it, or a tolerance is no size.

    Notes
    -----
    Differences and errors as in `compare_lots`: REML with lot:taster and, where pots are shared, lot:pot. "Match" on a
    descriptor: both one-sided limits lie inside the tolerance (Schuirmann 1987, Journal of Pharmacokinetics and
    Biopharmaceutics 15); on the lot: on every descriptor, which needs no correction (Berger 1982, Technometrics 24).
    "Differ": Holm over the lot's descriptors. One shared brew a lot proves nothing of the lots: cannot tell.

    Examples
    --------
    >>> import panelstats as pst
    >>> room = pst.example.blends()
    >>> found = match_standard(pst.read_scores(room.frame, room=room.registers), "S")
    >>> print(found.summary[["lot", "call"]].to_string(index=False))
    lot   call
     B1  match
     B2 differ
    """
    cells = cells_from(scores, pots)
    lots = lots_asked(cells, standard)
    found = beside_standard(cells, standard, lots, level=level)
    if found.rows.empty:
        raise DesignError(
            "nothing was tasted beside the standard", where=f"standard={standard!r}",
            do="taste the lots and the standard in one session",
        )  # fmt: skip
    table = _called(found.rows.join(tolerances(scores, cells, standard, tolerance), on=DESCRIPTOR), level)
    summary = _summary(found, table, standard, level)
    verdicts = [
        match_verdict(row, table[(table[SESSION] == row[SESSION]) & (table[LOT] == row[LOT])], found, standard, level)
        for _, row in summary.iterrows()
    ]
    several = [SESSION] if len(found.groups) > 1 else []
    return StandardMatch(
        standard=standard,
        table=table[[*several, *_TABLE]],
        summary=summary[[*several, LOT, CALL, "distance", LOW, HIGH]],
        level=level,
        verdicts=in_order(verdicts),
        method=" ".join(
            [METHOD.format(risk=stated_percent(1 - level)), *pot_sentences(list(found.groups.values()), cells)]
        ),
    )


def _called(rows: pd.DataFrame, level: float) -> pd.DataFrame:
    """The rows with their intervals and calls."""
    both, one = (stdtrit(rows[DF], inside) * rows[SE] for inside in ((1 + level) / 2, level))
    rows = rows.assign(**{LOW: rows[DIFFERENCE] - both, HIGH: rows[DIFFERENCE] + both})
    rows = rows.assign(**{WITHIN_LOW: rows[DIFFERENCE] - one, WITHIN_HIGH: rows[DIFFERENCE] + one})
    inside = (rows[WITHIN_LOW] > -rows[TOLERANCE]) & (rows[WITHIN_HIGH] < rows[TOLERANCE])
    call = np.where(inside, MATCH, np.where(rows[P_ADJUSTED] < 1 - level, DIFFER, CANNOT_TELL))
    return rows.assign(**{CALL: np.where(rows[BREWS] == 1, CANNOT_TELL, call)})


def _summary(found: Beside, table: pd.DataFrame, standard: str, level: float) -> pd.DataFrame:
    rows = []
    for (session, lot), mine in table.groupby([SESSION, LOT], sort=False):
        calls = set(mine[CALL])
        call = DIFFER if DIFFER in calls else MATCH if calls == {MATCH} else CANNOT_TELL
        rows.append((session, lot, call, *over_all(found, mine, standard, level)))
    return pd.DataFrame(rows, columns=[SESSION, LOT, CALL, "distance", LOW, HIGH])
