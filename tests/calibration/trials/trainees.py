"""Licences given to trainees whose fault stands at the edge of what may be licensed, or beyond it."""

from __future__ import annotations

from dataclasses import replace
from functools import partial

import numpy as np

import panelstats as pst
from tests.calibration.rooms.lots import Lots
from tests.calibration.rooms.palates import Fault, Palates
from tests.calibration.rooms.pots import Pots
from tests.calibration.rooms.room import Room
from tests.calibration.rooms.sheet import Scale
from tests.calibration.trial import Interval, Told, Trial

LICENCE, FULL, NOT_YET = "trainee's scores may count", "trainee's full licence", "trainee is not yet ready"
WORDS, NONE = 16, Fault()
SENIORS = Palates(level_sd=0.0, level_range=0.4, slope_range=0.25, error_range=0.25, day_sd=0.15, first_level=0.0)


def licences(room: Room, rng: np.random.Generator) -> Told:
    """Licences on the middle descriptor."""
    table = pst.assess_trainees(room.scores(rng).cells()).table
    mine = table.iloc[room.descriptors // 2]
    return {LICENCE: float(mine["call"] == "ready"), FULL: float(mine["licence"] == "full")}


def level_only(room: Room, rng: np.random.Generator) -> Told:
    """The licence of any kind: what matters where the level is at fault."""
    return {LICENCE: licences(room, rng)[LICENCE]}


def full_only(room: Room, rng: np.random.Generator) -> Told:
    """The full licence: what matters where slope or steadiness are at fault."""
    return {FULL: licences(room, rng)[FULL]}


def not_yet(room: Room, rng: np.random.Generator) -> Told:
    """A trainee without fault who is sent back."""
    return {NOT_YET: float(pst.assess_trainees(room.scores(rng).cells()).summary["call"].iloc[0] == "not yet")}


def intervals(room: Room, rng: np.random.Generator) -> Told:
    """Intervals of the trainee's level, slope and spread on the middle descriptor that miss."""
    mine = pst.assess_trainees(room.scores(rng).cells()).table.iloc[room.descriptors // 2]
    out: Told = {}
    for name, truth, low, high in (
        ("level", room.fault.off, "low", "high"),
        ("slope", room.fault.slope, "slope_low", "slope_high"),
        ("spread", room.fault.noise, "spread_low", "spread_high"),
    ):
        missed = truth < mine[low] or truth > mine[high]
        out[f"interval of a trainee's {name}"] = Interval(float(missed), float(mine[high] - mine[low]) / 2)
    return out


def room(lots: int, fault: Fault = NONE, *, seniors: int = 3, pots: int = 2, words: int = WORDS) -> Room:
    """Sessions of ten lots; the trainee is an ordinary taster on the seniors' level but for his fault."""
    return Room(
        tasters=seniors + 1, descriptors=words, sessions=lots // 10, trainee=True, palates=SENIORS, fault=fault,
        lots=Lots(lots, sd=tuple(np.linspace(0.4, 1.8, words))), pots=Pots(pots, sd=0.0),
    )  # fmt: skip


def _trial(name: str, text: str, ask: object, at: Room, **options: object) -> Trial:
    perfect = replace(at, fault=NONE)
    return Trial(f"trainees {name}", text, partial(ask, at), partial(ask, perfect), "without fault", **options)


def _lots(lots: int, pots: int = 2) -> str:
    return (
        f"{lots} lots in {lots // 10} sessions, 3 seniors, {pots} {'pot' if pots == 1 else 'own pots'}, 16 descriptors"
    )


_FAULTS = [
    ("level", "at the tolerance of level", Fault(off=0.5), level_only),
    ("level 1.5", "1.5 tolerances off in level", Fault(off=0.75), level_only),
    ("slope edge", "of slope 2/3, the tolerance", Fault(slope=2 / 3), full_only),
    ("slope half", "of slope 1/2", Fault(slope=0.5), full_only),
    ("error edge", "of errors 1.5 times the seniors', the tolerance", Fault(noise=1.5), full_only),
    ("error double", "of doubled errors", Fault(noise=2.0), full_only),
]
_WHOLE = Scale(step=1.0, middle=0.5)
TRIALS = [
    *(
        _trial(f"{name} {lots}", f"a trainee {text} on one descriptor; {_lots(lots)}", ask, room(lots, fault))
        for name, text, fault, ask in _FAULTS
        for lots in (40, 80)
    ),
    _trial("one pot", f"a trainee of doubled errors on one descriptor; {_lots(40, 1)}", full_only,
           room(40, Fault(noise=2.0), pots=1)),
    _trial("few words", "a trainee of slope 1/2 on one descriptor of 3; 40 lots in 4 sessions, 3 seniors, 2 own pots",
           full_only, room(40, Fault(slope=0.5), words=3)),
    _trial("floor", f"a trainee at the tolerance of level on one descriptor, whole points at 0 and 1; {_lots(40)}",
           level_only, replace(room(40, Fault(off=0.5)), scale=_WHOLE,
                               palates=replace(SENIORS, level_range=0.1, error_sd=0.5, opinion_sd=0.2),
                               lots=Lots(40, sd=0.4))),
    Trial("trainees intervals", f"a trainee 0.3 off, of slope 0.8 and errors 1.2 times on one descriptor; {_lots(40)}",
          partial(intervals, room(40, Fault(off=0.3, slope=0.8, noise=1.2)))),
    Trial("trainees sent back", f"an ordinary trainee on the seniors' level; {_lots(40)}", partial(not_yet, room(40)),
          partial(not_yet, room(40, Fault(off=1.0))), "a point off on one descriptor"),
]  # fmt: skip
