"""A room: lots, palates, pots, a walk and a sheet; its truth, and seeded scores in the package's own form."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

import panelstats as pst
from tests.calibration.rooms.lots import Lots
from tests.calibration.rooms.palates import Fault, Palates
from tests.calibration.rooms.pots import Pots
from tests.calibration.rooms.sheet import Gaps, Scale
from tests.calibration.rooms.walk import Walk

if TYPE_CHECKING:
    from collections.abc import Sequence


@dataclass(frozen=True)
class Room:
    """Everything that is true of a room; `draw` makes it happen once.

    Attributes
    ----------
    tasters, descriptors, sessions : int
        Lots are dealt to the sessions in turn; every session is on a day of its own.
    tolerance : float
        Declared for every descriptor.
    standard : bool
        Whether the last lot is the standard (never apart), and the others trial blends.
    trainee : bool
        Whether the first taster is one.
    """

    tasters: int = 8
    descriptors: int = 6
    sessions: int = 1
    lots: Lots = field(default_factory=Lots)
    palates: Palates = field(default_factory=Palates)
    pots: Pots = field(default_factory=Pots)
    walk: Walk = field(default_factory=Walk)
    scale: Scale = field(default_factory=Scale)
    gaps: Gaps = field(default_factory=Gaps)
    fault: Fault = field(default_factory=Fault)
    tolerance: float = 0.5
    standard: bool = False
    trainee: bool = False

    @property
    def session(self) -> np.ndarray:
        """Session of each lot, (lot,)."""
        return np.arange(self.lots.all) * self.sessions // self.lots.all

    def draw(self, rng: np.random.Generator) -> Tasting:
        """One tasting."""
        count, pots = self.lots.all, self.pots.count
        lot = self.lots.draw(self.descriptors, rng)
        mark = self.palates.marks(lot, self.session, self.tasters, pots, self.fault, rng)
        mark = mark + self.pots.draw(count, self.tasters, self.descriptors, rng)
        position = self.walk.positions(count, self.tasters, pots, rng)
        mark = mark + self.walk.tired(position)[..., None]
        scored = self.gaps.scored(mark, rng) & self.pots.served(count)[:, None]
        written = self.scale.written(self.gaps.slipped(mark, self.scale, rng))
        return Tasting(self, np.asarray(self.scale.middle) + self.palates.mean_slope * lot, written, scored, position)

    def scores(self, rng: np.random.Generator) -> pst.Scores:
        """The scores of one tasting."""
        return self.draw(rng).scores


@dataclass(frozen=True, eq=False)
class Tasting:
    """One tasting: what is true of the lots for such tasters, and what was written.

    Attributes
    ----------
    lot : ndarray, shape (lot, descriptor)
    mark : ndarray, shape (lot, taster, pot, descriptor)
    scored : ndarray of bool, shape (lot, taster, pot)
    position : ndarray of int, shape (lot, taster, pot)
    """

    room: Room
    lot: np.ndarray
    mark: np.ndarray
    scored: np.ndarray
    position: np.ndarray

    @property
    def scores(self) -> pst.Scores:
        """The marks as the package reads them."""
        return together([self])


def together(tastings: Sequence[Tasting]) -> pst.Scores:
    """Tastings of one room as one sheet, side by side: each has descriptors and a stage of its own.

    Whatever the package shares between descriptors it shares within a stage, but for what it says of the whole page.
    """
    room = tastings[0].room
    form, (lot, taster, pot, word) = _form(room, len(tastings))
    mark = np.concatenate([one.mark for one in tastings], axis=3)
    scored = np.stack([one.scored for one in tastings], axis=3)
    frame = form.frame.assign(score=mark[lot, taster, pot, word])
    if room.walk.recorded:
        position = np.stack([one.position for one in tastings], axis=3)
        frame["position"] = position[lot, taster, pot, word // room.descriptors].astype(float)
    keep = scored[lot, taster, pot, word // room.descriptors]
    return replace(form.select(), frame=frame[keep].reset_index(drop=True))


def words(room: Room, panels: int = 1) -> list[str]:
    """Names of the descriptors, in order."""
    names = [f"word {n + 1:02d}" for n in range(room.descriptors)]
    return names if panels == 1 else [f"{panel:03d} {name}" for panel in range(panels) for name in names]


def lot_names(room: Room) -> list[str]:
    """Names of the lots, in order."""
    return [f"{101 + n}" for n in range(room.lots.all)]


@lru_cache(maxsize=64)
def _form(room: Room, panels: int) -> tuple[pst.Scores, tuple[np.ndarray, ...]]:
    """A blank form of the room, read once, and where each of its rows stands in an array of marks."""
    shape = (room.lots.all, room.tasters, room.pots.count)
    lot, taster, pot = np.indices(shape).reshape(3, -1)
    days = [str(date) for date in np.datetime64("2031-01-01") + np.arange(room.sessions)]
    names, people = np.array(lot_names(room)), np.array([f"taster {n + 1}" for n in range(room.tasters)])
    sheet = pd.DataFrame(
        {"session": np.array(days)[room.session[lot]], "lot": names[lot], "taster": people[taster], "pot": pot + 1}
    )
    if room.walk.recorded:
        sheet["position"] = np.arange(len(sheet)) % np.prod(shape[::2]) + 1
    labels = words(room, panels)
    blank = pd.concat([sheet, pd.DataFrame(room.scale.low, sheet.index, labels)], axis=1)
    form = pst.read_scores(blank, room=_registers(room, days, names, people, panels))
    places = [
        pd.Index(these).get_indexer(form.frame[key].astype(str))
        for key, these in (("lot", names), ("taster", people), ("descriptor", labels))
    ]
    return form, (places[0], places[1], form.frame["pot"].to_numpy() - 1, places[2])


def _registers(
    room: Room, days: list[str], names: np.ndarray, people: np.ndarray, panels: int
) -> dict[str, pd.DataFrame]:
    role = np.full(len(names), "trial" if room.standard else "", dtype=object)
    role[-1:] = "standard" if room.standard else ""
    group = np.repeat([f"class {n + 1}" for n in range(room.lots.classes)], room.lots.count)
    return {
        "sessions": pd.DataFrame({"session": days, "date": days, "pots": room.pots.brews}),
        "lots": pd.DataFrame({"lot": names, "class": group if room.lots.classes > 1 else "", "role": role}),
        "descriptors": pd.DataFrame(
            {"descriptor": words(room, panels), "stage": np.repeat([f"panel {n:03d}" for n in range(panels)],
             room.descriptors), "kind": "score", "low": room.scale.low,
             "high": room.scale.high, "step": room.scale.step or 0.1, "tolerance": room.tolerance}
        ),
        "tasters": pd.DataFrame(
            {"taster": people, "role": ["trainee" if room.trainee and n == 0 else "senior" for n in range(len(people))]}
        ),
    }  # fmt: skip
