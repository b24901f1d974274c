"""Tables of trial recipes: shares, distances as scored and as they may be tasted, density."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import pandas as pd

from panelstats.lots.blends import words
from panelstats.models.mixing import mixture_bounds
from panelstats.scores.cells import DESCRIPTOR, LOT

if TYPE_CHECKING:
    from panelstats.lots.blends.profiles import Profiles
    from panelstats.models.recipes import Stock

RECIPE, SHARE, KILOGRAMS, COST, LEAST, MOST = "recipe", "share", "kilograms", "cost", "least", "most"
DENSITY = [RECIPE, "low", "high", "fits", "not_weighed"]
YES, NO, OPEN = "yes", "no", "open"


class Found(NamedTuple):
    """A recipe: what it was searched for, and the share of each lot."""

    aim: str
    shares: np.ndarray


def largest_first(shares: np.ndarray) -> list[int]:
    """Lots of a recipe, the largest share first; those that share alike to a millionth keep their order."""
    return [int(at) for at in np.argsort(-np.round(shares, 6), kind="stable") if shares[at] > 0]


def recipe_tables(
    found: list[Found], given: Stock, seen: Profiles, stock: pd.DataFrame, batch: float | None,
    rng: np.random.Generator, draws: int, level: float,
) -> tuple[pd.DataFrame, pd.DataFrame, pd.DataFrame]:  # fmt: skip
    """Shares, a summary of each recipe, and each of its words; distances in units of what is allowed."""
    lots, standard = seen.drawn(rng, draws)
    recipes, summary, differences = [], [], []
    ends = [(1 - level) / 2, (1 + level) / 2]
    for aim, shares in found:
        off = given.off(shares)
        drawn = np.einsum("blw,l->bw", lots, shares) - standard
        honest = np.sqrt(((drawn / seen.allowed) ** 2).mean(axis=1))
        low, high = np.quantile(drawn, ends, axis=0)
        used = shares > 0
        kilograms = shares * batch if batch else np.full(len(shares), np.nan)
        cost = stock[COST].to_numpy(float)
        recipe = pd.DataFrame({RECIPE: aim, LOT: seen.lots, SHARE: shares, KILOGRAMS: kilograms, COST: cost})
        recipes.append(recipe.iloc[largest_first(shares)])
        within = bool((np.abs(off) <= seen.allowed * (1 + 1e-6)).all())
        summary.append({
            RECIPE: aim, "lots": int(used.sum()), COST: float(shares[used] @ cost[used]),
            "distance": float(np.sqrt(((off / seen.allowed) ** 2).mean())), "honest": float(honest.mean()),
            "honest_low": float(np.quantile(honest, ends[0])), "honest_high": float(np.quantile(honest, ends[1])),
            "call": words.REACHES if within else words.NONE_REACHES,
        })  # fmt: skip
        differences.append(pd.DataFrame({
            RECIPE: aim, DESCRIPTOR: seen.words, "standard": seen.standard, "blend": off + seen.standard,
            "difference": off, "low": low, "high": high, "allowed": seen.allowed,
        }))  # fmt: skip
    whole, of_words = (pd.concat(each, ignore_index=True) for each in (recipes, differences))
    return whole, pd.DataFrame(summary), of_words


def density_table(
    recipes: pd.DataFrame, readings: pd.DataFrame | None, grams: float | None, millilitres: float | None
) -> pd.DataFrame:
    """Bounds of the density of each recipe whose lots were all weighed."""
    if readings is None:
        return pd.DataFrame(columns=DENSITY)
    each = readings.groupby(LOT)["density"].mean()
    line = grams / millilitres if grams and millilitres else np.nan
    out = []
    for aim, rows in recipes.groupby(RECIPE, sort=False):
        own = each.reindex(rows[LOT].astype(str)).to_numpy(float)
        missing = ", ".join(rows[LOT].astype(str)[np.isnan(own)])
        low, high, fits = np.nan, np.nan, OPEN
        if not missing:
            low, high = mixture_bounds(rows[SHARE].to_numpy(float), own)
            fits = YES if low >= line else NO if high < line else OPEN
        out.append({RECIPE: aim, "low": low, "high": high, "fits": fits, "not_weighed": missing})
    return pd.DataFrame(out, columns=DENSITY)
