"""What the others said of each lot: the score a taster is compared with, which never holds his own."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from panelstats.models.additive import ROUNDING, fit_additive
from panelstats.scores.cells import BREW, CLASS, DESCRIPTOR, LOOKS, LOT, MEAN, SESSION, TASTER, WITHIN_SS
from panelstats.scores.grids import rank_within

if TYPE_CHECKING:
    from panelstats.scores.cells import Cells


@dataclass(frozen=True, eq=False)
class Pool:
    """One or more sessions as dense arrays; a row is a lot in a session.

    Attributes
    ----------
    lots, tasters, descriptors, sessions : ndarray of str
        Labels; `lots` one per row.
    session, block : ndarray of int, shape (row,)
        Session, and session and class together, of each row.
    mean : ndarray of float, shape (row, taster, descriptor)
        Mean of all looks of the taster at the lot; NaN where not scored.
    looks, within_ss : ndarray, same shape
        Number of looks and their sum of squares about `mean`.
    brews : ndarray of float, shape (row, taster, brew, descriptor)
        Mean of the looks at each brew; NaN where not scored.
    """

    lots: np.ndarray
    tasters: np.ndarray
    descriptors: np.ndarray
    sessions: np.ndarray
    session: np.ndarray
    block: np.ndarray
    mean: np.ndarray
    looks: np.ndarray
    within_ss: np.ndarray
    brews: np.ndarray

    def take(self, tasters: np.ndarray) -> Pool:
        """The pool of some tasters only, by index."""
        arrays = {name: getattr(self, name)[:, tasters] for name in ("mean", "looks", "within_ss", "brews")}
        return replace(self, tasters=self.tasters[tasters], **arrays)

    def rows(self, keep: np.ndarray) -> Pool:
        """Some rows only, by mask; sessions and blocks are numbered anew."""
        used, session = np.unique(self.session[keep], return_inverse=True)
        return replace(
            self,
            lots=self.lots[keep],
            sessions=self.sessions[used],
            session=session,
            block=np.unique(self.block[keep], return_inverse=True)[1],
            **{name: getattr(self, name)[keep] for name in ("mean", "looks", "within_ss", "brews")},
        )


def pool_of(cells: Cells) -> Pool:
    """All sessions and classes of `cells` side by side; labels in the order of the registers."""
    frame = cells.frame
    lots, row = _rows(cells)
    tasters, taster = _in_use(cells.tasters[TASTER], frame[TASTER])
    descriptors, descriptor = _in_use(cells.descriptors[DESCRIPTOR], frame[DESCRIPTOR])
    shape = (len(lots), len(tasters), len(descriptors))
    brew, brews = _brews(row, frame[BREW].to_numpy())
    at = np.ravel_multi_index((row, taster, descriptor), shape)
    del row, taster, descriptor  # of 20 million scores each is 80 MB
    count, mean, within = (frame[name].to_numpy() for name in (LOOKS, MEAN, WITHIN_SS))
    looks = np.bincount(at, count, np.prod(shape))
    whole = np.bincount(at, count * mean, np.prod(shape))
    np.divide(whole, looks, out=whole, where=looks > 0)
    ss = np.bincount(at, within + count * (mean - whole[at]) ** 2, np.prod(shape))
    whole[looks == 0] = np.nan
    by_brew = whole.reshape(shape)[:, :, None]
    if brews > 1:
        by_brew = np.full((*shape[:2], brews, shape[2]), np.nan)
        cup, word = np.divmod(at, max(shape[2], 1))
        by_brew.ravel()[(cup * brews + brew) * shape[2] + word] = mean
    session, block = (_numbered(lots[name]) for name in ([SESSION], [SESSION, CLASS]))
    return Pool(
        lots=lots[LOT].to_numpy(str),
        tasters=tasters,
        descriptors=descriptors,
        sessions=lots[SESSION].drop_duplicates().to_numpy(str),
        session=session,
        block=block,
        mean=whole.reshape(shape),
        looks=looks.reshape(shape),
        within_ss=ss.reshape(shape),
        brews=by_brew,
    )


def _rows(cells: Cells) -> tuple[pd.DataFrame, np.ndarray]:
    """Session, class and lot of each row of a pool, by session and class as registered; the row of each cell."""
    session, lot = cells.frame[SESSION].cat, cells.frame[LOT].cat
    pair, met = pd.factorize(session.codes.to_numpy().astype(np.int64) * len(lot.categories) + lot.codes.to_numpy())
    of_session, of_lot = met // max(len(lot.categories), 1), met % max(len(lot.categories), 1)
    class_of = pd.Series(cells.lots[CLASS].to_numpy(), index=cells.lots[LOT].astype(str))
    lots = pd.DataFrame(
        {SESSION: session.categories.to_numpy(str)[of_session], LOT: lot.categories.to_numpy(str)[of_lot]}
    )  # fmt: skip
    lots[CLASS] = class_of.reindex(lots[LOT]).to_numpy()
    place = (pd.Index(cells.sessions[SESSION].astype(str)).get_indexer(pd.Index(lots[SESSION])),
             pd.Index(cells.lots[CLASS].unique()).get_indexer(pd.Index(lots[CLASS])), of_lot)  # fmt: skip
    order = np.lexsort(place[::-1])
    row = np.empty(len(order), int)
    row[order] = np.arange(len(order))
    return lots.iloc[order].reset_index(drop=True), row[pair]


def _in_use(register: pd.Series, column: pd.Series) -> tuple[np.ndarray, np.ndarray]:
    """Labels that were met, in the order of their register, and the index of each cell's among them."""
    met = column.cat.categories.to_numpy(str)[np.unique(column.cat.codes)]
    labels = register.astype(str).to_numpy(str)
    labels = labels[np.isin(labels, met)]
    return labels, pd.Index(labels).get_indexer(column.cat.categories.astype(str))[column.cat.codes]


def _brews(row: np.ndarray, brew: np.ndarray) -> tuple[np.ndarray, int]:
    """Brews numbered from 0 inside each lot of a session, and how many there may be."""
    if not brew.any():
        return brew, 1
    ranked = rank_within(row, brew)
    return ranked, int(ranked.max(initial=0)) + 1


def _numbered(table: pd.DataFrame) -> np.ndarray:
    """Groups of equal rows, numbered as they are met."""
    return table.groupby(list(table.columns), sort=False, observed=True).ngroup().to_numpy()


def block_sums(values: np.ndarray, block: np.ndarray) -> np.ndarray:
    """Sums over the rows of each block: (row, ...) -> (block, ...)."""
    one_hot = (block == np.arange(block.max(initial=0) + 1)[:, None]).astype(float)
    return (one_hot @ values.reshape(len(values), -1)).reshape(-1, *values.shape[1:])


def centred(values: np.ndarray, block: np.ndarray) -> np.ndarray:
    """Values less their mean over the rows of the block, 0 where NaN; rounding is taken for 0."""
    seen = ~np.isnan(values)
    filled = np.where(seen, values, 0.0)
    mean = block_sums(filled, block) / np.maximum(block_sums(seen.astype(float), block), 1)
    out = np.where(seen, filled - mean[block], 0.0)
    return np.where(np.abs(out) <= 1e-12 * np.abs(mean[block]), 0.0, out)


@dataclass(frozen=True, eq=False)
class Reference:
    """The others' score of each lot, and how far they agree on it.

    Attributes
    ----------
    score : ndarray of float, shape (row, taster, descriptor)
        Mean of the others (additive fit of lot and taster where cells are missing); NaN where too few scored the lot.
    others : ndarray of int, same shape
        How many others scored the lot.
    residual_ss : ndarray of float, same shape
        The others' squared residuals from lot + taster within session and class, summed over them.
    df : ndarray of float, shape (taster, descriptor)
        Degrees of freedom of `residual_ss`.
    parts : ndarray of int, same shape
        Number of parts into which the others' lots fall; above 1, levels are compared inside each part only.
    """

    score: np.ndarray
    others: np.ndarray
    residual_ss: np.ndarray
    df: np.ndarray
    parts: np.ndarray


def reference(pool: Pool, active: np.ndarray, *, least: int = 2) -> Reference:
    """Leave-one-out reference of every taster.

    Parameters
    ----------
    pool : Pool
    active : ndarray of bool, shape (taster, descriptor)
        Who may stand in another taster's reference.
    least : int
        Fewest others who must have scored a lot.

    Returns
    -------
    Reference

    Notes
    -----
    A plain mean over whoever was present moves when a severe taster is away. So scores = lot + taster is fitted by
    least squares to the others' cells, and the reference is the fitted lot with the mean of the fitted tasters; on
    complete data this is the mean of the others.
    """
    on = np.broadcast_to(active, pool.mean.shape)
    complete = not np.isnan(pool.mean[on]).any()
    found = _from_means(pool, active) if complete else _from_fit(pool, active)
    return replace(found, score=np.where(found.others >= least, found.score, np.nan))


def _from_means(pool: Pool, active: np.ndarray) -> Reference:
    """Closed form where every active taster scored every lot."""
    y = np.where(active, pool.mean, 0.0)
    m = active.sum(axis=0) - active
    c = centred(np.where(active, pool.mean, np.nan), pool.block)
    many = np.maximum(m, 1)
    score = (y.sum(axis=1, keepdims=True) - y) / many
    mean = (c.sum(axis=1, keepdims=True) - c) / many
    total = (c**2).sum(axis=1, keepdims=True) - c**2
    ss = total - m * mean**2
    ss[ss <= ROUNDING * total] = 0.0
    lots = len(pool.lots) - len(np.unique(pool.block))
    return Reference(score, np.broadcast_to(m, score.shape), ss, np.maximum(m - 1, 0) * lots, np.ones_like(m))


def _from_fit(pool: Pool, active: np.ndarray) -> Reference:
    """Least squares, once for each left-out taster; the residuals session by session and class by class."""
    shape = pool.mean.shape
    score, others, ss = np.full(shape, np.nan), np.zeros(shape, int), np.zeros(shape)
    df, parts = np.zeros(shape[1:]), np.ones(shape[1:], int)
    rows = [np.flatnonzero(pool.block == b) for b in np.unique(pool.block)]
    for i in range(shape[1]):
        seen = ~np.isnan(pool.mean) & active
        seen[:, i] = False
        whole = fit_additive(pool.mean, seen)
        score[:, i], others[:, i], parts[i] = whole.row, seen.sum(axis=1), whole.parts
        within = [whole] if len(rows) == 1 else [fit_additive(pool.mean[at], seen[at]) for at in rows]
        for at, part in zip(rows, within, strict=True):
            ss[at, i] = (part.residual**2).sum(axis=1)
            df[i] += part.df
    return Reference(score, others, ss, df, parts)
