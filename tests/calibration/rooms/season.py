"""A season: each week's blend beside the sealed master, on the standard, wandering about it, or jumping away."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cache

import numpy as np
import pandas as pd

import panelstats as pst
from tests.calibration.rooms.palates import Fault, Palates
from tests.calibration.rooms.pots import Pots

MASTER = "S"


@dataclass(frozen=True)
class Season:
    """Weekly tastings of a blend and its master by the same few people.

    Attributes
    ----------
    weeks, tasters, descriptors : int
    wander_sd, resemblance : float
        Spread of the blend about the master from week to week, on each descriptor, and the correlation of neighbouring
        weeks.
    jump : float
        Added on the first descriptor from week `jump_from` (from 0) to week `jump_to`.
    jump_from, jump_to : int
    tolerance : float
        Declared for every descriptor.
    """

    weeks: int = 40
    tasters: int = 3
    descriptors: int = 6
    palates: Palates = field(default_factory=Palates)
    pots: Pots = field(default_factory=lambda: Pots(1))
    wander_sd: float = 0.0
    resemblance: float = 0.0
    jump: float = 0.0
    jump_from: int = 0
    jump_to: int = 10_000
    tolerance: float = 1.0

    def truth(self, rng: np.random.Generator) -> np.ndarray:
        """Blend less master, (week, descriptor)."""
        apart = rng.normal(size=(self.weeks, self.descriptors))
        for week in range(1, self.weeks):
            apart[week] *= np.sqrt(1 - self.resemblance**2)
            apart[week] += self.resemblance * apart[week - 1]
        apart *= self.wander_sd
        apart[self.jump_from : self.jump_to, 0] += self.jump
        return apart

    def draw(self, rng: np.random.Generator) -> tuple[np.ndarray, pst.Scores]:
        """The truth and the scores of one season; opinions are of the week's brews."""
        truth = self.truth(rng)
        lot = np.stack([truth, np.zeros_like(truth)], axis=1).reshape(-1, self.descriptors)
        session = np.repeat(np.arange(self.weeks), 2)
        mark = self.palates.marks(lot, session, self.tasters, self.pots.count, Fault(), rng)
        mark = 5.0 + mark + self.pots.draw(len(lot), self.tasters, self.descriptors, rng)
        form, at = _form(self)
        return truth, replace(form.select(), frame=form.frame.assign(score=mark[at]))


@cache
def _form(season: Season) -> tuple[pst.Scores, tuple[np.ndarray, ...]]:
    """A blank form of the season, and where each of its rows stands in an array of marks."""
    lot, taster, pot = np.indices((2 * season.weeks, season.tasters, season.pots.count)).reshape(3, -1)
    days = [f"2031-{1 + week // 4:02d}-{1 + 7 * (week % 4):02d}" for week in range(season.weeks)]
    names = [name for week in range(season.weeks) for name in (f"B{week + 1:02d}", MASTER)]
    words = [f"word {n + 1:02d}" for n in range(season.descriptors)]
    sheet = pd.DataFrame(
        {"session": np.array(days)[lot // 2], "lot": np.array(names)[lot], "pot": pot + 1,
         "taster": [f"taster {n + 1}" for n in taster]}
    )  # fmt: skip
    registers = {
        "sessions": pd.DataFrame({"session": days, "date": days, "pots": season.pots.brews}),
        "lots": pd.DataFrame({"lot": [*names[::2], MASTER], "role": ["trial"] * season.weeks + ["standard"]}),
        "descriptors": pd.DataFrame(
            {"descriptor": words, "stage": "liquor", "kind": "score", "low": 0.0, "high": 10.0, "step": 0.1,
             "tolerance": season.tolerance}
        ),
    }  # fmt: skip
    form = pst.read_scores(sheet.assign(**dict.fromkeys(words, 5.0)), room=registers)
    week, name, person, word = (form.frame[key].astype(str) for key in ("session", "lot", "taster", "descriptor"))
    slot = 2 * pd.Index(days).get_indexer(week) + (name == MASTER).to_numpy()
    people = pd.Index([f"taster {n + 1}" for n in range(season.tasters)])
    return form, (slot, people.get_indexer(person), form.frame["pot"].to_numpy() - 1, pd.Index(words).get_indexer(word))
