"""A day of many lots tasted once: false "lots differ", lots called in or out wrongly, merits outside intervals."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import partial

import numpy as np
import pandas as pd

import panelstats as pst
from tests.calibration.trial import Interval, Told, Trial

DIFFER, MERIT = "lots differ beyond one look", "interval of a lot's merit"
IN, OUT = "a lot is in (among the best tenth)", "a lot is out"
JUMPED = "level jumped along the row"
PROMISED = "chance to be in of 30 to 70 %: half, plus what it promised too much"


@dataclass(frozen=True)
class Day:
    """A row of shared pots, one look, some lots brewed again; half points."""

    lots: int = 300
    tasters: int = 2
    lot_sd: float = 0.8
    pot_sd: float = 0.3
    repeats: int = 12
    skewed: float = 0.0
    past: int = 0
    missing: float = 0.0
    fall: float = 0.0
    grows: float = 0.0  # of the errors' SD, over 5 points of the scale
    jump: float = 0.0  # of the level, somewhere between a fifth and four fifths of the recorded row
    controls: int = 0  # servings of one control along the row

    def scores(self, rng: np.random.Generator, *, repeats: int | None = None) -> tuple[pst.Scores, np.ndarray]:
        """The scores as they are read, and the lots' true values."""
        again = rng.choice(self.lots, self.repeats if repeats is None else repeats, replace=False)
        true = rng.standard_normal(self.lots)
        if self.skewed:
            true = -(np.exp(self.skewed * true) - np.exp(self.skewed**2 / 2))
            true /= true.std()
        true *= self.lot_sd
        order = np.concatenate([np.arange(self.lots), again])
        pot = np.concatenate([np.ones(self.lots, int), np.full(len(again), 2)])
        brew = self.pot_sd * rng.standard_normal(len(order))
        own = 0.4 * rng.standard_normal((self.lots, self.tasters))
        if self.tasters == 1:  # what is said is said of this taster only: what a lot is to him
            own *= self.lot_sd > 0
            true = true + own[:, 0]
            own *= 0
        errors = brew[:, None] + own[order] + 0.5 * rng.standard_normal((len(order), self.tasters))
        marks = 5 + true[order][:, None] + errors * np.clip(1 + self.grows * true[order] / 5, 0.2, None)[:, None]
        place = rng.permutation(len(order))
        if self.controls:
            place, order, pot, marks = self._with_controls(place, order, pot, marks, rng)
        marks -= self.fall * place[:, None] / len(order)
        if self.jump:
            marks += self.jump * (place / len(order) > rng.uniform(0.2, 0.8))[:, None]
        marks = np.clip(np.round(2 * (marks + 0.5 * rng.standard_normal(self.tasters))) / 2, 0, 10)
        names = np.array([f"L{n:04d}" for n in range(self.lots + bool(self.controls))])
        taster = np.tile([f"t{n}" for n in range(self.tasters)], len(order))
        rows = {"lot": np.repeat(names[order], self.tasters), "taster": taster, "pot": np.repeat(pot, self.tasters)}
        walked = {"position": np.repeat(place + 1, self.tasters)} if self.fall or self.controls else {}
        sheet = pd.DataFrame(rows | walked | {"brisk": marks.ravel()})
        room = {"lots": pd.DataFrame({"lot": names[-1:], "role": "control"})} if self.controls else None
        return pst.read_scores(sheet[rng.random(len(sheet)) >= self.missing], room=room), true

    def _with_controls(
        self, place: np.ndarray, order: np.ndarray, pot: np.ndarray, marks: np.ndarray, rng: np.random.Generator
    ) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
        """The row with a control, a lot like the mean of all, at even distances."""
        count = len(order) + self.controls
        at = np.linspace(0, count - 1, self.controls).round().astype(int)
        own = 0.4 * rng.standard_normal(self.tasters) + 0.5 * rng.standard_normal((self.controls, self.tasters))
        cups = 5 + self.pot_sd * rng.standard_normal((self.controls, 1)) + own
        return (
            np.concatenate([np.setdiff1d(np.arange(count), at)[place], at]),
            np.concatenate([order, np.full(self.controls, self.lots)]),
            np.concatenate([pot, np.arange(self.controls) + 1]),
            np.concatenate([marks, cups]),
        )


def _listed(day: Day, rng: np.random.Generator) -> tuple[pst.Shortlist, np.ndarray]:
    error = None
    if day.past:
        earlier, _ = day.scores(rng, repeats=day.past)
        error = pst.room_error(earlier, pots="shared")
    scores, true = day.scores(rng)
    if error is not None:
        past = error.squares.assign(session="earlier")
        error = type(error)(**{**vars(error), "squares": past})
    return pst.shortlist_lots(scores, pots="shared", error=error), true


def false(day: Day, rng: np.random.Generator) -> Told:
    """Equal lots called different; on a day that passes, what is claimed of each lot."""
    equal, _ = _listed(replace(day, lot_sd=0.0, skewed=0.0), rng)
    found, true = _listed(day, rng)
    told: Told = {DIFFER: float(equal.classes["passed"].iloc[0])}
    if day.controls:
        still, _ = _listed(replace(day, jump=0.0), rng)
        told[JUMPED] = float(still.day["jumped"].iloc[0])
    if not found.classes["passed"].iloc[0]:
        return told
    table = found.table.sort_values("lot")
    true = true[table["lot"].str[1:].astype(int)]
    away = true - true.mean()
    best = true >= np.sort(true)[-int(found.classes["take"].iloc[0])]
    missed = (away < table["low"].to_numpy()) | (away > table["high"].to_numpy())
    called_in, called_out = (table["call"] == "in").to_numpy(), (table["call"] == "out").to_numpy()
    chance = table["chance_best"].to_numpy()
    middle = (chance > 0.3) & (chance < 0.7)
    return told | {
        MERIT: Interval(float(missed.mean()), float((table["high"] - table["low"]).mean() / 2)),
        IN: float((~best)[called_in].mean()) if called_in.any() else np.nan,
        OUT: float(best[called_out].mean()) if called_out.any() else np.nan,
        PROMISED: 0.5 + float((chance - best)[middle].mean()) if middle.any() else np.nan,
    }


def true(day: Day, rng: np.random.Generator) -> Told:
    """Days that pass."""
    found, _ = _listed(day, rng)
    jumped = {JUMPED: float(found.day["jumped"].iloc[0])} if day.jump else {}
    return {DIFFER: float(found.classes["passed"].iloc[0])} | jumped


TRIALS = [
    Trial(f"shortlist {name}", text, partial(false, day), partial(true, day), "lots of SD 0.8",
          {PROMISED: 0.5, JUMPED: 0.01}, named=named, cost=4)
    for name, text, day, named in (
        ("one taster", "300 lots as they are to 1 taster, one shared pot (SD 0.3), 24 repeats, half points",
         Day(tasters=1, repeats=24), ()),
        ("two tasters", "300 lots, 2 tasters, one shared pot (SD 0.3), 12 repeats, half points", Day(), ()),
        ("three tasters", "300 lots, 3 tasters, one shared pot (SD 0.3), 12 repeats, half points", Day(tasters=3), ()),
        ("small", "20 lots, 3 tasters, one shared pot (SD 0.3), 12 repeats, half points",
         Day(lots=20, tasters=3), ()),
        ("past", "300 lots, 2 tasters, one shared pot (SD 0.3), no repeat today, 24 on an earlier day",
         Day(repeats=0, past=24), ()),
        ("poor tail", "300 lots with a long poor tail (skewness about -1.5), 3 tasters, 24 repeats",
         Day(tasters=3, repeats=24, skewed=0.45), ()),
        ("missing", "300 lots, 3 tasters, 30 % not scored, one shared pot (SD 0.3), 12 repeats",
         Day(tasters=3, missing=0.3), ()),
        ("fall", "300 lots, 2 tasters, 24 repeats, marks fall by 1.5 points along the recorded row",
         Day(repeats=24, fall=1.5), ()),
        ("growing", "300 lots, 3 tasters, 24 repeats, errors grow with the lot (by half their SD a point)",
         Day(tasters=3, repeats=24, grows=2.5), (MERIT, IN, PROMISED)),
        ("wild pots", "300 lots, 2 tasters, one shared pot (SD 0.6), 12 repeats", Day(pot_sd=0.6), ()),
        ("jump, 2", "300 lots, 2 tasters, 12 repeats, 13 controls; the level jumps by 2 points in the recorded row",
         Day(jump=2.0, controls=13), ()),
        ("jump, 3", "300 lots, 3 tasters, 12 repeats, 13 controls; the level jumps by 2 points in the recorded row",
         Day(tasters=3, jump=2.0, controls=13), ()),
    )
]  # fmt: skip
