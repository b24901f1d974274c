"""What the panel and its stages see together: one picture or several, turned onto one another."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from panelstats.lots.maps.placed import LEAST_LOTS, LEAST_TASTERS, SPARE
from panelstats.models.axistest import axis_p, trusted
from panelstats.models.manova import Squares, Statistic, manova, squares
from panelstats.models.procrustes import Consensus, chance_shares, shared_picture
from panelstats.models.stagejoin import Joint, joint_axes, likeness, likeness_p

if TYPE_CHECKING:
    from panelstats.lots.maps.placed import Placed

# Panels drawn at random, and lots above which fewer are; they cost the most (ours).
RELABELLED, MANY_LOTS, FEWER = 99, 300, 49


class Shared(NamedTuple):
    """How much of the tasters' marks their mean holds: as scored, turned, and turned and stretched; chance beside."""

    picture: str
    share: float
    chance: float
    p: float


@dataclass(frozen=True, eq=False)
class SharedPicture:
    """The panel's shared picture; `consensus` is turned and stretched, of `tasters`."""

    lines: list[Shared]
    consensus: Consensus
    tasters: list[str]
    constant: list[str]


PICTURES = (("as scored", False, False), ("turned", True, False), ("turned and stretched", True, True))


def panels_picture(placed: Placed, *, resamples: int, seed: int) -> SharedPicture | None:
    """Whether the tasters see one picture, apart from words; None where too few scored every lot."""
    ground = placed.ground
    whole = ground.seen.all(axis=(1, 2))
    marks = ground.marks[whole]
    varies = np.ptp(marks, axis=1).max(axis=1, initial=0.0) > 0 if len(marks) else np.zeros(0, bool)
    names = list(ground.tasters[whole])
    marks, told = marks[varies], [name for name, kept in zip(names, varies, strict=True) if kept]
    if placed.short or len(marks) < LEAST_TASTERS or len(ground.lots) < LEAST_LOTS:
        return None
    draws = min(resamples, RELABELLED if len(ground.lots) <= MANY_LOTS else FEWER)
    lines, found = [], None
    for at, (name, rotate, scale) in enumerate(PICTURES):
        found = shared_picture(marks, rotate=rotate, scale=scale)
        rng = np.random.default_rng([seed, 3, at])
        chance = chance_shares(marks, resamples=draws, rng=rng, rotate=rotate, scale=scale)
        p = (1 + np.count_nonzero(chance >= found.share * (1 - 1e-9))) / (1 + draws)
        lines.append(Shared(name, found.share, float(np.median(chance)), float(p)))
    assert found is not None  # noqa: S101 - there are pictures
    return SharedPicture(lines, found, told, [name for name in names if name not in told])


class Stage(NamedTuple):
    """A stage by itself: p of its first axis, and whether it has a say in the joint map."""

    stage: str
    descriptors: int
    p: float
    used: bool


class Alike(NamedTuple):
    """How alike two stages place the lots."""

    stage_a: str
    stage_b: str
    rv: float
    p: float
    l_g: float


@dataclass(frozen=True, eq=False)
class ByStage:
    """The stages of a map and, where two or more have an axis, their joint map."""

    stages: list[Stage]
    joint: Joint | None
    alike: list[Alike]

    @property
    def used(self) -> list[str]:
        """Stages of the joint map."""
        return [each.stage for each in self.stages if each.used]


def by_stage(placed: Placed, *, resamples: int, level: float, seed: int) -> ByStage | None:
    """Each stage by itself and all together; None where there is one stage only."""
    ground = placed.ground
    names = [str(name) for name in dict.fromkeys(ground.stages[np.argsort(ground.stage_order, kind="stable")])]
    if placed.short or len(names) < 2:
        return None
    stages, tables = [], {}
    for name in names:
        at = np.flatnonzero(ground.stages == name)
        block = np.ix_(at, at)
        p = axis_p(placed.observed[block], placed.drawn[:, at[:, None], at], most=1)
        used = trusted(p, 1 - level) > 0
        stages.append(Stage(name, len(at), float(p[0]), used))
        if used:
            tables[name] = ground.means[:, at]
    draws = min(resamples, RELABELLED)
    alike = []
    for nth, (one, other) in enumerate(combinations(tables, 2)):
        rv, l_g = likeness(tables[one], tables[other])
        rng = np.random.default_rng([seed, 4, nth])
        alike.append(Alike(one, other, rv, likeness_p(tables[one], tables[other], resamples=draws, rng=rng), l_g))
    return ByStage(stages, joint_axes(list(tables.values())) if len(tables) > 1 else None, alike)


@dataclass(frozen=True, eq=False)
class LotTest:
    """Whether the lots differ on anything, by four statistics.

    Attributes
    ----------
    lines : list of Statistic
    on : int
        Axes tested on; 0: all descriptors.
    """

    lines: list[Statistic]
    on: int


def lot_test(placed: Placed) -> LotTest | None:
    """MANOVA of the lots against lot by taster; on the trusted axes where the error is too little known for all."""
    ground = placed.ground
    marks = ground.complete
    if placed.short or len(marks) < LEAST_TASTERS or (ground.block != ground.block[0]).any():
        return None
    found = squares(marks)
    if found.df_error >= len(ground.descriptors) + SPARE and _whole(found) and not _twins(found):
        return LotTest(manova(found), 0)
    few = min(placed.trusted, found.df_error // 3)
    if few < 1:
        return LotTest([], 0)
    found = squares(marks @ placed.coefficients[:, :few])
    return LotTest(manova(found) if _whole(found) else [], few)


def _whole(found: Squares) -> bool:
    """Whether the error reaches into every direction, beyond what rounding leaves of the lots."""
    values = np.linalg.eigvalsh(found.error)
    return bool(values[0] > max(1e-10 * values[-1], 1e-20 * np.trace(found.between), 0.0))


def _twins(found: Squares) -> bool:
    """Whether one descriptor says all that another says; every error is known to be above zero."""
    sd = np.sqrt(np.diag(found.error))
    return bool((np.triu(np.abs(found.error) / np.outer(sd, sd), 1) > 1 - 1e-9).any())
