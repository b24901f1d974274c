"""Blends held against the standard: false "match", false "differ", and how far they are said to lie."""

from __future__ import annotations

from dataclasses import replace
from functools import partial

import numpy as np

import panelstats as pst
from tests.calibration.rooms.lots import Lots
from tests.calibration.rooms.palates import Palates
from tests.calibration.rooms.pots import SHARED, Pots
from tests.calibration.rooms.room import Room, lot_names, words
from tests.calibration.rooms.sheet import Gaps, Scale
from tests.calibration.trial import Interval, Told, Trial

MATCH, DIFFER = "blend matches the standard", "blend differs from the standard"
DIFFERENCE, DISTANCE = "interval of blend less standard", "interval of the distance to the standard"
NONE_APART, ONE_APART = f"{DISTANCE} (none)", f"{DISTANCE} (one descriptor at the tolerance)"
TOLERANCE = 1.0


def _held(room: Room, apart: float, rng: np.random.Generator) -> pst.StandardMatch:
    room = replace(room, lots=replace(room.lots, apart=apart))
    return pst.match_standard(room.scores(rng).cells(), lot_names(room)[-1])


def false(room: Room, rng: np.random.Generator) -> Told:
    """Each claim where it is false: a match at the tolerance on one descriptor, a difference where there is none."""
    level, edge = _held(room, 0.0, rng), _held(room, TOLERANCE, rng)
    return {
        DIFFER: _call(level, "differ"),
        MATCH: _call(edge, "match"),
        DIFFERENCE: _difference(room, edge),
        NONE_APART: _distance(level, 0.0),
        ONE_APART: _distance(edge, TOLERANCE / np.sqrt(room.descriptors)),
    }


def true(room: Room, rng: np.random.Generator) -> Told:
    """Each claim where it is true: a blend two tolerances apart on one descriptor, and one that is the standard."""
    return {DIFFER: _call(_held(room, 2 * TOLERANCE, rng), "differ"), MATCH: _call(_held(room, 0.0, rng), "match")}


def _call(found: pst.StandardMatch, call: str) -> float:
    return float((found.summary["call"] == call).mean())


def _difference(room: Room, found: pst.StandardMatch) -> Interval:
    table = found.table
    truth = np.where(table["descriptor"] == words(room)[0], TOLERANCE, 0.0) * (table["lot"] == lot_names(room)[0])
    known = table["low"].notna()
    missed = ((truth < table["low"]) | (truth > table["high"]))[known]
    return Interval(float(missed.mean()) if known.any() else np.nan, _half(table[known]))


def _distance(found: pst.StandardMatch, truth: float) -> Interval:
    table = found.summary[found.summary["low"].notna()]
    missed = (truth < table["low"] - 1e-9) | (truth > table["high"] + 1e-9)
    return Interval(float(missed.mean()) if len(table) else np.nan, _half(table))


def _half(table: object) -> float:
    return float((table["high"] - table["low"]).mean() / 2) if len(table) else np.nan


_WHERE = "two tolerances apart; alike"
_ROOM = Room(8, lots=Lots(2), standard=True, tolerance=TOLERANCE)
TRIALS = [
    Trial(f"standard {name}", f"a blend and the standard, tolerance 1: {text}", partial(false, room),
          partial(true, room), _WHERE, named=named, cost=2)
    for name, text, room, named in (
        ("own", "8 tasters, 3 own pots, 6 descriptors", replace(_ROOM, pots=Pots(3)), ()),
        ("shared", "8 tasters, 4 shared pots (SD 0.3), 6 descriptors", replace(_ROOM, pots=Pots(4, SHARED, 0.3)), ()),
        ("shared few words", "8 tasters, 2 shared pots (SD 0.5), 3 descriptors",
         replace(_ROOM, descriptors=3, pots=Pots(2, SHARED, 0.5)), (DIFFER,)),
        ("two tasters", "2 tasters, 8 own pots, 6 descriptors", replace(_ROOM, tasters=2, pots=Pots(8)), ()),
        ("two tasters one word", "2 tasters, 8 own pots, 1 descriptor",
         replace(_ROOM, tasters=2, descriptors=1, pots=Pots(8)), ()),
        ("three tasters", "3 tasters, 2 own pots, 6 descriptors", replace(_ROOM, tasters=3), ()),
        ("one brew", "8 tasters, one shared brew of each (SD 0.5), 6 descriptors",
         replace(_ROOM, pots=Pots(1, SHARED, 0.5)), (DIFFERENCE, NONE_APART, ONE_APART)),  # "cannot prove anything"
        ("missing", "4 tasters, 2 own pots, 6 descriptors, 40 % not scored",
         replace(_ROOM, tasters=4, gaps=Gaps(missing=0.4)), ()),
        ("whole points", "8 tasters, 3 own pots, 6 descriptors, whole points, steady tasters (error SD 0.4)",
         replace(_ROOM, pots=Pots(3), palates=Palates(opinion_sd=0.2, error_sd=0.4), scale=Scale(step=1.0)), ()),
        ("unlike tasters", "8 tasters, 3 own pots, 6 descriptors; errors 0.5 to 2 times, slopes 0.6 to 1.7",
         replace(_ROOM, pots=Pots(3), palates=Palates(slope_range=0.55, error_range=0.69)), ()),
    )
]  # fmt: skip
