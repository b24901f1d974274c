"""Registers: what a room declares about its sessions, lots, descriptors, tasters, codes and marks."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

import pandas as pd

from panelstats.catalogues import LANGUAGES
from panelstats.errors import DesignError, SheetError
from panelstats.scores.cells import DESCRIPTOR, LOOK, LOT, POT, SCORE, SESSION, TASTER
from panelstats.scores.spelling import plain, tidy
from panelstats.sheets.content.roles import CODE, FACT, NUMBERING, PLAN, REMARK, role_of, without_unit
from panelstats.sheets.content.text import mark_text
from panelstats.sheets.content.wishes import Heading
from panelstats.sheets.files.sources import ROOM, find_files, passed_over, read_bytes, sheets_of
from panelstats.sheets.room.lists import list_kind
from panelstats.sheets.room.oneregister import Listed, one_register

if TYPE_CHECKING:
    from collections.abc import Mapping

    from panelstats.sheets.files.grid import Sheet

# Register -> its first columns, the one that must be there first.
REGISTERS: dict[str, tuple[str, ...]] = {
    "sessions": ("session", "date", "pots", "order", "blind", "opened", "vessel", "grams", "millilitres", "minutes",
                 "milk", "stage"),
    "lots": ("lot", "session", "kind", "grade", "elevation", "class", "garden", "made", "randomised", "opened", "tea",
             "moment", "role"),
    "descriptors": ("descriptor", "stage", "kind", "low", "high", "step", "tolerance", "wanted", "weight", "tells",
                    "class"),
    "tasters": ("taster", "role", "joined", "left"),
    "codes": ("code", "session", "lot", "pot", "look", "taster", "plan"),
    "sets": ("taster", "session", "test", "kind", "trial", "order", "code", "right", "plan"),
    "marks": ("mark", "worth", "taster", "descriptor"),
    "headings": (
        "heading", "where", "seen", "means", "stage", "descriptor", "taster", "pot", "lot", "session", "look", "since",
    ),
    "questions": ("what", "where", "seen", "guess", "answer"),
    "answers": ("taster", "session", "test", "kind", "trial", "order", "answer", "code"),
    "densities": ("lot", "grade", "state", "replicate", "mass", "volume", "taps"),
    "room": ("language",),
}  # fmt: skip
# How binding a list is: one among the sheets, one in room.xlsx, one that was named as the room's.
_AMONG, _BESIDE, _NAMED = range(3)
UNSAID = "?"  # stands where only a person can say; asked again until somebody does
_NUMBERS = {
    "descriptors": ("low", "high", "step", "tolerance", "weight"),
    "sessions": ("grams", "millilitres", "minutes"),
    "codes": ("look",),
    "marks": ("worth",),
    "densities": ("mass", "volume"),
}
_SIZES = {
    "densities": ("mass", "volume"),
    "descriptors": ("step", "tolerance"),
    "sessions": ("grams", "millilitres", "minutes"),
}
ALLOWED = {
    ("sessions", "pots"): ("shared", "own", "same"),
    ("descriptors", "kind"): ("score", "fault", "words", "money"),
    ("descriptors", "wanted"): ("more", "less", "either"),
    ("tasters", "role"): ("senior", "trainee"),
    ("lots", "role"): ("control", "standard", "trial", "repeat"),
    ("room", "language"): LANGUAGES,
}


_OF_A_KEY = {CODE, LOT, POT, LOOK, SESSION, TASTER, PLAN, FACT, REMARK, NUMBERING}

# Keys, besides the descriptor, that a heading may name.
HEADED = ("stage", "taster", "pot", "lot", "session", "look")


@dataclass(frozen=True, eq=False)
class Room:
    """The registers by name; text columns hold tidy text ("" where empty), number columns numbers (NaN where empty).

    `limits` are the ends of scales that headings tell, by descriptor as `plain` text: used where no register says any.
    """

    registers: dict[str, pd.DataFrame] = field(default_factory=dict)
    source: str = ""
    limits: dict[str, tuple[float, float]] = field(default_factory=dict)

    def get(self, name: str) -> pd.DataFrame | None:
        """A register, None where the room has none."""
        return self.registers.get(name)

    @property
    def listed(self) -> dict[str, set[str]]:
        """Lots, tasters and descriptors that registers list, as `plain` text; no entry where there is no register."""
        named = {role: self.get(f"{role}s") for role in (TASTER, DESCRIPTOR, LOT)}
        return {role: set(table[role].map(plain)) for role, table in named.items() if table is not None}

    @property
    def headings(self) -> list[Heading]:
        """What the register `headings` says, a row each; rows that say nothing are left to the reader."""
        table = self.get("headings")
        rows = [] if table is None else table.to_dict("records")
        found = []
        for row in rows:
            said = {k: str(row.get(k, "")) for k in REGISTERS["headings"]}
            keys = {k: said[k] for k in HEADED if said[k]}
            if row["heading"] and said["means"] != UNSAID and (said["means"] or said["descriptor"] or keys):
                found.append(Heading(row["heading"], said["means"], said["descriptor"], keys, said["since"]))
        return found

    @property
    def worth(self) -> dict[str, float]:
        """Mark -> worth for all tasters and descriptors, NaN where it is a blank."""
        table = self.get("marks")
        if table is None:
            return {}
        everybody = ~_filled(table, "taster") & ~_filled(table, "descriptor")
        worth = table["worth"] if "worth" in table else pd.Series(float("nan"), index=table.index)
        unsaid = table.get("unsaid", pd.Series(False, index=table.index))
        everybody &= ~unsaid.astype(bool)
        return {mark_text(m): w for m, w, all_ in zip(table["mark"], worth, everybody, strict=True) if all_ and m}

    @property
    def own_marks(self) -> list[tuple[str, float, str, str]]:
        """Marks that are one taster's, or one descriptor's: mark, worth, taster, descriptor, "" for all."""
        table = self.get("marks")
        if table is None:
            return []
        rows = [
            (
                mark_text(r["mark"]),
                r.get("worth", float("nan")),
                plain(r.get("taster", "")),
                plain(r.get("descriptor", "")),
            )
            for r in table.to_dict("records")
            if not r.get("unsaid", False)
        ]
        return [row for row in rows if row[2] or row[3]]

    @property
    def kinds(self) -> dict[str, str]:
        """Descriptor as `plain` text -> kind; "score" where the register lists it without one."""
        table = self.get("descriptors")
        if table is None:
            return {}
        kind = table["kind"] if "kind" in table else [""] * len(table)
        return {plain(d): k or "score" for d, k in zip(table["descriptor"], kind, strict=True)}

    @property
    def language(self) -> str:
        """Code of the language in which the room wants to read; "" where it says none."""
        table = self.get("room")
        return "" if table is None else next(filter(None, table["language"]), "")

    @property
    def scales(self) -> dict[tuple[str, str], tuple[float, float, float]]:
        """(descriptor, class) -> low, high, step as declared; class "" for all."""
        table = self.get("descriptors")
        rows = [] if table is None else table.to_dict("records")
        found = {
            (r["descriptor"], r.get("class", "")): tuple(r.get(k, float("nan")) for k in ("low", "high", "step"))
            for r in rows
        }
        known = {plain(name): (name, group) for name, group in found if not group}
        for name, limits in self.limits.items():
            said = found.get(known.get(name, (name, "")), (float("nan"),) * 3)
            if all(map(math.isnan, said[:2])):
                found[known.get(name, (name, ""))] = (*limits, said[2])
        return found


def _filled(table: pd.DataFrame, column: str) -> pd.Series:
    return table[column] != "" if column in table else pd.Series(False, index=table.index)


def is_register(sheet: Sheet, stem: str) -> str:
    """The register a sheet is, by its name and first columns, or as a key of codes; "" where it is none."""
    name = plain(sheet.name or stem)
    if not len(sheet):
        return ""
    heads = sheet.headers or sheet.row(0)
    if name not in REGISTERS:
        return by_headings(sheet)
    return name if REGISTERS[name][0] in [_word(name, head) for head in heads] else ""


def by_headings(sheet: Sheet) -> str:
    """The register that the headings of a sheet are of, whatever it is called; "" where they may be of scores."""
    heads = [tidy(head) for head in (sheet.headers or sheet.row(0))]
    words, roles = {plain(head) for head in heads if head}, {role_of(head) for head in heads if head}
    if {CODE, LOT} <= roles <= _OF_A_KEY:
        return "codes"
    if {"low", "high"} <= words and DESCRIPTOR in roles and not roles & {LOT, TASTER, SCORE}:
        return "descriptors"
    if TASTER in roles and "role" in words and not roles & {LOT, CODE, DESCRIPTOR, SCORE}:
        role = sheet.columns[[plain(head) for head in heads].index("role")]
        return "tasters" if {plain(v) for v in role.values} <= {"role", "", *ALLOWED["tasters", "role"]} else ""
    return list_kind(sheet) if list_kind(sheet) == "densities" else ""


def _word(register: str, header: object) -> str:
    """A register's own word for a header: its columns first, then the synonyms of sheets."""
    text = without_unit(header)
    return text if text in REGISTERS[register] else (role_of(header) or text)


def read_room(room: str | Path | Mapping[str, pd.DataFrame] | None, found: list[Sheet]) -> Room:
    """The room's registers: those given, then those found among the sheets.

    Parameters
    ----------
    room : str, Path, mapping or None
        A workbook or folder of registers, or {register name: DataFrame}.
    found : list of Sheet
        Sheets of the source itself that are registers.
    """
    lists: dict[str, list[Listed]] = {}
    for sheet in found:
        name = is_register(sheet, Path(sheet.file).stem)
        rank = _BESIDE if Path(sheet.file).name == ROOM else _AMONG
        lists.setdefault(name, []).append(_listed(name, _as_frame(sheet), sheet.label, rank))
    if isinstance(room, str | Path):
        for _, error in passed_over(room):
            raise error
        for path in find_files(room):
            for sheet in sheets_of(read_bytes(path), path.name):
                name = is_register(sheet, path.stem)
                if name:
                    lists.setdefault(name, []).append(_listed(name, _as_frame(sheet), sheet.label, _NAMED))
        if not lists:
            raise SheetError(
                "no register was found", where=str(room), do=f"name its sheets or files {', '.join(REGISTERS)}"
            )
    elif room is not None:
        for name, frame in room.items():
            if name not in REGISTERS:
                raise DesignError(
                    f"there is no register {name!r}", where="room=", do=f"use one of {', '.join(REGISTERS)}"
                )
            told = _listed(name, frame.reset_index(drop=True), f"register {name}", _NAMED)
            lists.setdefault(name, []).append(told)
    tables = {name: one_register(name, some) for name, some in lists.items()}
    return Room(
        {name: table for name, table in tables.items() if len(table)}, str(room) if isinstance(room, str | Path) else ""
    )


def _as_frame(sheet: Sheet) -> pd.DataFrame:
    headers = sheet.headers or tuple(tidy(v) for v in sheet.row(0))
    start = 0 if sheet.headers else 1
    data = {c: [column.values[code] for code in column.codes[start:]] for c, column in enumerate(sheet.columns)}
    frame = pd.DataFrame(data, dtype=object)
    frame.columns = pd.Index(headers, dtype=object)
    return frame.loc[:, [h != "" for h in headers]]


def _listed(name: str, frame: pd.DataFrame, label: str, rank: int) -> Listed:
    words = [_word(name, h) if _word(name, h) in REGISTERS[name] else plain(h) for h in frame.columns]
    if REGISTERS[name][0] not in words:
        raise SheetError(
            f"the register {name} has no column {REGISTERS[name][0]}", where=label, do="give it one, spelt so"
        )
    if len(set(words)) < len(words):
        raise SheetError(
            f"the register {name} has a column twice", where=f"{label}: {', '.join(words)}", do="keep one of them"
        )
    table = pd.DataFrame({w: [tidy(v) for v in frame.iloc[:, c]] for c, w in enumerate(words)}, dtype=object)
    table = table[(table != "").any(axis=1)]
    places = (table.index.to_numpy() + 2).tolist()
    if name == "marks" and "worth" in table:
        table["unsaid"] = table["worth"] == UNSAID
    for column in _NUMBERS.get(name, ()):
        if column in table:
            table[column] = [
                _number(v, name, column, f"{label}, row {row}, column {column}")
                for row, v in zip(places, table[column], strict=True)
            ]
    for (register, column), allowed in ALLOWED.items():
        if register == name and column in table:
            table[column] = [
                _allowed(v, allowed, f"{label}, row {row}, column {column}")
                for row, v in zip(places, table[column], strict=True)
            ]
    if name == "descriptors" and {"low", "high"} <= {*table}:
        for row, low, high in zip(places, table["low"], table["high"], strict=True):
            if low >= high:
                raise SheetError(
                    "a scale must end above where it begins",
                    where=f"{label}, row {row}, column high, value {high:g}, with low {low:g}",
                    do="correct low or high",
                )
    return Listed(rank, label, table)


def _number(text: str, register: str, column: str, where: str) -> float:
    if text in ("", UNSAID):
        return float("nan")
    try:
        value = float(text.replace(",", "."))
    except ValueError:
        value = float("nan")
    if not math.isfinite(value):
        raise SheetError(
            "not a number in a register", where=f"{where}, value {text!r}", do="write a plain number or leave it empty"
        )
    if column in _SIZES.get(register, ()) and value <= 0:
        raise SheetError(
            f"a {column} is a number above 0", where=f"{where}, value {text!r}", do="correct it, or leave it empty"
        )
    return value


def _allowed(text: str, allowed: tuple[str, ...], where: str) -> str:
    word = plain(text)
    if word and word not in allowed:
        raise SheetError(
            "a word the register does not know",
            where=f"{where}, value {text!r}",
            do=f"write {', '.join(allowed)}, or leave it empty",
        )
    return word
