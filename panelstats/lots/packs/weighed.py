"""Densities of the lots that were weighed, and which stand apart from the others of their grade."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy.special import stdtr

from panelstats.arguments import checked
from panelstats.errors import DesignError
from panelstats.lots.packs import words
from panelstats.lots.packs.readings import DENSITY, GRADE, LOT, STATE, readings_of
from panelstats.models.multiplicity import holm
from panelstats.result import Act, Chart, Mark, Result, Verdict, chart_rows, in_order
from panelstats.speech import Phrase, said
from panelstats.words import count, listing, number, span

# Fewest lots of a grade that say where the others lie (ours).
LEAST = 5
COLUMNS = [LOT, GRADE, STATE, "readings", DENSITY, "others", "others_sd", "p_adjusted", "call"]


@dataclass(frozen=True, eq=False, repr=False, kw_only=True)
class LotDensities(Result):
    """Answer of `weigh_lots`.

    Attributes
    ----------
    table : DataFrame
        lot, grade, state, readings, density (g/ml, mean of its readings), others (mean of the other lots of its grade
        and state), others_sd, p_adjusted (over the lots of the grade), call (light, dense, like the others, cannot
        tell).
    """

    table: pd.DataFrame

    def chart(self, descriptor: str | None = None) -> Chart:  # noqa: ARG002 - densities have no descriptors
        """Each lot's density, the lightest first."""
        found = self.table.sort_values(DENSITY, kind="stable")
        marks = [{words.LIGHT: Mark.LOWER, words.DENSE_LOT: Mark.HIGHER}.get(call) for call in found["call"]]
        rows = chart_rows(found[LOT], marks=marks, notes=found["call"], value=found[DENSITY])
        return Chart(
            Phrase("Densities as weighed"), Phrase("density (g/ml)"), rows, Phrase("a lot, mean of its weighings")
        )


@checked()
def weigh_lots(densities: pd.DataFrame, *, level: float = 0.95) -> LotDensities:
    """Densities of the lots, and which lie apart from the others of their grade.

    Parameters
    ----------
    densities : DataFrame
        As `read_densities` gives them.
    level : float in (0, 1)
        A lot is called apart at 1 - level, Holm over the lots of its grade and state.

    Raises
    ------
    DesignError
        No weighings, or a mass or volume that is not above 0.

    Notes
    -----
    t of a new observation: (lot - mean of the others) / (their standard deviation x sqrt(1 + 1/n)), n - 1 degrees of
    freedom, n other lots; the lot is left out of what it is held against.

    Examples
    --------
    >>> import pandas as pd, panelstats as pst
    >>> weighed = pd.DataFrame({"lot": list("abcdefg"), "mass": [160, 161, 163, 162, 164, 160, 131], "volume": 500.0})
    >>> pst.weigh_lots(weighed).table.set_index("lot")["call"]["g"]
    'light'
    """
    readings = readings_of(densities, None)
    if not len(readings):
        raise DesignError("no weighings", where="no row", do="weigh a lot: mass and volume")
    means = readings.groupby([LOT, GRADE, STATE], sort=False)[DENSITY].agg(["size", "mean"]).reset_index()
    found = means.rename(columns={"size": "readings", "mean": DENSITY})
    parts = [_against_others(rows, level) for _, rows in found.groupby([GRADE, STATE], sort=False)]
    whole = pd.concat(parts, ignore_index=True)[COLUMNS]
    return LotDensities(table=whole, verdicts=in_order(_verdicts(whole)), method=words.WEIGHED_METHOD)


def _against_others(rows: pd.DataFrame, level: float) -> pd.DataFrame:
    y, n = rows[DENSITY].to_numpy(float), len(rows) - 1
    if n + 1 < LEAST:
        return rows.assign(others=np.nan, others_sd=np.nan, p_adjusted=np.nan, call=words.CANNOT_TELL)
    others = (y.sum() - y) / n
    squares = ((y - y.mean()) ** 2).sum() - (y - y.mean()) ** 2 * (n + 1) / n  # of the others about their own mean
    sd = np.sqrt(np.maximum(squares, 0) / (n - 1))
    t = (y - others) / np.maximum(sd * np.sqrt(1 + 1 / n), 1e-300)
    p = holm(np.where(y == others, 1.0, 2 * stdtr(n - 1, -np.abs(t))))
    call = np.where(p > 1 - level, words.LIKE_OTHERS, np.where(y < others, words.LIGHT, words.DENSE_LOT))
    return rows.assign(others=others, others_sd=sd, p_adjusted=p, call=call)


def _verdicts(table: pd.DataFrame) -> list[Verdict]:
    out = []
    for row in table[table["call"].isin([words.LIGHT, words.DENSE_LOT])].to_dict("records"):
        told = words.APART_LOT.format(lot=row[LOT], call=said(row["call"]), density=number(row[DENSITY], 3),
                                      others=number(row["others"], 3))  # fmt: skip
        numbers = {"change": row[DENSITY] - row["others"], "p": row["p_adjusted"]}
        out.append(Verdict(words.WEIGHED_QUESTION, str(row[LOT]), str(row["call"]), told, numbers, words.HOLD_PACK,
                           Act.DECIDE))  # fmt: skip
    names = [", ".join(filter(None, key)) for key in table[[GRADE, STATE]].drop_duplicates().itertuples(index=False)]
    told = words.WEIGHED.format(lots=count(len(table), "lot"), span=span(table[DENSITY], 3),
                                what=f" ({listing(filter(None, names))})" if any(names) else "")  # fmt: skip
    return [*out, Verdict(words.WEIGHED_QUESTION, "", words.TOLD, told)]
