"""Repeated servings of a lot: how closely a taster meets his own marks again, with shared pots taken out."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from panelstats.models.additive import fit_additive
from panelstats.models.meansquares import ratio
from panelstats.panel.tasters.reference import Pool

# A pool tests repeatability when this many of its lots were served twice, or all of them (ours).
LEAST_LOTS = 8


@dataclass(frozen=True, eq=False)
class Repeats:
    """Within-lot sums of squares of the tasters; shape (taster, descriptor), or with a leading row axis.

    Attributes
    ----------
    ss, df : ndarray
        The taster's deviations within lots, less the others' deviations at the same pot where pots are shared.
    noise : ndarray
        Multiples of the others' variance that this subtraction adds to `ss`.
    others_ss, others_df : ndarray
        The others' deviations, about their pot means where pots are shared.
    lots : ndarray
        Lots served to the taster more than once.
    """

    ss: np.ndarray
    df: np.ndarray
    noise: np.ndarray
    others_ss: np.ndarray
    others_df: np.ndarray
    lots: np.ndarray

    @property
    def quotient(self) -> np.ndarray:
        """Mean square of the taster over that of the others."""
        return ratio(ratio(self.ss, self.df), ratio(self.others_ss, self.others_df))

    @property
    def term(self) -> np.ndarray:
        """What the others' noise adds to `quotient`: 0 with own pots, 1 / others with shared ones."""
        return ratio(self.noise, self.df)

    def over_lots(self) -> Repeats:
        """Sum over the rows."""
        return Repeats(*(getattr(self, name).sum(axis=0) for name in _FIELDS))

    def without_each_lot(self) -> Repeats:
        """The sums with each row left out in turn."""
        return Repeats(*(getattr(self, n).sum(axis=0) - getattr(self, n) for n in _FIELDS))


_FIELDS = ("ss", "df", "noise", "others_ss", "others_df", "lots")


def repeats(pool: Pool, active: np.ndarray) -> Repeats:
    """Repeats of every taster, lot by lot: shape (row, taster, descriptor).

    Notes
    -----
    Where pots are shared, a taster's deviation holds the pot's, and so do the others'; the difference does not (the
    idea of Grubbs 1948, JASA 43: 243). Repeated looks at one shared pot are averaged.
    """
    df = np.maximum(pool.looks - 1, 0).astype(float)
    others = [_others(values, active) for values in (pool.within_ss, df)]
    plain = Repeats(pool.within_ss, df, np.zeros(df.shape), others[0], others[1], (df > 0).astype(float))
    shared = (~np.isnan(pool.brews)).sum(axis=2).max(axis=1, initial=0) > 1  # (row, descriptor)
    return _with_shared(plain, pool, active, shared) if shared.any() else plain


def _others(values: np.ndarray, active: np.ndarray) -> np.ndarray:
    counted = np.where(active, values, 0.0)
    return np.maximum(counted.sum(axis=1, keepdims=True) - counted, 0.0)


def _with_shared(plain: Repeats, pool: Pool, active: np.ndarray, shared: np.ndarray) -> Repeats:
    """Replace the rows and descriptors of shared pots."""
    row, descriptor = np.nonzero(shared)
    y = np.moveaxis(pool.brews, 3, 1)[row, descriptor]  # (table, taster, brew)
    on = active.T[descriptor]
    seen = ~np.isnan(y)
    present = seen.any(axis=2) | on
    full = (seen == (seen.any(axis=1, keepdims=True) & present[:, :, None])).all(axis=(1, 2))
    out = {name: getattr(plain, name).copy() for name in _FIELDS}
    for at, method in ((full, _complete), (~full, _gaps)):
        if at.any():
            for name, values in zip(_FIELDS, method(y[at], on[at]), strict=True):
                out[name][row[at], :, descriptor[at]] = values
    return Repeats(**out)


def _complete(y: np.ndarray, on: np.ndarray) -> tuple[np.ndarray, ...]:
    """Shared pots, everyone at every pot; arrays (table, taster)."""
    seen = ~np.isnan(y)
    pots = seen.sum(axis=2)
    e = np.where(seen, y - np.nan_to_num(ratio(np.nansum(y, axis=2), pots))[..., None], 0.0)
    e[np.abs(e) <= 1e-12 * np.abs(np.nan_to_num(y))] = 0.0
    counted = np.where(on[..., None], e, 0.0)
    m = on.sum(axis=1, keepdims=True) - on
    mean = (counted.sum(axis=1, keepdims=True) - counted) / np.maximum(m, 1)[..., None]
    df = np.where(m > 0, np.maximum(pots - 1, 0), 0).astype(float)
    squares = (counted**2).sum(axis=2)
    others = squares.sum(axis=1, keepdims=True) - squares - m * (mean**2).sum(axis=2)
    others[np.abs(others) <= 1e-12 * squares.sum(axis=1, keepdims=True)] = 0.0
    ss = np.where(df > 0, ((e - mean) ** 2).sum(axis=2), 0.0)
    return ss, df, df / np.maximum(m, 1), np.maximum(others, 0.0), np.maximum(m - 1, 0) * df, (df > 0).astype(float)


def _gaps(y: np.ndarray, on: np.ndarray) -> tuple[np.ndarray, ...]:
    """Shared pots, some servings missing: the others' additive fit of taster and pot inside each lot."""
    out = [np.zeros(y.shape[:2]) for _ in _FIELDS]
    seen = np.moveaxis(~np.isnan(y), 0, 2)  # (taster, brew, table)
    values = np.moveaxis(y, 0, 2)
    for i in range(y.shape[1]):
        theirs = seen & on.T[:, None]
        theirs[i] = False
        fit = fit_additive(values, theirs)
        mine = seen[i] & theirs.any(axis=0) & (fit.parts == 1)
        z = np.where(mine, np.where(mine, values[i], 0.0) - fit.column, 0.0)
        count = mine.sum(axis=0)
        df = np.maximum(count - 1, 0)
        w = mine.T.astype(float)
        own = np.einsum("tk,tkk->t", w, fit.spread)
        cross = np.einsum("tk,tkl,tl->t", w, fit.spread, w)
        noise = np.where(df > 0, own - cross / np.maximum(count, 1), 0.0)
        ss = np.where(df > 0, (z**2).sum(axis=0) - z.sum(axis=0) ** 2 / np.maximum(count, 1), 0.0)
        answer = (np.maximum(ss, 0.0), df, noise, (fit.residual**2).sum(axis=(0, 1)), np.maximum(fit.df, 0), df > 0)
        for array, value in zip(out, answer, strict=True):
            array[:, i] = value
    return tuple(out)
