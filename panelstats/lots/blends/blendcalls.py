"""The verdicts on trial recipes."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from panelstats.lots.blends import words
from panelstats.lots.blends.tables import COST, NO, RECIPE, YES, largest_first
from panelstats.result import Act, Verdict
from panelstats.scores.cells import DESCRIPTOR
from panelstats.speech import said
from panelstats.words import capital, count, decimals, listing, number, percent, stated

if TYPE_CHECKING:
    from collections.abc import Hashable, Mapping
    from typing import Any

    import pandas as pd

    from panelstats.lots.blends.profiles import Profiles
    from panelstats.lots.blends.tables import Found
    from panelstats.models.recipes import Stock

    Record = Mapping[Hashable, Any]

# Lots of a recipe told one by one (ours).
TOLD = 8
# A lot at its bound holds a blend back where its share lies so near to it.
AT_BOUND = 1e-6


def blend_verdicts(
    standard: str, seen: Profiles, found: list[Found], given: Stock, summary: pd.DataFrame, table: pd.DataFrame,
    density: pd.DataFrame, pack: tuple[float | None, float | None],
) -> list[Verdict]:  # fmt: skip
    """Recipe by recipe, density, and what else goes into a blend."""
    out = []
    for each, row in zip(found, summary.to_dict("records"), strict=True):
        mine = table[table[RECIPE] == each.aim]
        reached = row["call"] == words.REACHES
        out.append(_recipe(standard, seen, each, row, mine) if reached else _missed(standard, seen, each, given, mine))
    out += [_density(row, pack) for row in density.to_dict("records")]
    return [*out, Verdict(words.ALLERGEN_QUESTION, "", words.KNOWN, words.ALLERGENS)]


def shares_told(lots: list[str], shares: np.ndarray) -> str:
    """A recipe in words, the largest share first."""
    order = largest_first(shares)
    told = [f"{percent(shares[at])} {lots[at]}" for at in order[:TOLD]]
    rest = count(len(order) - TOLD, "more lot", "more lots") if len(order) > TOLD else ""
    return listing([*told, *filter(None, [rest])])


def _recipe(standard: str, seen: Profiles, found: Found, row: Record, table: pd.DataFrame) -> Verdict:
    told = words.REACHED.format(
        aim=capital(said(found.aim)), shares=shares_told(seen.lots, found.shares), standard=standard,
        lots=count(int(row["lots"]), "lot"),
        words=words.EVERY.get(len(seen.words), words.ALL.format(n=len(seen.words))),
    )  # fmt: skip
    told += words.COSTS.format(cost=number(row[COST], 2)) if np.isfinite(row[COST]) else ""
    far = np.maximum(table["low"].abs(), table["high"].abs()) / table["allowed"]
    worst = table.loc[far.idxmax()].to_dict()
    places = max(1, decimals((worst["high"] - worst["low"]) / 4))
    told += words.HONEST.format(
        widest=worst[DESCRIPTOR], low=number(worst["low"], places, sign=True), standard=standard,
        high=number(worst["high"], places, sign=True), allowed=number(worst["allowed"], places),
    )  # fmt: skip
    numbers = {name: row[name] for name in ("distance", "honest", "honest_low", "honest_high")}
    return Verdict(words.AIM_QUESTION[found.aim], found.aim, words.REACHES, told, numbers,
                   words.TRY.format(standard=standard), Act.DECIDE)  # fmt: skip


def _missed(standard: str, seen: Profiles, found: Found, given: Stock, table: pd.DataFrame) -> Verdict:
    off = table[table["difference"].abs() > table["allowed"] * (1 + 1e-6)]
    off = off.sort_values("difference", key=lambda size: -size.abs() / table["allowed"].loc[size.index], kind="stable")
    told = words.OUT_OF_REACH.format(
        standard=standard, shares=shares_told(seen.lots, found.shares),
        words=listing(_missing(row) for row in off.to_dict("records")),
    )  # fmt: skip
    held = [lot for lot, share, most in zip(seen.lots, found.shares, given.upper, strict=True)
            if most < 1 and share >= most - AT_BOUND]  # fmt: skip
    told += words.BINDS.format(lots=listing(held)) if held else ""
    worst = off.iloc[0]
    way = words.LOWER if worst["difference"] > 0 else words.HIGHER
    return Verdict(words.QUESTION.format(standard=standard), found.aim, words.NONE_REACHES, told,
                   {"difference": float(worst["difference"])}, words.LOOK_FOR.format(way=way, word=worst[DESCRIPTOR]),
                   Act.DECIDE)  # fmt: skip


def _missing(row: Record) -> str:
    places = max(1, decimals(row["allowed"]))
    return words.MISSES.format(word=row[DESCRIPTOR], size=number(abs(row["difference"]), places),
                               way=words.WAYS[1 if row["difference"] > 0 else -1],
                               allowed=number(row["allowed"], places))  # fmt: skip


def _density(row: Record, pack: tuple[float | None, float | None]) -> Verdict:
    if row["not_weighed"]:
        told = words.NOT_WEIGHED.format(lots=row["not_weighed"])
        return Verdict(words.DENSITY_QUESTION, str(row[RECIPE]), words.NEAR, told, {}, words.MEASURE, Act.TASTE_AGAIN)
    told = words.DENSE.format(
        aim=capital(said(str(row[RECIPE]))), low=number(row["low"], 2), high=number(row["high"], 2)
    )
    grams, millilitres = pack
    if grams and millilitres:
        template = {YES: words.DENSE_FITS, NO: words.DENSE_OVER}.get(row["fits"], words.DENSE_OPEN)
        told += template.format(grams=stated(grams), millilitres=stated(millilitres))
    return Verdict(
        words.DENSITY_QUESTION,
        str(row[RECIPE]),
        "between two bounds",
        told,
        {"low": row["low"], "high": row["high"]},
        words.MEASURE,
        Act.TASTE_AGAIN,
    )
