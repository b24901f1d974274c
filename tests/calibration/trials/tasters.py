"""Tasters named who are not at fault, aspect by aspect, and "with the panel" said of one who stands at the edge."""

from __future__ import annotations

from dataclasses import replace
from functools import partial

import numpy as np

import panelstats as pst
from tests.calibration.rooms.lots import Lots
from tests.calibration.rooms.palates import Fault, Palates
from tests.calibration.rooms.pots import SHARED, Pots
from tests.calibration.rooms.room import Room, words
from tests.calibration.rooms.sheet import Gaps, Scale
from tests.calibration.trial import Interval, Told, Trial

ANY = "a taster is apart, anyone on anything"
WITH = "with the panel on the level of a descriptor"
# The rule was built to name somebody in about so many healthy panels (Benjamini and Hochberg over tasters, and the
# agreement of the rest).
PROMISED = 0.02
ASPECTS = {
    "level": ("level",),
    "scale use": ("scale_use",),
    "repeatability or scatter": ("repeatability", "scatter"),
    "agreement or discrimination": ("agreement", "discrimination"),
}


def nobody(room: Room, rng: np.random.Generator) -> Told:
    """Names given in a panel of which nobody is at fault."""
    table = pst.assess_tasters(room.scores(rng).cells()).table
    apart = table[table["call"] == "apart"]
    found = {ANY: float(len(apart) > 0)}
    return found | {_apart(name): float(apart["aspect"].isin(these).any()) for name, these in ASPECTS.items()}


def one(room: Room, rng: np.random.Generator) -> Told:
    """Whether the one at fault is named, and whether by that aspect."""
    table = pst.assess_tasters(room.scores(rng).cells()).table
    mine = table[(table["call"] == "apart") & (table["taster"] == "taster 1")]
    return {ANY: float(len(mine) > 0)}


def innocent(room: Room, rng: np.random.Generator) -> Told:
    """Names given to others where the first taster is at fault."""
    table = pst.assess_tasters(room.scores(rng).cells()).table
    apart = table[table["call"] == "apart"]
    return {"an innocent taster is apart": float((apart["taster"] != "taster 1").any())}


def edge(room: Room, rng: np.random.Generator) -> Told:
    """How often the first taster's level on the middle descriptor is said to be with the panel's."""
    table = pst.assess_tasters(room.scores(rng).cells()).table
    mine = table[(table["taster"] == "taster 1") & (table["aspect"] == "level")]
    mine = mine[mine["descriptor"] == words(room)[room.descriptors // 2]]
    return {WITH: float((mine["call"] == "with the panel").any())}


def intervals(room: Room, rng: np.random.Generator) -> Told:
    """Intervals of the first taster's level on the middle descriptor, and of everybody's own repeats, that miss."""
    found = pst.assess_tasters(room.scores(rng).cells())
    table, alone = found.table, found.alone
    mine = table[(table["taster"] == "taster 1") & (table["aspect"] == "level")]
    mine = mine[mine["descriptor"] == words(room)[room.descriptors // 2]]
    off, sd = room.fault.off, float(np.hypot(room.palates.error_sd, room.pots.sd))
    own = (sd < alone["sd_low"]) | (sd > alone["sd_high"])
    return {
        "interval of a taster's level": Interval(
            float(((off < mine["low"]) | (off > mine["high"])).mean()), float((mine["high"] - mine["low"]).mean() / 2)
        ),
        "interval of a taster's own repeats": Interval(
            float(own.mean()), float((alone["sd_high"] - alone["sd_low"]).mean() / 2)
        ),
    }


def _apart(name: str) -> str:
    return f"a taster is apart on {name}"


_NOMINAL = dict.fromkeys((ANY, *map(_apart, ASPECTS)), PROMISED)
ORDINARY = Palates(level_sd=0.0, level_range=0.4, slope_range=0.25, error_range=0.25)
ALIKE = Palates(level_sd=0.0, opinion_sd=0.4)
BLIND = Fault(slope=0.0)
WORDS, SDS = 15, tuple(np.linspace(0.4, 1.8, 15))
_ROOM = Room(4, WORDS, lots=Lots(24, sd=SDS), pots=Pots(1), palates=ORDINARY)


def _nobody(name: str, text: str, room: Room, fault: Fault = BLIND, where: str = "blind", **options) -> Trial:
    return Trial(f"tasters {name}", text, partial(nobody, room), partial(one, replace(room, fault=fault)),
                 f"{where} on one descriptor", _NOMINAL, **options)  # fmt: skip


def _sizes(tasters: int, lots: int, pots: Pots) -> Room:
    return replace(_ROOM, tasters=tasters, lots=Lots(lots, sd=SDS), pots=pots)


def _grown(growth: float, skew: float) -> Room:
    """Exchangeable tasters whose opinions grow with skewed lots."""
    return Room(6, WORDS, lots=Lots(24, sd=1.0, skew=skew), pots=Pots(1), scale=Scale(low=-20, high=60),
                palates=replace(ALIKE, opinion_growth=growth))  # fmt: skip


_FLOOR = Scale(step=1.0, middle=-0.3)
_HALF = Scale(step=0.5, middle=tuple(-1.2 if word % 2 else 5.0 for word in range(WORDS)))
TRIALS = [
    _nobody("3 one pot", "3 ordinary tasters, 24 lots, 1 pot, 15 descriptors", _sizes(3, 24, Pots(1))),
    _nobody("4 one pot", "4 ordinary tasters, 40 lots, 1 pot, 15 descriptors", _sizes(4, 40, Pots(1))),
    _nobody("4 own", "4 ordinary tasters, 24 lots, 2 own pots, 15 descriptors", _sizes(4, 24, Pots(2)),
            Fault(off=1.0), "a point off"),
    _nobody("6 shared", "6 ordinary tasters, 24 lots, 2 shared pots, 15 descriptors", _sizes(6, 24, Pots(2, SHARED)),
            Fault(off=1.0), "a point off"),
    _nobody("10 own", "10 ordinary tasters, 24 lots, 2 own pots, 15 descriptors", _sizes(10, 24, Pots(2)),
            Fault(noise=2.0), "errors doubled", cost=2),
    _nobody("grown mild", "6 alike tasters, 24 skewed lots (log-SD 0.5), 1 pot, 15 descriptors; opinions grow with the "
            "lot (0.2 a point)", _grown(0.2, 0.5)),
    _nobody("grown strong", "6 alike tasters, 24 skewed lots (log-SD 1), 1 pot, 15 descriptors; opinions grow with the "
            "lot (0.4 a point)", _grown(0.4, 1.0), named=(ANY, _apart("scale use"))),
    _nobody("floor 24", "6 alike tasters, 24 lots (SD 0.5), 2 own pots, 15 descriptors; whole points, mostly 0",
            Room(6, WORDS, lots=Lots(24, sd=0.5), scale=_FLOOR, palates=ALIKE)),
    _nobody("floor 8", "6 alike tasters, 8 lots (SD 0.5), 2 own pots, 15 descriptors; whole points, mostly 0",
            Room(6, WORDS, lots=Lots(8, sd=0.5), scale=_FLOOR, palates=ALIKE)),
    _nobody("half floor", "6 alike tasters, 24 lots (SD 1), 2 own pots, 15 descriptors of which half are mostly 0",
            Room(6, WORDS, lots=Lots(24, sd=1.0), scale=_HALF, palates=ALIKE), BLIND, "blind, mostly 0,"),
    _nobody("blunders", "6 ordinary tasters, 24 lots, 2 own pots, 15 descriptors; 2 % of the marks anywhere",
            replace(_sizes(6, 24, Pots(2)), gaps=Gaps(blunders=0.02))),
    _nobody("missed sittings", "6 ordinary tasters, 24 lots, 2 own pots; 25 % not scored, weak lots first",
            replace(_sizes(6, 24, Pots(2)), gaps=Gaps(missing=0.25, at_random=False))),
    _nobody("day", "6 alike tasters, one session of 24 lots, 2 own pots, 15 descriptors; levels of the day of SD 0.3",
            Room(6, WORDS, lots=Lots(24, sd=SDS), palates=replace(ALIKE, day_sd=0.3)), Fault(off=1.0), "a point off",
            named=(ANY, _apart("level"))),
    Trial("tasters innocent 4", "4 tasters, one blind on everything, 24 lots, 1 pot, 15 descriptors",
          partial(innocent, replace(_ROOM, fault=Fault(slope=0.0, everywhere=True))),
          nominal={"an innocent taster is apart": PROMISED}),
    Trial("tasters innocent 3", "3 tasters, one a point off on everything, 24 lots, 2 own pots, 15 descriptors",
          partial(innocent, replace(_sizes(3, 24, Pots(2)), fault=Fault(off=1.0, everywhere=True))),
          nominal={"an innocent taster is apart": PROMISED}),
    Trial("tasters intervals", "6 alike tasters, the first 0.3 off on one descriptor; 24 lots, 2 own pots",
          partial(intervals, Room(6, WORDS, lots=Lots(24, sd=SDS), palates=ALIKE, fault=Fault(off=0.3)))),
    Trial("tasters intervals few", "3 alike tasters, the first 0.3 off on one descriptor; 12 lots, 2 own pots",
          partial(intervals, Room(3, WORDS, lots=Lots(12, sd=SDS), palates=ALIKE, fault=Fault(off=0.3)))),
    Trial("tasters edge", "10 tasters, the first at the tolerance on one descriptor; 40 lots, 2 own pots",
          partial(edge, replace(_sizes(10, 40, Pots(2)), fault=Fault(off=0.5))),
          partial(edge, replace(_sizes(10, 40, Pots(2)), fault=Fault(off=0.0))), "at the others' level",
          {WITH: 0.025}, cost=2),
]  # fmt: skip
