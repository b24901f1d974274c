"""Whether the tasters agree on the lots, and how far the panel's mean of a lot can be trusted."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from panelstats.arguments import checked
from panelstats.models.panelfit import senior_fits, senior_grids
from panelstats.panel.agreement.crossed import classes_apart
from panelstats.panel.agreement.layout import Layout, judged_classes, layouts
from panelstats.panel.agreement.tables import AGREE, APART, agreement_table, together
from panelstats.panel.agreement.words import agreement_verdicts, left_out
from panelstats.result import Chart, Result, chart_rows, in_order, joined, mark_by_call, of_descriptor
from panelstats.scores.cells import DESCRIPTOR, SESSION, STAGE, cells_from
from panelstats.scores.rowline import without_row
from panelstats.speech import Phrase
from panelstats.words import stated

if TYPE_CHECKING:
    from collections.abc import Mapping

    from panelstats.scores.cells import Cells, Grid
    from panelstats.scores.table import Scores


@dataclass(frozen=True, eq=False, repr=False, kw_only=True)
class PanelAgreement(Result):
    """Answer of `panel_agreement`; a session column comes first where there are several.

    Attributes
    ----------
    table : DataFrame
        descriptor, lots, tasters; icc_single, icc_mean with their limits for all such lots (levels count; agreement on
        these pots; NaN where these lots do not look normal), icc_consistency_mean (levels left aside); share (icc_mean:
        what the lots' own spread is of the spread of the panel's mean marks) with share_low and share_high of these
        lots, lots_normal_p; lot_sd, error_sd (of one taster's mark), mark_se (of the panel's mark of a lot, levels
        counted) with mark_df and mark_reach in points, reliability_lots (pots counted as error); concordance_w,
        spearman, p_concordance; p_lots; call (agree / apart / cannot tell / too alike to judge), reason.
    classes : DataFrame
        descriptor, classes, df, df_error, statistic, p: whether classes differ, lots taken as drawn; empty with one.
    level : float
    """

    table: pd.DataFrame
    classes: pd.DataFrame
    level: float

    def chart(self, descriptor: str | None = None) -> Chart:
        """A row for each descriptor: how much of the spread of the panel's marks is the lots' own."""
        table = of_descriptor(self.table, descriptor)
        rows = chart_rows(
            table[DESCRIPTOR], groups=joined(table, [name for name in (SESSION,) if name in table]),
            marks=[mark_by_call(call, -1.0, within={AGREE}, outside={APART}) for call in table["call"]],
            notes=table["call"], value=table["icc_mean"], low=table["icc_mean_low"], high=table["icc_mean_high"],
        )  # fmt: skip
        axis = Phrase("share of the spread of the panel's marks that is the lots' own (%)")
        words = Phrase("the agreement of the panel's mean mark, with its {level} % interval").format(
            level=stated(100 * self.level)
        )
        return Chart(Phrase("Agreement of the tasters"), axis, rows, words, ends=(0.0, 1.0), percent=True)


@checked()
def panel_agreement(
    scores: Scores | Cells, *, pots: str | Mapping[str, str] | None = None, level: float = 0.95
) -> PanelAgreement:
    """Agreement of the senior tasters within the classes of lots, a row per descriptor.

    Parameters
    ----------
    scores : Scores or Cells
        Trainees do not count; each session stands alone. Only scores know the places in the row.

    Notes
    -----
    Scores are taken about each taster's level in each class, so lots of one class are compared with one another only.
    Complete tables of cell means: ICC(2,1), ICC(2,k) and ICC(3,k) of Shrout & Fleiss 1979 with the intervals of McGraw
    & Wong 1996; where cells are missing, REML components and the delta method on the logit. Calls rest on the interval
    of these very lots, from a noncentral F, which asks for no law of the lots. Agreement counts the pots'
    differences with the lots'; `reliability_lots` counts them as error. Agreement is judged only where the lots differ
    (F of lots against the tasters' disagreement, p < 0.01). Where all met the lots in one order, as told with the marks
    or by the register, each taster's straight line along it is taken out first.

    Examples
    --------
    >>> import pandas as pd, panelstats as pst
    >>> rating = [9, 2, 5, 8, 6, 1, 3, 2, 8, 4, 6, 8, 7, 1, 2, 6, 10, 5, 6, 9, 6, 2, 4, 7]  # Shrout & Fleiss 1979
    >>> sheet = pd.DataFrame({"lot": [str(n) for n in range(6) for _ in range(4)], "taster": list("abcd") * 6,
    ...                       "rating": rating})
    >>> found = pst.panel_agreement(pst.read_scores(sheet), pots="own")
    >>> found.table[["icc_single", "icc_mean", "icc_consistency_mean"]].round(2).iloc[0].tolist()
    [0.29, 0.62, 0.91]
    """
    cells = without_row(scores, cells_from(scores, pots))
    stages = dict(zip(cells.descriptors[DESCRIPTOR], cells.descriptors[STAGE], strict=True))
    every = senior_grids(cells)
    grids = judged_classes(every)
    found = layouts(grids)
    alone = {grid.session: grid for grid in grids}
    tables = []
    for layout in found:
        stage = np.array([stages[d] for d in layout.descriptors])
        fits = senior_fits(cells, alone[layout.session]) if len(layout.classes) == 1 else together(layout, stage)
        tables.append(agreement_table(layout, fits, stage, level))
    verdicts = [
        verdict
        for layout, table in zip(found, tables, strict=True)
        for verdict in agreement_verdicts(table, layout.classes, layout.session if len(found) > 1 else "")
    ]
    return PanelAgreement(
        table=_joined(found, tables),
        classes=_joined(found, [classes_apart(layout) for layout in _of_all_classes(every, found)]),
        level=level,
        verdicts=in_order([*verdicts, *left_out(len(every), len(grids), sum(len(one.lots) > 1 for one in every))]),
        method=METHOD,
    )


_MOST_CELLS = 2_000_000  # lots by tasters of classes, laid side by side to compare the classes (ours)

METHOD = Phrase(
    "Agreement: intraclass correlation of cell means within classes of lots (two-way, tasters random: Shrout and "
    "Fleiss 1979, McGraw and Wong 1996); where cells are missing, REML variance components with intervals by the delta "
    "method on the logit. Calls rest on the interval of these lots (noncentral F). It is judged only where the lots "
    "differ for the panel (F test against the tasters' disagreement, p < 0.01). Differences between pots count with "
    "the lots' in agreement and as error in the trust in the lot mean. Where all met the lots in one order, each "
    "taster's straight line along it is out."
)


def _of_all_classes(every: list[Grid], judged: list[Layout]) -> list[Layout]:
    """Layouts of all classes, of those judged where all of them are too many to lay side by side."""
    lots, columns = sum(len(grid.lots) for grid in every), sum(len(grid.tasters) for grid in every)
    return layouts(every) if lots * columns <= _MOST_CELLS else judged


def _joined(found: list[Layout], tables: list[pd.DataFrame]) -> pd.DataFrame:
    if len(found) > 1:
        for layout, table in zip(found, tables, strict=True):
            table.insert(0, SESSION, layout.session)
    return pd.concat(tables, ignore_index=True)
