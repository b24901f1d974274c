"""A season of tasters: alarms where nobody moves, innocents beside one who does, how often and how late he is found."""

from __future__ import annotations

from dataclasses import replace
from functools import partial

import numpy as np

import panelstats as pst
from tests.calibration.rooms.months import Months
from tests.calibration.trial import Told, Trial

ALARM, NAMED, INNOCENT = "season: any alarm", "season: anybody named", "season: an innocent named"
# The median delay is at most so many sessions where half of the movers or more are found within them.
LATE, CROSSED = "season: found within 4 sessions", "season: crossed words called"
DRIFTING = "season: the tasters said to drift"
WANDERS, CHANGED = "season: somebody said to wander", "season: somebody's repeats said to change by half"
WITHIN_7 = "season: found within 7 sessions"
MOVED = ["drifting", "jumped", "moved", "moved apart"]
GUILTY = "taster 01"


def quiet(room: Months, rng: np.random.Generator) -> Told:
    """What is said of a season in which nobody moves."""
    found = pst.audit_season(room.draw(rng))
    named = found.table["call"].isin(MOVED)
    return {ALARM: float((found.table["alarm"] != "").any()), NAMED: float(named.any()), LATE: np.nan, WITHIN_7: np.nan,
            CROSSED: float(len(found.crossed_words) > 0), DRIFTING: _drifting(found)}  # fmt: skip


def _drifting(found: pst.SeasonAudit) -> float:
    return float((found.drift["p_adjusted"] < 0.05).any())


def drifting(room: Months, rng: np.random.Generator) -> Told:
    """Whether the tasters are said to drift."""
    return {DRIFTING: _drifting(pst.audit_season(room.draw(rng)))}


def beside(room: Months, rng: np.random.Generator) -> Told:
    """What is said beside the charts of a season in which nobody moves."""
    found = pst.audit_season(room.draw(rng))
    calls = {verdict.call for verdict in found.verdicts}
    return {DRIFTING: _drifting(found), WANDERS: float("wanders" in calls),
            CHANGED: float(bool(calls & {"repeats wider", "repeats closer"}))}  # fmt: skip


def moved(room: Months, rng: np.random.Generator) -> Told:
    """Whether the guilty is named, and how soon he alarms; told as what is true of this season."""
    table = pst.audit_season(room.draw(rng)).table
    kind = "noise" if room.noise > 1 else "level"
    mine = table[(table["taster"] == GUILTY) & (table["chart"] == kind)]
    row = mine[mine["descriptor"].isin(["", "word 01"])].iloc[0]
    delay = room.days.index(row["alarm"]) - room.since if row["alarm"] else np.inf
    named = float(row["call"] in MOVED)
    return {ALARM: float((table["alarm"] != "").any()), NAMED: named, INNOCENT: named, LATE: float(delay < 4),
            WITHIN_7: float(delay < 7)}  # fmt: skip


def innocents(room: Months, rng: np.random.Generator) -> Told:
    """Whether anybody but the guilty is named."""
    table = pst.audit_season(room.draw(rng)).table
    return {
        INNOCENT: float((table["call"].isin(MOVED) & (table["taster"] != GUILTY)).any()),
        LATE: np.nan,
        WITHIN_7: np.nan,
    }


def _season(name: str, text: str, room: Months, **options: object) -> Trial:
    of = f"{room.sessions} sessions of {room.lots} lots, {room.descriptors} descriptors, {text}"
    return Trial(f"seasons {name}", of, partial(quiet, room), partial(moved, replace(room, jump=1.0)),
                 "one jumps by 1 point on one",
                 cost=4, **options)  # fmt: skip


def _innocent(name: str, text: str, room: Months) -> Trial:
    return Trial(f"seasons beside {name}", f"{room.sessions} sessions, {text}", partial(innocents, room),
                 partial(moved, room), "he who moved is named", cost=4)  # fmt: skip


_ROOMS = {n: Months(tasters=n) for n in (3, 6, 10)}
_SIX = _ROOMS[6]
# As many lots as give a session's level an error of a quarter point: 1.1 to 1.5 times 0.48 over them.
_QUARTER = {3: replace(_ROOMS[3], lots=12), 6: replace(_SIX, lots=10), 10: replace(_ROOMS[10], lots=9)}
_UNLIKE = (ALARM, NAMED, DRIFTING)
# Ten tasters and fifteen descriptors over thirty sessions, each level good to 0.25 point give or take a quarter of it:
# the season by which the charts were designed.
_DESIGNED = Months(tasters=10, lots=9, descriptors=15, absent=0.15, uneven=0.25)
TRIALS = [
    *(Trial(f"seasons of trends, {n}", f"{room.sessions} sessions of {room.lots} lots, 4 descriptors, {n} tasters",
            partial(beside, room), partial(drifting, replace(room, trend_sd=0.02)),
            "trends spread by 0.2 point in ten sessions", cost=4) for n, room in _ROOMS.items()),
    *(_season(f"{n} tasters", f"{n} tasters, 2 own pots", room) for n, room in _ROOMS.items()),
    _season("unlike errors", "6 tasters, errors from 0.7 to 1.4 times", replace(_SIX, palates=replace(
        _SIX.palates, error_range=0.35))),
    _season("alike neighbours", "6 tasters, neighbouring sessions alike (0.3)", replace(_SIX, resemblance=0.3,
            palates=replace(_SIX.palates, day_sd=0.3)), named=_UNLIKE),
    _season("more alike", "6 tasters, neighbouring sessions more alike (0.5)", replace(_SIX, resemblance=0.5,
            palates=replace(_SIX.palates, day_sd=0.3)), named=_UNLIKE),
    _season("as designed", "10 tasters, 15 % away, errors of a level 0.25 give or take a quarter", _DESIGNED),
    *(_innocent(f"a jump, {n}", f"{n} tasters, {room.lots} lots; one jumps by 1 point on one", replace(room, jump=1.0))
      for n, room in _QUARTER.items()),
    _innocent("a drift, 6", "6 tasters; one drifts by 0.1 a session on one", replace(_SIX, drift=0.1)),
    _innocent("noise, 6", "6 tasters; one doubles his error", replace(_SIX, noise=2.0)),
]  # fmt: skip
