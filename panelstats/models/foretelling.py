"""Whether columns foretell a value beyond strata: ridge regression, each row foretold by the others."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

# Penalties tried, as multiples of the mean eigenvalue.
PENALTIES = 10.0 ** np.arange(-2, 3.25, 0.5)
# Rows up to which each is left out by itself when the penalty is chosen anew; beyond, so many parts of them.
MOST_ALONE, PARTS = 200, 20


@dataclass(frozen=True, eq=False)
class Foretold:
    """How far columns foretell a value beyond the strata.

    Attributes
    ----------
    share : float
        1 less the squared errors of foretelling each row from the others over those of the strata alone (Q2), with the
        penalty that does best.
    share_anew : float
        The same with the penalty chosen without the row that is foretold.
    p : float
        Share of shuffles within strata that foretell as well, each with its own best penalty.
    left : ndarray, shape (row,)
        Value less what the other rows foretell.
    df : float
        Rows less strata less what the columns took up.
    alone : ndarray, shape (column,)
        Correlation with the value within strata; NaN where a column is constant there.
    alone_p : ndarray, shape (column,)
        Share of shuffles in which the largest correlation of all columns reaches it.
    """

    share: float
    share_anew: float
    p: float
    left: np.ndarray
    df: float
    alone: np.ndarray
    alone_p: np.ndarray


def foretell(
    x: np.ndarray, y: np.ndarray, stratum: np.ndarray, *, rng: np.random.Generator, shuffles: int = 999
) -> Foretold:
    """Foretell each row's value from the other rows.

    Parameters
    ----------
    x : ndarray, shape (row, column)
    y : ndarray, shape (row,)
    stratum : ndarray of int, shape (row,)
        From 0; two rows or more in each. Levels of the strata are never penalised.
    rng : Generator
    shuffles : int

    Notes
    -----
    Columns within strata to SD 1; ridge (Hoerl & Kennard 1970, Technometrics 12: 55); errors of leaving a row out in
    closed form, e / (1 - h - 1/n) (Stone 1974, JRSS B 36: 111). Shuffles run within strata; the maximum over columns in
    the same shuffles holds the level over all of them (Westfall & Young 1993); p = (1 + reached) / (1 + shuffles).

    Examples
    --------
    >>> rng = np.random.default_rng(0)
    >>> x = rng.standard_normal((40, 3))
    >>> found = foretell(x, x[:, 0] + 0.3 * rng.standard_normal(40), np.zeros(40, int), rng=rng)
    >>> print(found.share > 0.8, found.p, found.alone_p.argmin())
    True 0.001 0
    """
    size = np.bincount(stratum)[stratum]
    z, own = scaled_within(x, stratum), within(y, stratum)
    drawn = np.column_stack([own, _shuffled(own, stratum, rng, shuffles)])
    ridge = _Ridge.of(z, size)
    base = np.sum((own / (1 - 1 / size)) ** 2)
    press = np.array([(ridge.left_out(drawn, at) ** 2).sum(axis=0) for at in range(len(PENALTIES))])
    shares = 1 - press / base if base > 0 else np.zeros_like(press)
    best = shares.max(axis=0)
    at = int(shares[:, 0].argmax())
    length = np.sqrt((z**2).sum(axis=0))
    some = length > 0
    cor = np.abs(z[:, some].T @ drawn) / np.outer(length[some], np.sqrt(max((own**2).sum(), 1e-300)))
    most = cor[:, 1:].max(axis=0, initial=0.0)
    alone, alone_p = np.full(x.shape[1], np.nan), np.full(x.shape[1], np.nan)
    alone[some] = (z[:, some].T @ own) / (length[some] * np.sqrt(max((own**2).sum(), 1e-300)))
    alone_p[some] = (1 + (most >= cor[:, :1] - 1e-12).sum(axis=1)) / (1 + shuffles)
    return Foretold(
        share=float(best[0]),
        share_anew=_anew(x, y, stratum, rng),
        p=float((1 + (best[1:] >= best[0] - 1e-12).sum()) / (1 + shuffles)),
        left=ridge.left_out(own[:, None], at)[:, 0],
        df=float(len(y) - len(np.unique(stratum)) - ridge.taken[at]),
        alone=alone,
        alone_p=alone_p,
    )


def within(values: np.ndarray, stratum: np.ndarray) -> np.ndarray:
    """Values less the mean of their stratum, along the first axis."""
    if not len(values):
        return values
    flat = values.reshape(len(values), -1)
    one = np.eye(stratum.max() + 1)[stratum]
    return (flat - one @ ((one.T @ flat) / np.maximum(one.sum(axis=0), 1)[:, None])).reshape(values.shape)


def scaled_within(x: np.ndarray, stratum: np.ndarray) -> np.ndarray:
    """Columns within strata to SD 1; 0 where one is constant there."""
    z = within(x, stratum)
    sd = np.sqrt((z**2).sum(axis=0) / max(len(z) - len(np.unique(stratum)), 1))
    tiny = 1e-9 * np.maximum(np.abs(x).max(axis=0, initial=0.0), 1e-300)
    return np.where(sd > tiny, z / np.where(sd > tiny, sd, 1.0), 0.0)


@dataclass(frozen=True, eq=False)
class _Ridge:
    """Ridge regressions on the same columns, one for each penalty."""

    u: np.ndarray  # (row, axis)
    kept: np.ndarray  # (penalty, axis): what is kept of each axis
    size: np.ndarray  # (row,)

    @staticmethod
    def of(z: np.ndarray, size: np.ndarray) -> _Ridge:
        u, d, _ = np.linalg.svd(z, full_matrices=False)
        square = d**2
        penalty = PENALTIES * max(square.mean() if len(square) else 0.0, 1e-300)
        return _Ridge(u, square / (square + penalty[:, None]), size)

    @property
    def taken(self) -> np.ndarray:
        """Degrees of freedom taken up, shape (penalty,)."""
        return self.kept.sum(axis=1)

    def left_out(self, y: np.ndarray, at: int) -> np.ndarray:
        """Errors of foretelling each row without it, shape (row, column of y)."""
        kept = self.kept[at]
        fitted = (self.u * kept) @ (self.u.T @ y)
        leverage = (self.u**2) @ kept + 1 / self.size
        return (y - fitted) / np.maximum(1 - leverage, 1e-9)[:, None]


def _shuffled(y: np.ndarray, stratum: np.ndarray, rng: np.random.Generator, shuffles: int) -> np.ndarray:
    out = np.repeat(y[:, None], shuffles, axis=1)
    for each in np.unique(stratum):
        here = stratum == each
        out[here] = rng.permuted(out[here], axis=0)
    return out


def _anew(x: np.ndarray, y: np.ndarray, stratum: np.ndarray, rng: np.random.Generator) -> float:
    """The share foretold where the penalty never sees the rows it is used on."""
    n = len(y)
    order = np.lexsort([rng.random(n), stratum])  # rows of a stratum fall into different parts
    part = np.empty(n, int)
    part[order] = np.arange(n) % (n if n <= MOST_ALONE else PARTS)
    wrong = base = 0.0
    for each in range(part.max() + 1):
        out = part == each
        rest = ~out
        if not np.isin(stratum[out], stratum[rest]).all():
            continue
        level = _levels(np.column_stack([x, y]), stratum, rest)
        z = x[rest] - level[stratum[rest], :-1]
        sd = np.sqrt((z**2).mean(axis=0))
        sd = np.where(sd > 0, sd, np.inf)
        own = y[rest] - level[stratum[rest], -1]
        ridge = _Ridge.of(z / sd, np.bincount(stratum[rest])[stratum[rest]])
        at = int(np.argmin([(ridge.left_out(own[:, None], k) ** 2).sum() for k in range(len(PENALTIES))]))
        u, d, vt = np.linalg.svd(z / sd, full_matrices=False)
        slope = vt.T @ (ridge.kept[at] / np.where(d > 0, d, np.inf) * (u.T @ own)) / sd
        left = y[out] - level[stratum[out], -1]
        wrong += float(((left - (x[out] - level[stratum[out], :-1]) @ slope) ** 2).sum())
        base += float((left**2).sum())
    return 1 - wrong / base if base > 0 else 0.0


def _levels(values: np.ndarray, stratum: np.ndarray, rows: np.ndarray) -> np.ndarray:
    one = np.eye(stratum.max() + 1)[stratum[rows]]
    return (one.T @ values[rows]) / np.maximum(one.sum(axis=0), 1)[:, None]
