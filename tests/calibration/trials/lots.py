"""Lots that are alike and are called different; intervals of their means and differences."""

from __future__ import annotations

from dataclasses import replace
from functools import partial

import numpy as np
import pandas as pd
from statsmodels.stats.multitest import multipletests

import panelstats as pst
from tests.calibration.rooms.lots import Lots
from tests.calibration.rooms.palates import Palates
from tests.calibration.rooms.pots import SAME, SHARED, Pots
from tests.calibration.rooms.room import Room, lot_names, together, words
from tests.calibration.rooms.sheet import Gaps, Scale
from tests.calibration.rooms.walk import EACH, LISTED, ONE, Walk
from tests.calibration.trial import Interval, Told, Trial

ALPHA = 0.05
RUNS = "marks run along the list of lots"
WITHIN = "all lots lie within the tolerance"
MERIT = "interval of a lot's merit, lots a random draw"
TEST, PAGE = "lots differ, one test", "lots differ, any descriptor after Holm over the page"
PAIR, PAIRS = "pair differs, one pair", "pair differs, any pair of a descriptor"
MEAN, DIFFERENCE, WIDEST = "interval of a lot mean", "interval of a difference", "interval of the widest difference"


def alike(room: Room, rngs: list[np.random.Generator]) -> list[Told]:
    """False claims about lots that do not differ."""
    return [claim for part in _parts(room, rngs) for claim in _alike_told(room, part, len(part))]


def _alike_told(room: Room, rngs: list[np.random.Generator], panels: int) -> list[Told]:
    found = _compared(room, rngs)
    p = found.anova["p"].to_numpy(float).reshape(panels, -1)
    page = _on_page(p) if panels > 1 else [any(verdict.call == "differ" for verdict in found.verdicts)]
    out: list[Told] = [
        {TEST: _share(one < ALPHA, one), PAGE: float(differ)} for one, differ in zip(p, page, strict=True)
    ]
    if room.lots.count == 2:  # the only pair is the test
        return out
    pairs = found.pairs.assign(wrong=(found.pairs["low"] > 0) | (found.pairs["high"] < 0))
    by_word = pairs.groupby(_front(pairs), sort=False)
    first = by_word["p"].first().to_numpy(float).reshape(panels, -1)
    wrong = by_word["wrong"].any().to_numpy(float).reshape(panels, -1)
    return [
        told | {PAIR: _share(one < ALPHA, one), PAIRS: float(any_.mean())}
        for told, one, any_ in zip(out, first, wrong, strict=True)
    ]


def runs(room: Room, rng: np.random.Generator) -> Told:
    """Marks said to run along the order in which the lots are listed."""
    return {RUNS: float("All sheets list" in pst.compare_lots(room.scores(rng)).verdicts[0].sentence)}


def found(room: Room, rngs: list[np.random.Generator]) -> list[Told]:
    """The same claims where the first lot of each class lies apart on the first descriptor."""
    return [claim for part in _parts(room, rngs) for claim in _found_told(room, part, len(part))]


def _found_told(room: Room, rngs: list[np.random.Generator], panels: int) -> list[Told]:
    found = _compared(room, rngs)
    every = words(room, panels)
    firsts = every[:: room.descriptors]
    if panels > 1:
        page = _found_on_page(found.anova["p"].to_numpy(float).reshape(panels, -1))
    else:
        page = [any(verdict.call == "differ" and firsts[0] in verdict.sentence for verdict in found.verdicts)]
    pairs = found.pairs[found.pairs["lot_a"].isin(lot_names(room)[:: room.lots.count])]
    out: list[Told] = []
    for first, told in zip(firsts, page, strict=True):
        p = found.anova.loc[found.anova["descriptor"] == first, "p"]
        mine = pairs[pairs["descriptor"] == first]
        one = mine.groupby(_front(mine), sort=False).first()
        shown = float(((one["low"] > 0) | (one["high"] < 0)).mean()) if len(one) else np.nan
        out.append(
            {TEST: _share(p < ALPHA, p), PAGE: float(told), PAIR: _share(one["p"] < ALPHA, one["p"]), PAIRS: shown}
        )
    return out


def _on_page(p: np.ndarray) -> np.ndarray:
    """Whether anything on a panel's page differs after Holm: his first step is Bonferroni's."""
    return np.where(np.isnan(p), 1.0, p).min(axis=1) < ALPHA / np.maximum((~np.isnan(p)).sum(axis=1), 1)


def _found_on_page(p: np.ndarray) -> np.ndarray:
    """Whether the first descriptor of each panel differs after Holm."""
    return np.array([multipletests(np.where(np.isnan(one), 1.0, one), ALPHA, "holm")[0][0] for one in p])


def _parts(room: Room, rngs: list[np.random.Generator]) -> list[list[np.random.Generator]]:
    """Panels that may stand side by side on one sheet; where the page says more than its tests, each alone."""
    plain = not room.walk.orders and room.lots.classes == 1 and room.pots.count > 1 and room.pots.brews != SAME
    return [rngs] if plain else [[rng] for rng in rngs]


def intervals(room: Room, rngs: list[np.random.Generator]) -> list[Told]:
    """Intervals of means and differences that miss the truth."""
    tastings = [room.draw(rng) for rng in rngs]
    found = pst.compare_lots(together(tastings).cells(), pairs=True, across="none")
    truth = pd.DataFrame(
        np.concatenate([one.lot for one in tastings], axis=1), index=lot_names(room), columns=words(room, len(rngs))
    )
    mean, pairs = found.means, found.pairs
    mean["missed"] = _missed(mean, _at(truth, mean, "lot"))
    pairs["missed"] = _missed(pairs, _at(truth, pairs, "lot_a") - _at(truth, pairs, "lot_b"))
    widest = pairs.loc[pairs["difference"].abs().groupby(pairs["descriptor"], sort=False).idxmax()]
    out: list[Told] = []
    for panel in np.array_split(np.array(words(room, len(rngs))), len(rngs)):
        one, two, three = (table[table["descriptor"].isin(panel)] for table in (mean, pairs, widest))
        family = two["missed"].groupby(two["descriptor"], sort=False).any()
        out.append({
            MEAN: Interval(float(one["missed"].mean()), _half(one)),
            f"{DIFFERENCE}, any of a descriptor": Interval(float(family.mean()), _half(two)),
            WIDEST: Interval(float(three["missed"].mean()), _half(three)),
        })  # fmt: skip
    return out


def within(room: Room, rng: np.random.Generator) -> Told:
    """How often the lots are said to lie within the tolerance of one another on the first descriptor."""
    verdicts = pst.compare_lots(room.scores(rng).cells()).verdicts
    first = words(room)[0]
    return {WITHIN: float(any(v.call == "within tolerance" and first in v.sentence for v in verdicts))}


def merits(room: Room, rng: np.random.Generator) -> Told:
    """Predicted deviations that miss, and standard deviations of the model."""
    tasting = room.draw(rng)
    found = pst.compare_lots(tasting.scores.cells(), lots="random", pairs=False)
    merit, parts = found.merit, found.components
    truth = pd.DataFrame(tasting.lot - room.scale.middle, index=lot_names(room), columns=words(room))
    truth = _at(truth, merit, "lot")
    out: Told = {MERIT: Interval(float(_missed(merit, truth).mean()), _half(merit))}
    person, brew = room.palates, room.pots
    for source, sd in (
        ("taster", person.level_sd),
        ("lot:taster", person.opinion_sd),
        ("residual", float(np.hypot(person.error_sd, brew.sd))),
    ):
        rows = parts[(parts["source"] == source) & parts["low"].notna()]
        missed = ((sd < rows["low"]) | (sd > rows["high"])).mean() if len(rows) else np.nan
        half = float((rows["high"] - rows["low"]).median() / 2) if len(rows) else np.nan
        out[f"interval of an SD: {source}"] = Interval(float(missed), half)
    return out


def classes_alike(room: Room, rng: np.random.Generator) -> Told:
    """Classes that do not differ and are called so."""
    p = pst.panel_agreement(room.scores(rng)).classes["p"].to_numpy(float)
    return {"classes differ, one test": _share(p < ALPHA, p)}


def _compared(room: Room, rngs: list[np.random.Generator]) -> pst.LotComparison:
    """All pairs compared; cells are quicker where no order of tasting was written down."""
    scores = together([room.draw(rng) for rng in rngs])
    alone = {} if len(rngs) == 1 else {"across": "none"}
    return pst.compare_lots(scores if room.walk.orders else scores.cells(), pairs=True, **alone)


def _at(truth: pd.DataFrame, table: pd.DataFrame, lot: str) -> np.ndarray:
    rows, columns = truth.index.get_indexer(table[lot]), truth.columns.get_indexer(table["descriptor"])
    return truth.to_numpy()[rows, columns]


def _front(table: pd.DataFrame) -> list[str]:
    return [name for name in ("session", "class", "descriptor") if name in table]


def _share(claimed: np.ndarray, p: np.ndarray) -> float:
    known = ~np.isnan(np.asarray(p, float))
    return float(np.asarray(claimed)[known].mean()) if known.any() else np.nan


def _missed(table: pd.DataFrame, truth: np.ndarray) -> pd.Series:
    return (truth < table["low"]) | (truth > table["high"])


def _half(table: pd.DataFrame) -> float:
    return float((table["high"] - table["low"]).mean() / 2)


def _alike(name: str, text: str, room: Room, apart: float = 1.0, **options: object) -> Trial:
    other = replace(room, lots=replace(room.lots, apart=apart))
    size = f"first lot {apart:g} apart on one descriptor"
    return Trial(f"lots {name}", text, partial(alike, room), partial(found, other), size, together=True, **options)


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
_LISTED = Room(8, lots=Lots(6, sd=0.8), walk=Walk(LISTED, 1.0))
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
    Trial("lots listed", "6 lots (SD 0.8), 8 tasters, 2 own pots; listed in one order, nothing said of the walk",
          partial(runs, replace(_LISTED, walk=Walk(LISTED))), partial(runs, replace(_LISTED, lots=Lots(6))),
          "lots alike, marks fall by 1 point along it"),
    _alike("own walks", "6 lots, 8 tasters, 2 own pots; an order for each, marks fall by 1 point along it",
           replace(_EIGHT, walk=Walk(EACH, 1.0))),
]  # fmt: skip
_BREWS = [
    _alike("one brew 0.25", "6 lots, 10 tasters, one shared brew a lot (SD 0.25)",
           Room(10, lots=Lots(6), pots=Pots(1, SHARED, 0.25)), named=(TEST, PAIR, PAIRS)),
    _alike("one brew 0.5", "6 lots, 10 tasters, one shared brew a lot (SD 0.5)",
           Room(10, lots=Lots(6), pots=Pots(1, SHARED, 0.5)), named=(TEST, PAIR, PAIRS)),
    _alike("same", "6 lots, 10 tasters, one brew a lot tasted twice (SD 0.25)",
           Room(10, lots=Lots(6), pots=Pots(2, SAME)), named=(TEST, PAIR, PAIRS)),
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
    Trial(f"intervals {name}", text, partial(intervals, room), together=True, named=tuple(named))
    for name, text, room, *named in (
        ("own", "6 lots (SD 0.8), 8 tasters, 2 own pots", Room(8, lots=Lots(6, sd=0.8))),
        ("few", "4 lots (SD 0.8), 3 tasters, 2 own pots", Room(3, lots=Lots(4, sd=0.8))),
        ("two", "2 lots (SD 0.8), 2 tasters, 8 own pots", Room(2, lots=Lots(2, sd=0.8), pots=Pots(8))),
        ("shared", "6 lots (SD 0.8), 8 tasters, 2 shared pots (SD 0.25)",
         Room(8, lots=Lots(6, sd=0.8), pots=Pots(2, SHARED))),
        ("slopes", "6 lots (SD 2), 8 tasters of slopes from 0.6 to 1.7, 2 own pots",
         Room(8, lots=Lots(6, sd=2.0), palates=Palates(slope_range=0.55), scale=Scale(low=-10, high=20)),
         f"{DIFFERENCE}, any of a descriptor"),
        ("missing", "6 lots (SD 0.8), 8 tasters, 2 own pots, 20 % not scored",
         Room(8, lots=Lots(6, sd=0.8), gaps=Gaps(missing=0.2))),
        ("blunders", "6 lots (SD 0.8), 8 tasters, 2 own pots, 5 % of the marks anywhere on the scale",
         Room(8, lots=Lots(6, sd=0.8), gaps=Gaps(blunders=0.05)), MEAN),
    )
]  # fmt: skip
_OTHERS = [
    Trial("lots within", "4 lots, 8 tasters, 4 own pots, tolerance 1: one lot at the tolerance from the rest",
          partial(within, Room(8, lots=Lots(4, apart=1.0), pots=Pots(4), tolerance=1.0)),
          partial(within, Room(8, lots=Lots(4), pots=Pots(4), tolerance=1.0)), "all alike"),
    Trial("intervals merit", "24 lots (SD 0.8), 8 tasters, 2 own pots",
          partial(merits, Room(8, lots=Lots(24, sd=0.8)))),
    Trial("intervals merit few", "12 lots (SD 0.8), 3 tasters, 2 own pots",
          partial(merits, Room(3, lots=Lots(12, sd=0.8)))),
]  # fmt: skip
TRIALS = [*_BEHAVED, *_FEW_WORDS, *_SHARED, *_PRONE, *_CLASSES, *_WALKS, *_BREWS, *_SHEETS, *_INTERVALS, *_OTHERS]
