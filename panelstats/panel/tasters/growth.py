"""Do opinions grow with the lot? Then a few strong lots decide a slope, and somebody innocent may seem to be steep."""

from __future__ import annotations

import numpy as np

from panelstats.models.additive import fit_additive
from panelstats.models.ranks import mid_ranks
from panelstats.panel.tasters.reference import Pool, centred

# Growth is shown where fewer than this share of shuffled lots follow the disagreement as closely.
SHOWN = 0.01
SHUFFLES, SEED = 499, 7
# Fewer others than this do not disagree.
LEAST_OTHERS = 2


def opinions_grow(pool: Pool, without: int) -> bool:
    """Whether the tasters but one disagree more on the lots they mark higher.

    Notes
    -----
    Rank correlation over the lots of a class between their mark and the squares that lot and taster leave, mean over
    descriptors, against lots shuffled as whole rows. Who may be at fault himself is left out.

    Examples
    --------
    >>> import pandas as pd, panelstats as pst
    >>> from panelstats.panel.tasters.reference import pool_of
    >>> rng = np.random.default_rng(1)
    >>> rows = [(str(lot), taster, lot / 3 + rng.normal(0, 0.1 + lot / 6))
    ...         for lot in range(24) for taster in ("elm", "yew", "larch", "beech")]
    >>> sheet = pd.DataFrame(rows, columns=["lot", "taster", "strength"]).round(1)
    >>> opinions_grow(pool_of(pst.read_scores(sheet).cells()), 0)
    True
    """
    others = np.delete(np.arange(len(pool.tasters)), without)
    mean = pool.mean[:, others]
    seen = ~np.isnan(mean) & ((~np.isnan(mean)).sum(axis=1, keepdims=True) >= LEAST_OTHERS)
    rows = seen.any(axis=(1, 2))
    if len(others) < LEAST_OTHERS or rows.sum() < 3:
        return False
    mean, seen, block = mean[rows], seen[rows], pool.block[rows]
    fit = fit_additive(np.nan_to_num(mean), seen)
    squares = (fit.residual**2).sum(axis=1) / np.maximum(seen.sum(axis=1), 1)
    apart, mark = (_ranks(np.where(seen.any(axis=1), x, np.nan), block) for x in (squares, fit.row))
    rng = np.random.default_rng(SEED)
    home = np.argsort(block, kind="stable")
    follows = [(apart * mark).sum()]
    for _ in range(SHUFFLES):
        drawn = np.empty(len(block), int)
        drawn[home] = np.argsort(block + rng.random(len(block)))
        follows.append((apart * mark[drawn]).sum())
    return bool(np.mean(np.array(follows) >= follows[0] * (1 - 1e-9)) < SHOWN and follows[0] > 0)


def _ranks(values: np.ndarray, block: np.ndarray) -> np.ndarray:
    """Ranks by descriptor about their class, of length 1; 0 where not scored."""
    ranks = np.nan_to_num(centred(mid_ranks(values), block))
    length = np.sqrt((ranks**2).sum(axis=0))
    return np.asarray(ranks / np.where(length > 0, length, 1.0))
