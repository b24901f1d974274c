"""What went with the making: makes that did nothing called "went with", differences of makes outside intervals."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import partial

import numpy as np
import pandas as pd

import panelstats as pst
from tests.calibration.trial import Interval, Told, Trial

WITH, SLOPE = "a make went with it, one test", "a setting in numbers went with it, one test"
PAIR, ANY = "interval of make less make", "a make went with any word, after adjustment"


@dataclass(frozen=True)
class Factory:
    """Lots of some makes (their own SD 0.8), shared pots (SD 0.3), tasters of own levels, half points."""

    lots: tuple[int, ...] = (6, 6)
    tasters: int = 3
    descriptors: int = 3
    missing: float = 0.0
    day_sd: float = 0.0
    days: int = 0  # of making, within each make; 0: not written
    minutes: bool = False
    effect: float = 0.0

    def scores(self, rng: np.random.Generator) -> pst.Scores:
        """A tasting; the first make (or ten minutes of firing) is `effect` better."""
        make = np.repeat(np.arange(len(self.lots)), self.lots)
        n, words = len(make), [f"word {k}" for k in range(self.descriptors)]
        minutes = np.round(rng.uniform(15, 35, n), 0)
        set_by = minutes / 10 if self.minutes else (make == 0)
        day = np.arange(n) % max(self.days, 1)
        of_day = self.day_sd * rng.standard_normal((len(self.lots), max(self.days, 1), self.descriptors))[make, day]
        true = self.effect * set_by[:, None] + of_day + 0.8 * rng.standard_normal((n, self.descriptors))
        true += 0.3 * rng.standard_normal(true.shape)
        marks = 5 + true[:, None] + 0.6 * rng.standard_normal((n, self.tasters, self.descriptors))
        marks = np.clip(np.round(2 * (marks + 0.5 * rng.standard_normal((self.tasters, self.descriptors)))) / 2, 0, 10)
        lot = np.array([f"L{k:03d}" for k in range(n)])
        keys = {"lot": np.repeat(lot, self.tasters), "taster": np.tile([f"t{k}" for k in range(self.tasters)], n),
                "pot": 1}  # fmt: skip
        sheet = pd.DataFrame(keys | dict(zip(words, marks.reshape(-1, self.descriptors).T, strict=True)))
        facts = pd.DataFrame({"lot": lot, "fired": minutes if self.minutes else np.array(list("ABCDEFGH"))[make]})
        if self.days:
            facts["made"] = [f"2026-06-{1 + m * self.days + d:02d}" for m, d in zip(make, day, strict=True)]
        return pst.read_scores(sheet[rng.random(len(sheet)) >= self.missing], room={"lots": facts})


def told(factory: Factory, rng: np.random.Generator) -> Told:
    """What is said of the first word, and of any."""
    found = pst.compare_makes(factory.scores(rng), "fired")
    table = found.table[found.table["p"].notna()]
    if not len(table):
        return {}
    claim = SLOPE if factory.minutes else WITH
    out: Told = {claim: float(table["p"].iloc[0] <= 0.05), ANY: float((table["call"] == "went with").any())}
    if not factory.minutes and len(found.pairs):
        first = found.pairs[(found.pairs["setting_a"] == "A") | (found.pairs["setting_b"] == "A")]
        true = factory.effect * np.where(first["setting_a"] == "A", 1, -1)
        missed = (first["low"] > true) | (first["high"] < true)
        out[PAIR] = Interval(float(missed.mean()), float((first["high"] - first["low"]).mean() / 2))
    return out


TRIALS = [
    Trial(f"makes {name}", text, partial(told, factory), partial(told, replace(factory, effect=1.0)), other, cost=2)
    for name, text, factory, other in (
        ("two", "2 makes of 6 lots, 3 tasters, one shared pot", Factory(), "one make a point better on each word"),
        ("four", "4 makes of 3 lots, 3 tasters, one shared pot", Factory((3, 3, 3, 3)),
         "one make a point better on each word"),
        ("uneven", "5 makes of 2 to 6 lots, 3 tasters, 20 % not scored", Factory((2, 3, 4, 5, 6), missing=0.2),
         "one make a point better on each word"),
        ("one taster", "2 makes of 10 lots, 1 taster", Factory((10, 10), 1), "one make a point better on each word"),
        ("days", "2 makes, 3 days of making each (SD 0.4), 5 lots a day", Factory((15, 15), day_sd=0.4, days=3),
         "one make a point better on each word"),
        ("minutes", "20 lots fired 15 to 35 minutes, 3 tasters", Factory((20,), minutes=True),
         "a point more for ten minutes on each word"),
    )
]  # fmt: skip
