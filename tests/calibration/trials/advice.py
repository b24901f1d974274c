"""Advice tested by following it: does the advised number settle the question as often as was said?"""

from __future__ import annotations

import re
from dataclasses import replace
from functools import partial

import numpy as np
from scipy.stats import binom

import panelstats as pst
from tests.calibration.rooms.lots import Lots
from tests.calibration.rooms.palates import Fault
from tests.calibration.rooms.pots import SHARED, Pots
from tests.calibration.rooms.room import Room, lot_names, words
from tests.calibration.trial import Counted, Line, Told, Trial
from tests.calibration.trials.differences import CHANCE, SHARE
from tests.calibration.trials.tasters import ORDINARY, SDS, WORDS
from tests.calibration.trials.trainees import room as school

# Lots that may be needed at most.
MOST_LOTS = 400
FAILS = "advice followed, question still open"
# Advice promises 8 cases of 10.
NOMINAL = {FAILS: 0.2}
_TASTERS, _POTS = re.compile(r"(\d+) tasters?"), re.compile(r"(\d+) pots")
_SIZE, _WORD = re.compile(r"difference of ([\d.]+) point"), re.compile(r"settle (word \d+)")


def lots(room: Room, rng: np.random.Generator) -> Told:
    """Lots that could not be told apart, tasted again as advised, now apart by what was to be found."""
    found = pst.compare_lots(room.scores(rng).cells())
    step = " ".join(verdict.next_step for verdict in found.verdicts if verdict.call == "cannot tell")
    size = _SIZE.search(step)
    if not size:
        return {FAILS: np.nan}
    again = replace(_as_advised(room, step), lots=replace(room.lots, apart=float(size[1])))
    found = pst.compare_lots(again.scores(rng).cells())
    told = any(verdict.call == "differ" and words(room)[0] in verdict.sentence for verdict in found.verdicts)
    return {FAILS: float(not told)}


def standard(room: Room, rng: np.random.Generator) -> Told:
    """A blend that is the standard and could not be shown to be, tasted again as advised."""
    found = pst.match_standard(room.scores(rng).cells(), lot_names(room)[-1])
    step = found.verdicts[0].next_step
    word = _WORD.search(step)
    if not word or step.startswith("No number"):
        return {FAILS: np.nan}
    again = _as_advised(room, step)
    table = pst.match_standard(again.scores(rng).cells(), lot_names(again)[-1]).table
    return {FAILS: float((table.loc[table["descriptor"] == word[1], "call"] != "match").all())}


def trainee(room: Room, rng: np.random.Generator) -> Told:
    """A trainee without fault whose level was open, judged again after the lots that were said to be needed."""
    table = pst.assess_trainees(room.scores(rng).cells()).table
    mine = table.iloc[room.descriptors // 2]
    if mine["call"] != "cannot tell" or not np.isfinite(mine["lots_in_all"]):
        return {FAILS: np.nan}
    count = int(mine["lots_in_all"])
    again = replace(room, lots=replace(room.lots, count=count), sessions=max(count // 10, 2))
    table = pst.assess_trainees(again.scores(rng).cells()).table
    return {FAILS: float(table.iloc[room.descriptors // 2]["call"] == "cannot tell")}


def taster(room: Room, rng: np.random.Generator) -> Told:
    """A taster whose level on the middle descriptor was open, judged again after as many lots more as were needed."""
    scores, names = replace(room, lots=replace(room.lots, count=MOST_LOTS)).scores(rng), lot_names(room)
    mine = _level(room, scores.select(lot=names))
    if mine["call"] != "cannot tell" or not np.isfinite(mine["lots_in_all"]):
        return {FAILS: np.nan}
    enough = replace(room, lots=replace(room.lots, count=int(mine["lots_in_all"])))
    return {FAILS: float(_level(room, scores.select(lot=lot_names(enough)))["call"] == "cannot tell")}


def _level(room: Room, scores: pst.Scores) -> dict[str, object]:
    table = pst.assess_tasters(scores.cells()).table
    at = (table["taster"] == "taster 1") & (table["aspect"] == "level")
    return table[at & (table["descriptor"] == words(room)[room.descriptors // 2])].iloc[0].to_dict()


def _as_advised(room: Room, step: str) -> Room:
    """The room with the tasters and pots that a next step names."""
    tasters, pots = _TASTERS.search(step), _POTS.search(step)
    out = replace(room, tasters=int(tasters[1])) if tasters else room
    return replace(out, pots=replace(room.pots, count=int(pots[1]))) if pots else out


def answers() -> list[Line]:
    """The served numbers of answers: exact chance of failing to show what they are for, the worst kind of test."""
    return [
        Line(FAILS, f"the answers needed for a {word} of 30 %, any forced choice (the worst)", 0.2,
             max(_unshown(kind, claim, able) for kind in CHANCE), 0.0)
        for word, claim, able in (("difference", "difference", SHARE), ("match", "match", 0.0))
    ]  # fmt: skip


def _unshown(kind: str, claim: str, able: float) -> float:
    n = int(getattr(pst.answers_needed(kind, within_share=SHARE), claim).served)
    x = np.arange(n + 1)
    if claim == "match":
        shown = pst.match_test(kind, correct=x, answers=np.full(n + 1, n), within_share=SHARE).call == "match"
    else:
        shown = pst.difference_test(kind, correct=x, answers=np.full(n + 1, n)).call == "differ"
    return float(1 - binom.pmf(x, n, CHANCE[kind] + (1 - CHANCE[kind]) * able)[shown].sum())


def _trial(name: str, text: str, ask: object, room: Room, **options: object) -> Trial:
    return Trial(f"advice {name}", text, partial(ask, room), nominal=NOMINAL, **options)


_LOTS = Room(4, lots=Lots(4))
_STANDARD = Room(8, lots=Lots(2), standard=True, tolerance=1.0)
TRIALS = [
    _trial("lots own", "more tasters for 4 alike lots, 4 tasters, 2 own pots, 6 descriptors", lots, _LOTS, cost=2),
    _trial("lots one word", "more tasters for 4 alike lots, 4 tasters, 2 own pots, 1 descriptor", lots,
           replace(_LOTS, descriptors=1), cost=2),
    _trial("lots few", "more tasters for 2 alike lots, 2 tasters, 4 own pots, 6 descriptors", lots,
           Room(2, lots=Lots(2), pots=Pots(4)), cost=2),
    _trial("lots shared", "more pots for 2 alike lots, 10 tasters, 2 shared pots (SD 0.25), 6 descriptors", lots,
           Room(10, lots=Lots(2), pots=Pots(2, SHARED)), cost=2),
    _trial("standard own", "more tasters for a blend that is the standard, 5 tasters, 2 own pots, tolerance 1",
           standard, replace(_STANDARD, tasters=5), cost=2),
    _trial("standard shared", "more pots for a blend that is the standard, 8 tasters, 2 shared pots, tolerance 1",
           standard, replace(_STANDARD, pots=Pots(2, SHARED)), cost=2),
    _trial("trainees", "lots needed by a trainee without fault after 20 lots in 2 sessions, 3 seniors, 16 descriptors",
           trainee, school(20, Fault(off=0.0))),
    _trial("tasters", "lots needed by a taster 0.2 off (tolerance 0.5) on one descriptor, after 12 lots, 6 tasters",
           taster, Room(6, WORDS, lots=Lots(12, sd=SDS), palates=ORDINARY, fault=Fault(off=0.2))),
    Counted("advice answers", answers),
]  # fmt: skip
