"""Lots that are alike and are called different; intervals of their means and differences."""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING

import numpy as np

import panelstats as pst
from tests.calibration.rooms.lots import Lots
from tests.calibration.rooms.palates import Palates
from tests.calibration.rooms.pots import SAME, SHARED, Pots
from tests.calibration.rooms.room import Room, Tasting, lot_names, words
from tests.calibration.rooms.sheet import Gaps, Scale
from tests.calibration.rooms.walk import EACH, ONE, Walk
from tests.calibration.trial import Interval, Told, Trial

if TYPE_CHECKING:
    import pandas as pd

ALPHA = 0.05
TEST, PAGE = "lots differ, one test", "lots differ, any descriptor after Holm over the page"
PAIR, PAIRS = "pair differs, one pair", "pair differs, any pair of a descriptor"
MEAN, DIFFERENCE, WIDEST = "interval of a lot mean", "interval of a difference", "interval of the widest difference"


def alike(room: Room, rng: np.random.Generator) -> Told:
    """False claims about lots that do not differ."""
    found = _compared(room, room.scores(rng))
    p = found.anova["p"].to_numpy(float)
    pairs = found.pairs.assign(wrong=(found.pairs["low"] > 0) | (found.pairs["high"] < 0))
    by_word = pairs.groupby(_front(pairs), sort=False)
    one = by_word["p"].first().to_numpy(float)
    return {
        TEST: _share(p < ALPHA, p),
        PAGE: float(any(verdict.call == "differ" for verdict in found.verdicts)),
        PAIR: _share(one < ALPHA, one),
        PAIRS: float(by_word["wrong"].any().mean()) if len(pairs) else np.nan,
    }


def found(room: Room, rng: np.random.Generator) -> Told:
    """The same claims where the first lot of each class lies apart on the first descriptor."""
    found = _compared(room, room.scores(rng))
    first = words(room)[0]
    p = found.anova.loc[found.anova["descriptor"] == first, "p"].to_numpy(float)
    pairs = found.pairs[found.pairs["descriptor"] == first]
    pairs = pairs[pairs["lot_a"].isin(lot_names(room)[:: room.lots.count])]
    one = pairs.groupby(_front(pairs), sort=False).first()
    told = any(verdict.call == "differ" and first in verdict.sentence for verdict in found.verdicts)
    return {
        TEST: _share(p < ALPHA, p),
        PAGE: float(told),
        PAIR: _share(one["p"] < ALPHA, one["p"]),
        PAIRS: float(((one["low"] > 0) | (one["high"] < 0)).mean()) if len(one) else np.nan,
    }


def intervals(room: Room, rng: np.random.Generator) -> Told:
    """Intervals of means and differences that miss the truth."""
    tasting = room.draw(rng)
    found = _compared(room, tasting.scores)
    mean, pairs = found.means, found.pairs
    missed = _missed(mean, _truth(tasting, mean, "lot"))
    true = _truth(tasting, pairs, "lot_a") - _truth(tasting, pairs, "lot_b")
    outside = _missed(pairs, true)
    widest = pairs["difference"].abs().groupby(pairs["descriptor"], sort=False).idxmax()
    at = pairs.index.get_indexer(widest)
    return {
        MEAN: Interval(float(missed.mean()), _half(mean)),
        f"{DIFFERENCE}, any of a descriptor": Interval(
            float(outside.groupby(pairs["descriptor"], sort=False).any().mean()), _half(pairs)
        ),
        WIDEST: Interval(float(outside.iloc[at].mean()), _half(pairs.iloc[at])),
    }


def classes_alike(room: Room, rng: np.random.Generator) -> Told:
    """Classes that do not differ and are called so."""
    p = pst.panel_agreement(room.scores(rng)).classes["p"].to_numpy(float)
    return {"classes differ, one test": _share(p < ALPHA, p)}


def _compared(room: Room, scores: pst.Scores) -> pst.LotComparison:
    """All pairs compared; cells are quicker where no order of tasting was written down."""
    return pst.compare_lots(scores if room.walk.orders else scores.cells(), pairs=True)


def _front(table: pd.DataFrame) -> list[str]:
    return [name for name in ("session", "class", "descriptor") if name in table]


def _share(claimed: np.ndarray, p: np.ndarray) -> float:
    known = ~np.isnan(np.asarray(p, float))
    return float(np.asarray(claimed)[known].mean()) if known.any() else np.nan


def _truth(tasting: Tasting, table: pd.DataFrame, lot: str) -> np.ndarray:
    rows = [lot_names(tasting.room).index(name) for name in table[lot]]
    return tasting.lot[rows, [words(tasting.room).index(name) for name in table["descriptor"]]]


def _missed(table: pd.DataFrame, truth: np.ndarray) -> pd.Series:
    return (truth < table["low"]) | (truth > table["high"])


def _half(table: pd.DataFrame) -> float:
    return float((table["high"] - table["low"]).mean() / 2)


def _alike(name: str, text: str, room: Room, apart: float = 1.0, **options: object) -> Trial:
    other = replace(room, lots=replace(room.lots, apart=apart))
    size = f"first lot {apart:g} apart on one descriptor"
    return Trial(f"lots {name}", text, partial(alike, room), partial(found, other), size, **options)


def _own(tasters: int, lots: int, pots: int, descriptors: int = 6, apart: float = 1.5) -> Trial:
    room = Room(tasters, descriptors, lots=Lots(lots), pots=Pots(pots))
    text = f"{tasters} tasters, {lots} lots, {pots} own pots, {_words(descriptors)}"
    return _alike(f"own {tasters}x{lots}x{pots}x{descriptors}", text, room, apart)


def _shared(tasters: int, lots: int, pots: int, sd: float = 0.25, apart: float = 1.0) -> Trial:
    room = Room(tasters, lots=Lots(lots), pots=Pots(pots, SHARED, sd))
    text = f"{tasters} tasters, {lots} lots, {pots} shared pots (SD {sd:g}), 6 descriptors"
    return _alike(f"shared {tasters}x{lots}x{pots} {sd:g}", text, room, apart)


def _words(count: int) -> str:
    return "1 descriptor" if count == 1 else f"{count} descriptors"


_EIGHT = Room(8, lots=Lots(6))
_BEHAVED = [
    _own(*sizes) for sizes in ((2, 2, 4), (2, 2, 8), (3, 2, 8), (4, 2, 6), (5, 2, 6), (3, 3, 6), (3, 12, 2), (8, 6, 2))
]
_FEW_WORDS = [_own(3, 2, 8, words) for words in (1, 2, 3)]
_SHARED = [
    _shared(3, 2, 12), _shared(3, 4, 2), _shared(10, 2, 2), _shared(10, 2, 2, 0.5), _shared(5, 4, 3),
    _shared(12, 12, 2),
]  # fmt: skip
_PRONE = [
    _alike("prone pots", "10 tasters, 4 lots, 2 shared pots: SD 0.6 on one descriptor of 6, 0 on the rest",
           Room(10, lots=Lots(4), pots=Pots(2, SHARED, (0.6, 0, 0, 0, 0, 0))), named=(TEST, PAGE)),
    _alike("prone opinions", "3 tasters, 2 lots, 8 own pots: opinions of SD 0.8 on one descriptor of 6, 0 on the rest",
           Room(3, lots=Lots(2), pots=Pots(8), palates=Palates(opinion_sd=(0.8, 0, 0, 0, 0, 0))), 1.5,
           named=(TEST, PAGE)),
    _alike("unlike errors", "3 tasters, 2 lots, 8 own pots: errors of SD 0.4 to 1.6 from descriptor to descriptor",
           Room(3, lots=Lots(2), pots=Pots(8), palates=Palates(error_sd=(0.4, 0.5, 0.7, 0.9, 1.2, 1.6))), 1.5),
]  # fmt: skip
_CLASSES = [
    _alike("classes 12x2", "12 classes of 2 lots, 5 tasters, 2 own pots, 6 descriptors",
           Room(5, lots=Lots(2, 12, class_sd=0.8)), 1.5, cost=4),
    _alike("classes 20x2", "20 classes of 2 lots, 3 tasters, 2 own pots, 6 descriptors",
           Room(3, lots=Lots(2, 20, class_sd=0.8)), 1.5, cost=4),
    _alike("classes 6x2 shared", "6 classes of 2 lots, 8 tasters, 2 shared pots (SD 0.25), 6 descriptors",
           Room(8, lots=Lots(2, 6, class_sd=0.8), pots=Pots(2, SHARED)), 1.5, cost=2),
    Trial("lots classes as drawn", "3 alike classes of 4 lots (SD 0.8 between lots), 6 tasters, 2 own pots",
          partial(classes_alike, Room(6, lots=Lots(4, 3, sd=0.8)))),
]  # fmt: skip
_WALKS = [
    _alike("one walk own", "6 lots, 8 tasters, 2 own pots; one order for all, marks fall by 1 point along it",
           replace(_EIGHT, walk=Walk(ONE, 1.0)), named=(TEST, PAGE, PAIR, PAIRS)),
    _alike("one walk shared", "6 lots, 8 tasters, 2 shared pots (SD 0.25); one order for all, marks fall by 1 point",
           replace(_EIGHT, pots=Pots(2, SHARED), walk=Walk(ONE, 1.0)), named=(TEST, PAGE, PAIR, PAIRS)),
    _alike("own walks", "6 lots, 8 tasters, 2 own pots; an order for each, marks fall by 1 point along it",
           replace(_EIGHT, walk=Walk(EACH, 1.0))),
]  # fmt: skip
_BREWS = [
    _alike("one brew 0.25", "6 lots, 10 tasters, one shared brew a lot (SD 0.25)",
           Room(10, lots=Lots(6), pots=Pots(1, SHARED, 0.25))),
    _alike("one brew 0.5", "6 lots, 10 tasters, one shared brew a lot (SD 0.5)",
           Room(10, lots=Lots(6), pots=Pots(1, SHARED, 0.5))),
    _alike("same", "6 lots, 10 tasters, one brew a lot tasted twice (SD 0.25)",
           Room(10, lots=Lots(6), pots=Pots(2, SAME))),
    _alike("uneven pots", "6 lots of 1 to 3 shared pots (SD 0.25), 8 tasters",
           Room(8, lots=Lots(6), pots=Pots(3, SHARED, uneven=True))),
]  # fmt: skip
_SHEETS = [
    _alike("whole points", "6 lots, 8 tasters, 2 own pots; whole points", replace(_EIGHT, scale=Scale(step=1.0))),
    _alike("floor", "6 lots, 8 tasters, 2 own pots; half points about 0.5: many marks 0",
           replace(_EIGHT, scale=Scale(step=0.5, middle=0.5))),
    _alike("ceiling", "6 lots, 8 tasters, 2 own pots; whole points about 9.5: many marks 10",
           replace(_EIGHT, scale=Scale(step=1.0, middle=9.5))),
    _alike("blunders", "6 lots, 8 tasters, 2 own pots; 5 % of the marks anywhere on the scale",
           replace(_EIGHT, gaps=Gaps(blunders=0.05))),
    _alike("missing 40", "6 lots, 4 tasters, 1 own pot; 40 % of the servings not scored",
           Room(4, lots=Lots(6), pots=Pots(1), gaps=Gaps(missing=0.4)), nominal=dict.fromkeys((TEST, PAGE), ALPHA)),
    _alike("missing 20", "6 lots, 8 tasters, 2 own pots; 20 % not scored", replace(_EIGHT, gaps=Gaps(missing=0.2))),
    _alike("missed sittings", "6 lots, 8 tasters, 2 own pots; 25 % not scored, the weak lots first, some tasters more",
           replace(_EIGHT, gaps=Gaps(missing=0.25, at_random=False))),
    _alike("unlike tasters", "6 lots, 8 tasters, 2 own pots; errors from 0.5 to 2 times, slopes from 0.6 to 1.7",
           replace(_EIGHT, palates=Palates(slope_range=0.55, error_range=0.69))),
]  # fmt: skip
_INTERVALS = [
    Trial(f"intervals {name}", text, partial(intervals, room))
    for name, text, room in (
        ("own", "6 lots (SD 0.8), 8 tasters, 2 own pots", Room(8, lots=Lots(6, sd=0.8))),
        ("few", "4 lots (SD 0.8), 3 tasters, 2 own pots", Room(3, lots=Lots(4, sd=0.8))),
        ("two", "2 lots (SD 0.8), 2 tasters, 8 own pots", Room(2, lots=Lots(2, sd=0.8), pots=Pots(8))),
        ("shared", "6 lots (SD 0.8), 8 tasters, 2 shared pots (SD 0.25)",
         Room(8, lots=Lots(6, sd=0.8), pots=Pots(2, SHARED))),
        ("slopes", "6 lots (SD 2), 8 tasters of slopes from 0.6 to 1.7, 2 own pots",
         Room(8, lots=Lots(6, sd=2.0), palates=Palates(slope_range=0.55), scale=Scale(low=-10, high=20))),
        ("missing", "6 lots (SD 0.8), 8 tasters, 2 own pots, 20 % not scored",
         Room(8, lots=Lots(6, sd=0.8), gaps=Gaps(missing=0.2))),
        ("blunders", "6 lots (SD 0.8), 8 tasters, 2 own pots, 5 % of the marks anywhere on the scale",
         Room(8, lots=Lots(6, sd=0.8), gaps=Gaps(blunders=0.05))),
    )
]  # fmt: skip
TRIALS = [*_BEHAVED, *_FEW_WORDS, *_SHARED, *_PRONE, *_CLASSES, *_WALKS, *_BREWS, *_SHEETS, *_INTERVALS]
