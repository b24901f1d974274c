"""All classes of a session side by side, each with tasters of its own, so that nothing is seen across classes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from panelstats.scores.cells import SHARED

if TYPE_CHECKING:
    from panelstats.scores.cells import Grid


# Tasters of classes, side by side, above which a fit takes minutes: its work grows with their cube (ours).
MOST_COLUMNS = 150


def judged_classes(grids: list[Grid]) -> list[Grid]:
    """The classes of each session that can be judged together, those of most lots first; their order stays.

    A class of one lot says nothing of agreement within classes: such a class stands only where there is no other.
    """
    kept: set[int] = set()
    for session in dict.fromkeys(grid.session for grid in grids):
        mine = [at for at, grid in enumerate(grids) if grid.session == session]
        useful = [at for at in mine if len(grids[at].lots) > 1] or mine[:1]
        useful.sort(key=lambda at: -len(grids[at].lots))
        columns = np.cumsum([len(grids[at].tasters) for at in useful])
        kept |= {at for at, size in zip(useful, columns, strict=True) if at == useful[0] or size <= MOST_COLUMNS}
    return [grid for at, grid in enumerate(grids) if at in kept]


@dataclass(frozen=True, eq=False)
class Layout:
    """Arrays of one session, axes (lot, taster of a class, brew, descriptor).

    Attributes
    ----------
    session : str
    descriptors : ndarray of str, shape (D,)
    shared : ndarray of bool, shape (D,)
    looks, mean, within_ss : ndarray
    group : ndarray of int, shape (taster of a class,)
        Class of each taster column.
    taster : ndarray of int, shape (taster of a class,)
        Which person it is.
    lot_group : ndarray of int, shape (lot,)
    classes : list of str
    """

    session: str
    descriptors: np.ndarray
    shared: np.ndarray
    looks: np.ndarray
    mean: np.ndarray
    within_ss: np.ndarray
    group: np.ndarray
    taster: np.ndarray
    lot_group: np.ndarray
    classes: list[str]

    def cell_means(self) -> tuple[np.ndarray, np.ndarray]:
        """Looks and mean by (lot, taster of a class, descriptor), brews taken together."""
        looks = self.looks.sum(axis=2)
        return looks, (self.looks * self.mean).sum(axis=2) / np.maximum(looks, 1)


def layouts(grids: list[Grid]) -> list[Layout]:
    """One layout per session, in the order of the grids."""
    sessions: dict[str, list[Grid]] = {}
    for grid in grids:
        sessions.setdefault(grid.session, []).append(grid)
    return [_side_by_side(session, parts) for session, parts in sessions.items()]


def _side_by_side(session: str, parts: list[Grid]) -> Layout:
    descriptors = np.array(list(dict.fromkeys(name for part in parts for name in part.descriptors)))
    people = list(dict.fromkeys(name for part in parts for name in part.tasters))
    lots, tasters = [len(part.lots) for part in parts], [len(part.tasters) for part in parts]
    brews = max(part.looks.shape[2] for part in parts)
    shape = (sum(lots), sum(tasters), brews, len(descriptors))
    arrays = {"looks": np.zeros(shape, np.int64), "mean": np.zeros(shape), "within_ss": np.zeros(shape)}
    word: dict[str, str] = {}
    lot_at = taster_at = 0
    for part in parts:
        place = [int(np.flatnonzero(descriptors == name)[0]) for name in part.descriptors]
        word |= dict(zip(part.descriptors, part.pots, strict=True))
        rows, columns = slice(lot_at, lot_at + len(part.lots)), slice(taster_at, taster_at + len(part.tasters))
        for name, array in arrays.items():
            array[rows, columns, : part.looks.shape[2], place] = getattr(part, name)
        lot_at, taster_at = lot_at + len(part.lots), taster_at + len(part.tasters)
    return Layout(
        session=session,
        descriptors=descriptors,
        shared=np.array([word[name] == SHARED for name in descriptors]),
        group=np.repeat(np.arange(len(parts)), tasters),
        taster=np.array([people.index(name) for part in parts for name in part.tasters]),
        lot_group=np.repeat(np.arange(len(parts)), lots),
        classes=[part.lot_class for part in parts],
        **arrays,
    )
