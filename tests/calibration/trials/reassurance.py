"""Reassurance: "with the panel" and "they agree" said of tasters whose marks have nothing to do with the lots."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import partial

import numpy as np

import panelstats as pst
from panelstats.panel.tasters.naming import EACH_OTHER, WITH
from tests.calibration.rooms.lots import Lots
from tests.calibration.rooms.palates import Palates
from tests.calibration.rooms.pots import Pots
from tests.calibration.rooms.room import Room, Tasting
from tests.calibration.rooms.sheet import Scale
from tests.calibration.rooms.walk import ONE, Walk
from tests.calibration.trial import Told, Trial

ANYONE = "with the panel: anyone (of a good panel: each)"
AGREE = "the tasters agree, on any descriptor"
UNIFORM, MIDDLE, IMPRESSION = "anywhere on the scale", "about the middle (SD 1.2)", "one impression a lot (SD 1.2)"


@dataclass(frozen=True)
class Drawn:
    """A room of which some tasters draw their marks.

    Attributes
    ----------
    room : Room
    how : {"anywhere on the scale", "about the middle (SD 1.2)", "one impression a lot (SD 1.2)"}
    tasters : int, optional
        So many of the first tasters; all where it is not said.
    """

    room: Room
    how: str
    tasters: int | None = None

    def scores(self, rng: np.random.Generator) -> pst.Scores:
        """One tasting."""
        tasting = self.room.draw(rng)
        mark = self._marks(tasting.mark.shape, rng) + self.room.walk.tired(tasting.position)[..., None]
        written = tasting.mark.copy()
        scale = self.room.scale
        written[:, : self.tasters] = replace(scale, middle=0.0).written(mark)[:, : self.tasters]
        return Tasting(self.room, tasting.lot, written, tasting.scored, tasting.position).scores

    def _marks(self, shape: tuple[int, ...], rng: np.random.Generator) -> np.ndarray:
        low, high = self.room.scale.low, self.room.scale.high
        if self.how == UNIFORM:
            return rng.uniform(low, high, shape)
        spread = rng.normal(size=(*shape[:3], 1) if self.how == IMPRESSION else shape)
        return np.broadcast_to((low + high) / 2 + 1.2 * spread, shape)


def drawn(panel: Drawn, rng: np.random.Generator) -> Told:
    """Whether any of those who draw their marks is reassured, and whether the panel is."""
    told, names = _told(panel.scores(rng)), range(1, (panel.tasters or panel.room.tasters) + 1)
    found = {ANYONE: float(any(told[f"taster {n}"] for n in names))}
    return found if panel.tasters else found | {AGREE: told[AGREE]}


def good(room: Room, rng: np.random.Generator) -> Told:
    """The share of an honest panel that is reassured, and whether the panel is."""
    told = _told(room.scores(rng))
    return {AGREE: told.pop(AGREE), ANYONE: float(np.mean(list(told.values())))}


def _told(scores: pst.Scores) -> dict[str, float]:
    summary = pst.assess_tasters(scores).summary
    held = summary["call"].isin([WITH, EACH_OTHER])
    agree = (pst.panel_agreement(scores).table["call"] == "agree").any()
    return dict(zip(summary["taster"].astype(str), held.astype(float), strict=True)) | {AGREE: float(agree)}


# Lots, errors and opinions of an ordinary room: 16 words in half points, one pot of each lot for each taster.
_GOOD = Room(4, 16, lots=Lots(24, sd=tuple(np.linspace(0.4, 1.8, 16))), pots=Pots(1), scale=Scale(step=0.5),
             palates=Palates(level_sd=0.0, level_range=0.4))  # fmt: skip


def _trial(name: str, text: str, panel: Drawn, **options: object) -> Trial:
    sized = f"{panel.room.tasters} tasters, {panel.room.lots.count} lots, 1 pot, 16 descriptors"
    honest = replace(panel.room, walk=Walk())
    return Trial(f"reassurance {name}", f"{sized}; {text}", partial(drawn, panel), partial(good, honest),
                 "marks that follow the lots", **options)  # fmt: skip


TRIALS = [
    *(
        _trial(f"{key} {tasters}", f"marks drawn {how}", Drawn(replace(_GOOD, tasters=tasters), how))
        for key, how in (("anywhere", UNIFORM), ("middle", MIDDLE), ("impression", IMPRESSION))
        for tasters in (2, 3, 6, 9)
    ),
    *(
        _trial(f"sag {tasters}", f"marks drawn {MIDDLE} that fall by 1.5 points along the one row of all tasters",
               Drawn(replace(_GOOD, tasters=tasters, walk=Walk(ONE, fall=1.5)), MIDDLE))
        for tasters in (3, 6)
    ),
    *(
        _trial(f"few lots {tasters}", f"marks drawn {MIDDLE}",
               Drawn(replace(_GOOD, tasters=tasters, lots=replace(_GOOD.lots, count=12)), MIDDLE))
        for tasters in (2, 6)
    ),
    *(
        _trial(f"one of {tasters}", f"the first draws his marks {how}",
               Drawn(replace(_GOOD, tasters=tasters), how, tasters=1))
        for tasters, how in ((3, MIDDLE), (6, UNIFORM))
    ),
]  # fmt: skip
