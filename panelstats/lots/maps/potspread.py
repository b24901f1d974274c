"""How shared pots of one lot differ on all descriptors at once: an error common to all tasters."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from panelstats.scores.cells import BREW, DESCRIPTOR, LOT, MEAN, SESSION, TASTER

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True, eq=False)
class PotSpread:
    """Pots that all tasters shared.

    Attributes
    ----------
    means : ndarray, shape (pot, descriptor)
        Panel means, the level of each taster for the lot put back; for `dealt`.
    lot : ndarray of int, shape (pot,)
    count : ndarray of int, shape (lot,)
        Pots of each lot.
    variance : ndarray, shape (descriptor, descriptor)
        Pot-to-pot, no direction negative.
    between, within : ndarray, shape (descriptor, descriptor)
        Mean squares of pots and of pot by taster, per pot mean.
    df, df_within : int
    """

    means: np.ndarray
    lot: np.ndarray
    count: np.ndarray
    variance: np.ndarray
    between: np.ndarray
    within: np.ndarray
    df: int
    df_within: int


def pot_spread(
    rows: pd.DataFrame,
    lots: np.ndarray,
    tasters: np.ndarray,
    words: np.ndarray,
    scale: np.ndarray,
    shared: np.ndarray,
) -> PotSpread | None:
    """What the pots of each lot show of pot-to-pot variation; None where no lot has two shared pots."""
    rows = rows[rows[LOT].isin(lots) & rows[DESCRIPTOR].isin(words)]
    y, seen = _by_pot(rows, lots, tasters, words)
    y = y * scale
    count = (seen & shared).any(axis=(1, 3)).sum(axis=1)  # (lot,)
    if count.max(initial=0) < 2:
        return None
    n = seen.sum(axis=2, keepdims=True)
    cell = np.where(seen, y, 0.0).sum(axis=2, keepdims=True) / np.maximum(n, 1)
    away = np.where(seen & (n > 1) & shared, y - cell, 0.0)  # (lot, taster, pot, word)
    told = (seen & (n > 1) & shared).sum(axis=1)  # (lot, pot, word)
    pot = away.sum(axis=1) / np.maximum(told, 1)
    within = away - np.where(seen & (n > 1) & shared, pot[:, None], 0.0)
    used = told.any(axis=2)
    df = int(np.maximum(used.sum(axis=1) - 1, 0).sum())
    cells = (seen & (n > 1) & shared).any(axis=3)  # (lot, taster, pot)
    df_within = int(cells.sum() - cells.any(axis=2).sum()) - df
    if df < 1 or df_within < 1:
        return None
    people = float(told[told > 0].mean())
    flat, rest = (pot * np.sqrt(told)).reshape(-1, len(words)), within.reshape(-1, len(words))
    between, inside = flat.T @ flat / df / people, rest.T @ rest / df_within / people
    values, vectors = np.linalg.eigh(between - inside)
    variance = (vectors * np.maximum(values, 0.0)) @ vectors.T
    level = np.where(seen, y, 0.0).sum(axis=(0, 2)) / np.maximum(seen.sum(axis=(0, 2)), 1)  # (taster, word)
    known = seen.sum(axis=1)
    means = np.where(seen, y - level[:, None], 0.0).sum(axis=1) / np.maximum(known, 1)  # (lot, pot, word)
    lot_mean = np.where(seen, y - level[:, None], 0.0).sum(axis=(1, 2)) / np.maximum(seen.sum(axis=(1, 2)), 1)
    means = np.where((known > 0) & shared, means, lot_mean[:, None])
    served = (seen & shared).any(axis=(1, 3))
    at = np.nonzero(served)
    return PotSpread(means[at], at[0], np.maximum(count, 1), variance, between, inside, df, df_within)


def _by_pot(
    rows: pd.DataFrame, lots: np.ndarray, tasters: np.ndarray, words: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Marks by (lot, taster, pot, descriptor) and where there are any; pots of all sessions side by side."""
    served = rows[[LOT, SESSION, BREW]].drop_duplicates().sort_values([LOT, SESSION, BREW])
    served = served.assign(at=served.groupby(LOT, sort=False).cumcount())
    rows = rows.merge(served, on=[LOT, SESSION, BREW])
    shape = (len(lots), len(tasters), int(served["at"].max()) + 1, len(words))
    places = [np.searchsorted(labels, rows[key].to_numpy(str)) for key, labels in ((LOT, lots), (TASTER, tasters))]
    at = (*places, rows["at"].to_numpy(), np.searchsorted(words, rows[DESCRIPTOR].to_numpy(str)))
    y, seen = np.zeros(shape), np.zeros(shape, bool)
    y[at], seen[at] = rows[MEAN], True
    return y, seen
