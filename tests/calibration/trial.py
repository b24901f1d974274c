"""A trial: one room tasted many times, and how often each claim about it was false."""

from __future__ import annotations

import zlib
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

NOMINAL = 0.05
# What is tolerated above nominal: so many points, and so many standard errors.
POINTS, ERRORS = 0.02, 4
# Power needs fewer runs than a rate: one in so many.
POWER = 4


@dataclass(frozen=True)
class Interval:
    """Share of a run's intervals that missed, and their usual half width."""

    missed: float
    half_width: float


Told = dict[str, "float | Interval"]  # by claim; a share of a run's questions, NaN where none was asked


@dataclass(frozen=True)
class Line:
    """A line of the table.

    Attributes
    ----------
    claim, room : str
        What is claimed, and of what room; together they name the line.
    nominal, rate, se : float
        How often the claim may be false, and was.
    power : float
        How often it is made where it is true (NaN: not measured); of an interval, the median half width.
    power_se : float
    alternative : str
        Where it is true; "half width" for an interval.
    runs : int
        0 where every result was enumerated.
    named : bool
        The room is known not to hold, and the page says so.
    """

    claim: str
    room: str
    nominal: float
    rate: float
    se: float
    power: float = np.nan
    power_se: float = np.nan
    alternative: str = ""
    runs: int = 0
    named: bool = False

    @property
    def above(self) -> float:
        """Rate less nominal."""
        return self.rate - self.nominal

    @property
    def holds(self) -> bool:
        """Whether the rate lies within what is tolerated; few runs excuse no more than a rate that is nominal."""
        chance = np.sqrt(self.nominal * (1 - self.nominal) / self.runs) if self.runs else 0.0
        return bool(self.above <= POINTS + ERRORS * min(self.se, chance))

    @property
    def call(self) -> str:
        """holds, named, within error (more runs would tell) or no; nothing where only power was asked."""
        if np.isnan(self.rate):
            return ""
        if self.above <= POINTS:
            return "holds"
        if self.named:
            return "named"
        return "within error" if self.holds else "no"


@dataclass(frozen=True)
class Trial:
    """A room and what is asked of it.

    Attributes
    ----------
    name : str
        To be called by.
    room : str
        In words.
    false : callable
        From a random generator to `Told`: claims that are false in this room. Where `together`, from a list of
        generators to a list of `Told`.
    true : callable, optional
        The same where they are true.
    alternative : str
        That other room, in words.
    nominal : mapping of str to float
        By claim; NOMINAL where it is not named.
    named : tuple of str
        Claims known not to hold in this room.
    together : bool
        Whether many runs are asked at once.
    cost : float
        Runs are divided by it; those of the alternative by POWER besides.
    """

    name: str
    room: str
    false: Callable[..., Any]
    true: Callable[..., Any] | None = None
    alternative: str = ""
    nominal: Mapping[str, float] = field(default_factory=dict)
    named: tuple[str, ...] = ()
    together: bool = False
    cost: float = 1.0

    def measure(self, runs: int, seed: int, pool: ProcessPoolExecutor | None = None) -> list[Line]:
        """Taste the room so many times."""
        runs = max(int(runs / self.cost), 2)
        false = _rates(self._told(False, runs, seed, pool))
        true = _rates(self._told(True, max(runs // POWER, 2), seed, pool)) if self.true else {}
        out = []
        for claim, (rate, se, count, width, width_se) in false.items():
            if not count and claim not in true:
                continue  # no run made the claim: there is no rate
            interval = not np.isnan(width)
            power, power_se = (width, width_se) if interval else true.get(claim, (np.nan, np.nan))[:2]
            known = "half width" if interval else self.alternative if claim in true else ""
            nominal = self.nominal.get(claim, NOMINAL)
            least = np.sqrt(nominal * (1 - nominal) / max(count, 1)) / 2  # no rate is known better than this
            out.append(
                Line(
                    claim, self.room, nominal, rate, max(se, least), power, power_se, known, count, claim in self.named
                )
            )
        return out

    def _told(self, true: bool, runs: int, seed: int, pool: ProcessPoolExecutor | None) -> list[Told]:
        parts = [(self.name, true, seed, k, min(k + 25, runs)) for k in range(0, runs, 25)]
        found = pool.map(told, parts) if pool else map(self.tell, parts)
        return [each for part in found for each in part]

    def tell(self, part: tuple[str, bool, int, int, int]) -> list[Told]:
        """What some of the runs told; every run has a seed of its own."""
        _, true, seed, first, end = part
        ask = self.true if true else self.false
        assert ask is not None
        key = zlib.crc32(self.name.encode())
        rngs = [np.random.default_rng([seed, key, int(true), run]) for run in range(first, end)]
        return ask(rngs) if self.together else [ask(rng) for rng in rngs]


@dataclass(frozen=True)
class Counted:
    """Lines found by enumerating every result there can be."""

    name: str
    count: Callable[[], list[Line]]

    def measure(self, runs: int, seed: int, pool: ProcessPoolExecutor | None = None) -> list[Line]:
        """The lines; runs and seed do not matter."""
        return self.count()


def told(part: tuple[str, bool, int, int, int]) -> list[Told]:
    """`Trial.tell` in another process."""
    from tests.calibration.trials import TRIALS

    return TRIALS[part[0]].tell(part)


def _rates(runs: list[Told]) -> dict[str, tuple[float, float, int, float, float]]:
    """By claim: rate, its standard error over runs, runs that were asked, half width and its error."""
    out = {}
    for claim in dict.fromkeys(claim for run in runs for claim in run):
        found = [run[claim] for run in runs if claim in run]
        wrong = np.array([x.missed if isinstance(x, Interval) else x for x in found], float)
        width = np.array([x.half_width if isinstance(x, Interval) else np.nan for x in found], float)
        half = float(np.nanmedian(width)) if not np.isnan(width).all() else np.nan
        out[claim] = (*_mean(wrong), int((~np.isnan(wrong)).sum()), half, _mean(width)[1])
    return out


def _mean(x: np.ndarray) -> tuple[float, float]:
    x = x[~np.isnan(x)]
    if not len(x):
        return np.nan, np.nan
    return float(x.mean()), float(x.std() / np.sqrt(len(x)))
