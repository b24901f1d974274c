"""Months of sessions in which nobody moves, or the first taster does: other lots every time, the same people."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cache
from math import ceil

import numpy as np
import pandas as pd

import panelstats as pst
from tests.calibration.rooms.palates import Fault, Palates
from tests.calibration.rooms.pots import Pots


@dataclass(frozen=True)
class Months:
    """Sessions of the same tasters.

    Attributes
    ----------
    sessions, lots, tasters, descriptors : int
        Sessions, lots of each, and who scored what.
    lot_sd : float
    absent : float
        Chance that a taster misses a session.
    jump, drift : float
        What the first taster adds on the first descriptor: from session `since` (counted from 0) on, and per session.
    trend_sd : float
        Spread of the tasters' trends, points a session, on each descriptor.
    noise : float
        Factor on the first taster's errors from session `since` on.
    since : int
    uneven : float
        Share by which a session's error may lie above or below the usual one: fewer lots, or more.
    resemblance : float
        Correlation of a taster's levels of the day in neighbouring sessions.
    """

    sessions: int = 30
    lots: int = 8
    tasters: int = 6
    descriptors: int = 4
    palates: Palates = field(default_factory=lambda: Palates(level_sd=0.3, day_sd=0.15))
    pots: Pots = field(default_factory=Pots)
    lot_sd: float = 1.0
    absent: float = 0.1
    jump: float = 0.0
    drift: float = 0.0
    trend_sd: float = 0.0
    noise: float = 1.0
    since: int = 12
    uneven: float = 0.0
    resemblance: float = 0.0

    @property
    def days(self) -> list[str]:
        """The sessions by name, in their order."""
        return [f"2031-{1 + s // 4:02d}-{1 + 7 * (s % 4):02d}" for s in range(self.sessions)]

    @property
    def most(self) -> int:
        """Lots of the largest session."""
        return ceil(self.lots / (1 - self.uneven) ** 2)

    def draw(self, rng: np.random.Generator) -> pst.Cells:
        """The cells of one season."""
        session = np.repeat(np.arange(self.sessions), self.most)
        lot = self.lot_sd * rng.normal(size=(len(session), self.descriptors))
        day = self.palates.day_sd * self._levels(rng)
        steady = replace(self.palates, day_sd=0.0)
        mark = steady.marks(lot, session, self.tasters, self.pots.count, Fault(), rng) + day[session][:, :, None]
        louder = self.palates.error_sd * np.sqrt(self.noise**2 - 1)
        after = session >= self.since
        mark[after, 0] += louder * rng.normal(size=mark[after, 0].shape)
        mark[after, 0, :, 0] += self.jump
        mark[:, 0, :, 0] += (self.drift * np.maximum(session - self.since + 1, 0))[:, None]
        if self.trend_sd:
            trend = self.trend_sd * rng.normal(size=(self.tasters, self.descriptors))
            mark += session[:, None, None, None] * trend[:, None]
        mark = 5.0 + mark + self.pots.draw(len(lot), self.tasters, self.descriptors, rng)
        form, at = _form(self)
        here = rng.random((self.sessions, self.tasters)) >= self.absent
        kept = here[session[at[0]], at[1]]
        if self.uneven:
            count = self.lots / rng.uniform(1 - self.uneven, 1 + self.uneven, self.sessions) ** 2
            kept &= at[0] % self.most < count.round()[session[at[0]]]
        frame = form.frame.assign(score=mark[at])[kept]
        return replace(form.select(), frame=frame).cells()

    def _levels(self, rng: np.random.Generator) -> np.ndarray:
        """Levels of the day in standard deviations, (session, taster, descriptor)."""
        z = rng.normal(size=(self.sessions, self.tasters, self.descriptors))
        for s in range(1, self.sessions):
            z[s] = self.resemblance * z[s - 1] + np.sqrt(1 - self.resemblance**2) * z[s]
        return z


@cache
def _form(room: Months) -> tuple[pst.Scores, tuple[np.ndarray, ...]]:
    """A blank form of the season, and where each of its rows stands in an array of marks."""
    lot, taster, pot = np.indices((room.sessions * room.most, room.tasters, room.pots.count)).reshape(3, -1)
    words = [f"word {n + 1:02d}" for n in range(room.descriptors)]
    sheet = pd.DataFrame(
        {"session": np.array(room.days)[lot // room.most], "lot": [f"L{n:04d}" for n in lot], "pot": pot + 1,
         "taster": [f"taster {n + 1:02d}" for n in taster]}
    )  # fmt: skip
    registers = {
        "sessions": pd.DataFrame({"session": room.days, "date": room.days, "pots": room.pots.brews}),
        "descriptors": pd.DataFrame(
            {"descriptor": words, "stage": "liquor", "kind": "score", "low": 0.0, "high": 10.0, "step": 0.1,
             "tolerance": 0.5}
        ),
    }  # fmt: skip
    form = pst.read_scores(sheet.assign(**dict.fromkeys(words, 5.0)), room=registers)
    name, person, word = (form.frame[key].astype(str) for key in ("lot", "taster", "descriptor"))
    people = pd.Index([f"taster {n + 1:02d}" for n in range(room.tasters)])
    slot = name.str[1:].astype(int).to_numpy()
    return form, (slot, people.get_indexer(person), form.frame["pot"].to_numpy() - 1, pd.Index(words).get_indexer(word))
