"""Where the model of the scores should be believed less: scale ends, heaped scores, unequal tasters, uneven spread."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components
from scipy.stats import f as f_distribution
from scipy.stats import spearmanr

from panelstats.scores.cells import DESCRIPTOR
from panelstats.words import count, listing, percent

if TYPE_CHECKING:
    from panelstats.lots.compare.fitted import Fitted

# More scores than this at one end of the scale squeeze means and spreads (common practice).
END_SHARE = 0.30
# More scores than this on one value leave little to compare (common practice).
HEAP_SHARE = 0.60
# Fewer degrees of freedom within cells than this leave their error weakly known (ours).
LEAST_WITHIN_DF = 5
# Level of the two tests, corrected for the number of descriptors.
FLAG = 0.01


def check_lines(group: Fitted) -> pd.DataFrame:
    """Checks of one class, a row per descriptor and check that gives cause to doubt."""
    rows = []
    for d, name in enumerate(group.grid.descriptors):
        looks = group.grid.looks[..., d]
        scores = group.grid.mean[..., d][looks > 0]
        layout = (*_unlinked(group, d), *_alone(group, d), *_few_replicates(group, d))
        rows += [(name, *line) for line in (*layout, *_ends(scores), *_heap(scores), *_uneven(group, d))]
    return pd.DataFrame(rows, columns=[DESCRIPTOR, "check", "value", "limit", "sentence"])


def _unlinked(group: Fitted, d: int) -> list[tuple[str, float, float, str]]:
    """Groups of lots that no taster joins: compared only on trust that tasters are a random draw."""
    seen = group.grid.looks[..., d].sum(axis=2) > 0
    scored = np.flatnonzero(seen.any(axis=1))
    if seen[scored].all(axis=0).any():  # one taster met them all
        return []
    lots, tasters = np.nonzero(seen)
    nodes = seen.shape[0] + seen.shape[1]
    edges = coo_array((np.ones(len(lots)), (lots, seen.shape[0] + tasters)), shape=(nodes, nodes))
    _, part = connected_components(edges, directed=False)
    parts = [group.grid.lots[scored[part[scored] == one]] for one in dict.fromkeys(part[scored])]
    if len(parts) < 2:
        return []
    named = "; ".join(", ".join(lots) for lots in parts)
    words = (
        f"no taster joins these groups of lots: {named}. Differences across them lean on the tasters' being a random "
        "draw: compare within a group, or have one taster score some of each."
    )
    return [("not linked", float(len(parts)), 1.0, words)]


def _alone(group: Fitted, d: int) -> list[tuple[str, float, float, str]]:
    """Lots that one taster of several scored: their means lean on him."""
    tasters = (group.grid.looks[..., d].sum(axis=2) > 0).sum(axis=1)
    lots = group.grid.lots[tasters == 1]
    if not len(lots) or tasters.max() == 1:
        return []
    who = listing([*lots[:6], f"{len(lots) - 6} more"] if len(lots) > 7 else lots)
    return [
        ("one taster's lots", float(len(lots)), 0.0, f"scored by one taster only: {who}. Their intervals are wide.")
    ]


def _few_replicates(group: Fitted, d: int) -> list[tuple[str, float, float, str]]:
    """Some cells looked at again, but too few to know the error within them."""
    part = group.part(d)
    df = int(part.can.within_df[part.index == d][0])
    if not 0 < df < LEAST_WITHIN_DF:
        return []
    words = f"only {count(df, 'repeated look')}: the error between looks is weakly known."
    return [("few repeats", float(df), float(LEAST_WITHIN_DF), words)]


def _ends(scores: np.ndarray) -> list[tuple[str, float, float, str]]:
    if np.ptp(scores) == 0:
        return []
    out = []
    for end, at in (("low", scores.min()), ("high", scores.max())):
        share = float((scores == at).mean())
        if share > END_SHARE:
            words = f"{percent(share)} of the scores stand at the {end} end ({at:g}): differences there are squeezed."
            out.append(("scale end", share, END_SHARE, words))
    return out


def _heap(scores: np.ndarray) -> list[tuple[str, float, float, str]]:
    middle = len(scores) // 2
    value = np.partition(scores, middle)[middle]  # what more than half of the scores are is their middle too
    share = float((scores == value).mean())
    if np.ptp(scores) == 0 or share <= HEAP_SHARE:
        return []
    words = f"{percent(share)} of the scores are {value:g}: little of the scale is used."
    return [("heaped scores", share, HEAP_SHARE, words)]


def _uneven(group: Fitted, d: int) -> list[tuple[str, float, float, str]]:
    """Tests on the residuals of the additive table of cell means; complete tables only."""
    looks, mean, _ = group.grid.take_descriptors(np.array([d])).over_brews()
    seen = (looks[..., 0] > 0).all(axis=1)
    table = mean[seen][..., 0]
    lots, tasters = table.shape
    if lots < 4 or tasters < 3:
        return []
    residual = table - table.mean(axis=1, keepdims=True) - table.mean(axis=0) + table.mean()
    if not (residual**2).sum() > 1e-12 * np.ptp(table) ** 2:
        return []
    return _unequal_tasters(group, residual) + _spread_with_level(table, residual, len(group.grid.descriptors))


def _unequal_tasters(group: Fitted, residual: np.ndarray) -> list[tuple[str, float, float, str]]:
    """Largest residual mean square of a taster against the others' (Grubbs' estimates set apart)."""
    lots, tasters = residual.shape
    squares = (residual**2).sum(axis=0)
    worst = int(squares.argmax())
    ratio = squares[worst] / ((squares.sum() - squares[worst]) / (tasters - 1))
    p = f_distribution.sf(ratio, lots - 1, (lots - 1) * (tasters - 1)) * tasters * len(group.grid.descriptors)
    if p >= FLAG:
        return []
    who = group.grid.tasters[worst]
    words = f"{who} lies {ratio**0.5:.1f} times as far from the panel as the others do: intervals average over tasters."
    return [("unequal tasters", float(p), FLAG, words)]


def _spread_with_level(
    table: np.ndarray, residual: np.ndarray, descriptors: int
) -> list[tuple[str, float, float, str]]:
    """Rank correlation over lots of their mean with the spread of their residuals."""
    level, spread = table.mean(axis=1), (residual**2).sum(axis=1)
    if np.ptp(level) == 0 or np.ptp(spread) == 0:
        return []
    found = spearmanr(level, spread)
    if found.pvalue * descriptors >= FLAG:
        return []
    way = "higher" if found.statistic > 0 else "lower"
    words = f"scores of {way} lots scatter more: intervals are too short there and too long elsewhere."
    return [("residual spread", float(found.pvalue), FLAG, words)]
