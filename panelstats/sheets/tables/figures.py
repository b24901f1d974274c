"""Whether numbers are worked out from other numbers (a mean, a sum, a weighted sum), and how sure that is."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Callable

_ENOUGH = 6  # cells that must agree before arithmetic alone, without a word, is believed (ours)
_FREE = 8  # cells beyond the number of weights that a weighted sum must hit to be believed (ours)
_BY_CHANCE = 1e-6  # probability of chance agreement below which arithmetic is believed (ours)
_TO_ASK = 0.02  # probability that any label agrees by chance below which it is asked about (ours)
_FINER = 5  # times finer than all the others that numbers are no mark's, where too few cells can prove it (ours)
_STEPS = (1.0, 0.5, 0.25, 0.1, 0.05, 0.01, 0.001, 1e-4)
_STATS: dict[str, Callable[[np.ndarray], np.ndarray]] = {
    "mean": lambda m: np.nanmean(m, axis=0),
    "sum": lambda m: np.nansum(m, axis=0),
    "minimum": lambda m: np.nanmin(m, axis=0),
    "maximum": lambda m: np.nanmax(m, axis=0),
    "median": lambda m: np.nanmedian(m, axis=0),
    "spread": lambda m: np.nanstd(m, axis=0),
    "standard deviation": lambda m: np.nanstd(m, axis=0, ddof=1),
    "range": lambda m: np.nanmax(m, axis=0) - np.nanmin(m, axis=0),
    "count": lambda m: (~np.isnan(m)).sum(axis=0).astype(float),
}
_ROUNDED = ("mean", "median", "spread", "standard deviation")  # statistics that sheets round
_BETWEEN = {"mean", "minimum", "maximum", "median"}  # statistics that lie among the numbers they are of
_TELLING = ("mean", "sum", "median", "range", "minimum", "maximum")  # what may be believed without a word
WEIGHTED, DIFFERENCE, PART_SUM = "weighted sum", "difference", "sum of some"


def resolution(values: np.ndarray) -> float:
    """The step to which numbers were rounded, 0 where they were not."""
    seen = values[~np.isnan(values)]
    for step in _STEPS:
        ratio = seen / step
        if np.all(np.abs(ratio - np.round(ratio)) < 1e-6):
            return step
    return 0.0


def worked_out(values: np.ndarray, others: np.ndarray) -> str:
    """The statistic of other numbers that a row of numbers is, "" where it is none.

    Parameters
    ----------
    values : ndarray
        (cell,) the numbers in question, NaN where there is none.
    others : ndarray
        (other, cell) the numbers they may be worked out from.

    Examples
    --------
    >>> worked_out(np.array([5.5, 6.0]), np.array([[5.0, 6.0], [6.0, 6.0]]))
    'mean'
    """
    some = ~np.isnan(values) & ((~np.isnan(others)).sum(axis=0) >= 2)
    if not some.any() or some.sum() < 0.6 * (~np.isnan(values)).sum():
        return ""
    v, m = values[some], others[:, some]
    slack = resolution(v) / 2 + 1e-6
    with np.errstate(over="ignore", invalid="ignore"):  # numbers of no scale: what they are is told elsewhere
        low, high = np.nanmin(m, axis=0) - slack, np.nanmax(m, axis=0) + slack
        never = set() if np.all((low <= v) & (v <= high)) else _BETWEEN  # spares what takes long
        for name, statistic in _STATS.items():
            if name not in never and np.all(np.abs(v - statistic(m)) <= (slack if name in _ROUNDED else 1e-6)):
                return name
    return ""


def combination(values: np.ndarray, others: np.ndarray) -> str:
    """The name of a fixed combination of other numbers that numbers are, found by least squares, "" where none.

    A weighted sum is finer than what it is made of; a difference goes below 0 where the others do not.
    """
    full = _complete(values, others)
    if not full.any() or full.sum() < 0.6 * (~np.isnan(values)).sum():
        return ""
    x, y = others[:, full].T, values[full]
    weights = np.linalg.lstsq(x, y, rcond=None)[0]
    off, step = float(np.abs(x @ weights - y).max()), resolution(y)
    if step < resolution(x.ravel()) and off <= 0.75 * step + 1e-6:
        return WEIGHTED
    if off > 1e-6 or len(y) < len(others) + 4:
        return ""
    added = np.abs(weights - np.round(weights)).max() < 1e-6 and np.unique(np.round(weights)).tolist() == [0, 1]
    if added and np.round(weights).sum() > 1:
        return PART_SUM
    return DIFFERENCE if y.min() < 0 <= x.min() else ""


def _complete(values: np.ndarray, others: np.ndarray) -> np.ndarray:
    return ~np.isnan(values) & ~np.isnan(others).any(axis=0)


def is_sure(statistic: str, values: np.ndarray, others: np.ndarray) -> bool:
    """Whether agreement can be no chance: many cells, the others apart, and figures that nobody gives."""
    if statistic in (WEIGHTED, DIFFERENCE, PART_SUM):
        return statistic == DIFFERENCE or _complete(values, others).sum() >= len(others) + _FREE
    some = ~np.isnan(values) & ((~np.isnan(others)).sum(axis=0) >= 2)
    apart = (np.nanmax(others[:, some], axis=0) > np.nanmin(others[:, some], axis=0)).mean()
    if statistic not in _TELLING or some.sum() < _ENOUGH or apart < 1 / 3:
        return False
    if statistic == "sum":
        return bool(np.nanmin(others) >= 0)  # else one of the others may be a difference
    if statistic in _ROUNDED and resolution(values) < resolution(others.ravel()):
        return True
    return _chance(statistic, values[some], others[:, some], 0.05) ** int(some.sum()) < _BY_CHANCE


def is_likely(statistic: str, values: np.ndarray, others: np.ndarray, known: bool) -> bool:
    """Whether agreement is hardly chance, though too few cells prove it; `known` where the label is a known word."""
    step, theirs = resolution(values), resolution(others.ravel())
    if statistic == WEIGHTED:
        return step * _FINER <= theirs and not (known and _complete(values, others).sum() <= len(others))
    if statistic == PART_SUM:
        return True
    some = ~np.isnan(values) & ((~np.isnan(others)).sum(axis=0) >= 2)
    if known or statistic not in _TELLING or (statistic == "sum" and np.nanmin(others) < 0):
        return False
    if statistic in _ROUNDED and step < theirs:
        chance = min(step / max(float(np.nanstd(values)), 1e-9), 1.0)
    else:
        chance = _chance(statistic, values[some], others[:, some], 0.25)
    return chance ** int(some.sum()) * (len(others) + 1) * len(_TELLING) < _TO_ASK


def _chance(statistic: str, values: np.ndarray, others: np.ndarray, least: float) -> float:
    """The largest share of cells in which anybody but the last lies as near what the rest work out to."""
    slack = resolution(values) / 2 if statistic in _ROUNDED else 0.0
    everybody = np.vstack([others, values])
    shares = [least]
    for n, row in enumerate(everybody[:-1]):
        rest = np.delete(everybody, n, axis=0)
        here = ~np.isnan(row) & (~np.isnan(rest)).any(axis=0)
        if here.any():
            off = np.abs(row[here] - _STATS[statistic](rest[:, here]))
            shares.append(float((off <= slack + 1e-6).mean()))
    return max(shares)
