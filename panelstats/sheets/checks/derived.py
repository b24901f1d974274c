"""Figures worked out from the scores are no scores: found by arithmetic, and by total words at foot and edge."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from panelstats.scores.cells import DESCRIPTOR, LOT, POT, SESSION, TASTER
from panelstats.scores.spelling import plain
from panelstats.sheets.content.roles import CODE, DERIVED, SCORE, is_descriptor_word
from panelstats.sheets.content.text import Kind
from panelstats.sheets.content.totals import differs_from, is_total, may_be_total
from panelstats.sheets.files.grid import Factor
from panelstats.sheets.tables.figures import combination, is_likely, is_sure, resolution, worked_out

if TYPE_CHECKING:
    from panelstats.sheets.checks.log import Log
    from panelstats.sheets.marks.marks import Marks
    from panelstats.sheets.room.room import Room

_AT_LEAST = 3  # cells that must agree where a word says so (ours)
_EXACT = frozenset(["sd", "min", "max", "range", "count"])  # figures that arithmetic would find
_MARKS = 6  # numbers that must lie among the marks of the others (ours)
_SAMPLE = 600  # cells on which a label is tried first
_MOST_LABELS = 100  # labels tried without a word for it


# --- labels of all marks ----------------------------------------------------------------------------------------------


# A difference goes below 0 in so large a share of its cells (ours); a mark now and then does not make one.
_OFTEN = 0.2


@dataclass(frozen=True)
class _Axis:
    """A key along which figures may be worked out, and whether arithmetic alone is believed."""

    role: str
    alone: bool


_AXES = (_Axis(TASTER, True), _Axis(DESCRIPTOR, True), _Axis(LOT, False), _Axis(POT, False), _Axis(SESSION, False))
_PLACE = (SESSION, LOT, TASTER, POT, CODE, DESCRIPTOR)


def mark_derived(marks: Marks, room: Room, log: Log) -> Marks:
    """Marks of labels that are worked out from the others become facts; each such label is said."""
    listed = frozenset[str]().union(*room.listed.values())  # registers win over total words
    for axis in _AXES:
        for label, why in _derived(marks, axis, listed, log):
            hit = marks.named(axis.role, label)
            marks = replace(marks, role=_set(marks.role, hit, DERIVED))
            where = sorted({log.tables[t].sheet.label for t in np.unique(marks.table[hit])})
            log.notes.append((f"{axis.role} {label!r}", "left out", f"{why} ({', '.join(where[:3])})"))
    return marks


def surely_figures(marks: Marks, role: str, names: list[str]) -> set[str]:
    """Those of some labels of a key, such as a register does not list, that are surely worked out from the others."""
    met = marks.keys[role].met
    if not names or len(met) > _MOST_LABELS:
        return {n for n in names if is_total(n)}
    odd = _differences(marks, role, met)
    table, found = _crossed(marks, role, None), set[str]()
    for name in sorted(names, key=lambda n: (not is_total(n), not may_be_total(n))):
        values, others = _apart(table, name, odd | found)
        statistic = _agrees(values, others)
        if is_total(name) or (statistic and (may_be_total(name) or is_sure(statistic, values, others))):
            found.add(name)
    return found


def _set(factor: Factor, hit: np.ndarray, value: str) -> Factor:
    values = list(factor.values) if value in factor.values else [*factor.values, value]
    return Factor(np.where(hit, values.index(value), factor.codes).astype(np.int32), values)


def _derived(marks: Marks, axis: _Axis, listed: frozenset[str], log: Log) -> list[tuple[str, str]]:
    """Labels of one key that are worked out, each with why."""
    names = marks.keys[axis.role].met
    words = [n for n in names if may_be_total(n) and plain(n) not in listed]
    tried = names if axis.alone and 2 < len(names) <= _MOST_LABELS else words
    tried = [n for n in tried if plain(n) not in listed]
    if len(names) < 2 or not tried:
        return []
    odd = _differences(marks, axis.role, names)
    table = _crossed(marks, axis.role, None if words or odd else _SAMPLE)
    likely = [n for n in tried if n in words or n in odd or _agrees(*_apart(table, n, odd))]
    if likely and not (words or odd):
        table = _crossed(marks, axis.role, None)
    found: dict[str, str] = {}
    for name in sorted(likely, key=lambda n: (not is_total(n), n not in words)):
        values, others = _apart(table, name, odd | set(found))
        statistic = _agrees(values, others)
        if is_total(name):
            found[name] = f"worked out from the others: {statistic or 'its name says so'}"
        elif statistic and (name in words or is_sure(statistic, values, others)):
            found[name] = f"worked out from the others: their {statistic}"
        else:
            known = axis.role == DESCRIPTOR and is_descriptor_word(name)
            person = axis.role == TASTER and not _marks_like(name, values, others)
            doubt = person if name in words else name in odd or is_likely(statistic, values, others, known)
            if doubt and _asked(marks, axis.role, name, log):
                found[name] = f"no {axis.role}, as answered"
    return list(found.items())


def _marks_like(name: str, values: np.ndarray, others: np.ndarray) -> bool:
    """Whether numbers under a name of exact figures, which they are not, are marks of somebody's of these initials."""
    some, rest = values[~np.isnan(values)], others[~np.isnan(others)]
    if plain(name) not in _EXACT or len(some) < _MARKS or not len(rest):
        return False
    return resolution(some) >= resolution(rest) > 0 and bool(np.all((rest.min() <= some) & (some <= rest.max())))


def _differences(marks: Marks, role: str, names: list[str]) -> set[str]:
    """Labels that are differences, as a rule: often below 0 where most never go there, or named for another."""
    labels = marks.keys[role]
    others = {plain(n) for n in names}
    named = {n for n in names if differs_from(n) in others}
    size = len(labels.values)
    negative = np.bincount(labels.codes[marks.number < 0], minlength=size)
    numbers = np.maximum(np.bincount(labels.codes[~np.isnan(marks.number)], minlength=size), 1)
    ever = {str(labels.values[i]) for i in np.flatnonzero(negative)} & set(names)
    often = {str(labels.values[i]) for i in np.flatnonzero(negative >= _OFTEN * numbers)} & ever
    return named | (often if len(names) - len(ever) >= max(len(ever), 2) else set())


def _crossed(marks: Marks, role: str, most: int | None) -> pd.DataFrame:
    """Numbers, the labels of one key down and all other keys across; a sample of the columns where `most` is given."""
    live = np.flatnonzero(marks.of(SCORE) & (marks.kind == Kind.NUMBER))
    place = marks.place(*(key for key in _PLACE if key != role), rows=live)
    if most is not None:
        few = pd.unique(place[: 50 * most])[:most]
        keep = np.isin(place, few)
        live, place = live[keep], place[keep]
    codes, _ = pd.factorize(place)
    labels = marks.keys[role]
    matrix = np.full((len(labels.values), int(codes.max(initial=-1)) + 1), np.nan)
    matrix[labels.codes[live], codes] = marks.number[live]
    return pd.DataFrame(matrix, index=pd.Index([str(v) for v in labels.values], dtype=object))


def _agrees(values: np.ndarray, others: np.ndarray) -> str:
    """What numbers are of others, "" for nothing, or where too few tell."""
    if (~np.isnan(values)).sum() < _AT_LEAST or not len(others):
        return ""
    return worked_out(values, others) or combination(values, others)


def _apart(table: pd.DataFrame, name: str, gone: set[str]) -> tuple[np.ndarray, np.ndarray]:
    """The numbers of one label, and those of the others but for some."""
    numbers, apart = table.to_numpy(), np.array([each == name or each in gone for each in table.index], bool)
    return numbers[table.index.get_loc(name)], numbers[~apart]


def _asked(marks: Marks, role: str, name: str, log: Log) -> bool:
    """Whether a name that may be a figure's is none of a taster or descriptor; asked."""
    hit = marks.named(role, name)
    answer = log.inquiry.ask(
        f"Is {name!r} a {role}, or a figure worked out from the {role}s?",
        (*log.where(marks, int(np.flatnonzero(hit)[0])), name, ""), seen=f"{int(hit.sum())} marks",
        guess=f"a {role}" if plain(name) in ("max", "min") else "a figure",
        allowed=(f"a {role}", "a figure"), reason=f"a {role} named {name!r}, which may be a figure",
    )  # fmt: skip
    if not answer:
        log.bad |= hit
    return answer == "a figure"
