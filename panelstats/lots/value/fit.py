"""Do the scores carry a price within class, which words go with it, which lots were sold far from their scores?"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from panelstats.arguments import checked
from panelstats.arguments.wording import text
from panelstats.errors import DesignError
from panelstats.lots.value import words
from panelstats.lots.value.priced import LEAST_IN_STRATUM, STRATUM, order_shown, priced_lots
from panelstats.lots.value.tables import ALIKE, lots_table, together_table, words_table
from panelstats.lots.value.valuecalls import Asked, value_verdicts
from panelstats.models.foretelling import Foretold, foretell
from panelstats.result import Chart, Mark, Result, chart_rows, in_order, of_descriptor
from panelstats.scores.cells import DESCRIPTOR, LOT, cells_from
from panelstats.sheets.content.money import Amounts, amounts, bare, money_columns
from panelstats.speech import Phrase
from panelstats.words import stated, stated_percent

if TYPE_CHECKING:
    from collections.abc import Collection

    from panelstats.lots.value.priced import Priced
    from panelstats.scores.table import Scores

# Fewest lots for any test; those from which words are asked beyond one another, and so many a word (ours).
LEAST, BEYOND, EACH = 24, 100, 12
# The panel's marks must follow the lots to this level before a price is asked about (ours).
ORDER = 0.01


@dataclass(frozen=True, eq=False, repr=False, kw_only=True)
class ValueFound(Result):
    """Answer of `explain_value`.

    Attributes
    ----------
    link : DataFrame
        One row: by, unit, lots, unsold, left_out, strata, share (foretold beyond the strata, Q2), share_anew, p,
        order_p (of the tasters' marks following the lots), call (goes with it, cannot tell).
    table : DataFrame
        descriptor, correlation (with log price within strata), p_adjusted (over all descriptors), slope (percent a
        point), low, high, df, alike (descriptors that cannot be told apart from it), call (goes with it, not shown,
        cannot tell).
    together : DataFrame
        descriptors (one, or several that speak as one), slope (percent a point beyond the others), low, high, df, p,
        p_adjusted, call; empty where the lots are too few.
    lots : DataFrame
        session, lot, class, grade, price, expected (by its scores and the other lots), low, high (of a price at
        `level`), ratio, p_adjusted, call (sold above, sold below, as expected, cannot tell).
    level : float
    """

    link: pd.DataFrame
    table: pd.DataFrame
    together: pd.DataFrame
    lots: pd.DataFrame
    level: float

    def of_lots(self, lots: Collection[str]) -> ValueFound:
        """The same told of some lots only: what all lots show stays, other lots' prices go."""
        others = set(self.lots[LOT].astype(str)) - set(lots)
        told = tuple(verdict for verdict in self.verdicts if verdict.subject not in others)
        return replace(self, lots=self.lots[self.lots[LOT].astype(str).isin(set(lots))], verdicts=told)

    def chart(self, descriptor: str | None = None) -> Chart:
        """Percent of price that goes with a point of each descriptor, the largest first."""
        table = of_descriptor(self.table, descriptor).dropna(subset=["slope"])
        if not len(table):
            raise DesignError("nothing to draw", where="too few lots with a price", do="read the verdicts")
        table = table.sort_values("slope", ascending=False, kind="stable")
        shown = (table["call"] == words.GOES).to_numpy()
        marks = [
            Mark.OPEN if not ok else Mark.HIGHER if value > 0 else Mark.LOWER
            for ok, value in zip(shown, table["slope"], strict=True)
        ]
        rows = chart_rows(table[DESCRIPTOR], marks=marks, notes=table["call"], value=table["slope"], low=table["low"],
                          high=table["high"])  # fmt: skip
        by = str(self.link["by"].iloc[0])
        return Chart(
            Phrase("What went with the {by}").format(by=by),
            Phrase("difference in {by} for a point (%)").format(by=by),
            rows,
            Phrase("each word alone, with its {level} % interval").format(level=stated(100 * self.level)),
            0.0,
        )


@checked(by=text)
def explain_value(
    scores: Scores, by: str | None = None, *, level: float = 0.95, shuffles: int = 999, seed: int = 0
) -> ValueFound:
    """Do the scores carry a price, within class, and by which words?

    Parameters
    ----------
    scores : Scores
        One session or several; trainees, controls and standards do not count.
    by : str, optional
        A column of money in the lots register or beside the scores; by default the only one.
    shuffles : int
        Of prices within strata, for p-values.

    Raises
    ------
    DesignError
        No such column, no column of money or several of them, or a cell that is no amount.

    Notes
    -----
    Log price and lot means within session, class and grade. Ridge regression with each lot foretold by the others
    (Hoerl & Kennard 1970, Technometrics 12: 55; Stone 1974, JRSS B 36: 111); shuffles within strata, the maximum over
    descriptors (Westfall & Young 1993); slopes with the error of lot means taken out and a jackknife over lots (Fuller
    1987, *Measurement Error Models*). References from memory.

    Examples
    --------
    >>> import numpy as np, pandas as pd, panelstats as pst
    >>> rng = np.random.default_rng(3)
    >>> brisk = rng.normal(5, 1, 60)
    >>> marks = {t: (brisk + rng.normal(0, 0.4, 60)).round(1) for t in ("elm", "yew", "alder")}
    >>> sheet = pd.DataFrame([{"lot": n, "taster": t, "brisk": marks[t][n]} for n in range(60) for t in marks])
    >>> lots = pd.DataFrame({"lot": range(60), "price": np.exp(0.1 * brisk + rng.normal(0, 0.05, 60)).round(2)})
    >>> found = pst.explain_value(pst.read_scores(sheet, room={"lots": lots}), "price")
    >>> print(found.table["call"][0], 7 < found.table["slope"][0] < 14)
    goes with it True
    """
    cells = cells_from(scores)
    column, paid = _money(cells.lots, by)
    priced = priced_lots(cells, pd.Series(paid.values, cells.lots[LOT].astype(str)))
    asked = Asked(column, paid.unit, words.STRATA[priced.by_grade], level, _blind(cells.sessions, priced.lots))
    rng = np.random.default_rng(seed)
    y, stratum = np.log(priced.lots["price"].to_numpy(float)), priced.lots[STRATUM].to_numpy(int)
    why, order_p = _cannot(priced, y, stratum, rng)
    found = None if why else foretell(priced.x, y, stratum, rng=rng, shuffles=shuffles)
    table = words_table(priced, y, stratum, found, level)
    most = len(y) // EACH if found is not None and len(y) >= BEYOND else 0
    together = together_table(priced, y, stratum, level, most=most)
    link = _link(asked, priced, found, order_p, level)
    lots = lots_table(priced, y, found, level, carried=link["call"].iloc[0] == words.GOES)
    return ValueFound(
        link=link,
        table=table,
        together=together,
        lots=lots,
        level=level,
        verdicts=in_order(value_verdicts(asked, priced, link, table, together, lots, why, least=LEAST)),
        method=_method(asked, table, shuffles),
    )


def _money(register: pd.DataFrame, by: str | None) -> tuple[str, Amounts]:
    """The column asked for and its amounts."""
    known = money_columns(register.columns)
    if by is None:
        if len(known) != 1:
            raise DesignError("which column holds the money?" if known else "no column of money",
                              where=f"lots have {known or list(map(str, register.columns))}",
                              do="name it, as price" if known else "write a column price beside the lots")  # fmt: skip
        by = known[0]
    column = _column([str(name) for name in register.columns], by, known)
    paid = amounts(register[column].tolist(), column=column, lots=register[LOT].astype(str).tolist())
    return bare(column), paid


def _column(columns: list[str], by: str, known: list[str]) -> str:
    """The column called so; what stands in brackets behind a heading need not be said."""
    for same in (str.casefold, lambda name: bare(name).casefold()):
        found = [name for name in columns if same(name) == same(by)]
        if len(found) == 1:
            return found[0]
    raise DesignError("no such column", where=f"by={by!r}", do=f"choose one of {known or columns}")


def _blind(sessions: pd.DataFrame, lots: pd.DataFrame) -> str:
    """What the register says of blind tasting in the sessions used: yes, the worst word, or "" where nothing."""
    said = sessions[sessions["session"].astype(str).isin(lots["session"])]
    heard = set(said["blind"].astype(str)) - {"", "nan"} if "blind" in said else set()
    return "yes" if heard == {"yes"} else next((word for word in ("no", "partly") if word in heard), "")


def _cannot(priced: Priced, y: np.ndarray, stratum: np.ndarray, rng: np.random.Generator) -> tuple[str, float]:
    """Why there is no test ("" where there is one), and p of the tasters' order."""
    if len(y) < LEAST or not priced.descriptors:
        return words.FEW, np.nan
    spread = np.bincount(stratum, y**2) - np.bincount(stratum, y) ** 2 / np.bincount(stratum)
    if spread.sum() <= 1e-12 * max((y**2).sum(), 1.0):
        return words.NO_SPREAD, np.nan
    if not (np.ptp(priced.x, axis=0) > 0).any():
        return words.NO_SCORES, np.nan
    order_p = order_shown(priced.marks, rng)
    return (words.NO_ORDER if order_p >= ORDER else ""), order_p


def _link(asked: Asked, priced: Priced, found: Foretold | None, order_p: float, level: float) -> pd.DataFrame:
    shown = found is not None and found.p <= 1 - level and found.share > 0
    return pd.DataFrame({
        "by": [asked.by], "unit": asked.unit, "lots": len(priced.lots), "unsold": priced.unsold,
        "left_out": priced.left_out, "strata": priced.lots[STRATUM].nunique(),
        "share": np.nan if found is None else found.share, "share_anew": np.nan if found is None else found.share_anew,
        "p": np.nan if found is None else found.p, "order_p": order_p,
        "call": words.GOES if shown else words.CANNOT_TELL,
    })  # fmt: skip


def _method(asked: Asked, table: pd.DataFrame, shuffles: int) -> str:
    df = table["df"].max() if len(table) else np.nan
    return words.METHOD.format(
        by=asked.by, unit=f" ({asked.unit})" if asked.unit else "", strata=asked.strata, least=LEAST_IN_STRATUM,
        shuffles=shuffles, level=stated_percent(asked.level), df="no" if np.isnan(df) else stated(df, ".0f"),
        beyond=BEYOND, each=EACH, alike=stated(ALIKE),
    )  # fmt: skip
