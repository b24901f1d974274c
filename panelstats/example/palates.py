"""How the invented tasters score: true lot, brew, palate, error, then the nearest half point."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from panelstats.example.room import HIGH, LOW, STEP

SHARED_ERROR = 0.3  # correlation of the errors of one serving between descriptors
SHARED_TEA = 0.6  # correlation between two descriptors that pull together, over the lots of a class


@dataclass(frozen=True)
class Errors:
    """Standard deviations, in scale points, of everything that is not the lot.

    Attributes
    ----------
    pot : float
        Brew to brew of one lot, common to all who taste the pot.
    crossing : float
        Taster by lot: a taster's own liking, the same in every pot.
    look : float
        One serving to the next for the same taster and pot.
    level : float
        Between the levels of sound tasters; none lies further than twice this from the panel.
    visit : float
        A taster's level from session to session.
    """

    pot: float = 0.2
    crossing: float = 0.35
    look: float = 0.6
    level: float = 0.15
    visit: float = 0.0


@dataclass(frozen=True, eq=False)
class Teas:
    """The lots as they truly are.

    Attributes
    ----------
    lots : list of str
        Their names.
    value, typical : ndarray, shape (lot, descriptor)
        True value of each lot, and of the typical lot of its class.
    """

    lots: list[str]
    value: np.ndarray
    typical: np.ndarray

    def changed(self, lots: list[str] | np.ndarray, points: dict[str, float], names: list[str]) -> Teas:
        """The teas of which some lots (names, or a mask) lie apart by so many points on some descriptors."""
        rows = np.isin(self.lots, lots) if isinstance(lots, list) else lots
        apart = np.array([points.get(name, 0.0) for name in names])
        return replace(self, value=self.value + np.outer(rows, apart))


@dataclass(frozen=True, eq=False)
class Panel:
    """What each taster does to a score, arrays (taster, descriptor).

    Attributes
    ----------
    tasters : list of str
        Names, in the order of the first axis.
    level : ndarray of float
        Points added to every score.
    scale : ndarray of float
        Share of a lot's distance from the typical lot of its class that reaches the sheet; 1 for a sound taster.
    crossing, look : ndarray of float
        Factors on the two standard deviations of Errors; 1 for a sound taster.
    reads : ndarray of int
        Which descriptor of the tea is written in each column, as distance from that descriptor's typical score.
    """

    tasters: list[str]
    level: np.ndarray
    scale: np.ndarray
    crossing: np.ndarray
    look: np.ndarray
    reads: np.ndarray

    def but(self, taster: str, field: str, value: object, columns: slice | list[int] = slice(None)) -> Panel:
        """The panel in which one taster has another `field` in some columns."""
        changed = getattr(self, field).copy()
        changed[self.tasters.index(taster), columns] = value
        return replace(self, **{field: changed})

    def raised(self, taster: str, points: float | np.ndarray, columns: slice | list[int] = slice(None)) -> Panel:
        """The panel in which one taster scores some columns higher by `points`."""
        return self.but(taster, "level", self.level[self.tasters.index(taster), columns] + points, columns)

    def swapped(self, taster: str, a: int, b: int) -> Panel:
        """The panel in which one taster writes what he finds of descriptor a into column b, and the reverse."""
        return self.but(taster, "reads", np.array([b, a]), [a, b])


def sound_panel(rng: np.random.Generator, tasters: list[str], descriptors: int, errors: Errors) -> Panel:
    """A panel without a fault: levels a little apart, everything else as it should be."""
    shape = (len(tasters), descriptors)
    level = np.clip(rng.normal(0, errors.level, shape), -2 * errors.level, 2 * errors.level)
    ones = np.ones(shape)
    return Panel(tasters, level, ones, ones, ones, np.tile(np.arange(descriptors), (len(tasters), 1)))


def true_teas(rng: np.random.Generator, lots: list[str], classes: list[str], chosen: pd.DataFrame) -> Teas:
    """Lots drawn about the typical lot of their class; `chosen` is rows of room.DESCRIPTORS."""
    names, pull = np.unique(chosen["pulls"], return_inverse=True)
    typical = chosen[classes].to_numpy(float).T
    common = rng.normal(size=(len(classes), len(names)))[:, pull] * chosen["sign"].to_numpy(float)
    own = rng.normal(size=typical.shape)
    apart = np.sqrt(SHARED_TEA) * common + np.sqrt(1 - SHARED_TEA) * own
    return Teas(lots, typical + chosen["spread"].to_numpy(float) * apart, typical)


def tasted(rng: np.random.Generator, teas: Teas, panel: Panel, *, errors: Errors, brews: np.ndarray) -> np.ndarray:
    """Scores of one session, (lot, taster, pot, descriptor), in half points from 0 to 10.

    Parameters
    ----------
    teas : Teas
        What is tasted.
    panel : Panel
        Who tastes, and how.
    errors : Errors
        Standard deviations of the errors.
    brews : ndarray, shape (lot, pot, descriptor)
        Points by which a brew is wrong, 0 where it is right; its shape says how many pots there are.
    """
    lots, pots, descriptors = brews.shape
    tasters = len(panel.tasters)
    tea = (teas.value - teas.typical)[:, None] + brews + rng.normal(0, errors.pot, brews.shape)  # as `brews`
    liked = panel.crossing * rng.normal(0, errors.crossing, (lots, tasters, descriptors))
    visit = rng.normal(0, errors.visit, (tasters, descriptors))
    common = rng.normal(size=(lots, tasters, pots, 1))
    own = rng.normal(size=(lots, tasters, pots, descriptors))
    look = errors.look * (np.sqrt(SHARED_ERROR) * common + np.sqrt(1 - SHARED_ERROR) * own)
    perceived = np.take_along_axis(tea[:, None], panel.reads[None, :, None], axis=3)  # (lot, taster, pot, descriptor)
    exact = teas.typical[:, None, None] + panel.scale[:, None] * perceived + look * panel.look[:, None]
    exact += (liked + panel.level + visit)[:, :, None]
    return np.clip(np.round(exact / STEP) * STEP, LOW, HIGH)
