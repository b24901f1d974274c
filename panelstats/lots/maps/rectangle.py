"""What a map can use of a table with holes: linked parts, and the complete rectangle that keeps most."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from panelstats.scores.cells import LOT, SESSION, TASTER

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True)
class LeftOut:
    """What a map leaves out, and what could be left out instead.

    Attributes
    ----------
    lots, words : tuple of str
        So that every lot has a mark on every descriptor.
    flat : tuple of str
        Descriptors on which no lot differs from another.
    otherwise : tuple of (str, tuple of str)
        Another way to a complete table: "lots" or "descriptors", and which.
    """

    lots: tuple[str, ...] = ()
    words: tuple[str, ...] = ()
    flat: tuple[str, ...] = ()
    otherwise: tuple[str, tuple[str, ...]] | None = None


class Kept(NamedTuple):
    """The rectangle that is kept."""

    rows: np.ndarray
    columns: np.ndarray
    lots: tuple[str, ...]
    words: tuple[str, ...]
    otherwise: tuple[str, tuple[str, ...]] | None


def whole_rectangle(known: np.ndarray, lots: np.ndarray, words: np.ndarray) -> Kept:
    """The complete rectangle of a table (lot, descriptor) that keeps most cells: of three, the largest.

    They are: leave out lots alone, descriptors alone, or by turns whichever misses the largest share.

    Examples
    --------
    >>> known = np.array([[True, True], [True, True], [True, False]])
    >>> whole_rectangle(known, np.array(["1", "2", "3"]), np.array(["brisk", "body"])).rows.tolist()
    [True, True, False]
    """
    every, full = np.ones(len(lots), bool), np.ones(len(words), bool)
    if known.all():
        return Kept(every, full, (), (), None)
    ways = [_by_turns(known), (np.asarray(known.all(axis=1)), full), (every, np.asarray(known.all(axis=0)))]
    sizes = [int(rows.sum() * columns.sum()) for rows, columns in ways]
    rows, columns = ways[int(np.argmax(sizes))]
    gone, without = tuple(map(str, lots[~rows])), tuple(map(str, words[~columns]))
    other = None
    if gone and not without and known.all(axis=0).any():
        other = ("descriptors", tuple(map(str, words[~known.all(axis=0)])))
    elif without and not gone and known.all(axis=1).any():
        other = ("lots", tuple(map(str, lots[~known.all(axis=1)])))
    return Kept(rows, columns, gone, without, other)


def _by_turns(known: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    rows, columns = np.ones(known.shape[0], bool), np.ones(known.shape[1], bool)
    while not known[np.ix_(rows, columns)].all():
        missing = ~known & rows[:, None] & columns
        by_row, by_column = missing.sum(axis=1) / columns.sum(), missing.sum(axis=0) / rows.sum()
        if by_row.max() >= by_column.max():
            rows[int(by_row.argmax())] = False
        else:
            columns[int(by_column.argmax())] = False
    return rows, columns


def linked(rows: pd.DataFrame) -> list[pd.DataFrame]:
    """The parts of a class whose lots are linked by tasters of one session, or by lots met again; largest first."""
    lots, lot = np.unique(rows[LOT].to_numpy(str), return_inverse=True)
    palates, palate = np.unique((rows[TASTER] + "\0" + rows[SESSION]).to_numpy(str), return_inverse=True)
    part = np.arange(len(lots))
    while True:
        lowest = np.full(len(palates), len(lots))
        np.minimum.at(lowest, palate, part[lot])
        again = part.copy()
        np.minimum.at(again, lot, lowest[palate])
        if (again == part).all():
            break
        part = again
    sizes = np.bincount(part, minlength=len(lots))
    found = [label for label in np.argsort(-sizes, kind="stable") if sizes[label]]
    return [rows[part[lot] == label] for label in found] if len(found) > 1 else [rows]
