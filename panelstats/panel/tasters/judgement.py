"""All aspects of all tasters against the others, given who stands in the references."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from panelstats.panel.tasters import discernment, spread
from panelstats.panel.tasters.evidence import Evidence
from panelstats.panel.tasters.finding import (
    AGREEMENT,
    DISCRIMINATION,
    LEVEL,
    NOT_TESTED,
    NOTICED,
    REPEATABILITY,
    SCALE_USE,
    SCATTER,
    Finding,
)
from panelstats.panel.tasters.level import Levels, level, level_over_descriptors, levels, widened
from panelstats.panel.tasters.moments import moments
from panelstats.panel.tasters.ownlots import OwnLots, own_lots
from panelstats.panel.tasters.reference import Pool, Reference, block_sums, reference
from panelstats.panel.tasters.repeats import repeats
from panelstats.panel.tasters.scaleends import floored, noticed

# Fewest lots to judge a taster: in one session, and in each of two where several are pooled (ours).
LEAST_LOTS = 4
TOO_FEW = "too few lots scored together with others"


@dataclass(frozen=True, eq=False)
class Judgement:
    """The findings by aspect, for taster and descriptor (`cells`) and for the taster (`tasters`).

    Attributes
    ----------
    cells, tasters : dict of str to Finding
        By aspect, in the order of ASPECTS; "noticed" only where most marks stand at an end of a scale.
    judged : tuple of str
        Aspects whose calls count: those that could be tested, scatter only where repeatability could not.
    reference : Reference
    levels : Levels
    evidence : Evidence
    """

    cells: dict[str, Finding]
    tasters: dict[str, Finding]
    judged: tuple[str, ...]
    reference: Reference
    levels: Levels
    evidence: Evidence


@dataclass(frozen=True, eq=False)
class Bench:
    """A pool with its tolerance on level; judges it for any choice of references.

    Attributes
    ----------
    pool : Pool
    tolerance : ndarray, shape (descriptor,)
        Smallest difference of level that matters, in points.
    tail : float
        Chance on each side outside an interval.
    least_others : int
        Fewest others on a lot.
    moderated : bool
        Whether variances of level borrow from each other.
    wander : float or None
        Variance of a session's level where the sessions cannot tell it; None estimates it.
    widen : bool
        Whether the tolerance on level allows for the levels of few others.
    busy_end : ndarray, shape (descriptor,), optional
        The end of each scale at which more marks lie; NaN, or None, where none is known.
    """

    pool: Pool
    tolerance: np.ndarray
    tail: float = 0.025
    least_others: int = 2
    moderated: bool = True
    wander: float | None = None
    widen: bool = True
    busy_end: np.ndarray | None = None

    @cached_property
    def _own(self) -> tuple[OwnLots, OwnLots]:
        return own_lots(self.pool)

    @cached_property
    def floored(self) -> np.ndarray:
        """Where most marks stand at an end of the scale, (taster, descriptor)."""
        if self.busy_end is None:
            return np.zeros(self.pool.mean.shape[1:], bool)
        return floored(self.pool, self.busy_end)

    @property
    def own(self) -> OwnLots:
        """Each taster's own scores over lots, nobody else's."""
        return self._own[0]

    def judge(self, active: np.ndarray) -> Judgement:
        """Findings of every aspect; `active` (taster, descriptor) says who stands in the references."""
        ref = reference(self.pool, active, least=self.least_others)
        evidence = self.evidence(ref, active)
        found = levels(self.pool, ref, moderated=self.moderated, wander=self.wander)
        tolerance = self.tolerance_on_level(found)
        why = np.where(evidence.judged, "", TOO_FEW).astype(object)
        both = {
            LEVEL: (
                level(found, tolerance, why, tail=self.tail),
                level_over_descriptors(found, tolerance, why, tail=self.tail),
            ),
            REPEATABILITY: spread.repeatability(evidence, self.tail),
            DISCRIMINATION: discernment.discrimination(evidence, self.tail),
            AGREEMENT: discernment.agreement(evidence, self.tail),
            SCALE_USE: discernment.scale_use(evidence, self.tail),
            SCATTER: spread.scatter(evidence, self.tail),
        }
        if self.busy_end is not None and self.floored.any():
            floor = self.floored & evidence.judged
            both[NOTICED] = noticed(self.pool, active, self.busy_end, floor, least=self.least_others, tail=self.tail)
        cells, tasters = ({a: both[a][k] for a in both} for k in (0, 1))
        return Judgement(cells, tasters, _judged(cells), ref, found, evidence)

    def tolerance_on_level(self, found: Levels) -> np.ndarray:
        """Tolerance by taster and descriptor."""
        plain = np.broadcast_to(self.tolerance, found.bias.shape)
        return widened(plain, found.others) if self.widen else plain

    def evidence(self, ref: Reference, active: np.ndarray) -> Evidence:
        """What the aspects other than level are computed from."""
        both = ~np.isnan(self.pool.mean) & ~np.isnan(ref.score)
        by_lot = repeats(self.pool, active)
        whole, without = moments(self.pool, ref)
        sessions = block_sums(both.astype(float), self.pool.session)
        met = (sessions >= LEAST_LOTS).sum(axis=0)
        return Evidence(
            moments=whole,
            moments_without=without,
            repeats=by_lot.over_lots(),
            repeats_without=by_lot.without_each_lot(),
            own=self._own[0],
            own_without=self._own[1],
            active=active,
            rows=both.any(axis=2),
            sessions=(sessions > 0).any(axis=2).sum(axis=0),
            judged=met >= min(2, len(self.pool.sessions)),
            floored=self.floored,
        )


def _judged(cells: dict[str, Finding]) -> tuple[str, ...]:
    tested = [a for a in cells if (cells[a].why != NOT_TESTED).any() and (~np.isnan(cells[a].p)).any()]
    return tuple(a for a in tested if a != SCATTER or REPEATABILITY not in tested)
