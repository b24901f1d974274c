"""Maps: axes, groups and facts that are not there, and regions and distances that miss."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import partial

import numpy as np

import panelstats as pst
from tests.bench.made import cells_from_array
from tests.calibration.trial import Interval, Told, Trial

COUNTED = ("a first axis is trusted", "a second axis is trusted")
GROUPS = "lots fall into groups"
REGION, FAR = "region of a lot's place", "interval of the distance to a standard"
MORE = "there is one more"
RESAMPLES = 99
FACT = "a fact of the lots goes with the map"


@dataclass(frozen=True)
class Panel:
    """A panel whose lots differ along so many axes.

    Attributes
    ----------
    lots, tasters, words, pots, axes : int
    lot_taster, error, pot : float
        Standard deviations, in points; of `pot` where pots are shared.
    missing : float
        Share of lots that each taster missed.
    shared : bool
    """

    lots: int = 12
    tasters: int = 8
    words: int = 10
    pots: int = 1
    axes: int = 0
    lot_taster: float = 0.5
    error: float = 0.5
    pot: float = 0.0
    missing: float = 0.0
    shared: bool = False

    def draw(self, rng: np.random.Generator, axes: int) -> tuple[np.ndarray, pst.Cells]:
        """The lots' true profiles, (lot, word), and one tasting; words go together with a correlation of one half."""
        shape = (self.lots, self.tasters, self.pots, self.words)
        ways = np.linalg.qr(rng.normal(size=(self.words, max(axes, 1))))[0][:, :axes]
        truth = rng.normal(size=(self.lots, axes)) * [3.0, 2.0, 1.5][:axes] @ ways.T
        mark = 5 + truth[:, None, None] + rng.normal(size=(1, self.tasters, 1, self.words))
        mark = mark + self.lot_taster * _alike(rng, (*shape[:2], 1, self.words))
        mark = mark + self.pot * _alike(rng, (self.lots, 1, self.pots, self.words)) + self.error * _alike(rng, shape)
        served = np.broadcast_to(rng.random((*shape[:2], 1)) >= self.missing, shape[:3])
        return truth, cells_from_array(mark, served, shared=self.shared)


def _alike(rng: np.random.Generator, shape: tuple[int, ...]) -> np.ndarray:
    return np.sqrt(0.5) * (rng.normal(size=shape) + rng.normal(size=(*shape[:-1], 1)))


def axis_false(panel: Panel, rng: np.random.Generator) -> Told:
    """An axis more than there is."""
    return {name: float(_mapped(panel.draw(rng, at)[1]).axes["trusted"].sum() > at) for at, name in enumerate(COUNTED)}


def axis_true(panel: Panel, rng: np.random.Generator) -> Told:
    """As many axes as there are."""
    return {
        name: float(_mapped(panel.draw(rng, at + 1)[1]).axes["trusted"].sum() > at) for at, name in enumerate(COUNTED)
    }


def place_false(panel: Panel, rng: np.random.Generator) -> Told:
    """Of a map of two axes: groups and a fact at random, regions and distances."""
    truth, cells = panel.draw(rng, 2)
    cells = replace(cells, lots=cells.lots.assign(random=rng.normal(size=len(cells.lots))))
    found = pst.map_lots(cells, axes=2, standard=str(cells.lots["lot"][0]), facts="random", resamples=RESAMPLES)
    kept = cells.lots["lot"].astype(str).isin(found.lots["lot"].astype(str)).to_numpy()  # a lot may lack all its marks
    truth = truth[kept]
    return {
        GROUPS: float(len(found.groups) > 0),
        FACT: float((found.facts["p"].dropna() <= 0.05).mean()),  # nothing is fitted to fewer than 8 lots
        REGION: _regions(found, truth),
        FAR: _far(found, truth) if kept[0] else Interval(np.nan, np.nan),
    }


def _mapped(cells: pst.Cells) -> pst.LotMap:
    return pst.map_lots(cells, besides=False, resamples=RESAMPLES)


def _loadings(found: pst.LotMap) -> np.ndarray:
    return found.descriptors.sort_values("descriptor")[["axis_1", "axis_2"]].to_numpy()


def _regions(found: pst.LotMap, truth: np.ndarray) -> Interval:
    """Shares of lots whose true place on the axes found lies outside its region."""
    place = (truth - truth.mean(axis=0)) @ _loadings(found)
    gap = place - found.lots[["axis_1", "axis_2"]].to_numpy()
    turn = np.radians(found.regions["degrees"].to_numpy())
    along = gap[:, 0] * np.cos(turn) + gap[:, 1] * np.sin(turn)
    across = gap[:, 1] * np.cos(turn) - gap[:, 0] * np.sin(turn)
    size = (along / found.regions["long"]) ** 2 + (across / found.regions["short"]) ** 2
    return Interval(float((size > 1).mean()), float(found.regions["long"].mean()))


def _far(found: pst.LotMap, truth: np.ndarray) -> Interval:
    """Distances along the direction seen, in sds of the error: by the true noncentrality on the axes found."""
    if found.axes["trusted"].sum() != 2:  # distances are told on the trusted axes, places on the two asked for
        return Interval(np.nan, np.nan)
    table = found.distances.sort_values("lot")
    place = truth @ _loadings(found)
    size = np.hypot(*(place[1:] - place[0]).T)
    return Interval(float(((size < table["low"]) | (size > table["high"])).mean()),
                    float((table["high"] - table["low"]).mean() / 2))  # fmt: skip


_PANELS = {
    "8x12": ("12 lots, 8 tasters, 10 words", Panel()),
    "5x8": ("8 lots, 5 tasters, 8 words", Panel(8, 5, 8)),
    "4x6": ("6 lots, 4 tasters, 6 words", Panel(6, 4, 6)),
    "12x30": ("30 lots, 12 tasters, 12 words", Panel(30, 12, 12)),
    "missing": ("20 lots, 8 tasters, 8 words, 30 % of lots missed by each", Panel(20, 8, 8, missing=0.3)),
    "shared": ("12 lots, 8 tasters, 2 shared pots (SD 0.4), 8 words", Panel(12, 8, 8, pots=2, pot=0.4, shared=True)),
}
TRIALS = [
    *(Trial(f"maps axes {name}", text, partial(axis_false, panel), partial(axis_true, panel), MORE, cost=2)
      for name, (text, panel) in _PANELS.items()),
    *(Trial(f"maps places {name}", text, partial(place_false, panel), cost=25 if panel.lots > 20 else 5)
      for name, (text, panel) in _PANELS.items()),
]  # fmt: skip
