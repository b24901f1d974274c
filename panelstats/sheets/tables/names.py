"""Names of files and sheets: what they tell about sessions, lots, tasters and stages where no column does."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from panelstats.scores.cells import DESCRIPTOR, LOOK, LOT, POT, SCORE, SESSION, STAGE, TASTER
from panelstats.scores.dates import is_generic, label_parts
from panelstats.scores.spelling import plain, tidy
from panelstats.sheets.content.limits import without_limits
from panelstats.sheets.content.roles import (
    CODE,
    FACT,
    MONEY,
    NUMBERING,
    REMARK,
    STAGES,
    are_grades,
    is_descriptor_word,
    role_of,
)
from panelstats.sheets.content.text import has_digit
from panelstats.sheets.files.grid import Factor
from panelstats.sheets.tables.headings import stripped
from panelstats.sheets.tables.table import doubt
from panelstats.sheets.tables.whose import GARDEN, asked_whose, fact_of, share_no_lot

if TYPE_CHECKING:
    from collections.abc import Collection

    from panelstats.sheets.files.grid import Sheet
    from panelstats.sheets.room.inquiry import Inquiry
    from panelstats.sheets.tables.table import Flaw, Note, Table

_VERSION = re.compile(
    r"[ _-]+\(?(?:corrected|correction|corr|final|revised|rev|mended|fixed|updated|korrigiert|corrig[eé])\)?$", re.I
)
_AGAIN = re.compile(r"(?P<name>.+?)(?:\s*\((?P<look>[2-9])\)|[\s_-]+(?:copy|kopie|copie|copia))", re.I)
_SECOND, _ANOTHER = "a second look", "another taster"
_GRADE = "grade"
_SOME = 2  # lots from which a sheet is one of a taster or a garden (ours)
_WHY = "from the name of the sheet or file"
EMPTY_SESSION = "its session column is empty: all of it is one session"


@dataclass(frozen=True)
class Named:
    """What the names of one sheet and its file tell: the sitting, and a label that is none of the usual words."""

    sitting: str
    free: str
    stage: str = ""


def named(sheets: list[Sheet]) -> list[Named]:
    """What the names of each sheet and its file tell."""
    tabs: dict[str, set[str]] = {}
    for sheet in sheets:
        tabs.setdefault(sheet.file, set()).add(sheet.name)
    beside = {plain(label) for file, names in tabs.items() for label in (Path(file).stem, *names)}
    return [_named(sheet, len(tabs[sheet.file]) == 1, beside, several=len(tabs) > 1) for sheet in sheets]


def _named(sheet: Sheet, alone: bool, beside: set[str], *, several: bool) -> Named:
    """What the names of one sheet and its file tell, `beside` all names there are; of several tabs the tab's first."""
    stem = Path(sheet.file).stem
    sitting, free = "", ""
    for label in (stem, sheet.name) if alone else (sheet.name, stem):
        tells = label != stem or several  # the name of the only file tells none of its tabs from the others
        version = _VERSION.sub("", label)
        first = version if plain(version) in beside else label  # a later version is called as the first one
        bare = without_limits(first)  # "(1-10)" is no date
        when, rest = ("", first) if bare != first and is_descriptor_word(bare) else label_parts(first)
        sitting = sitting or when
        if tells and not free and rest and not is_generic(rest) and plain(rest) not in STAGES:
            free = rest
    for folder in reversed(Path(sheet.file).parts[:-1]):
        sitting = sitting or label_parts(folder)[0]
    return Named(sitting, free, STAGES.get(plain(sheet.name), ""))


def _common_off(labels: list[str]) -> dict[str, str]:
    """Labels without the words that all of them hold (`Scores alder`, `Scores beech`)."""
    split = [re.split(r"[\s_]+", x) for x in labels]
    common = set.intersection(*({plain(w) for w in words} for words in split)) if len(split) > 1 else set()
    return {
        x: " ".join(w for w in words if plain(w) not in common) or x for x, words in zip(labels, split, strict=True)
    }


def _role_of_names(free: list[str]) -> str:
    """What the names of sheets name where they differ: pots, grades, lots, descriptors or tasters."""
    level = stripped(free)
    if level.prefix:
        return role_of(level.prefix)
    if are_grades(free):
        return _GRADE
    if all(has_digit(without_limits(x)) for x in free):
        return LOT
    return DESCRIPTOR if sum(map(is_descriptor_word, free)) * 2 >= len(free) else TASTER


def told_by_names(sheets: list[Sheet]) -> frozenset[str]:
    """Roles that the names of the sheets may tell: the lot where all are numbers, else the taster."""
    free = {name.free for name in named([s for s in sheets if not _lists_lots(s)])}
    return frozenset([_role_of_names(sorted(free - {""}))]) if len(free) > 1 else frozenset()


def _lists_lots(sheet: Sheet) -> bool:
    """Whether all headings in the first row of a sheet tell of lots: it holds no marks, and its name no key of any."""
    heads = [head for head in (sheet.headers or map(tidy, sheet.row(0))) if head] if len(sheet) else []
    roles = {*map(role_of, heads)}
    return LOT in roles and len(heads) > 1 and roles <= {LOT, FACT, MONEY, REMARK, NUMBERING, SESSION}


def from_names(tables: list[Table], listed: Collection[str], inquiry: Inquiry) -> tuple[list[Table], list[Note]]:
    """Session, lot, taster and stage of each table from the names of its sheet and file, where no column tells them.

    A tab that a spreadsheet named as the copy of a taster's, and that holds other marks, is asked about; so are names
    that may be of gardens; `listed` are the tasters the room knows, as `plain` text.
    """
    notes: list[Note] = []
    lists = [t for t in tables if t.is_list]
    tables = [t for t in tables if not t.is_list]
    found = named([t.sheet for t in tables])
    frees = sorted({f.free for f in found} - {""})
    varied = len({f.free for f in found}) > 1
    role, doubts = _settled(tables, frees, _role_of_names(frees) if varied else "", listed, inquiry)
    shown = dict(zip(frees, stripped(frees).labels, strict=True)) if varied else {}
    if role == TASTER:
        shown = _common_off(list(shown.values())) | _common_off(frees)
    sole = [_sole_taster(table) for table in tables]
    lots_told = all(table.tells(LOT) or table.tells(CODE) for table in tables)
    own = lots_told and all(sole) and len({*sole}) == len(sole)  # names of the sheets are the tasters', in any form
    new = []
    for table, name in zip(tables, found, strict=True):
        label = shown.get(name.free, "") if role and not (own and role == TASTER) else ""
        if role in (_GRADE, GARDEN):
            table, label = _with_fact(table, role, label, notes), ""  # noqa: PLW2901 - with its fact
        told, flaws = _told(table, name, (role, label), set(shown.values()), inquiry)
        extra = {key: Factor.constant(value, len(table.rows)) for key, value, _ in told}
        notes += [(_of(table.sheet.label, key), value, why) for key, value, why in told if why]
        new.append(replace(table, extra={**table.extra, **extra}, flaws=[*table.flaws, *flaws, *doubts]))
    return [*new, *lists], notes


def _with_fact(table: Table, name: str, said: str, notes: list[Note]) -> Table:
    """The table with a fact of all its lots, unless a column tells it."""
    if not said or name in map(plain, table.names):
        return table
    notes.append((fact_of(name, table.sheet.label), said, _WHY))
    return table.with_fact(name, np.full(len(table.rows), said, object))


def _settled(
    tables: list[Table], free: list[str], role: str, listed: Collection[str], inquiry: Inquiry
) -> tuple[str, list[Flaw]]:
    """What the names of sheets tell, seen beside their lots; the doubt while nobody said.

    A lot has one grade and one garden, and is mostly tasted by all.
    """
    if role not in (_GRADE, TASTER):
        return role, []
    lots = [
        {plain(v) for f in t.factors(LOT).values() for v in f.values} | {*t.across.get(LOT, ())} - {""} for t in tables
    ]
    apart = share_no_lot(lots)
    if role == _GRADE:
        return role if apart else TASTER, []
    known = stripped(free).prefix or {*map(plain, free)} <= {*listed} or any(t.tells(TASTER) for t in tables)
    if not apart or known or max(map(len, lots)) < _SOME:
        return role, []
    said, sure = asked_whose(free, tables[0].sheet, inquiry)
    return said, [] if sure else [doubt()]


def _of(label: str, role: str) -> str:
    of = {LOT: f"lot of {label}", TASTER: f"taster of {label}", SESSION: f"session of {label}"}
    return of.get(role, f"{role} of {label}")


def _told(
    table: Table, name: Named, free: tuple[str, str], others: set[str], inquiry: Inquiry
) -> tuple[list[Note], list[Flaw]]:
    """Keys of one table that its names tell, and why ("" where that is not said); the doubt while nobody answered.

    `free` is what such names tell as a rule, and this one.
    """
    role, label = free
    told = [(STAGE, name.stage, "")] if name.stage and not table.tells(STAGE) else []
    flaws: list[Flaw] = []
    if label and role in (POT, DESCRIPTOR) and not table.tells(role) and (role == POT or _one_kind(table)):
        told.append((role, label, _WHY))
        label = ""
    if label and not table.tells(LOT) and not table.tells(CODE):
        told.append((LOT, label, _WHY))
        label = ""
    if not table.tells(TASTER):
        label, look, flaws = _once_more(table, label, others, inquiry)
        told += [(LOOK, look, "")] if look else []
        told.append((TASTER, label or "one taster", _WHY if label else "no column names the taster"))
        label = ""
    empty = table.is_empty(SESSION) and SESSION not in table.across
    if empty or not table.tells(SESSION):
        named_for = role_of(stripped([name.free]).prefix)
        session = name.sitting or ("" if named_for in (LOT, TASTER, POT) or _is_taster(table, label) else label)
        told.append((SESSION, session or "1", EMPTY_SESSION if empty else _WHY if session else ""))
    return told, flaws


def _once_more(table: Table, label: str, others: set[str], inquiry: Inquiry) -> tuple[str, str, list[Flaw]]:
    """Whose marks a tab such as `elm (2)` beside `elm` holds, which look they are, and the doubt while nobody said."""
    copy = _AGAIN.fullmatch(label)
    first = next((other for other in sorted(others) if copy and plain(other) == plain(copy["name"])), "")
    if copy is None or not first:
        return label, "", []
    answer = inquiry.ask(
        f"Does the sheet {label!r} hold a second look of {first}, or marks of another taster?",
        (table.sheet, None, None, label, ""), seen=f"{label}, beside {first}",
        guess=_SECOND, allowed=(_SECOND, _ANOTHER), reason="a sheet named as a copy of another, with other marks",
    )  # fmt: skip
    again = answer != _ANOTHER
    return first if again else label, (copy["look"] or "2") if again else "", [] if answer else [doubt()]


def _one_kind(table: Table) -> bool:
    """Whether the marks of a table are all of one descriptor that it does not name itself."""
    return bool(table.across) or len(table.where("")) + len(table.where(SCORE)) == 1


def _is_taster(table: Table, label: str) -> bool:
    """Whether the label only repeats the one taster whose sheet it is."""
    name = _sole_taster(table)
    return bool(name) and name in plain(label)


def _sole_taster(table: Table) -> str:
    """The one taster that a sheet names, as `plain` text; "" where it names none, or several."""
    names = {plain(v) for factor in table.factors(TASTER).values() for v in factor.values} - {""}
    return names.pop() if len(names) == 1 and TASTER not in table.across else ""
