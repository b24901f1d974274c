"""Names of files and sheets: what they tell about sessions, lots, tasters and stages where no column does."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from panelstats.scores.cells import DESCRIPTOR, LOOK, LOT, POT, SCORE, SESSION, STAGE, TASTER
from panelstats.scores.dates import is_generic, label_parts
from panelstats.scores.spelling import plain
from panelstats.sheets.content.limits import without_limits
from panelstats.sheets.content.roles import CODE, STAGES, is_descriptor_word, role_of
from panelstats.sheets.content.text import has_digit
from panelstats.sheets.files.grid import Factor
from panelstats.sheets.tables.headings import stripped
from panelstats.sheets.tables.table import doubt

if TYPE_CHECKING:
    from panelstats.sheets.files.grid import Sheet
    from panelstats.sheets.room.inquiry import Inquiry
    from panelstats.sheets.tables.table import Flaw, Note, Table

_VERSION = re.compile(
    r"[ _-]+\(?(?:corrected|correction|corr|final|revised|rev|mended|fixed|updated|korrigiert|corrig[eé])\)?$", re.I
)
_AGAIN = re.compile(r"(?P<name>.+?)(?:\s*\((?P<look>[2-9])\)|[\s_-]+(?:copy|kopie|copie|copia))", re.I)
_SECOND, _ANOTHER = "a second look", "another taster"
EMPTY_SESSION = "its session column is empty: all of it is one session"


@dataclass(frozen=True)
class Named:
    """What the names of one sheet and its file tell: the sitting, and a label that is none of the usual words."""

    sitting: str
    free: str
    stage: str = ""


def named(sheet: Sheet, sheets: list[Sheet]) -> Named:
    """What the names of a sheet and its file tell.

    Parameters
    ----------
    sheet : Sheet
        One sheet.
    sheets : list of Sheet
        All sheets of the source.
    """
    stem = Path(sheet.file).stem
    alone = len({s.name for s in sheets if s.file == sheet.file}) == 1
    sitting, free = "", ""
    for label in (stem, sheet.name) if alone else (sheet.name, stem):
        first = _first_of(label, sheets)
        bare = without_limits(first)  # "(1-10)" is no date
        when, rest = ("", first) if bare != first and is_descriptor_word(bare) else label_parts(first)
        sitting = sitting or when
        if not free and rest and not is_generic(rest) and plain(rest) not in STAGES:
            free = rest
    for folder in reversed(Path(sheet.file).parts[:-1]):
        sitting = sitting or label_parts(folder)[0]
    return Named(sitting, free, STAGES.get(plain(sheet.name), ""))


def _first_of(label: str, sheets: list[Sheet]) -> str:
    """A label without the word that tells a later version, where the first stands beside it."""
    bare = _VERSION.sub("", label)
    beside = {plain(name) for s in sheets for name in (Path(s.file).stem, s.name)}
    return bare if bare != label and plain(bare) in beside else label


def _common_off(labels: list[str]) -> dict[str, str]:
    """Labels without the words that all of them hold (`Scores alder`, `Scores beech`)."""
    split = [re.split(r"[\s_]+", x) for x in labels]
    common = set.intersection(*({plain(w) for w in words} for words in split)) if len(split) > 1 else set()
    return {
        x: " ".join(w for w in words if plain(w) not in common) or x for x, words in zip(labels, split, strict=True)
    }


def _role_of_names(free: list[str]) -> str:
    """What the names of sheets name where they differ: pots, lots, descriptors or tasters."""
    level = stripped(free)
    if level.prefix:
        return role_of(level.prefix)
    if all(has_digit(without_limits(x)) for x in free):
        return LOT
    return DESCRIPTOR if sum(map(is_descriptor_word, free)) * 2 >= len(free) else TASTER


def told_by_names(sheets: list[Sheet]) -> frozenset[str]:
    """Roles that the names of the sheets may tell: the lot where all are numbers, else the taster."""
    free = {named(s, sheets).free for s in sheets}
    return frozenset([_role_of_names(sorted(free - {""}))]) if len(free) > 1 else frozenset()


def from_names(tables: list[Table], inquiry: Inquiry) -> tuple[list[Table], list[Note]]:
    """Session, lot, taster and stage of each table from the names of its sheet and file, where no column tells them.

    A tab that a spreadsheet named as the copy of a taster's, and that holds other marks, is asked about.
    """
    notes: list[Note] = []
    lists = [t for t in tables if t.is_list]
    tables = [t for t in tables if not t.is_list]
    sheets = [t.sheet for t in tables]
    found = [named(s, sheets) for s in sheets]
    frees = sorted({f.free for f in found} - {""})
    varied = len({f.free for f in found}) > 1
    role = _role_of_names(frees) if varied else ""
    shown = dict(zip(frees, stripped(frees).labels, strict=True))
    if role == TASTER:
        shown = _common_off(list(shown.values())) | {x: _common_off(frees)[x] for x in frees}
    new = []
    for table, name in zip(tables, found, strict=True):
        extra, size = dict(table.extra), len(table.rows)
        free, label = shown.get(name.free, "") if varied else "", table.sheet.label
        why = "from the name of the sheet or file"
        if name.stage and not table.tells(STAGE):
            extra[STAGE] = Factor.constant(name.stage, size)
        if free and role in (POT, DESCRIPTOR) and not table.tells(role) and (role == POT or _one_kind(table)):
            extra[role] = Factor.constant(free, size)
            notes.append((f"{role} of {label}", free, why))
            free = ""
        if not table.tells(LOT) and not table.tells(CODE) and free:
            extra[LOT] = Factor.constant(free, size)
            notes.append((f"lot of {label}", free, why))
            free = ""
        if not table.tells(TASTER):
            free, look, flaws = _once_more(table, free, set(shown.values()), inquiry)
            table = replace(table, flaws=[*table.flaws, *flaws])  # noqa: PLW2901 - the same table, in doubt
            extra |= {LOOK: Factor.constant(look, size)} if look else {}
            extra[TASTER] = Factor.constant(free or "one taster", size)
            notes.append((f"taster of {label}", free or "one taster", why if free else "no column names the taster"))
            free = ""
        empty = table.is_empty(SESSION) and SESSION not in table.across
        if empty or not table.tells(SESSION):
            session = name.sitting or ("" if not free or _is_taster(table, free) else free)
            extra[SESSION] = Factor.constant(session or "1", size)
            if empty:
                notes.append((f"session of {label}", session or "1", EMPTY_SESSION))
            elif session:
                notes.append((f"session of {label}", session, why))
        new.append(replace(table, extra=extra))
    return [*new, *lists], notes


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
    columns = table.where(TASTER)
    if not columns:
        return False
    names = {*map(plain, table.cells(columns[0]).met)} - {""}
    return len(names) == 1 and names.pop() in plain(label)
