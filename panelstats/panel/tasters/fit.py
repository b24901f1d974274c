"""Who can be relied on, descriptor by descriptor: each taster against the others on the same lots."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from panelstats.arguments import checked
from panelstats.errors import DesignError
from panelstats.panel.tasters.aspectcharts import assessed_chart
from panelstats.panel.tasters.assessed import Assessed, with_pairs
from panelstats.panel.tasters.calls import calls
from panelstats.panel.tasters.crossedwords import Crossed, crossed_words
from panelstats.panel.tasters.declared import scales, tolerances
from panelstats.panel.tasters.judgement import Bench, Judgement
from panelstats.panel.tasters.method import method_of
from panelstats.panel.tasters.naming import name_tasters
from panelstats.panel.tasters.ordershown import orders
from panelstats.panel.tasters.ownlots import typical_repeat
from panelstats.panel.tasters.reference import Pool, pool_of
from panelstats.panel.tasters.scaleends import at_ends, busy_end
from panelstats.panel.tasters.shuffles import serving_places, standardised
from panelstats.panel.tasters.tables import alone_of, crossed_table, summary_of, table_of
from panelstats.panel.tasters.tasteagain import taste_again_of
from panelstats.panel.tasters.verdicts import alone_verdict, no_order_verdict, split_verdict, taster_verdict
from panelstats.result import Chart, Result, Verdict, in_order
from panelstats.scores.cells import DESCRIPTOR, STAGE, Cells, cells_from

if TYPE_CHECKING:
    from collections.abc import Mapping

    from panelstats.scores.table import Scores

# Share of the lots on which at least `size` tasters sat (ours).
SAT_TOGETHER = 80
TRAINEE = "trainee"  # a role that no senior has


@dataclass(frozen=True, eq=False, repr=False, kw_only=True)
class TasterAssessment(Result):
    """Answer of `assess_tasters`.

    Attributes
    ----------
    table : DataFrame
        taster, descriptor ("" over all descriptors), aspect (level, repeatability, discrimination, agreement,
        scale_use, scatter; noticed, where most marks stand at an end of a scale), estimate, low, high, p (against the
        tolerance, not adjusted), call (with the panel / apart / cannot tell; with each other for two tasters, or the
        two that a third one is apart from; "" where shown and not judged), reason, floor and ceiling (the tolerance, in
        the unit of the estimate), lots_in_all (that settle it in 8 cases of 10; inf beyond 400). Units: level in
        points, root mean square over all descriptors; repeatability and scatter as a multiple of the others' standard
        deviation; discrimination as the lot's share of one serving's variance; agreement as a correlation; scale_use
        as a slope; noticed as a share of the lots, more than the others.
    summary : DataFrame
        taster, call, worst, shown_with_panel (descriptors on which every aspect is shown), descriptors, not_tested,
        lots, order_p (own marks shuffled over the lots against the others'), panel_order_p (all marks shuffled),
        order_shown (descriptors on which the panel's marks follow the lots), marks_spread (standard deviation of the
        marks over that of marks drawn evenly over the scale).
    taste_again : DataFrame
        taster, descriptor, session, lot, own, others, difference: three lots a taster, farthest off first.
    alone : DataFrame
        taster, descriptor, sd (points, between servings of one lot), sd_low, sd_high, df, lot_share, lot_share_low,
        lot_share_high, p_lots: what the own repeats show without anyone else.
    crossed_words : DataFrame
        taster, descriptor, other (descriptor of the others that it goes with), kind (swapped / follows / one
        impression), own (correlation with the others' same descriptor), across (with their other one), statistic
        (Williams' t; of a swap both, over the root of 2), limit (exceeded in 1 of 40 panels without such a fault).
    level : float
        Of every interval.
    """

    table: pd.DataFrame
    summary: pd.DataFrame
    taste_again: pd.DataFrame
    alone: pd.DataFrame
    crossed_words: pd.DataFrame = field(default_factory=pd.DataFrame)
    level: float

    def chart(self, descriptor: str | None = None, *, taster: str | None = None) -> Chart:
        """A column for each aspect, a row for each taster; with `taster`, a row for each of his descriptors."""
        return assessed_chart(self, descriptor, taster)


@checked()
def assess_tasters(
    scores: Scores | Cells,
    *,
    tolerance: float | Mapping[str, float] | None = None,
    pots: str | Mapping[str, str] | None = None,
    level: float = 0.95,
) -> TasterAssessment:
    """Judge every senior taster against the others on the same lots.

    Parameters
    ----------
    scores : Scores or Cells
        One session or several; lots need not recur. Trainees are left out, see `assess_trainees`.
    tolerance : float or mapping of descriptor to float, optional
        Smallest difference of level that matters, in points; by default the register's.

    Raises
    ------
    DesignError
        An argument is impossible, or no senior scored anything.

    Notes
    -----
    The reference of a taster is the mean of the others, by least squares for lot and taster where cells are missing; it
    never holds his own marks. Each aspect is tested against a tolerance: p is the chance of so much if the true value
    lay just at it. Within each aspect, and again over tasters, at most 5 % of the names are expected to be false
    (Benjamini & Hochberg 1995). Who stands out leaves the others' references and is named only if the rest agree; with
    three tasters at most one is named, with two nobody. "With the panel" needs more than level: the panel's marks must
    follow the lots and his the others' (each taster's lots shuffled as whole rows, p < 0.01), and level must hold with
    a tolerance of at most a tenth of the scale. A word that goes with another word of the others, not with theirs, is
    found by Williams' t (1959), its limit from shuffles over all words and tasters. Variances of level are moderated
    (Smyth 2004); over descriptors, level by a noncentral F, the rest by a jackknife over lots, as is every slope;
    scatter after Grubbs (1948), JASA 43: 243. Where most marks stand at an end of a scale, only how often something is
    noticed is judged.

    Examples
    --------
    >>> import numpy as np, pandas as pd, panelstats as pst
    >>> rng = np.random.default_rng(1)
    >>> rows = [(lot, taster, lot / 4 + (taster == "yew") + rng.normal(0, 0.3))
    ...         for lot in range(24) for taster in ("elm", "yew", "larch", "beech")]
    >>> sheet = pd.DataFrame(rows, columns=["lot", "taster", "strength"]).assign(lot=lambda t: t["lot"].astype(str))
    >>> scores = pst.read_scores(sheet.round(1))
    >>> pst.assess_tasters(scores, tolerance=0.5).summary[["taster", "call", "worst"]].query("taster == 'yew'")
      taster   call              worst
    3    yew  apart  level of strength
    """
    cells = cells_from(scores, pots).select(role="senior")
    if not len(cells):
        raise DesignError("nothing was scored by a senior", where="scores", do="check what was selected, and the roles")
    pool = pool_of(cells)
    count_ = len(pool.tasters)
    bench = Bench(
        pool, tolerances(cells, pool, tolerance), tail=(1 - level) / 2, least_others=1 if count_ == 2 else 2,
        moderated=count_ > 2, wander=None if len(pool.sessions) > 1 else 0.0,
        busy_end=busy_end(cells, pool),
    )  # fmt: skip
    size = panel_size(pool)
    names = name_tasters(bench, size)
    place = serving_places(scores, pool)
    called = calls(bench, names, size, orders(bench, names, place, scales(cells, pool)))
    crossed = _crossed(cells, names.judgement, pool, place)
    a = with_pairs(
        Assessed(bench, names, called, size, level, at_ends(cells, pool), crossed=crossed, asked=tolerance is not None)
    )
    return TasterAssessment(
        verdicts=in_order(_verdicts(a)), method=method_of(a, cells), table=table_of(a), summary=summary_of(a),
        taste_again=taste_again_of(a), alone=alone_of(a), crossed_words=crossed_table(a), level=level,
    )  # fmt: skip


def _crossed(cells: Cells, judgement: Judgement, pool: Pool, place: np.ndarray) -> dict[int, Crossed]:
    """Words that go with other words of the others, by taster."""
    stages = dict(zip(cells.descriptors[DESCRIPTOR].astype(str), cells.descriptors[STAGE].astype(str), strict=True))
    stage = np.array([stages[name] for name in pool.descriptors])
    found = standardised(pool, judgement.reference, place)
    return {c.taster: c for c in crossed_words(found, stage, judgement.evidence.moments.open)}


def panel_size(pool: Pool) -> int:
    """Tasters who sat together: the most that SAT_TOGETHER % of the lots reach."""
    seats = (~np.isnan(pool.mean)).any(axis=2).sum(axis=1)
    return int(np.percentile(seats, 100 - SAT_TOGETHER, method="lower")) if len(seats) else 0


def _verdicts(a: Assessed) -> list[Verdict]:
    if len(a.tasters) == 1:
        return [alone_verdict(str(a.tasters[0]), typical_repeat(a.bench.own, (1 - a.level) / 2))]
    return [taster_verdict(a, i) for i in range(len(a.tasters))] + [
        *([no_order_verdict(a)] if a.judged and not a.calls.orders.panel_shown else []),
        *(split_verdict(a, s) for s in a.names.splits),
    ]
