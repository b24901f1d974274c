"""Small keys beside a table that name what its headings shorten: `T1 | Elm`, `Br = Brisk`."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from panelstats.scores.cells import DESCRIPTOR, TASTER
from panelstats.scores.dates import is_day
from panelstats.scores.spelling import plain, tidy
from panelstats.sheets.content.languages import DAY_PARTS
from panelstats.sheets.content.roles import LEFT_OUT, STAGES, is_descriptor_word, role_of
from panelstats.sheets.content.text import are_numbers, has_digit
from panelstats.sheets.tables.table import doubt

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable

    from panelstats.sheets.files.grid import Sheet
    from panelstats.sheets.room.inquiry import Inquiry
    from panelstats.sheets.tables.table import Note, Table

_LARGEST = 2_000  # rows of a sheet on which a key is looked for (ours)
_SHORT = re.compile(r"\w{1,4}\.?|[^\W\d_]{1,2}[ .-]\d{1,2}")
_NUMBERED = re.compile(r"[^\W\d_]{0,2}[ .-]?\d{1,3}|[A-Z]{1,3}\.?")
_SAID = re.compile(r"(?P<short>[^=:]{1,20}?)\s*(?:=|:|\s[-\u2013]\s)\s*(?P<name>[^=:]+)")
_NAME = re.compile(r"[^\W\d_][^\d]{0,39}")
# What a list of tasters may say of each of them besides a name (common practice).
_NO_NAMES = frozenset([
    "senior", "trainee", "junior", "head", "absent", "present", "late", "left", "right", "yes", "no",
    "male", "female", "guest", "buyer", "ill", "new",
])  # fmt: skip
_NAMES = "names"
_Place = tuple[int, int]


@dataclass(frozen=True)
class NameKey:
    """What one key says, short label -> name; the label of the sheet it stands on, and its cells."""

    file: str
    sheet: str
    names: dict[str, str]
    places: frozenset[_Place]

    def name_of(self, label: str) -> str:
        """The name of a label, itself where the key does not name it."""
        return next((name for short, name in self.names.items() if plain(short) == plain(label)), label)


def keys_on(sheet: Sheet) -> list[NameKey]:
    """The keys that may stand on a sheet as it was read."""
    if sheet.headers is not None or not 1 < len(sheet) <= _LARGEST:
        return []
    filled = sheet.filled
    keys: list[NameKey] = []
    for cells in (*_side_by_side(sheet, filled), *_in_one_cell(sheet), *_along_a_line(sheet, filled)):
        names = _key([(short, name) for short, name, _ in cells])
        places = frozenset(at for _, _, ats in cells for at in ats)
        if names and not any(key.places & places for key in keys) and {*map(plain, names)} <= _elsewhere(sheet, places):
            keys.append(NameKey(sheet.file, sheet.label, names, places | _heading(sheet, filled, places)))
    return keys


def _side_by_side(sheet: Sheet, filled: np.ndarray) -> Iterable[list[tuple[str, str, list[_Place]]]]:
    """Runs of lines whose two cells stand alone among those around them, either way round."""
    wide = np.pad(filled, ((0, 0), (1, 2)))
    for c in range(filled.shape[1] - 1):
        alone = wide[:, c + 1] & wide[:, c + 2] & ~wide[:, c] & ~wide[:, c + 3]
        for rows in _runs(alone):
            left, right = sheet.columns[c], sheet.columns[c + 1]
            pairs = [(tidy(left.at(r)), tidy(right.at(r)), [(r, c), (r, c + 1)]) for r in rows]
            for some in (pairs, pairs[1:]):  # the first line may head the key
                yield some
                yield [(name, short, at) for short, name, at in some]


def _in_one_cell(sheet: Sheet) -> Iterable[list[tuple[str, str, list[_Place]]]]:
    """Pairs such as `T1 = Elm`, in cells next to one another or several in one."""
    runs: dict[_Place, list[tuple[str, str, list[_Place]]]] = {}
    for r, c in np.argwhere(np.column_stack([column.mask(_pairs_in) for column in sheet.columns])).tolist():
        run = runs.pop((r - 1, c), None) or runs.pop((r, c - 1), [])
        runs[r, c] = run + [(short, name, [(r, c)]) for short, name in _pairs_in(sheet.columns[c].at(r))]
    return runs.values()


def _pairs_in(content: object) -> list[tuple[str, str]]:
    """The pairs a cell is made of, [] where it holds anything besides."""
    said = [_SAID.fullmatch(part.strip()) for part in re.split(r"[,;\n]", tidy(content))]
    return [(m["short"].strip(), m["name"].strip()) for m in said if m] if all(said) else []


def _along_a_line(sheet: Sheet, filled: np.ndarray) -> Iterable[list[tuple[str, str, list[_Place]]]]:
    """Lines of pairs in turn: `T1 | Elm | T2 | Yew`."""
    for r in np.flatnonzero((filled.sum(axis=1) >= 4) & (filled.sum(axis=1) % 2 == 0)).tolist():
        places = [(r, int(c)) for c in np.flatnonzero(filled[r])]
        texts = [tidy(sheet.columns[c].at(r)) for r, c in places]
        yield [(a, b, [p, q]) for a, b, p, q in zip(texts[::2], texts[1::2], places[::2], places[1::2], strict=True)]


def _runs(mask: np.ndarray) -> list[list[int]]:
    edges = np.flatnonzero(np.diff(np.concatenate([[False], mask, [False]]).astype(np.int8)))
    return [list(range(a, b)) for a, b in pairwise(edges.tolist()) if mask[a] and b - a > 1]


def _key(pairs: list[tuple[str, str]]) -> dict[str, str]:
    """What pairs say, {} where they are no key: few short labels, each once, of names without digits, each once."""
    names = dict(pairs)
    short = all(_SHORT.fullmatch(s) or role_of(re.sub(r"[\W\d]+$", "", s)) == TASTER for s, _ in pairs)
    other = all(_NAME.fullmatch(n) and not are_numbers([n]).any() and plain(n) != plain(s) for s, n in pairs)
    once = len({plain(s) for s, _ in pairs}) == len(pairs) == len({plain(n) for _, n in pairs})
    told = all(_NUMBERED.fullmatch(s) or has_digit(s) or _shortens(s, n) for s, n in pairs)
    return names if len(pairs) > 1 and short and other and once and told else {}


def _shortens(short: str, name: str) -> bool:
    """Whether a label is the beginning of a name, or its initials."""
    label = plain(short).rstrip(".")
    return plain(name).startswith(label) or "".join(word[0] for word in plain(name).split()) == label


def _elsewhere(sheet: Sheet, places: Collection[_Place]) -> set[str]:
    """Everything, as `plain` text, that stands on a sheet but at some places."""
    found = set[str]()
    for c, column in enumerate(sheet.columns):
        rows = np.ones(len(sheet), bool)
        rows[[r for r, at in places if at == c]] = False
        found |= {plain(column.values[code]) for code in np.unique(column.codes[rows])}
    return found


def _heading(sheet: Sheet, filled: np.ndarray, places: Collection[_Place]) -> set[_Place]:
    """The cells of a line directly over a key that hold words alone, such as `Taster | Name` or `Key`."""
    top, columns = min(r for r, _ in places) - 1, {c for _, c in places}
    if top < 0 or len(columns) > 2:
        return set()
    over = [c for c in np.flatnonzero(filled[top]).tolist() if c in columns]
    beside = {min(columns) - 1, max(columns) + 1} & set(np.flatnonzero(filled[top]).tolist())
    words = [tidy(sheet.columns[c].at(top)) for c in over]
    return set() if beside or not words or any(map(has_digit, words)) else {(top, c) for c in over}


def without_keys(sheet: Sheet, keys: list[NameKey]) -> Sheet:
    """The sheet with nothing in the cells of some keys."""
    columns, places = list(sheet.columns), {at for key in keys for at in key.places}
    for c in {c for _, c in places}:
        codes = columns[c].codes.copy()
        codes[[r for r, at in places if at == c]] = len(columns[c].values)
        columns[c] = replace(columns[c], codes=codes, values=[*columns[c].values, ""])
    return replace(sheet, columns=columns) if keys else sheet


def met_by(key: NameKey, tables: list[Table]) -> bool:
    """Whether a key names tasters or descriptors of some tables: two of its labels at the least are met."""
    return any(_names(key, role, table) for table in tables for role in (TASTER, DESCRIPTOR))


def _labels(table: Table, role: str) -> set[str]:
    """The labels of a key of a table, as `plain` text."""
    found = {*table.across.get(role, ())} | {v for factor in table.factors(role).values() for v in factor.values}
    if role == DESCRIPTOR and not found:
        found = {n for n, r in zip(table.names, table.roles, strict=True) if r == ""}
    if role == TASTER and not found:
        found = {table.sheet.name}
    return {plain(label) for label in found} - {""}


def _names(key: NameKey, role: str, table: Table) -> bool:
    """Whether a key speaks of labels of a role: descriptors are named by words of the trade, tasters by others.

    Where the room has said what a heading names, the label stands in the heading alone.
    """
    labels, heads = _labels(table, role), {*map(plain, table.headers)}
    met = [s for s, n in key.names.items() if plain(s) in labels or (plain(n) in labels and plain(s) in heads)]
    words = sum(map(is_descriptor_word, key.names.values())) * 2 >= len(key.names)
    alone = role == TASTER and len(labels) == 1
    return bool(met) and (len(met) > 1 or alone) and words == (role == DESCRIPTOR)


def named_by_keys(tables: list[Table], keys: list[NameKey], inquiry: Inquiry) -> tuple[list[Table], list[Note]]:
    """Tables whose tasters and descriptors have the names that keys of their file give them.

    A key that may say something else of the tasters than their names is asked about.
    """
    notes: list[Note] = []
    found = []
    for table in tables:
        mine = [key for key in keys if key.file == table.sheet.file]
        own = [key for key in mine if key.sheet == table.sheet.label] or mine
        for key in own:
            for role in (TASTER, DESCRIPTOR):
                if _names(key, role, table):
                    answer = _asked(table, key, inquiry) if role == TASTER else _NAMES
                    if answer == _NAMES:
                        notes += [
                            (f"{role} {s!r}", n, "a key beside the scores names it") for s, n in key.names.items()
                        ]
                        table = _renamed(table, role, key)  # noqa: PLW2901 - the same table, named
                    elif not answer:
                        table.flaws.append(doubt())
        found.append(table)
    return found, list(dict.fromkeys(notes))


def _asked(table: Table, key: NameKey, inquiry: Inquiry) -> str:
    """Whether a key gives the names of tasters: asked where it may tell what they are."""
    said = [plain(name) for name in key.names.values()]
    doubtful = any(
        {*n.split()} & (_NO_NAMES | DAY_PARTS) or n in STAGES or is_day(n) or len(n.split()) > 3 for n in said
    )
    if not doubtful and all(name[0].isupper() or not name[0].islower() for name in key.names.values()):
        return _NAMES
    shown = ", ".join(f"{short} = {name}" for short, name in list(key.names.items())[:8])
    return inquiry.ask(
        f"Are these the names of the tasters: {shown}?", (table.sheet, None, None, shown, ""), seen=shown,
        guess=LEFT_OUT if doubtful else _NAMES, allowed=(_NAMES, LEFT_OUT),
        reason="a key beside the scores that may name the tasters",
    )  # fmt: skip


def _renamed(table: Table, role: str, key: NameKey) -> Table:
    """The table with other labels of one key."""
    extra, cells, across = dict(table.extra), dict(table._cells), dict(table.across)
    for column, factor in table.factors(role).items():
        mapped = factor.map([key.name_of(v) for v in factor.values])
        if column is None:
            extra[role] = mapped
        else:
            cells[column] = mapped
    if role in across:
        across[role] = [key.name_of(label) for label in across[role]]
    heads = [
        key.name_of(n) if r == "" and role == DESCRIPTOR else n for n, r in zip(table.names, table.roles, strict=True)
    ]
    return replace(table, extra=extra, across=across, names=heads, _cells=cells)
