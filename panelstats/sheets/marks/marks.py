"""Tables -> marks: every cell that may hold a score, in long form, with its keys as codes."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from panelstats.scores.cells import DESCRIPTOR, LOOK, LOT, POSITION, POT, SCORE, SESSION, STAGE, TASTER
from panelstats.scores.spelling import plain, same, tidy
from panelstats.sheets.content import text
from panelstats.sheets.content.faultwords import noticed
from panelstats.sheets.content.roles import CODE, FAULT, PLAN, WORD, stage_of
from panelstats.sheets.content.text import Kind
from panelstats.sheets.files.grid import Factor
from panelstats.sheets.marks.kinds import MARK_ROLES, mark_role
from panelstats.sheets.marks.servings import combined

if TYPE_CHECKING:
    from collections.abc import Mapping

    from panelstats.sheets.room.room import Room
    from panelstats.sheets.tables.table import Table

KEYS = (SESSION, LOT, TASTER, POT, LOOK, POSITION, CODE, PLAN)


@dataclass(frozen=True, eq=False)
class Marks:
    """All mark cells; arrays have one entry per cell.

    Attributes
    ----------
    table, row, column : ndarray of int
        Which table, and which row and column of its sheet.
    keys : dict of Factor
        session, lot, taster, pot, look, position, code, plan, stage, descriptor: tidy text, "" where nothing is said.
    role : Factor
        score, fault, word or money: what the cell's descriptor is.
    number, kind : ndarray
        As in `text.Parsed`.
    reason : Factor
        Why a cell is a problem, "" where it is none.
    """

    table: np.ndarray
    row: np.ndarray
    column: np.ndarray
    keys: dict[str, Factor]
    role: Factor
    number: np.ndarray
    kind: np.ndarray
    reason: Factor

    def __len__(self) -> int:
        return len(self.row)

    def of(self, *roles: str) -> np.ndarray:
        """Which marks are of descriptors of some roles."""
        return self.role.mask(lambda role: role in roles)

    def named(self, key: str, label: str) -> np.ndarray:
        """Which marks bear a label."""
        return self.keys[key].mask(lambda each: each == label)

    def place(self, *keys: str, rows: np.ndarray | slice = slice(None)) -> np.ndarray:
        """One integer for each combination of some keys, of all marks or of some."""
        told = [self.keys[key].codes[rows] for key in keys if len(self.keys[key].values) > 1]
        return combined(*told) if told else np.zeros(len(self.row[rows]), np.int64)

    def under(self, keys: Mapping[str, Factor]) -> Marks:
        """The same marks under other keys."""
        return replace(self, keys={**self.keys, **keys})

    def relabelled(self, key: str, new: Mapping[str, str]) -> Marks:
        """The same marks with other names for some labels of one key."""
        labels = self.keys[key]
        return self.under({key: labels.map([new.get(label, label) for label in labels.values])})

    def blank(self, hit: np.ndarray) -> None:
        """Make blanks of some marks."""
        self.kind[hit], self.number[hit] = Kind.BLANK, np.nan


def stack(factors: list[Factor]) -> Factor:
    """Factors one below the other, equal contents under one code."""
    if len(factors) == 1:
        return factors[0]
    index: dict[object, int] = {}
    codes = []
    for factor in factors:
        new = np.fromiter((index.setdefault(v, len(index)) for v in factor.values), np.int32, len(factor.values))
        codes.append(factor.rows(new))
    return Factor(np.concatenate(codes) if codes else np.zeros(0, np.int32), list(index))


def one_spelling(factor: Factor) -> tuple[Factor, list[tuple[str, str]]]:
    """Labels that are the same but for case, spaces, kinds of dash and the like become the most frequent spelling."""
    keys = [same(str(v)) for v in factor.values]
    if len(set(keys)) == len(keys) and all(tidy(v) == v for v in factor.values):
        return factor, []
    times = np.bincount(factor.codes, minlength=len(factor.values))
    best: dict[str, str] = {}
    for i in np.argsort(-times, kind="stable"):
        best.setdefault(keys[i], tidy(factor.values[i]))
    new = [best[key] for key in keys]
    joined = [(v, n) for v, n, t in zip(factor.values, new, times, strict=True) if t and tidy(v) != n]
    return factor.map(new), joined


def marks_of(number: int, table: Table, decimal: str, room: Room) -> Marks:
    """All mark cells of one table whose roles are known; `number` is its place in the source."""
    marks, declared = room.worth, room.kinds
    columns = [c for c, r in enumerate(table.roles) if r in MARK_ROLES]
    rows, times = table.rows, len(columns)
    keys = {role: _spread(table, role, columns) for role in (*KEYS, STAGE)}
    if table.is_down or DESCRIPTOR in table.extra:
        keys[DESCRIPTOR] = _tiled(_key(table, DESCRIPTOR), times)
        roles = [mark_role(v, declared) for v in keys[DESCRIPTOR].values]
        seen = np.array([r in (FAULT, WORD) for r in roles])
        parsed = [_by_descriptor(table, c, decimal, marks, seen) for c in columns]
    else:
        names = [tidy(table.names[c]) or DESCRIPTOR for c in columns]
        roles = [table.roles[c] for c in columns]
        keys[DESCRIPTOR] = Factor(np.repeat(np.arange(times, dtype=np.int32), len(rows)), names)
        if not table.tells(STAGE):
            keys[STAGE] = keys[DESCRIPTOR].map([stage_of(n) for n in names])
        asked = {c for c, role in zip(columns, roles, strict=True) if role in (FAULT, WORD)}
        parsed = [_parsed(table, c, decimal, marks, seen=c in asked) for c in columns]
    return Marks(
        np.full(len(rows) * times, number, np.int32), np.tile(rows.astype(np.int32), times),
        np.repeat(np.array(columns, np.int32), len(rows)), keys, keys[DESCRIPTOR].map(roles),
        np.concatenate([p[0] for p in parsed] or [np.zeros(0)]),
        np.concatenate([p[1] for p in parsed] or [np.zeros(0, np.int8)]),
        stack([p[2] for p in parsed]),
    )  # fmt: skip


def all_marks(tables: list[Table], room: Room, worths: Mapping[str, Mapping[str, float]]) -> Marks:
    """The marks of all tables, one below the other; `worths` tells what words are worth, by heading as `plain` text."""
    decimals = file_decimals(tables)
    parts = [
        _worded(_own_marks(marks_of(n, table, decimals[table.sheet.file], room), table, room), table, worths)
        for n, table in enumerate(tables)
    ]
    return Marks(
        np.concatenate([p.table for p in parts]), np.concatenate([p.row for p in parts]),
        np.concatenate([p.column for p in parts]),
        {role: stack([p.keys[role] for p in parts]) for role in (*KEYS, DESCRIPTOR, STAGE)},
        stack([p.role for p in parts]),
        np.concatenate([p.number for p in parts]), np.concatenate([p.kind for p in parts]),
        stack([p.reason for p in parts]),
    )  # fmt: skip


def _own_marks(found: Marks, table: Table, room: Room) -> Marks:
    """Give the marks that are one taster's or one descriptor's their worth."""
    for mark, worth, taster, descriptor in room.own_marks:
        here = np.ones(len(found), bool)
        for role, wanted in ((TASTER, taster), (DESCRIPTOR, descriptor)):
            if wanted:
                here &= found.keys[role].mask(lambda label, mine: plain(label) == mine, wanted)
        for c in np.unique(found.column[here]):
            hit = np.flatnonzero(here & (found.column == c))
            cells = table.cells(int(c)).take(np.searchsorted(table.rows, found.row[hit]))
            hit = hit[cells.mask(lambda content, mine: text.mark_text(content) == mine, mark)]
            found.number[hit], found.kind[hit] = worth, Kind.BLANK if np.isnan(worth) else Kind.NUMBER
    return found


def _worded(found: Marks, table: Table, worths: Mapping[str, Mapping[str, float]]) -> Marks:
    """Give words that are scores under a heading their worth."""
    for c in np.unique(found.column) if worths else ():
        worth = worths.get(plain(table.names[c]))
        if worth is None:
            continue
        cells = table.cells(int(c))
        value = np.array([worth.get(text.mark_text(v), np.inf) for v in cells.values])
        hit = np.flatnonzero(found.column == c)
        here = value[cells.codes[np.searchsorted(table.rows, found.row[hit])]]
        hit, here = hit[~np.isinf(here)], here[~np.isinf(here)]
        found.number[hit], found.kind[hit] = here, np.where(np.isnan(here), Kind.BLANK, Kind.NUMBER)
    return found


def _spread(table: Table, role: str, columns: list[int]) -> Factor:
    """A key of every mark: by column where it runs across, else by row."""
    if role in table.across:
        labels = [table.across[role][c] for c in columns]
        return Factor(np.repeat(np.arange(len(columns), dtype=np.int32), len(table.rows)), labels)
    return _tiled(_key(table, role), len(columns))


def _tiled(factor: Factor, times: int) -> Factor:
    return Factor(np.tile(factor.codes, times), factor.values)


def _key(table: Table, role: str) -> Factor:
    """A key of every row as tidy text; several columns of one key join with a stroke."""
    columns = table.where(role)
    if not columns or (role in table.extra and table.is_empty(role)):
        return table.extra.get(role, Factor.constant("", len(table.rows)))
    parts = [cells.map([*map(tidy, cells.values)]) for cells in map(table.cells, columns)]
    joined = parts[0]
    for part in parts[1:]:
        pair = joined.codes.astype(np.int64) * len(part.values) + part.codes
        distinct, codes = np.unique(pair, return_inverse=True)
        both = [(joined.values[p // len(part.values)], part.values[p % len(part.values)]) for p in distinct]
        values = [" / ".join(filter(None, labels)) for labels in both]
        joined = Factor(codes.astype(np.int32), values)
    return joined


def _by_descriptor(
    table: Table, column: int, decimal: str, marks: Mapping[str, float], seen: np.ndarray
) -> tuple[np.ndarray, np.ndarray, Factor]:
    """Parse the score column of a long table; rows of descriptors in `seen` hold noticed or not."""
    number, kind, reason = _parsed(table, column, decimal, marks)
    if not seen.any():
        return number, kind, reason
    here = seen[_key(table, DESCRIPTOR).codes]
    other = _parsed(table, column, decimal, marks, seen=True)
    both = stack([reason, other[2]])
    codes = np.where(here, both.codes[len(here) :], both.codes[: len(here)])
    return np.where(here, other[0], number), np.where(here, other[1], kind), Factor(codes, both.values)


def _parsed(
    table: Table, column: int, decimal: str, marks: Mapping[str, float], *, seen: bool = False
) -> tuple[np.ndarray, np.ndarray, Factor]:
    factor = table.cells(column)
    codes = factor.codes
    parsed = noticed(factor.values, decimal=decimal) if seen else table.parsed(column, marks, decimal)
    number, kind = parsed.number[codes], parsed.kind[codes]
    spoiled = {row: why for (row, c), why in table.sheet.spoiled.items() if c == column}
    hit = np.flatnonzero(np.isin(table.rows, [*spoiled])) if spoiled else np.zeros(0, int)
    number[hit], kind[hit] = np.nan, Kind.PROBLEM
    reasons = [*parsed.reason, *(spoiled[row] for row in table.rows[hit].tolist())]
    codes = codes.copy() if len(hit) else codes
    codes[hit] = len(parsed.reason) + np.arange(len(hit))
    return number, kind, Factor(codes, reasons).map(reasons)


def file_decimals(tables: list[Table]) -> dict[str, str]:
    """The decimal sign of each file, from the distinct contents of its score columns."""
    values: dict[str, list] = {}
    for table in tables:
        for c in table.where(SCORE):
            values.setdefault(table.sheet.file, []).extend(table.cells(c).values)
    return {table.sheet.file: text.decimal_style(values.get(table.sheet.file, ())) for table in tables}
