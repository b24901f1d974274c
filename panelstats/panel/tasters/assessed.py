"""Everything the tables and sentences of an assessment are written from, and what matters most of it."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

from panelstats.panel.tasters.calls import Calls, lots_to_settle
from panelstats.panel.tasters.crossedwords import Crossed
from panelstats.panel.tasters.finding import AGREEMENT, ASPECTS, SCALE_USE, SCATTER, Finding
from panelstats.panel.tasters.judgement import Bench
from panelstats.panel.tasters.naming import APART, EACH_OTHER, WITH, Names, pair_levels


@dataclass(frozen=True, eq=False)
class Assessed:
    """One assessment.

    Attributes
    ----------
    bench : Bench
    names : Names
    calls : Calls
    size : int
        Tasters who sat together.
    level : float
        Of the intervals.
    at_ends : ndarray, shape (taster, descriptor)
        Share of a taster's marks at the ends of the scale.
    pairs : dict of int to Finding
        Level against the one other with whom a taster is, where only a pair is left; shape (1,).
    crossed : dict of int to Crossed
        Words of a taster that go with other words of the others.
    asked : bool
        Whether the tolerance was asked for; else it is the register's or the default.
    """

    bench: Bench
    names: Names
    calls: Calls
    size: int
    level: float
    at_ends: np.ndarray
    pairs: dict[int, Finding] = field(default_factory=dict)
    crossed: dict[int, Crossed] = field(default_factory=dict)
    asked: bool = False

    @property
    def tasters(self) -> np.ndarray:
        """Labels of the tasters."""
        return self.bench.pool.tasters

    @property
    def descriptors(self) -> np.ndarray:
        """Labels of the descriptors."""
        return self.bench.pool.descriptors

    @property
    def lots(self) -> np.ndarray:
        """Number of lots each taster is compared on."""
        return self.names.judgement.evidence.rows.sum(axis=0)

    @property
    def judged(self) -> tuple[str, ...]:
        """Aspects whose calls count."""
        return self.names.judgement.judged


def with_pairs(a: Assessed) -> Assessed:
    """The assessment with the levels of those who are with each other."""
    pair = np.flatnonzero(a.calls.overall == EACH_OTHER)
    if not len(pair):
        return a
    found = pair_levels(a.bench, pair, tail=a.bench.tail)[1]
    return replace(a, pairs={int(i): found for i in pair})


def over_all(a: Assessed, aspect: str) -> Finding:
    """A taster's finding over all descriptors, with the lots that would settle it."""
    found = a.names.judgement.tasters[aspect]
    return replace(found, lots=np.where(found.tested, lots_to_settle(aspect, found, a.lots, tail=a.bench.tail), np.nan))


def finding_at(a: Assessed, aspect: str, i: int, d: int) -> tuple[Finding, tuple[int, ...]]:
    """The finding on taster `i` and descriptor `d`, -1 over all, and where in it he stands."""
    return (over_all(a, aspect), (i,)) if d < 0 else (a.names.judgement.cells[aspect], (i, d))


def shown_with_panel(a: Assessed) -> np.ndarray:
    """Number of descriptors on which every judged aspect is shown with the panel, by taster."""
    if not a.judged:
        return np.zeros(len(a.tasters), int)
    return np.all([np.isin(a.calls.cells[k], [WITH, EACH_OTHER]) for k in a.judged], axis=0).sum(axis=1)


def untested(a: Assessed) -> list[str]:
    """Aspects nothing could be said on; scatter stands in for repeatability."""
    return [k for k in ASPECTS if k != SCATTER and k not in a.judged]


def worst_of(a: Assessed, i: int) -> tuple[str, int]:
    """The aspect and descriptor (-1 over all) that matter most for taster `i`; aspect "" where nothing does.

    What is named comes first, over all descriptors before one; then what stands out; then what is not shown inside.
    """
    best: tuple[float, float, str, int] = (9.0, 9.0, "", -1)
    for k in a.judged:
        cells, over = a.names.judgement.cells[k], a.names.judgement.tasters[k]
        ranks = [(_rank(a.calls.tasters[k][i], a.names.tasters_out[k][i], over.outside[i], over.inside[i], 0.0), -1)]
        calls = zip(a.calls.cells[k][i], a.names.cells_out[k][i], cells.outside[i], cells.inside[i], strict=True)
        ranks = ranks * (len(a.descriptors) > 1) + [(_rank(*call, 0.5), d) for d, call in enumerate(calls)]
        for rank, d in ranks:
            p, value = (over.p[i], over.estimate[i]) if d < 0 else (cells.p[i, d], cells.estimate[i, d])
            if np.isnan(value):
                continue  # what could not be estimated is no answer, and has no sentence
            best = min(best, (rank, 1.0 if np.isnan(p) else float(p), k, d))
    if best[0] >= 4:
        return "", -1
    ordered = a.names.cells.get(AGREEMENT)  # none where the classes are too small for an order
    if best[2] == SCALE_USE and best[3] >= 0 and ordered is not None and ordered[i, best[3]]:
        return AGREEMENT, best[3]  # another order says more than another slope
    return best[2], best[3]


def stands_out(a: Assessed, i: int) -> bool:
    """Whether anything of taster `i` was rejected in its family, named or not."""
    return any(a.names.cells_out[k][i].any() or a.names.tasters_out[k][i] for k in a.judged)


def _rank(call: str, out: bool, outside: bool, inside: bool, single: float) -> float:
    if call == APART:
        return 0.0 + single
    if out:
        return 1.0 + single
    if outside:
        return 2.0 + single
    return 4.0 if inside else 3.0 + single
