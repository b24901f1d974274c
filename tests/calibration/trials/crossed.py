"""Words swapped or confused: said of tasters who mix up none, and found of one who does."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import partial

import numpy as np

import panelstats as pst
from tests.calibration.rooms.lots import Lots
from tests.calibration.rooms.palates import Palates
from tests.calibration.rooms.pots import Pots
from tests.calibration.rooms.room import Room, Tasting, words
from tests.calibration.rooms.sheet import Scale
from tests.calibration.trial import Told, Trial

ANYONE = "a taster's words are crossed: anyone's (of one who does it: his, the right words)"
BESIDE = "a taster's words are crossed: anyone's but his who does it"
SWAPPED, ONE_FOR_TWO = "swaps two words", "puts one word's marks under another, too"


@dataclass(frozen=True)
class Mixed:
    """A room of which the first taster mixes up two words, other ones in every tasting."""

    room: Room
    how: str = SWAPPED

    def draw(self, rng: np.random.Generator) -> tuple[pst.Scores, set[str]]:
        """One tasting, and the two words."""
        tasting, (one, other) = self.room.draw(rng), rng.choice(self.room.descriptors, 2, replace=False)
        mark = tasting.mark.copy()
        mark[:, 0, :, one] = tasting.mark[:, 0, :, other]
        if self.how == SWAPPED:
            mark[:, 0, :, other] = tasting.mark[:, 0, :, one]
        names = words(self.room)
        return Tasting(self.room, tasting.lot, mark, tasting.scored, tasting.position).scores, {
            names[one],
            names[other],
        }


def sound(room: Room, rng: np.random.Generator) -> Told:
    """Calls in a panel of which nobody mixes up his words."""
    return {ANYONE: float(len(_called(room.scores(rng))) > 0)}


def found(mixed: Mixed, rng: np.random.Generator) -> Told:
    """Whether the first taster is told of the two words that he mixes up."""
    scores, those = mixed.draw(rng)
    called = _called(scores)
    mine = called[called["taster"].astype(str) == "taster 1"]
    return {ANYONE: float(any({row.descriptor, row.other} == those for row in mine.itertuples()))}


def innocent(mixed: Mixed, rng: np.random.Generator) -> Told:
    """Calls on anybody else."""
    called = _called(mixed.draw(rng)[0])
    return {BESIDE: float((called["taster"].astype(str) != "taster 1").any())}


def _called(scores: pst.Scores):
    return pst.assess_tasters(scores.cells()).crossed_words


# An ordinary room: 16 words of one stage in half points.
_ROOM = Room(6, 16, lots=Lots(24, sd=tuple(np.linspace(0.4, 1.8, 16))), pots=Pots(1), scale=Scale(step=0.5),
             palates=Palates(level_sd=0.0, level_range=0.4))  # fmt: skip


def _trial(name: str, room: Room, how: str = SWAPPED) -> Trial:
    pots, alike = room.pots.count, room.lots.common
    text = f"{room.tasters} tasters, {room.lots.count} lots, {pots} own pot{'s' * (pots > 1)}, 16 descriptors"
    return Trial(f"crossed {name}", text + (f" (correlated {alike:g})" if alike else ""),
                 partial(sound, room), partial(found, Mixed(room, how)), f"one taster {how}")  # fmt: skip


_MORE = replace(_ROOM, lots=replace(_ROOM.lots, count=40), pots=Pots(2))
TRIALS = [
    _trial("24", _ROOM),
    _trial("40", _MORE),
    _trial("alike words", replace(_MORE, lots=replace(_MORE.lots, common=0.6))),
    _trial("3 tasters", replace(_ROOM, tasters=3, lots=replace(_ROOM.lots, count=40))),
    _trial("one for two", replace(_MORE, tasters=8), ONE_FOR_TWO),
    Trial("crossed beside", "6 tasters, 40 lots, 2 own pots, 16 descriptors; one taster swaps two words",
          partial(innocent, Mixed(_MORE))),
]  # fmt: skip
