"""What marks would show if they said nothing of the lots: each taster's lots shuffled as whole rows within class.

Before anything is compared, the lots' means of class are out, and where all met the lots in one order each taster's
straight line over that order: marks that sag together along the row are no agreement on the lots.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from panelstats.models.meansquares import ratio
from panelstats.panel.tasters.reference import Pool, Reference, centred
from panelstats.scores.cells import LOT, POSITION, SESSION, TASTER, Cells
from panelstats.scores.places import listed, one_order, places, runs

if TYPE_CHECKING:
    from panelstats.scores.table import Scores

# Shuffles, fewer where the tables are large, never so few that p < .01 is out of reach.
SHUFFLES, FEWEST, MOST_VALUES = 499, 199, 5e7
SEED = 20
AT_ONCE = 100_000  # numbers held at a time, so that they stay in the processor's cache


@dataclass(frozen=True, eq=False)
class Standardised:
    """Marks and the others' marks in standard deviations about their class, 0 where not scored.

    Attributes
    ----------
    own, others : ndarray, shape (row, taster, descriptor)
    group : ndarray of int, shape (row, taster)
        Rows of one number may change places: one class in one session, scored by the taster.
    seen : ndarray of bool, shape (row, taster, descriptor)
        Where the taster and others scored.
    df : ndarray of int, shape (taster, descriptor)
        Lots both scored, less classes, less one where a line was taken out.
    """

    own: np.ndarray
    others: np.ndarray
    group: np.ndarray
    seen: np.ndarray
    df: np.ndarray


def standardised(pool: Pool, ref: Reference, place: np.ndarray) -> Standardised:
    """Standardise marks; `place` is each row's place in the one order all met the lots in, NaN where there is none."""
    both = ~np.isnan(pool.mean) & ~np.isnan(ref.score)
    own, others = (_unit(np.where(both, values, np.nan), pool.block, place) for values in (pool.mean, ref.score))
    blocks = np.array([both[pool.block == b].any(axis=0) for b in np.unique(pool.block)]).sum(axis=0)
    df = np.maximum(both.sum(axis=0) - blocks - int(np.isfinite(place).any()), 0)
    return Standardised(own, others, 2 * pool.block[:, None] + ~both.any(axis=2), both, df)


def _unit(values: np.ndarray, block: np.ndarray, place: np.ndarray) -> np.ndarray:
    c = centred(values, block)
    if np.isfinite(place).any():
        seen = ~np.isnan(values)
        x = centred(np.where(seen, place[:, None, None], np.nan), block)
        line = x * np.nan_to_num(ratio((c * x).sum(axis=0), (x**2).sum(axis=0)))
        c = np.where(seen & np.isfinite(place)[:, None, None], c - line, c)
    squares = (c**2).sum(axis=0)
    return c / np.sqrt(np.where(squares > 0, squares, 1.0))


def shuffled(found: Standardised) -> Iterator[np.ndarray]:
    """The own marks with every taster's rows in new places, again and again from a fixed seed.

    Several shuffles at a time, shape (shuffle, row, taster, descriptor).
    """
    rng = np.random.default_rng(SEED)
    home = np.argsort(np.argsort(found.group, axis=0, kind="stable"), axis=0)[None]  # its rank among the groups' rows
    count = int(np.clip(MOST_VALUES / max(found.own.size, 1), FEWEST, SHUFFLES))
    at_once = max(AT_ONCE // max(found.own.size, 1), 1)
    for start in range(0, count, at_once):
        some = min(at_once, count - start)
        drawn = np.argsort(found.group + rng.random((some, *found.group.shape)), axis=1)
        place = np.take_along_axis(drawn, home, axis=1)
        yield np.take_along_axis(found.own[None], place[..., None], axis=1)


def serving_places(scores: Scores | Cells, pool: Pool) -> np.ndarray:
    """Place of each row in the serving order of its session where every taster met the lots in one order, else NaN.

    Where nobody said in which order the lots were tasted, but marks run along the one in which all sheets list them, it
    is taken for that.
    """
    out = np.full(len(pool.lots), np.nan)
    if isinstance(scores, Cells):
        return out
    place, along = places(scores), {run.session for run in runs(scores)}
    if along:
        place = np.where(scores.frame[SESSION].astype(str).isin(along), listed(scores.frame), place)
    if np.isnan(place).all():
        return out
    rows = scores.frame.assign(**{POSITION: place})
    for s, name in enumerate(pool.sessions):
        here = pool.session == s
        orders = rows[rows[SESSION].astype(str) == str(name)].pivot_table(
            index=LOT, columns=TASTER, values=POSITION, observed=True
        )
        orders.index = orders.index.astype(str)
        orders = orders.reindex(pool.lots[here])
        if one_order(orders):
            out[here] = orders.mean(axis=1).to_numpy()
    return out
