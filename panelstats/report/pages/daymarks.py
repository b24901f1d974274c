"""The lots of a day without a short list: by their marks, with what lies farthest from their class."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from panelstats.lots.worth import OVERALL
from panelstats.result import Chart, Mark, chart_rows
from panelstats.scores.cells import CLASS, DESCRIPTOR, LOT
from panelstats.speech import Phrase
from panelstats.words import number

if TYPE_CHECKING:
    from collections.abc import Collection

    import pandas as pd

    from panelstats.lots.shortlist.fit import Shortlist

_MARKS = 2  # words that mark a lot out
_HALF = "half_width"


def deviations(found: Shortlist, lot_class: str) -> pd.DataFrame:
    """Every mark of a class less its mean: lot, descriptor, deviation, far (in reaches of one look where known).

    What reaches no farther than one look of its pot may be off is left out.
    """
    mine = found.table[(found.table[CLASS] == lot_class) & (found.table[DESCRIPTOR] != OVERALL)]
    reach = found.errors[found.errors[CLASS] == lot_class].set_index(DESCRIPTOR)[_HALF]
    reach = mine[DESCRIPTOR].map(reach[~reach.index.duplicated()]).astype(float)
    off = mine["score"] - mine.groupby(DESCRIPTOR)["score"].transform("mean")
    far = (off / reach.where(reach > 0, 1.0)).abs()
    some = mine[[LOT, DESCRIPTOR]].assign(deviation=off, far=far)
    return some[(far > 1) | (reach.isna() & (off != 0))].sort_values("far", ascending=False, kind="stable")


def in_order(found: Shortlist, lot_class: str, without: Collection[str]) -> list[str]:
    """The lots of a class: by the sum of what is wanted, highest first; where nothing is, the farthest first."""
    mine = found.table[(found.table[CLASS] == lot_class) & ~found.table[LOT].isin(list(without))]
    overall = mine[mine[DESCRIPTOR] == OVERALL]
    if len(overall):
        return list(overall[LOT].astype(str))
    far = list(dict.fromkeys(deviations(found, lot_class)[LOT].astype(str)))
    every = list(dict.fromkeys(mine[LOT].astype(str)))
    known = set(every)
    return [*(lot for lot in far if lot in known), *(lot for lot in every if lot not in set(far))]


def marks_told(found: Shortlist, lot_class: str) -> dict[str, str]:
    """What lies farthest of each lot, as "brisk +2.4, coppery +1.5"."""
    table = deviations(found, lot_class)
    return first_of_each(table, table["deviation"])


def first_of_each(table: pd.DataFrame, sizes: pd.Series) -> dict[str, str]:
    """By lot, the first of its words with their sizes."""
    told: dict[str, list[str]] = {}
    for lot, name, size in zip(table[LOT].astype(str), table[DESCRIPTOR], sizes, strict=True):
        told.setdefault(lot, []).append(f"{name} {number(float(size), 1, sign=True)}")
    return {lot: ", ".join(some[:_MARKS]) for lot, some in told.items()}


def marks_chart(found: Shortlist, tainted: Collection[str]) -> Chart | None:
    """The word on which lots lie farthest apart for the error of a look, lot by lot; None where no error is known."""
    words = found.classes[(found.classes[DESCRIPTOR] != OVERALL) & (found.classes["error_sd"] > 0)]
    if not len(words):
        return None
    name = str(words[DESCRIPTOR].iloc[int(np.nanargmax(words["score_sd"] / words["error_sd"]))])
    rows = found.table[found.table[DESCRIPTOR] == name]
    off = rows["score"] - rows.groupby(CLASS)["score"].transform("mean")
    reach = rows[CLASS].map(found.errors[found.errors[DESCRIPTOR] == name].set_index(CLASS)[_HALF]).astype(float)
    marks = [Mark.FAULT if lot in tainted else None for lot in rows[LOT].astype(str)]
    order = np.lexsort((-off.to_numpy(), rows[CLASS].astype(str)))
    drawn = chart_rows(rows[LOT], value=off, low=off - reach, high=off + reach, marks=marks, groups=rows[CLASS])
    return Chart(
        name, Phrase("mark of one pot, points from the mean of the class"), tuple(drawn[at] for at in order),
        words=Phrase("a lot: the mark of its pot, and how far this look at the pot may be off"), zero=0.0,
    )  # fmt: skip
