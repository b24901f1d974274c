"""Which lots differ, by how much, and how sure that is: one model per session and class of lots."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import pandas as pd

from panelstats.arguments import checked
from panelstats.arguments.objects import room_record
from panelstats.arguments.wording import one_of
from panelstats.errors import DesignError
from panelstats.lots.classfit import FEW_LOTS, class_fits
from panelstats.lots.compare.lotcalls import class_verdicts
from panelstats.lots.compare.lotmethod import method_of
from panelstats.lots.compare.modelchecks import check_lines, moving_together
from panelstats.lots.compare.pairs import compared_pairs
from panelstats.lots.compare.seasoncalls import season_method, season_verdicts
from panelstats.lots.compare.seasonfits import season_classes
from panelstats.lots.compare.seasontables import season_tables
from panelstats.lots.compare.tables import (
    MERIT,
    anova_lines,
    component_lines,
    mean_lines,
    mean_square_lines,
    merit_lines,
    no_rows,
    pair_lines,
    stacked,
)
from panelstats.lots.compare.walkingorder import walked
from panelstats.result import Chart, Result, chart_rows, in_order, joined, of_descriptor
from panelstats.scores.cells import CLASS, DESCRIPTOR, LOT, SESSION, cells_from
from panelstats.speech import Phrase
from panelstats.words import stated

if TYPE_CHECKING:
    from collections.abc import Mapping

    from panelstats.lots.roomerror.fit import RoomError
    from panelstats.scores.cells import Cells
    from panelstats.scores.table import Scores

Adjust = Literal["tukey", "holm", "none"]
Across = Literal["holm", "bh", "none"]
LOTS = ("fixed", "random")


@dataclass(frozen=True, eq=False, repr=False, kw_only=True)
class LotComparison(Result):
    """Answer of `compare_lots`. Where there are several sessions or classes their columns come first.

    Attributes
    ----------
    anova : DataFrame
        descriptor, source, df, df_error, error_term, statistic (F), p, p_adjusted (over all descriptors and classes of
        a session), reason ("" or why there is no test), lot_taster_from and lot_pot_from (reml; steadied over
        descriptors; own mean square; room's record; "" where not in the model), classes_pooled (classes that share the
        variances).
    mean_squares : DataFrame
        descriptor, source, df, mean_square, and for the lot statistic (F), df_error, p: the classical analysis of
        variance, exact whatever component would be negative. Complete data without controls only.
    components : DataFrame
        descriptor, source (lot, taster, lot:taster, lot:pot, residual), variance, share (of the total), sd with its
        limits low and high (approximate: normal on the log scale; 0 and NaN for a component at 0, which is "not
        detectable", not absent).
    means : DataFrame
        descriptor, lot, mean (for such a panel), se, df, low, high, deviation (lot less the mean of its class), with
        deviation_low and deviation_high, letters ("" where pairs were not compared), tasters, compared (False for
        controls and standards).
    pairs : DataFrame
        descriptor, lot_a, lot_b, difference (a less b), se, df, low, high (simultaneous), p, p_adjusted.
    merit : DataFrame
        descriptor, lot, merit (predicted deviation, lots a random draw), se, low, high (t on the lots less one, from
        which their variance is known). Empty unless lots="random".
    season_anova : DataFrame
        Lots of sessions that lots join, compared as one season (these four tables are empty where no lot was met in two
        sessions): season (its first and last session), descriptor, sessions, lots (compared), joined_by (lots met in
        several sessions), df, df_error, statistic (F), p, p_adjusted, reason.
    season_components : DataFrame
        season, descriptor, source (taster, lot:taster, session, taster:session, lot:taster:session, lot:session:pot,
        residual), variance (NaN where the layout cannot tell it), share, sd, low, high.
    season_means : DataFrame
        season, descriptor, lot, sessions (in which it was met), mean (for such a panel on such days), se, df, low,
        high, deviation (from the mean of the compared lots), deviation_low, deviation_high, tasters, compared.
    season_pairs : DataFrame
        season, descriptor and the columns of `pairs`, lots of one session and of different sessions alike.
    checks : DataFrame
        descriptor, check, value, limit, sentence: where the model should be believed less.
    level : float
    """

    anova: pd.DataFrame
    mean_squares: pd.DataFrame
    components: pd.DataFrame
    means: pd.DataFrame
    pairs: pd.DataFrame
    merit: pd.DataFrame
    season_anova: pd.DataFrame
    season_components: pd.DataFrame
    season_means: pd.DataFrame
    season_pairs: pd.DataFrame
    checks: pd.DataFrame
    level: float

    def chart(self, descriptor: str | None = None) -> Chart:
        """Lots of each class, highest first, on one descriptor; by default that with the largest share between lots."""
        drawn = self._drawn()
        if not len(drawn):
            raise DesignError("nothing to draw", where="no lot has a mean", do="read the verdicts")
        chosen = descriptor or self._first()
        return self._chart(chosen, of_descriptor(drawn, chosen))

    def charts(self) -> dict[str, Chart]:
        """The chart of every descriptor with a mean."""
        drawn = self._drawn()
        parts = drawn.groupby(drawn[DESCRIPTOR].astype(str), sort=False)
        return {str(name): self._chart(str(name), rows) for name, rows in parts}

    @property
    def _over(self) -> list[str]:
        return [name for name in (SESSION, CLASS) if name in self.means]

    def _drawn(self) -> pd.DataFrame:
        """What charts show, the lots of each class highest first."""
        table = self.means[[*self._over, DESCRIPTOR, LOT, "deviation", "deviation_low", "deviation_high"]]
        rising = [True] * len(self._over) + [False]
        return table.dropna(subset="deviation").sort_values([*self._over, "deviation"], ascending=rising, kind="stable")

    def _chart(self, chosen: str, rows: pd.DataFrame) -> Chart:
        return Chart(
            Phrase("Lots on {chosen}").format(chosen=chosen),
            Phrase("{chosen}: lot less the mean of its class (points)").format(chosen=chosen),
            chart_rows(
                rows[LOT],
                groups=joined(rows, self._over),
                value=rows["deviation"],
                low=rows["deviation_low"],
                high=rows["deviation_high"],
            ),
            words=Phrase("a lot: its mean less the mean of its class, with the {level} % interval").format(
                level=stated(100 * self.level)
            ),
            zero=0.0,
        )

    def _first(self) -> str:
        """The descriptor with a mean that has the largest share between lots."""
        shares = self.components[self.components["source"] == "lot"].sort_values(
            "share", ascending=False, kind="stable"
        )
        with_mean = dict.fromkeys(self.means.loc[self.means["deviation"].notna(), DESCRIPTOR].astype(str))
        return next(name for name in [*shares[DESCRIPTOR].astype(str), *with_mean] if name in with_mean)


@checked(
    adjust=one_of("tukey", "holm", "none"),
    across=one_of("holm", "bh", "none"),
    lots=one_of("fixed", "random"),
    error=room_record,
)
def compare_lots(
    scores: Scores | Cells,
    *,
    pots: str | Mapping[str, str] | None = None,
    control: str | None = None,
    adjust: Adjust = "tukey",
    across: Across = "holm",
    lots: Literal["fixed", "random"] | None = None,
    pairs: bool | None = None,
    error: RoomError | None = None,
    tolerance: float | Mapping[str, float] | None = None,
    level: float = 0.95,
) -> LotComparison:
    """Compare lots within their class, descriptor by descriptor.

    Parameters
    ----------
    scores : Scores or Cells
        Trainees do not count. Each session is fitted alone; sessions that lots join (controls, standards, or lots
        tasted in several of them) are fitted as one season too.
    control : str, optional
        Compare every lot with this one (Dunnett) instead of all pairs.
    adjust : {"tukey", "holm", "none"}
        Correction over the pairs of one descriptor.
    across : {"holm", "bh", "none"}
        Correction of the lot tests over the descriptors and classes of a session.
    lots : {"fixed", "random"}, optional
        "random" adds `merit`; the default above 20 lots in a class.
    pairs : bool, optional
        Compare pairs even where the lot test was not passed (True), or never (False). By default: up to 20 lots, and
        where it was passed.
    error : RoomError, optional
        What earlier sessions showed of the pots, as `room_error` gives it: where today's shared pots have fewer than 20
        degrees of freedom, or there is one a lot, the record stands in for them, with its own degrees of freedom.
    tolerance : float or mapping of descriptor to float, optional
        Smallest difference that matters, in points; by default the register's. Lots whose differences are all shown to
        be smaller are called within tolerance.
    level : float in (0, 1)
        Of every interval; the lot test is passed below 1 - level.

    Raises
    ------
    DesignError
        An argument is not one of the words above, or `control` is no lot.

    Notes
    -----
    Model: score = lot + taster + lot:taster + lot:pot + error by REML, lots fixed, the rest random; lot:pot only where
    pots are shared. Satterthwaite degrees of freedom; test of all lots by Fai & Cornelius 1996 in an orthonormal basis;
    pairs by the studentised range (Tukey-Kramer). Where lot:taster or shared pots have fewer than 20 degrees of freedom
    their variance is steadied over the descriptors of the stage (after Smyth 2004), but for one that stands out; for
    complete data of fewer than four descriptors lots are tested against lot:taster itself. Classes share their
    variances unless these are shown to differ (Bartlett 1937). Patterson & Thompson 1971.

    Joined sessions, besides: score = lot + taster + session + taster:session + lot:taster + lot:taster:session +
    lot:session:pot + error, lots fixed, the rest random, each class with all controls and standards. Sessions that no
    lot joins are compared with nothing beyond them, and this is said.

    Examples
    --------
    >>> import pandas as pd, panelstats as pst
    >>> sheet = pd.DataFrame({"lot": ["12", "12", "14", "14"] * 3, "taster": ["elm"] * 4 + ["yew"] * 4 + ["beech"] * 4,
    ...     "pot": [1, 2] * 6, "strength": [6, 6.5, 4, 4.5, 7, 6.5, 5, 5, 6, 6, 4.5, 4]})
    >>> found = pst.compare_lots(pst.read_scores(sheet), pots="own")
    >>> print(found.anova[["descriptor", "df", "df_error", "statistic"]].round(2).to_string(index=False))
    descriptor  df  df_error  statistic
      strength 1.0       2.0      484.0
    """
    cells = cells_from(scores, pots)
    walk = walked(scores, cells, pots)
    groups = class_fits(walk.cells, tolerance=tolerance, across=across, level=level, error=error)
    if control is not None and not any(control in group.grid.lots for group in groups):
        raise DesignError("no such lot", where=f"control={control!r}", do="name a lot that was tasted")
    found = [compared_pairs(group, adjust=adjust, control=control, wanted=pairs) for group in groups]
    random = [group for group in groups if lots == "random" or (lots is None and group.count > FEW_LOTS)]
    over = season_classes(walk.cells, across=across, level=level)
    verdicts = [each for one, compared in zip(groups, found, strict=True) for each in class_verdicts(one, compared)]
    verdicts += season_verdicts(over)
    verdicts.sort(key=lambda each: -each.numbers.get("difference", 0.0))
    return LotComparison(
        anova=stacked(groups, map(anova_lines, groups)),
        mean_squares=stacked(groups, map(mean_square_lines, groups)),
        components=stacked(groups, map(component_lines, groups)),
        means=stacked(groups, map(mean_lines, groups, found)),
        pairs=stacked(groups, map(pair_lines, groups, found)),
        merit=stacked(random, map(merit_lines, random)) if random else no_rows(MERIT),
        **season_tables(over, adjust=adjust, control=control, pairs=pairs),
        checks=stacked(groups, map(check_lines, groups)),
        level=level,
        verdicts=in_order([*walk.verdicts, *verdicts]),
        method=" ".join(filter(None, [
            method_of(groups, cells, adjust=adjust, across=across, control=control),
            season_method(over, adjust=adjust, control=control), *walk.sentences, moving_together(scores, cells),
        ])),
    )  # fmt: skip
