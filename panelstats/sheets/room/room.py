"""Registers: what a room declares about its sessions, lots, descriptors, tasters, codes and marks."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from functools import cached_property

import pandas as pd

from panelstats.catalogues import LANGUAGES
from panelstats.scores.cells import DESCRIPTOR, LOT, TASTER
from panelstats.scores.spelling import plain
from panelstats.sheets.content.text import mark_text
from panelstats.sheets.content.wishes import Heading

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
UNSAID = "?"  # stands where only a person can say; asked again until somebody does
ALLOWED = {
    ("sessions", "pots"): ("shared", "own", "same"),
    ("descriptors", "kind"): ("score", "fault", "words", "money"),
    ("descriptors", "wanted"): ("more", "less", "either"),
    ("tasters", "role"): ("senior", "trainee"),
    ("lots", "role"): ("control", "standard", "trial", "repeat"),
    ("room", "language"): LANGUAGES,
}
# Keys, besides the descriptor, that a heading may name.
HEADED = ("stage", "taster", "pot", "lot", "session", "look")


@dataclass(frozen=True, eq=False)
class Room:
    """The registers by name; text columns hold tidy text ("" where empty), number columns numbers (NaN where empty).

    `limits` are the ends of scales that headings tell, by descriptor as `plain` text: used where no register says any.
    """

    registers: dict[str, pd.DataFrame] = field(default_factory=dict)
    limits: dict[str, tuple[float, float]] = field(default_factory=dict)

    def get(self, name: str) -> pd.DataFrame | None:
        """A register, None where the room has none."""
        return self.registers.get(name)

    @cached_property
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
        return {mark: worth for mark, worth, taster, descriptor in self._marks if mark and not taster + descriptor}

    @property
    def own_marks(self) -> list[tuple[str, float, str, str]]:
        """Marks that are one taster's, or one descriptor's: mark, worth, taster, descriptor, "" for all."""
        return [row for row in self._marks if row[2] or row[3]]

    @property
    def _marks(self) -> list[tuple[str, float, str, str]]:
        table = self.get("marks")
        rows = [] if table is None else table.to_dict("records")
        return [
            (mark_text(r["mark"]), r.get("worth", math.nan), plain(r.get("taster", "")), plain(r.get("descriptor", "")))
            for r in rows if not r.get("unsaid", False)
        ]  # fmt: skip

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
        ends = ("low", "high", "step")
        found = {(r["descriptor"], r.get("class", "")): tuple(r.get(k, math.nan) for k in ends) for r in rows}
        known = {plain(name): (name, group) for name, group in found if not group}
        for name, limits in self.limits.items():
            said = found.get(known.get(name, (name, "")), (math.nan,) * 3)
            if all(map(math.isnan, said[:2])):
                found[known.get(name, (name, ""))] = (*limits, said[2])
        return found
