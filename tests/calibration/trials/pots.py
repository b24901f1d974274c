"""A pot brewed wrong: lots whose pots are said to disagree though nothing is wrong with them, and pots found."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import partial

import numpy as np

import panelstats as pst
from tests.calibration.rooms.lots import Lots
from tests.calibration.rooms.palates import Palates
from tests.calibration.rooms.pots import SHARED, Pots
from tests.calibration.rooms.room import Room, Tasting, lot_names
from tests.calibration.rooms.sheet import Scale
from tests.calibration.trial import Told, Trial

ANY = "pots of a lot disagree, any lot of the session"
BESIDE = "pots of a lot disagree, any lot but that of the bad pot"


@dataclass(frozen=True)
class Wrong:
    """A room of which the first pot of the first lot was brewed wrong: so many points on so many descriptors."""

    room: Room
    points: float = 2.0
    words: int = 3

    def scores(self, rng: np.random.Generator) -> pst.Scores:
        """One tasting."""
        tasting = self.room.draw(rng)
        mark = tasting.mark.copy()
        on = np.linspace(0, self.room.descriptors - 1, self.words).round().astype(int)  # of small and of large spread
        mark[0, :, 0, on] += self.points
        mark = replace(self.room.scale, middle=0.0).written(mark)
        return Tasting(self.room, tasting.lot, mark, tasting.scored, tasting.position).scores


def sound(room: Room, rng: np.random.Generator) -> Told:
    """Lots named in a session of which no pot was brewed wrong."""
    return {ANY: float(len(pst.check_pots(room.scores(rng)).named) > 0)}


def found(room: Wrong, rng: np.random.Generator) -> Told:
    """Whether the lot of the bad pot is named; of three pots or more, whether that pot is."""
    named = pst.check_pots(room.scores(rng)).named
    mine = named[named["lot"].astype(str) == lot_names(room.room)[0]]
    right = len(mine) > 0 and (room.room.pots.count == 2 or str(mine["pot"].iloc[0]) == "1")
    return {ANY: float(right)}


def innocent(room: Wrong, rng: np.random.Generator) -> Told:
    """Other lots named beside the one of the bad pot."""
    named = pst.check_pots(room.scores(rng)).named
    return {BESIDE: float((named["lot"].astype(str) != lot_names(room.room)[0]).any())}


_SDS = tuple(np.linspace(0.4, 1.4, 16))
_ROOM = Room(9, 16, lots=Lots(24, sd=_SDS), pots=Pots(2, SHARED, sd=0.2), scale=Scale(step=0.5),
             palates=Palates(level_sd=0.3))  # fmt: skip


def _trial(name: str, text: str, room: Room) -> Trial:
    sized = f"{room.tasters} tasters, {room.lots.count} lots, {room.pots.count} shared pots, 16 descriptors"
    return Trial(
        f"pots {name}",
        sized + text,
        partial(sound, room),
        partial(found, Wrong(room)),
        "a pot 2 points off on 3 descriptors",
    )


TRIALS = [
    _trial("9 of 2", " (pot SD 0.2)", _ROOM),
    _trial("3 of 2", " (pot SD 0.2)", replace(_ROOM, tasters=3)),
    _trial("9 of 3", " (pot SD 0.2)", replace(_ROOM, pots=replace(_ROOM.pots, count=3))),
    _trial("3 of 3", " (pot SD 0.2)", replace(_ROOM, tasters=3, pots=replace(_ROOM.pots, count=3))),
    _trial("few lots", " (pot SD 0.2)", replace(_ROOM, lots=replace(_ROOM.lots, count=12))),
    _trial("whole points", " (pot SD 0.2); whole points", replace(_ROOM, scale=Scale(step=1.0))),
    _trial("uneven", " (pot SD 0.1 to 0.6)",
           replace(_ROOM, pots=replace(_ROOM.pots, sd=tuple(np.linspace(0.1, 0.6, 16))))),
    Trial("pots beside", "9 tasters, 24 lots, 2 shared pots (SD 0.2), 16 descriptors; a pot 2 points off on 3 of them",
          partial(innocent, Wrong(_ROOM))),
]  # fmt: skip
