"""Figures worked out from the scores are no scores: found by arithmetic, and by total words at foot and edge."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from panelstats.scores.cells import DESCRIPTOR, LOT, POT, SESSION, TASTER
from panelstats.sheets import text
from panelstats.sheets.datarows import total_rows
from panelstats.sheets.grid import Factor
from panelstats.sheets.roles import CODE, DERIVED, GIVEN, SCORE
from panelstats.sheets.servings import combined
from panelstats.sheets.text import Kind, plain, tidy
from panelstats.sheets.totals import is_total, may_be_total

if TYPE_CHECKING:
    from collections.abc import Callable

    from panelstats.sheets.check import Log
    from panelstats.sheets.inquiry import Inquiry
    from panelstats.sheets.marks import Marks
    from panelstats.sheets.room import Room
    from panelstats.sheets.tables import Table

ENOUGH = 12  # cells that must agree before arithmetic alone, without a word, is believed (ours)
_BY_CHANCE = 1e-6  # probability of chance agreement below which arithmetic is believed (ours)
_AT_LEAST = 3  # cells that must agree where a word says so (ours)
_SAMPLE = 600  # cells on which a label is tried first
_MOST_LABELS = 100  # labels tried without a word for it
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
_TELLING = ("mean", "sum", "median", "range", "weighted sum")  # what is believed without a word
_FREE = 8  # cells beyond the number of weights that a weighted sum must hit (ours)


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
    for name, statistic in _STATS.items():
        if np.all(np.abs(v - statistic(m)) <= (slack if name in _ROUNDED else 1e-6)):
            return name
    return ""


# --- rows of one table ------------------------------------------------------------------------------------------------


def without_totals(table: Table, room: Room) -> Table:
    """The table without rows of averages, totals and the like; they are said."""
    named, lotless = total_rows(table, _listed(room))
    rows = table.rows
    marks = [c for c, r in enumerate(table.roles) if r in ("", GIVEN, SCORE) and table.headers[c]]
    maybe = _unsure_rows(table, named, lotless, _listed(room))
    drop, notes = named.copy(), list(table.notes)
    if (maybe.any() and marks and not table.is_down) or (maybe.any() and len(marks) > 1):
        numbers = numbers_of(table, marks, room)
        for at in np.flatnonzero(maybe):
            if any(worked_out(numbers[at], above) for above in _above(numbers, drop | named, int(at))):
                drop[at] = True
    if not drop.any() or drop.all():
        return table
    some = ", ".join(str(int(r) + table.sheet.first_row) for r in rows[drop][:10]) + (" ..." if drop.sum() > 10 else "")
    words = ", ".join(dict.fromkeys(tidy(v) for r in rows[drop] for v in table.sheet.row(int(r)) if may_be_total(v)))
    notes.append((f"{table.sheet.label}, row {some}", "left out", f"totals, not marks{': ' * bool(words)}{words[:60]}"))
    extra = {k: f.take(~drop) for k, f in table.extra.items()}
    return replace(table, rows=rows[~drop], notes=notes, extra=extra, _cells={}, _parsed={})


def _listed(room: Room) -> frozenset[str]:
    """Labels, as plain text, that registers list: they win over total words."""
    return frozenset(
        plain(v) for name, key in (("lots", LOT), ("tasters", TASTER), ("descriptors", DESCRIPTOR))
        if (register := room.get(name)) is not None for v in register[key]
    )  # fmt: skip


def _unsure_rows(table: Table, named: np.ndarray, lotless: np.ndarray, listed: frozenset[str]) -> np.ndarray:
    """Rows that arithmetic must judge: without a lot or taster, or with a word that may be a name, few of them."""
    maybe = lotless.copy()
    for role in (LOT, CODE, TASTER, DESCRIPTOR):
        for c in table.where(role):
            cells = table.cells(c)
            empty = np.array([tidy(v) == "" for v in cells.values], bool)[cells.codes]
            words = np.array([may_be_total(v) and plain(v) not in listed for v in cells.values], bool)[cells.codes]
            maybe |= words if role in (LOT, CODE, DESCRIPTOR) else empty
            if role in (LOT, CODE) and empty.sum() > len(empty) / 3:
                return np.zeros(len(named), bool)
    maybe &= ~named
    return maybe if maybe.sum() <= max(len(maybe) // 3, 1) else np.zeros(len(named), bool)


def numbers_of(table: Table, marks: list[int], room: Room) -> np.ndarray:
    """The numbers of some columns, (row, column), NaN where there is none."""
    columns = []
    for c in marks:
        cells = table.cells(c)
        columns.append(table.parsed(c, text.decimal_style(cells.values), room.worth).number[cells.codes])
    return np.column_stack(columns)


def _above(numbers: np.ndarray, dropped: np.ndarray, at: int) -> list[np.ndarray]:
    """The rows a row may sum up: all above it, or those since the last one that was worked out."""
    kept = np.flatnonzero(~dropped[:at])
    last = int(np.flatnonzero(dropped[:at])[-1]) if dropped[:at].any() else -1
    return [part for part in (numbers[kept], numbers[kept[kept > last]]) if len(part) > 1]


# --- labels of all marks ----------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class _Axis:
    """A key along which figures may be worked out, and whether arithmetic alone is believed."""

    role: str
    alone: bool


_AXES = (_Axis(TASTER, True), _Axis(DESCRIPTOR, True), _Axis(LOT, False), _Axis(POT, False), _Axis(SESSION, False))
_PLACE = (SESSION, LOT, TASTER, POT, CODE, DESCRIPTOR)


def mark_derived(marks: Marks, room: Room, log: Log, inquiry: Inquiry) -> Marks:
    """Marks of labels that are worked out from the others become facts; each such label is said."""
    listed = _listed(room)
    for axis in _AXES:
        for label, why in _derived(marks, axis, listed, log, inquiry):
            hit = _of(marks, axis.role, label)
            marks = replace(marks, role=_set(marks.role, hit, DERIVED))
            where = sorted({log.tables[t].sheet.label for t in np.unique(marks.table[hit])})
            log.notes.append((f"{axis.role} {label!r}", "left out", f"{why} ({', '.join(where[:3])})"))
    return marks


def _of(marks: Marks, role: str, label: str) -> np.ndarray:
    factor = marks.keys[role]
    return np.array([v == label for v in factor.values], bool)[factor.codes]


def _set(factor: Factor, hit: np.ndarray, value: str) -> Factor:
    values = list(factor.values) if value in factor.values else [*factor.values, value]
    return Factor(np.where(hit, values.index(value), factor.codes).astype(np.int32), values)


def _derived(marks: Marks, axis: _Axis, listed: frozenset[str], log: Log, inquiry: Inquiry) -> list[tuple[str, str]]:
    """Labels of one key that are worked out, each with why."""
    labels = marks.keys[axis.role]
    names = [str(labels.values[i]) for i in labels.used() if labels.values[i] != ""]
    words = [n for n in names if may_be_total(n) and plain(n) not in listed]
    tried = names if axis.alone and 2 < len(names) <= _MOST_LABELS else words
    tried = [n for n in tried if plain(n) not in listed]
    if len(names) < 2 or not tried:
        return []
    found: list[tuple[str, str]] = []
    table = _crossed(marks, axis.role, None if words else _SAMPLE)
    likely = [n for n in tried if _agrees(table, n, [f for f, _ in found]) or n in words]
    if likely and not words:
        table = _crossed(marks, axis.role, None)
    for name in sorted(likely, key=lambda n: (not is_total(n), n not in words)):
        gone = [f for f, _ in found]
        statistic = _agrees(table, name, gone)
        if is_total(name):
            found.append((name, f"worked out from the others: {statistic or 'its name says so'}"))
        elif statistic and (name in words or _believed(table, name, statistic, gone)):
            found.append((name, f"worked out from the others: their {statistic}"))
        elif name in words and axis.role == TASTER and not statistic and _asked(marks, name, log, inquiry):
            found.append((name, "no taster, as answered"))
    return found


def _crossed(marks: Marks, role: str, most: int | None) -> pd.DataFrame:
    """Numbers, the labels of one key down and all other keys across; a sample of the columns where `most` is given."""
    scored = np.array([r == SCORE for r in marks.role.values], bool)[marks.role.codes]
    live = np.flatnonzero(scored & (marks.kind == Kind.NUMBER))
    place = combined(*(marks.keys[k].codes[live] for k in _PLACE if k != role))
    if most is not None:
        few = pd.unique(place[: 50 * most])[:most]
        keep = np.isin(place, few)
        live, place = live[keep], place[keep]
    codes, _ = pd.factorize(place)
    labels = marks.keys[role]
    matrix = np.full((len(labels.values), int(codes.max(initial=-1)) + 1), np.nan)
    matrix[labels.codes[live], codes] = marks.number[live]
    return pd.DataFrame(matrix, index=pd.Index([str(v) for v in labels.values], dtype=object))


def _agrees(table: pd.DataFrame, name: str, gone: list[str]) -> str:
    values = table.loc[name].to_numpy()
    others = table.drop(index=[name, *gone]).to_numpy()
    if (~np.isnan(values)).sum() < _AT_LEAST or not len(others):
        return ""
    return worked_out(values, others) or _weighted(values, others)


def _weighted(values: np.ndarray, others: np.ndarray) -> str:
    """Whether numbers are one fixed weighted sum of the others: by least squares, far more cells than weights."""
    full = ~np.isnan(values) & ~np.isnan(others).any(axis=0)
    if full.sum() < len(others) + _FREE or full.sum() < 0.6 * (~np.isnan(values)).sum():
        return ""
    x, y = others[:, full].T, values[full]
    weights, _, rank, _ = np.linalg.lstsq(x, y, rcond=None)
    step = resolution(y)
    exact = np.abs(x @ weights - y).max() <= 0.75 * step + 1e-6 and step < resolution(x.ravel())
    return "weighted sum" if exact and rank == len(others) else ""


def _believed(table: pd.DataFrame, name: str, statistic: str, gone: list[str]) -> bool:
    """Whether agreement can be no chance: many cells, the others apart, and figures no taster gives."""
    values = table.loc[name].to_numpy()
    others = table.drop(index=[name, *gone]).to_numpy()
    some = ~np.isnan(values) & ((~np.isnan(others)).sum(axis=0) >= 2)
    apart = (np.nanmax(others[:, some], axis=0) > np.nanmin(others[:, some], axis=0)).mean()
    if statistic not in _TELLING or some.sum() < ENOUGH / 2 or apart < 1 / 3:
        return False
    if statistic in ("sum", "weighted sum") or (
        statistic in _ROUNDED and resolution(values) < resolution(others.ravel())
    ):
        return True
    everybody = np.vstack([others[:, some], values[some]])
    slack = resolution(values) / 2 if statistic in _ROUNDED else 0.0
    return _chance(everybody, slack, _STATS[statistic]) ** int(some.sum()) < _BY_CHANCE


def _chance(everybody: np.ndarray, slack: float, statistic: Callable[[np.ndarray], np.ndarray]) -> float:
    """The largest share of cells in which anybody but the last lies as near what the rest work out to."""
    shares = [0.05]
    for n, row in enumerate(everybody[:-1]):
        rest = np.delete(everybody, n, axis=0)
        here = ~np.isnan(row) & (~np.isnan(rest)).any(axis=0)
        if here.any():
            shares.append(float((np.abs(row[here] - statistic(rest[:, here])) <= slack + 1e-6).mean()))
    return max(shares)


def _asked(marks: Marks, name: str, log: Log, inquiry: Inquiry) -> bool:
    """Whether a name that may be a figure's is no taster; asked."""
    hit = _of(marks, TASTER, name)
    first = int(np.flatnonzero(hit)[0])
    table = log.tables[marks.table[first]]
    answer = inquiry.ask(
        f"Is {name!r} a taster, or a figure worked out from the tasters?",
        (table.sheet, int(marks.row[first]), int(marks.column[first]), name, ""), seen=f"{int(hit.sum())} marks",
        guess="a taster" if plain(name) in ("max", "min") else "a figure",
        allowed=("a taster", "a figure"), reason=f"a taster named {name!r}, which may be a figure",
    )  # fmt: skip
    if not answer:
        log.bad |= hit
    return answer == "a figure"
