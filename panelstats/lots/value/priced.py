"""The lots that fetched a price: their scores within strata, and how far a lot's mean may be off."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from panelstats.lots.plaintables import ASIDE, by_name
from panelstats.models.additive import fit_additive
from panelstats.models.errorfree import ErrorPart
from panelstats.scores.cells import CLASS, LOT, ROLE, SESSION, SHARED

if TYPE_CHECKING:
    from panelstats.models.additive import Additive
    from panelstats.scores.cells import Cells, Grid

# Fewest priced lots of a stratum (ours).
LEAST_IN_STRATUM = 3
# Grades part the lots of a class further while at most this share of the lots is lost by it (ours).
MOST_LOST = 0.1
# A descriptor is used where at most this share of the priced lots lacks it (ours).
MOST_WITHOUT = 0.2
SHUFFLES = 199
GRADE, PRICE, STRATUM = "grade", "price", "stratum"


@dataclass(frozen=True, eq=False)
class Priced:
    """Lots with a price, in strata of session, class and (where they are large enough) grade.

    Attributes
    ----------
    lots : DataFrame
        session, lot, class, grade, price, stratum (a number), a row for each lot used.
    descriptors : list of str
    x : ndarray, shape (lot, descriptor)
        Mean of each lot, its tasters' levels taken off.
    error : list of ErrorPart
        What the error of a lot's mean is made of; empty where nothing shows it.
    of_pots : bool
        Whether the error of pots is part of it.
    marks : list of ndarray, shape (lot, taster, descriptor)
        Of each session and class, for the test of order; NaN where not scored.
    unsold, left_out : int
        Lots tasted without a price, and lots with one that stand in too small a stratum or lack scores.
    by_grade : bool
    """

    lots: pd.DataFrame
    descriptors: list[str]
    x: np.ndarray
    error: list[ErrorPart]
    of_pots: bool
    marks: list[np.ndarray]
    unsold: int
    left_out: int
    by_grade: bool


@dataclass(frozen=True, eq=False)
class _Part:
    """The priced lots of one session and class, before descriptors are matched."""

    lots: pd.DataFrame
    descriptors: list[str]
    marks: np.ndarray  # (lot, taster, descriptor), NaN where not scored
    brews: np.ndarray  # (lot, taster, brew, descriptor), NaN where not scored
    shared: bool


def priced_lots(cells: Cells, price: pd.Series) -> Priced:
    """Gather the lots that have a price.

    Parameters
    ----------
    cells : Cells
        Trainees, controls and standards do not count. A lot of several sessions counts in that of most tasters.
    price : Series
        By lot, NaN where not sold.
    """
    seniors = cells.select(role="senior")
    register = by_name(cells.lots, LOT)
    grids = list(seniors.grids())
    ours = _once(grids, register)
    tasted = sum(len(rows) for rows in ours)
    parts = [part for grid, rows in zip(grids, ours, strict=True) if (part := _part(grid, rows, price, register))]
    sold = sum(len(part.lots) for part in parts)
    parts, names = _matched(parts)
    table = pd.concat([part.lots for part in parts], ignore_index=True) if parts else _NO_LOTS
    keep, stratum, by_grade = _strata(table)
    parts = _kept(parts, keep)
    table = table[keep].reset_index(drop=True)
    table[STRATUM] = np.unique(stratum[keep], return_inverse=True)[1]
    fits = [fit_additive(part.marks, np.isfinite(part.marks)) for part in parts]
    x = np.concatenate([fit.row for fit in fits]) if fits else np.zeros((0, len(names)))
    shared = any(part.shared for part in parts)
    several = any(np.isfinite(part.brews).any(axis=(1, 3)).sum(axis=1).max(initial=0) > 1 for part in parts)
    return Priced(
        lots=table,
        descriptors=names,
        x=x,
        error=_error(parts, fits),
        of_pots=not shared or several,
        marks=[part.marks for part in parts],
        unsold=tasted - sold,
        left_out=sold - len(table),
        by_grade=by_grade,
    )


_NO_LOTS = pd.DataFrame(columns=[SESSION, LOT, CLASS, GRADE, PRICE])


def _once(grids: list[Grid], register: pd.DataFrame) -> list[np.ndarray]:
    """The lots of each grid that count there: neither control nor standard, each in its fullest session."""
    roles = register[ROLE].to_dict()
    most: dict[str, tuple[int, int]] = {}
    for at, grid in enumerate(grids):
        tasters = (grid.looks > 0).any(axis=(2, 3)).sum(axis=1)
        for lot, n in zip(grid.lots, tasters, strict=True):
            if roles[lot] not in ASIDE and n > most.get(lot, (0, 0))[0]:
                most[lot] = (int(n), at)
    return [
        np.array([i for i, lot in enumerate(grid.lots) if most.get(lot, (0, -1))[1] == at], int)
        for at, grid in enumerate(grids)
    ]


def _part(grid: Grid, rows: np.ndarray, price: pd.Series, register: pd.DataFrame) -> _Part | None:
    paid = price.reindex(grid.lots[rows]).to_numpy(float)
    rows, paid = rows[np.isfinite(paid)], paid[np.isfinite(paid)]
    if not len(rows):
        return None
    looks, mean, _ = grid.over_brews()
    lots = grid.lots[rows]
    grade = register[GRADE].reindex(lots).fillna("").astype(str) if GRADE in register else pd.Series("", lots)
    table = pd.DataFrame(
        {SESSION: grid.session, LOT: lots, CLASS: grid.lot_class, GRADE: grade.to_numpy(), PRICE: paid}
    )
    marks = np.where(looks[rows] > 0, mean[rows], np.nan)
    brews = np.where(grid.looks[rows] > 0, grid.mean[rows], np.nan)
    return _Part(table, list(map(str, grid.descriptors)), marks, brews, bool((grid.pots == SHARED).any()))


def _matched(parts: list[_Part]) -> tuple[list[_Part], list[str]]:
    """The parts with the descriptors that nearly all lots have; lots that lack one of these are left out."""
    lots = sum(len(part.lots) for part in parts)
    have: dict[str, int] = {}
    for part in parts:
        seen = np.isfinite(part.marks).any(axis=1).sum(axis=0)
        for name, n in zip(part.descriptors, seen, strict=True):
            have[name] = have.get(name, 0) + int(n)
    names = [name for name, n in have.items() if n >= (1 - MOST_WITHOUT) * lots]
    out = []
    for part in parts:
        if not set(names) <= set(part.descriptors):
            continue
        at = [part.descriptors.index(name) for name in names]
        marks, brews = part.marks[:, :, at], part.brews[..., at]
        whole = np.isfinite(marks).any(axis=1).all(axis=1)
        if whole.any():
            out.append(_Part(part.lots[whole], names, marks[whole], brews[whole], part.shared))
    return out, names


def _strata(table: pd.DataFrame) -> tuple[np.ndarray, np.ndarray, bool]:
    """Which lots stay, the stratum of each, and whether grades part them."""
    codes = [table.groupby(keys, sort=False, dropna=False).ngroup().to_numpy() if len(table) else np.zeros(0, int)
             for keys in ([SESSION, CLASS], [SESSION, CLASS, GRADE])]  # fmt: skip
    kept = [np.bincount(code)[code] >= LEAST_IN_STRATUM if len(code) else np.zeros(0, bool) for code in codes]
    by_grade = bool(len(table) and len(table[GRADE].unique()) > 1 and kept[1].sum() >= (1 - MOST_LOST) * kept[0].sum())
    return kept[by_grade], codes[by_grade], by_grade


def _kept(parts: list[_Part], keep: np.ndarray) -> list[_Part]:
    out, start = [], 0
    for part in parts:
        mine = keep[start : start + len(part.lots)]
        start += len(part.lots)
        if mine.any():
            out.append(_Part(part.lots[mine], part.descriptors, part.marks[mine], part.brews[mine], part.shared))
    return out


def _error(parts: list[_Part], fits: list[Additive]) -> list[ErrorPart]:
    """The error of a lot's mean: tasters' disagreement on it, and its pots beyond that."""
    if not parts:
        return []
    tasters = np.concatenate([np.isfinite(part.marks).any(axis=2).sum(axis=1) for part in parts])
    df = np.concatenate([_spread_df(part, float(fit.df.mean())) for part, fit in zip(parts, fits, strict=True)])
    found = []
    if df.sum() > 0:
        own = [np.einsum("ltd,lte->lde", fit.residual, fit.residual) for fit in fits]
        # leaving a lot out takes its own squares, and what the tasters' levels took of it
        apart = np.concatenate([squares * (len(squares) / max(len(squares) - 1, 1)) for squares in own])
        found.append(ErrorPart(apart, df, sum(squares.sum(axis=0) for squares in own), float(df.sum()),
                               float(np.mean(1 / np.maximum(tasters, 1)))))  # fmt: skip
    brewed = [_between_pots(part, fit.column) for part, fit in zip(parts, fits, strict=True) if part.shared]
    if sum(float(each[1].sum()) for each in brewed) > 0 and all(part.shared for part in parts):
        pots = np.concatenate([each[4] for each in brewed])
        found += _pot_parts(brewed, pots, tasters)
    return found


def _spread_df(part: _Part, df: float) -> np.ndarray:
    """Degrees of freedom of each lot's own part, adding up to those of the whole."""
    own = np.maximum(np.isfinite(part.marks).any(axis=2).sum(axis=1) - 1, 0).astype(float)
    return own * df / max(own.sum(), 1.0)


_Brewed = tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray, np.ndarray]


def _between_pots(part: _Part, column: np.ndarray) -> _Brewed:
    """Squares and df of a lot's pots about their mean, of looks within pots about tasters and pots, and the pots."""
    seen = np.isfinite(part.brews)
    marks = np.where(seen, part.brews - column[None, :, None, :], 0.0)
    many = seen.sum(axis=1)  # (lot, brew, descriptor)
    pot = np.where(many > 0, marks.sum(axis=1) / np.maximum(many, 1), np.nan)
    there = np.isfinite(pot)
    centre = np.where(there, pot, 0.0).sum(axis=1) / np.maximum(there.sum(axis=1), 1)
    away = np.where(there, pot - centre[:, None], 0.0)
    pots = there.any(axis=2).sum(axis=1)
    own = np.where(seen, marks, 0.0).sum(axis=2) / np.maximum(seen.sum(axis=2), 1)  # (lot, taster, descriptor)
    rest = np.where(seen, marks - own[:, :, None] - (np.nan_to_num(pot) - centre[:, None])[:, None], 0.0)
    at = np.maximum(np.isfinite(part.marks).any(axis=2).sum(axis=1) - 1, 0)
    return (
        np.einsum("lbd,lbe->lde", away, away),
        np.maximum(pots - 1, 0).astype(float),
        np.einsum("ltbd,ltbe->lde", rest, rest),
        (np.maximum(pots - 1, 0) * at).astype(float),
        pots,
    )


def _pot_parts(brewed: list[_Brewed], pots: np.ndarray, tasters: np.ndarray) -> list[ErrorPart]:
    """Pots about their lot, less what looks alone put there: pot variance over the pots of a lot."""
    pot, pot_df, look, look_df = (np.concatenate([each[k] for each in brewed]) for k in range(4))
    share = float(np.mean(1 / np.maximum(pots, 1)))
    found = [ErrorPart(pot, pot_df, pot.sum(axis=0), float(pot_df.sum()), share)]
    if look_df.sum() > 0:
        less = -share * float(np.mean(1 / np.maximum(tasters, 1)))
        found.append(ErrorPart(look, look_df, look.sum(axis=0), float(look_df.sum()), less))
    return found


def order_shown(marks: list[np.ndarray], rng: np.random.Generator) -> float:
    """Share of shuffles of each taster's lots in which the tasters' marks go together as much; NaN for one taster.

    Parameters
    ----------
    marks : list of ndarray, shape (lot, taster, descriptor)
        Of each session and class; each is standardised and shuffled within itself, whole rows of a taster together.
    rng : Generator

    Notes
    -----
    Variance over lots of the sum over tasters of standardised marks, mean over descriptors.
    """
    ready = [_standardised(each) for each in marks if each.shape[1] > 1]
    if not ready:
        return np.nan

    def together(parts: list[np.ndarray]) -> float:
        return float(sum((part.sum(axis=1) ** 2).sum() for part in parts))

    seen = together(ready)
    reached = 0
    for _ in range(SHUFFLES):
        moved = [
            np.stack([part[rng.permutation(len(part)), t] for t in range(part.shape[1])], axis=1) for part in ready
        ]
        reached += together(moved) >= seen * (1 - 1e-12)
    return (1 + reached) / (1 + SHUFFLES)


def _standardised(marks: np.ndarray) -> np.ndarray:
    seen = np.isfinite(marks)
    n = np.maximum(seen.sum(axis=0), 1)
    away = np.where(seen, marks - np.where(seen, marks, 0.0).sum(axis=0) / n, 0.0)
    sd = np.sqrt((away**2).sum(axis=0) / np.maximum(n - 1, 1))
    return away / np.where(sd > 0, sd, np.inf)
