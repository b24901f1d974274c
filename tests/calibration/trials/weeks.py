"""The weekly blend beside its master: alarms in quiet seasons, false "on the standard", a week's interval."""

from __future__ import annotations

from dataclasses import replace
from functools import partial

import numpy as np

import panelstats as pst
from tests.calibration.rooms.palates import Palates
from tests.calibration.rooms.pots import SHARED, Pots
from tests.calibration.rooms.season import MASTER, Season
from tests.calibration.trial import Interval, Told, Trial

ALARM, ON = "weekly chart alarms", "blend is on the standard"
WEEK, NOW = "interval of a week's difference", "interval of the difference now"


def quiet(season: Season, rng: np.random.Generator) -> Told:
    """Alarms on any descriptor in a season on the standard, and intervals that miss."""
    truth, scores = season.draw(rng)
    found = pst.track_standard(scores.cells(), MASTER, weeks=season.weeks)
    table = found.table
    week = table["lot"].str[1:].astype(int).to_numpy() - 1
    true = truth[week, table["descriptor"].str.split().str[-1].astype(int).to_numpy() - 1]
    missed = (true < table["low"]) | (true > table["high"])
    half = float((table["high"] - table["low"]).replace(np.inf, np.nan).mean() / 2)
    return {ALARM: float(table["alarm"].any()), WEEK: Interval(float(missed.mean()), half)}


def moved(season: Season, rng: np.random.Generator) -> Told:
    """Whether an alarm on the first descriptor stands by the end."""
    _, scores = season.draw(rng)
    found = pst.track_standard(scores.cells(), MASTER, weeks=season.weeks)
    mine = found.table[found.table["descriptor"] == "word 01"]
    return {ALARM: float(mine["alarm"].any())}


def on(season: Season, rng: np.random.Generator) -> Told:
    """How often the first descriptor is said to be on the standard at the end."""
    _, scores = season.draw(rng)
    summary = pst.track_standard(scores.cells(), MASTER, weeks=season.weeks).summary
    return {ON: float((summary["call"] == "on the standard").iloc[0])}


def _quiet(name: str, text: str, season: Season, **options: object) -> Trial:
    other = replace(season, jump=1.0, jump_from=season.weeks // 2)
    return Trial(f"weeks {name}", f"{season.weeks} weeks, 6 descriptors, {text}", partial(quiet, season),
                 partial(moved, other), "1 point away on one from the middle on", cost=4, **options)  # fmt: skip


def _on(name: str, text: str, season: Season, nominal: float = 0.025, **options: object) -> Trial:
    level = replace(season, jump=0.0)
    return Trial(f"weeks on {name}", f"{season.weeks} weeks, tolerance 1, {text}", partial(on, season),
                 partial(on, level), "never moved", {ON: nominal}, cost=2, **options)  # fmt: skip


_THREE, _FIVE = Season(tasters=3), Season(tasters=5, pots=Pots(2))
_STEADY = Season(weeks=20, tasters=8, descriptors=2, pots=Pots(3))
TRIALS = [
    _quiet("3 tasters", "3 tasters, one own pot", _THREE),
    _quiet("5 tasters", "5 tasters, 2 own pots", _FIVE),
    _quiet("8 tasters", "8 tasters, 2 own pots", Season(tasters=8, pots=Pots(2))),
    _quiet("shared", "5 tasters, 2 shared pots (SD 0.25)", replace(_FIVE, pots=Pots(2, SHARED))),
    _quiet("wander", "5 tasters, 2 own pots, the blend wanders (SD 0.3)", replace(_FIVE, wander_sd=0.3)),
    _quiet("wander resembling", "5 tasters, 2 own pots, the blend wanders (SD 0.3), neighbouring weeks alike (0.3)",
           replace(_FIVE, wander_sd=0.3, resemblance=0.3), named=(ALARM,)),
    _quiet("unlike tasters", "5 tasters, 2 own pots, errors from 0.5 to 2 times",
           replace(_FIVE, palates=Palates(error_range=0.69))),
    _on("at the tolerance", "8 tasters, 3 own pots; at the tolerance from the first week",
        replace(_STEADY, jump=1.0)),
    _on("jumped", "8 tasters, 3 own pots; 1.5 tolerances away for the last three weeks",
        replace(_STEADY, jump=1.5, jump_from=17)),
    _on("jumped last", "8 tasters, 3 own pots; 1.5 tolerances away in the last week",
        replace(_STEADY, jump=1.5, jump_from=19), named=(ON,)),
    _on("one brew", "8 tasters, one shared brew a week (SD 0.5); at the tolerance from the first week",
        replace(_STEADY, pots=Pots(1, SHARED, 0.5), jump=1.0)),
]  # fmt: skip
