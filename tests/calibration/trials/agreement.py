"""Agreement of the tasters, and how far a mark of the panel may lie from the lot."""

from __future__ import annotations

from dataclasses import replace
from functools import partial

import numpy as np
from scipy.stats import multivariate_normal

import panelstats as pst
from tests.calibration.rooms.lots import Lots
from tests.calibration.rooms.palates import Palates
from tests.calibration.rooms.pots import SHARED, Pots
from tests.calibration.rooms.room import Room, Tasting
from tests.calibration.rooms.sheet import Gaps
from tests.calibration.trial import Interval, Told, Trial

AGREE = "the tasters agree"
OF_LOTS, OF_ALL = "interval of agreement, of these lots", "interval of agreement, of all such lots"
MARK = "a mark may lie up to"


def intervals(room: Room, rng: np.random.Generator) -> Told:
    """Intervals of the agreement of panel means that miss what they are said to hold."""
    tasting = room.draw(rng)
    table = pst.panel_agreement(tasting.scores.cells()).table
    out: Told = {}
    for claim, limits, lots in (
        (OF_LOTS, "share", tasting.lot.var(axis=0, ddof=1)), (OF_ALL, "icc_mean", np.asarray(room.lots.sd) ** 2)
    ):  # fmt: skip
        low, high = table[f"{limits}_low"], table[f"{limits}_high"]
        half = float((high - low).mean() / 2)
        share = _share(room, lots)
        missed = ((share < low) | (share > high)).astype(float).where(low.notna())
        out[claim] = Interval(float(missed.mean()), half)
    return out


def claims(room: Room, rng: np.random.Generator) -> Told:
    """How often the tasters are said to agree."""
    call = pst.panel_agreement(room.scores(rng).cells()).table["call"]
    return {AGREE: float((call == "agree").mean())}


def marks(room: Room, rng: np.random.Generator) -> Told:
    """Marks of the panel that lie farther from the lot than it is said they may."""
    tasting = room.draw(rng)
    table = pst.panel_agreement(tasting.scores.cells()).table
    said = table["mark_reach"].to_numpy(float)
    mean = _panel_mean(tasting)
    return {MARK: Interval(float((np.abs(mean - tasting.lot) > said).mean()), float(np.nanmean(said)))}


def graded(lots: int, rng: np.random.Generator) -> Told:
    """Intervals of weighted kappa that miss: two judges put lots into four grades, latent correlation 0.7."""
    seen = rng.multivariate_normal([0, 0], LATENT, lots)
    grade = np.searchsorted(CUTS, seen)
    counts = np.zeros((4, 4), int)
    np.add.at(counts, (grade[:, 0], grade[:, 1]), 1)
    found = pst.weighted_kappa(counts, seed=int(rng.integers(1 << 31)))
    missed = not found.low <= KAPPA <= found.high
    return {"interval of weighted kappa": Interval(float(missed), (found.high - found.low) / 2)}


def _kappa() -> float:
    """The true weighted kappa, from the bivariate normal distribution (Cohen 1968, quadratic weights)."""
    ends = np.array([-9.0, *CUTS, 9.0])
    below = np.array([[multivariate_normal.cdf([a, b], cov=LATENT) for b in ends] for a in ends])
    p = np.diff(np.diff(below, axis=0), axis=1)
    apart = np.subtract.outer(np.arange(4), np.arange(4)) ** 2
    return float(1 - (apart * p).sum() / (apart * np.outer(p.sum(axis=1), p.sum(axis=0))).sum())


LATENT, CUTS = ((1.0, 0.7), (0.7, 1.0)), (-0.8, 0.0, 0.8)
KAPPA = _kappa()


def _panel_mean(tasting: Tasting) -> np.ndarray:
    return np.where(tasting.scored[..., None], tasting.mark, np.nan).mean(axis=(1, 2))


def _share(room: Room, lots: np.ndarray) -> np.ndarray:
    """Share of the panel means' spread that is the lots', pots counted with them."""
    person = room.palates
    own = np.asarray(room.pots.sd) ** 2 / room.pots.count
    brews = own if room.pots.brews == SHARED else 0.0
    rest = person.level_sd**2 + np.asarray(person.opinion_sd) ** 2 + np.asarray(person.error_sd) ** 2 / room.pots.count
    rest = rest + (0.0 if room.pots.brews == SHARED else own)
    return (lots + brews) / (lots + brews + rest / room.tasters)


def _at_half(room: Room) -> Room:
    """The room with lots that lie just so far apart that half of the spread is theirs."""
    rest = room.palates.level_sd**2 + room.palates.opinion_sd**2 + room.palates.error_sd**2 / room.pots.count
    rest += room.pots.sd**2 / room.pots.count
    return replace(room, lots=replace(room.lots, sd=float(np.sqrt(rest / room.tasters))))


_ROOM = Room(8, lots=Lots(12, sd=0.8))
_SKEWED = {f"skew {skew:g}": Room(8, lots=Lots(12, sd=1.0, skew=skew)) for skew in (0.5, 1.0)}
TRIALS = [
    *(
        Trial(f"agreement {name}", text, partial(intervals, room), named=named)
        for name, text, room, named in (
            ("own", "12 lots (SD 0.8), 8 tasters, 2 own pots", _ROOM, ()),
            ("few", "6 lots (SD 0.8), 3 tasters, 2 own pots", Room(3, lots=Lots(6, sd=0.8)), ()),
            ("shared", "12 lots (SD 0.8), 8 tasters, 2 shared pots (SD 0.25)",
             replace(_ROOM, pots=Pots(2, SHARED)), ()),
            ("missing", "12 lots (SD 0.8), 8 tasters, 2 own pots, 20 % not scored",
             replace(_ROOM, gaps=Gaps(missing=0.2)), ()),
            ("missing few", "12 lots (SD 0.8), 3 tasters, 2 shared pots (SD 0.25), 20 % not scored",
             Room(3, lots=Lots(12, sd=0.8), pots=Pots(2, SHARED), gaps=Gaps(missing=0.2)), ()),
            ("skew mild", "12 log-normal lots (SD 1, log-SD 0.5), 8 tasters, 2 own pots", _SKEWED["skew 0.5"],
             (OF_ALL,)),
            ("skew strong", "12 log-normal lots (SD 1, log-SD 1), 8 tasters, 2 own pots", _SKEWED["skew 1"], (OF_ALL,)),
        )
    ),
    *(
        Trial(f"agreement edge {tasters}", f"half of the spread is that of 12 lots; {tasters} tasters, 2 own pots",
              partial(claims, _at_half(Room(tasters, lots=Lots(12)))),
              partial(claims, Room(tasters, lots=Lots(12, sd=1.2))), "lots of SD 1.2", {AGREE: 0.025})
        for tasters in (3, 8)
    ),
    *(
        Trial(f"agreement mark {sd:g}", f"12 lots (SD 0.8), {tasters} tasters of levels of SD {sd:g}, 2 own pots",
              partial(marks, Room(tasters, lots=Lots(12, sd=0.8), palates=Palates(level_sd=sd))))
        for tasters, sd in ((8, 0.0), (8, 0.5), (8, 1.0))
    ),
    *(
        Trial(f"agreement kappa {lots}", f"two judges, four grades, {lots} lots", partial(graded, lots))
        for lots in (20, 60)
    ),
]  # fmt: skip
