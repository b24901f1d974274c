"""Trial recipes: the blend of the stock that comes nearest to a standard, the cheapest, the one of fewest lots."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from panelstats.arguments import checked
from panelstats.errors import DesignError
from panelstats.lots.blends import words
from panelstats.lots.blends.blendcalls import blend_verdicts
from panelstats.lots.blends.profiles import Profiles, profiles, stock_lots
from panelstats.lots.blends.tables import (
    COST,
    KILOGRAMS,
    LEAST,
    MOST,
    RECIPE,
    Found,
    density_table,
    recipe_tables,
)
from panelstats.lots.packs.readings import readings_of
from panelstats.models.recipes import Stock, cheapest, check_bounds, fewest, nearest
from panelstats.result import Chart, Mark, Result, chart_rows, in_order, of_descriptor
from panelstats.scores.cells import DESCRIPTOR, LOT, cells_from
from panelstats.speech import Phrase
from panelstats.words import listing, stated_percent

if TYPE_CHECKING:
    from collections.abc import Mapping

    from panelstats.scores.cells import Cells
    from panelstats.scores.table import Scores

DRAWS = 500
LEAST_SHARE = 0.02


@dataclass(frozen=True, eq=False, repr=False, kw_only=True)
class BlendRecipes(Result):
    """Answer of `suggest_blends`.

    Attributes
    ----------
    recipes : DataFrame
        recipe (nearest, cheapest, fewest lots), lot, share (of mass), kilograms (of the batch), cost.
    summary : DataFrame
        recipe, lots, cost (of a kilogram), distance (as scored), honest (distance when errors are drawn anew),
        honest_low, honest_high, in units of what is allowed, mean over words; call (a trial recipe, no blend of these
        reaches it).
    table : DataFrame
        recipe, descriptor, standard, blend, difference, low, high (with errors drawn anew), allowed.
    density : DataFrame
        recipe, low, high (g/ml), fits (yes, no, open); empty where the lots were not weighed.
    standard : str
    level : float
    """

    recipes: pd.DataFrame
    summary: pd.DataFrame
    table: pd.DataFrame
    density: pd.DataFrame
    standard: str
    level: float

    def chart(self, descriptor: str | None = None) -> Chart:
        """The nearest recipe less the standard, in units of what is allowed, a row for each word."""
        table = of_descriptor(self.table, descriptor)
        table = table[table[RECIPE] == words.NEAREST]
        unit = table["allowed"]
        inside = (table["low"] >= -unit) & (table["high"] <= unit)
        marks = [Mark.WITHIN if ok else Mark.OPEN for ok in inside]
        rows = chart_rows(table[DESCRIPTOR], marks=marks, value=table["difference"] / unit, low=table["low"] / unit,
                          high=table["high"] / unit, floor=-1.0, ceiling=1.0)  # fmt: skip
        return Chart(
            Phrase("Nearest recipe less {standard}").format(standard=self.standard),
            Phrase("difference, 1 is what is allowed"),
            rows,
            Phrase("how far it may lie when tasted, {level}").format(level=stated_percent(self.level)),
            0.0,
        )


@checked()
def suggest_blends(
    scores: Scores | Cells,
    standard: str,
    *,
    stock: pd.DataFrame | None = None,
    batch: float | None = None,
    tolerance: float | Mapping[str, float] | None = None,
    least_share: float = LEAST_SHARE,
    densities: pd.DataFrame | None = None,
    grams: float | None = None,
    millilitres: float | None = None,
    level: float = 0.95,
    seed: int = 0,
) -> BlendRecipes:
    """Trial recipes from the stock that come nearest to a standard.

    Parameters
    ----------
    scores : Scores or Cells
        A session in which the standard and the stock were tasted.
    standard : str
        The lot to be met.
    stock : DataFrame, optional
        lot, and of kilograms (in stock), cost (of a kilogram), least, most (shares) what there is. By default all lots
        but controls, standards and trials, without bounds.
    batch : float, optional
        Kilograms to be made; a lot cannot give more than its stock.
    tolerance : float or mapping of descriptor to float, optional
        What a blend may lie off, in points; by default the register's, else 5 % of the range seen.
    least_share : float in [0, 1)
        The cheapest recipe and that of the fewest lots take a lot with at least this share, or not at all.
    densities : DataFrame, optional
        Weighings as `read_densities` gives them.
    grams, millilitres : float, optional
        A pack: does the blend fit it?

    Raises
    ------
    DesignError
        Standard and stock share no session or word, bounds that no shares keep, or a stock of no tasted lot.

    Notes
    -----
    Bounded least squares and mixed-integer linear programmes. Linear mixing is an assumption: a recipe is to be tasted.

    Examples
    --------
    >>> import pandas as pd, panelstats as pst
    >>> marks = {"S": (5.0, 5.0), "1": (4.0, 6.0), "2": (6.0, 4.0), "3": (7.0, 7.0)}
    >>> sheet = pd.DataFrame([{"lot": lot, "taster": t, "brisk": b + d, "body": y + d}
    ...                       for lot, (b, y) in marks.items() for t, d in (("elm", 0.0), ("yew", 0.5))])
    >>> found = pst.suggest_blends(pst.read_scores(sheet), "S")
    >>> found.recipes[found.recipes["recipe"] == "nearest"].set_index("lot")["share"].round(2).sort_index().to_dict()
    {'1': 0.5, '2': 0.5}
    """
    cells = cells_from(scores)
    table = _stock(cells, standard, stock)
    seen = profiles(cells, standard, list(table.index), tolerance)
    table = table.loc[seen.lots]
    upper = table[MOST].to_numpy(float)
    if batch is not None:
        upper = np.minimum(upper, np.where(table[KILOGRAMS].notna(), table[KILOGRAMS] / batch, 1.0))
    given = Stock(seen.mean.T, seen.standard, table[LEAST].to_numpy(float), np.clip(upper, 0, 1))
    check_bounds(given)
    found = _found(given, seen, table[COST].to_numpy(float), least_share)
    rng = np.random.default_rng(seed)
    recipes, summary, differences = recipe_tables(found, given, seen, table, batch, rng, DRAWS, level)
    density = density_table(recipes, None if densities is None else readings_of(densities, None), grams, millilitres)
    verdicts = blend_verdicts(standard, seen, found, given, summary, differences, density, (grams, millilitres))
    return BlendRecipes(
        recipes=recipes,
        summary=summary,
        table=differences,
        density=density,
        standard=standard,
        level=level,
        verdicts=in_order(verdicts),
        method=words.METHOD.format(
            session=seen.session, words=listing(seen.words),
            least=stated_percent(least_share) if least_share else "any share",
            draws=DRAWS, seed=seed, stages=words.LIQUOR_ONLY if seen.stages else words.ALL_WORDS,
        ),
    )  # fmt: skip


def _found(given: Stock, seen: Profiles, cost: np.ndarray, least: float) -> list[Found]:
    """The nearest recipe; where blends lie within what is allowed, the cheapest and that of the fewest lots."""
    first = nearest(given, 1 / seen.allowed**2)
    out = [Found(words.NEAREST, first)]
    if (np.abs(given.off(first)) > seen.allowed + 1e-9).any():
        return out
    others = {words.CHEAPEST: cheapest(given, seen.allowed, cost, least) if np.isfinite(cost).all() else None,
              words.FEWEST: fewest(given, seen.allowed, least)}  # fmt: skip
    return out + [Found(aim, shares) for aim, shares in others.items() if shares is not None]


def _stock(cells: Cells, standard: str, stock: pd.DataFrame | None) -> pd.DataFrame:
    """kilograms, cost, least, most by lot."""
    lots = stock_lots(cells, standard) if stock is None else stock[LOT].astype(str).tolist() if LOT in stock else []
    if not lots:
        raise DesignError("no stock to mix", where="no lot" if stock is None else f"columns {list(stock.columns)}",
                          do="name lots that may be mixed: a table with the column lot (--stock)")  # fmt: skip
    _refuse(lots, standard, set(cells.lots[LOT].astype(str)))
    out = pd.DataFrame(index=lots)
    for name, usual in ((KILOGRAMS, np.nan), (COST, np.nan), (LEAST, 0.0), (MOST, 1.0)):
        written = pd.Series(usual, lots) if stock is None or name not in stock else _numbers(stock, name, lots)
        out[name] = written.fillna(usual)
    return out


def _refuse(lots: list[str], standard: str, tasted: set[str]) -> None:
    """Refuse a stock with a lot that cannot be mixed."""
    for at, lot in enumerate(lots):
        why = ("is the standard" if lot == standard else "was not tasted" if lot not in tasted
               else "stands twice" if lot in lots[:at] else "")  # fmt: skip
        if why:
            raise DesignError("a lot of the stock cannot be mixed", where=f"lot {lot!r} {why}", do="correct the stock")


def _numbers(stock: pd.DataFrame, name: str, lots: list[str]) -> pd.Series:
    text = stock[name].astype(str).str.strip()
    values = pd.to_numeric(stock[name], errors="coerce").set_axis(lots)
    blank = (stock[name].isna() | (text == "")).to_numpy()
    wrong = (values.isna() & ~blank) | (values < 0)
    if wrong.any():
        lot = str(wrong.idxmax())
        raise DesignError(f"{name} is no number of 0 or more", where=f"lot {lot}: {text.iloc[lots.index(lot)]!r}",
                          do="correct the stock, or leave the cell empty")  # fmt: skip
    return values
