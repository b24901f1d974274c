"""Lots of several sessions: which sessions lots join, and one fit of each class over the sessions that are joined."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from panelstats.lots.plaintables import ASIDE
from panelstats.models.contrasts import JointTest
from panelstats.models.linkedsessions import Joined, SeasonPart, joined_sessions, season_parts
from panelstats.models.multiplicity import adjusted
from panelstats.models.seasonrows import SeasonCells
from panelstats.scores.cells import (
    BREW,
    CLASS,
    DESCRIPTOR,
    LOOKS,
    LOT,
    MEAN,
    POTS,
    REST,
    ROLE,
    SESSION,
    SHARED,
    STAGE,
    TASTER,
    WITHIN_SS,
)

if TYPE_CHECKING:
    import pandas as pd

    from panelstats.scores.cells import Cells


@dataclass(frozen=True, eq=False)
class SeasonClass:
    """One class of lots over all sessions.

    Attributes
    ----------
    lot_class : str
    sessions, lots, descriptors : ndarray of str
        Labels of the places that `parts` and `joined` count.
    compared : ndarray of bool, shape (lot,)
        Neither control nor standard.
    parts : list of SeasonPart
    joined : list of Joined
    offset : ndarray, shape (descriptor,)
        What was taken off the scores before they were fitted.
    tests : dict of (int, int) to JointTest
        By place in `parts` and descriptor.
    p_adjusted : dict of (int, int) to float
        Adjusted over the descriptors and classes of all seasons.
    level : float
    """

    lot_class: str
    sessions: np.ndarray
    lots: np.ndarray
    descriptors: np.ndarray
    compared: np.ndarray
    parts: list[SeasonPart]
    joined: list[Joined]
    offset: np.ndarray
    tests: dict[tuple[int, int], JointTest]
    p_adjusted: dict[tuple[int, int], float]
    level: float

    def compared_in(self, part: SeasonPart, d: int) -> np.ndarray:
        """Mask of the compared lots among those of a descriptor's fit."""
        return self.compared[self.lots_in(part, d)]

    def lots_in(self, part: SeasonPart, d: int) -> np.ndarray:
        """The lots of a descriptor's fit, by place in `lots`."""
        assert part.effects is not None  # noqa: S101 - asked only of what was fitted
        return part.lots[part.effects.lots(part.slot[d])]

    def passed(self, at: int, d: int) -> bool:
        """Whether the lots are shown to differ, after allowing for the number of descriptors and classes."""
        return bool(self.p_adjusted.get((at, d), np.nan) < 1 - self.level)


def season_classes(cells: Cells, *, across: str, level: float) -> list[SeasonClass]:
    """Fit every class over the sessions that lots join; empty where all was tasted in one session."""
    seniors = cells.select(role="senior")
    names = seniors.sessions[SESSION].astype(str).to_numpy()
    names = names[np.isin(names, seniors.frame[SESSION].astype(str).unique())]
    if len(names) < 2:
        return []
    roles, classes = (dict(zip(cells.lots[LOT], cells.lots[name], strict=True)) for name in (ROLE, CLASS))
    frame = seniors.frame
    lots = np.array(frame[LOT].cat.categories.astype(str))
    aside = np.array([roles[lot] in ASIDE for lot in lots])  # served again and again, they join the sessions
    of = np.array([classes[lot] for lot in lots], dtype=object)
    met = np.isin(np.arange(len(lots)), frame[LOT].cat.codes)
    out = []
    for lot_class in dict.fromkeys(of[~aside & met]):
        mine = met & (aside | (of == lot_class))
        out.append(_fitted(seniors, names, str(lot_class), mine, ~aside, level))
    return _judged(out, across)


def _fitted(
    cells: Cells, sessions: np.ndarray, lot_class: str, mine: np.ndarray, compared: np.ndarray, level: float
) -> SeasonClass:
    frame = cells.frame[mine[cells.frame[LOT].cat.codes.to_numpy()]]
    lots, descriptors = (np.array(frame[name].cat.categories.astype(str)) for name in (LOT, DESCRIPTOR))
    shared, by_row = _shared(cells, frame, descriptors)
    long, offset = _long(frame, sessions, by_row)
    sizes = len(descriptors), len(sessions), len(lots), len(frame[TASTER].cat.categories)
    joined = joined_sessions(long, sizes)
    parts = season_parts(long, joined, shared=shared, controls=np.flatnonzero(~compared))
    tests = {
        (at, d): part.effects.test(k, compared[part.lots[part.effects.lots(k)]])
        for at, part in enumerate(parts) if part.effects is not None for d, k in part.slot.items()
    }  # fmt: skip
    return SeasonClass(lot_class, sessions, lots, descriptors, compared, parts, joined, offset, tests, {}, level)


def _shared(cells: Cells, frame: pd.DataFrame, descriptors: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Whether tasters shared the pots: of each descriptor in some session, and of each row."""
    stage = dict(zip(cells.descriptors[DESCRIPTOR].astype(str), cells.descriptors[STAGE].astype(str), strict=True))
    word = {
        (str(session), str(of)): pots == SHARED
        for session, of, pots in cells.pots[[SESSION, STAGE, POTS]].itertuples(index=False)
    }
    days = frame[SESSION].cat.categories.astype(str)
    table = np.array([[word.get((day, stage[d]), False) for d in descriptors] for day in days], bool)
    at = frame[DESCRIPTOR].cat.codes.to_numpy()
    by_row = table[frame[SESSION].cat.codes.to_numpy(), at]
    return np.isin(np.arange(len(descriptors)), at[by_row]), by_row


def _long(frame: pd.DataFrame, sessions: np.ndarray, shared: np.ndarray) -> tuple[SeasonCells, np.ndarray]:
    """The cells as codes, and what was taken off the scores of each descriptor."""
    descriptor, lot, taster = (frame[name].cat.codes.to_numpy().astype(int) for name in (DESCRIPTOR, LOT, TASTER))
    place = {name: at for at, name in enumerate(sessions)}
    offset = np.zeros(len(frame[DESCRIPTOR].cat.categories))
    known, first = np.unique(descriptor, return_index=True)
    offset[known] = frame[MEAN].to_numpy()[first]
    mean = (frame[MEAN].to_numpy() - offset[descriptor]) + frame[REST].to_numpy()
    pot = np.where(shared, frame[BREW].to_numpy(), -1 - taster)  # who had pots of his own shares none
    session = frame[SESSION].astype(str).map(place).to_numpy(int)
    looks = frame[LOOKS].to_numpy(float)
    return SeasonCells(descriptor, session, lot, taster, pot, looks, mean, frame[WITHIN_SS].to_numpy()), offset


def _judged(classes: list[SeasonClass], across: str) -> list[SeasonClass]:
    """P adjusted over all descriptors and classes."""
    keys = [(one, key) for one in classes for key in one.tests]
    p = adjusted(np.array([one.tests[key].p for one, key in keys]), across) if keys else np.zeros(0)
    for (one, key), value in zip(keys, p, strict=True):
        one.p_adjusted[key] = float(value)
    return classes
