"""From names to calls: what is said of every taster, descriptor and aspect."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import special

from panelstats.models.lotsneeded import lots_in_all
from panelstats.panel.tasters.finding import AGREEMENT, LEVEL, REPEATABILITY, SCATTER, Finding
from panelstats.panel.tasters.judgement import Bench
from panelstats.panel.tasters.naming import APART, CANNOT, EACH_OTHER, LEAST_LEFT, WITH, Names, pair_levels
from panelstats.panel.tasters.ordershown import Orders

# Aspects whose estimates are compared as ratios, or as Fisher z.
AS_LOGARITHM = (REPEATABILITY, SCATTER)


@dataclass(frozen=True, eq=False)
class Calls:
    """Calls by aspect and over all.

    Attributes
    ----------
    cells : dict of str to ndarray of str, shape (taster, descriptor)
        "" where an aspect is shown and not judged.
    tasters : dict of str to ndarray of str, shape (taster,)
    overall : ndarray of str, shape (taster,)
    orders : Orders
        Whether the marks follow the lots, without which nobody is called with the panel.
    """

    cells: dict[str, np.ndarray]
    tasters: dict[str, np.ndarray]
    overall: np.ndarray
    orders: Orders


# What reads "with the panel" only where the marks are shown to follow the lots: marks of people who tell nothing apart
# lie level, scatter and repeat themselves alike too.
NEEDS_ORDER = (LEVEL, REPEATABILITY, SCATTER)


def calls(bench: Bench, names: Names, size: int, order: Orders) -> Calls:
    """Calls for a panel of which `size` sat together; `order` says whose marks follow the lots."""
    found = names.judgement
    cells, tasters = {}, {}
    for aspect in found.cells:
        if aspect in found.judged:
            cells[aspect] = _call(found.cells[aspect], names.cells[aspect], names.cells_out[aspect])
            tasters[aspect] = _call(found.tasters[aspect], names.tasters[aspect], names.tasters_out[aspect])
        else:
            shown = aspect == SCATTER and bool(found.judged)
            cells[aspect], tasters[aspect] = (
                np.where(f.why == "", "" if shown else CANNOT, CANNOT).astype(object)
                for f in (found.cells[aspect], found.tasters[aspect])
            )
    _without_order(order, cells, tasters)
    overall = _overall(names, cells, tasters)
    overall = np.where((overall == WITH) & ~order.reassures, CANNOT, overall)
    if size < LEAST_LEFT:
        for part in (cells, tasters):
            part.update({a: np.where(v == WITH, EACH_OTHER, v) for a, v in part.items()})
        overall = np.where(overall == WITH, EACH_OTHER, overall)
    elif size == LEAST_LEFT:
        overall = _the_other_two(bench, names, overall, order)
    return Calls(cells, tasters, overall, order)


def _without_order(shown: Orders, cells: dict[str, np.ndarray], tasters: dict[str, np.ndarray]) -> None:
    """Take "with" back where no order is shown that would give it a meaning."""
    follows = shown.own_shown[:, None] & shown.on
    for aspect in NEEDS_ORDER:
        cells[aspect] = np.where((cells[aspect] == WITH) & ~follows, CANNOT, cells[aspect])
        tasters[aspect] = np.where((tasters[aspect] == WITH) & ~shown.own_shown, CANNOT, tasters[aspect])


def _call(found: Finding, named: np.ndarray, out: np.ndarray) -> np.ndarray:
    return np.select([named, out, found.inside], [APART, CANNOT, WITH], default=CANNOT).astype(object)


def _overall(names: Names, cells: dict[str, np.ndarray], tasters: dict[str, np.ndarray]) -> np.ndarray:
    """Apart if named for anything; with the panel if nothing stands out and every aspect is shown inside."""
    found, judged = names.judgement, names.judgement.judged
    count = len(names.dropped)
    apart, doubt, shown = np.zeros(count, bool), np.zeros(count, bool), np.full(count, bool(judged))
    for aspect in judged:
        apart |= (cells[aspect] == APART).any(axis=1) | (tasters[aspect] == APART)
        doubt |= names.cells_out[aspect].any(axis=1) | names.tasters_out[aspect]
        doubt |= found.cells[aspect].outside.any(axis=1)
        shown &= found.tasters[aspect].inside
    return np.select([apart, shown & ~doubt], [APART, WITH], default=CANNOT).astype(object)


def _the_other_two(bench: Bench, names: Names, overall: np.ndarray, shown: Orders) -> np.ndarray:
    """With one of three apart over all descriptors, the others are judged by their pair alone."""
    general = np.any([names.tasters[a] for a in names.judgement.judged], axis=0) if names.judgement.judged else []
    if not np.any(general) or len(overall) != LEAST_LEFT:
        return overall
    others = np.flatnonzero(~np.asarray(general))
    pair = pair_levels(bench, others, tail=bench.tail)[1]
    out = overall.copy()
    for k, i in enumerate(others):
        if out[i] != APART:
            out[i] = EACH_OTHER if pair.inside[k] and shown.own_shown[i] else CANNOT
    return out


def lots_to_settle(aspect: str, found: Finding, lots: np.ndarray, *, tail: float) -> np.ndarray:
    """Lots in all that would settle a taster's interval over all descriptors in 8 cases of 10; inf if never."""
    value, low, high, floor, ceiling = (
        _scale(aspect, x) for x in (found.estimate, found.low, found.high, found.floor, found.ceiling)
    )
    with np.errstate(divide="ignore", invalid="ignore"):
        above, below = value > ceiling, value < floor
        up = np.where(below, floor - value, ceiling - value)
        down = np.where(above, value - ceiling, value - floor)
        in_the_way = above | (~below & ((value - low) / down > (high - value) / up))  # the lower end of the interval
        half, gap = np.where(in_the_way, value - low, high - value), np.where(in_the_way, down, up)
    needed = lots_in_all(half / special.stdtrit(np.maximum(lots - 1, 1), 1 - tail), gap, lots, tail=tail)
    return np.maximum(needed, lots + 1)


def _scale(aspect: str, values: np.ndarray) -> np.ndarray:
    """The scale on which an interval shrinks evenly as lots are added; an edge that is not there lies nowhere on it."""
    if aspect in AS_LOGARITHM:
        values = np.where(np.isinf(values), values, np.log(np.maximum(values, 1e-3)))
    elif aspect == AGREEMENT:
        values = np.where(np.isinf(values), values, np.arctanh(np.clip(values, -0.999, 0.999)))
    return values
