"""What somebody said that headings mean: it always wins over what they look like."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from panelstats.errors import DesignError
from panelstats.scores.cells import DESCRIPTOR, SCORE
from panelstats.scores.spelling import plain
from panelstats.sheets.content.languages import FOREIGN
from panelstats.sheets.content.roles import DERIVED, FACT, GIVEN, LEFT_OUT, WORD, role_of

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

_FACTS = {plain(word): name for name in ("grade", "garden") for word in FOREIGN[name]}
_OWN = {LEFT_OUT: LEFT_OUT, DERIVED: DERIVED, WORD: WORD, "fact": FACT}  # words of ours that no sheet uses


@dataclass(frozen=True)
class Heading:
    """What a heading means here: our word, the descriptor it scores, other keys it names, and since when."""

    heading: str
    means: str
    descriptor: str
    keys: dict[str, str]
    since: str


class Wishes:
    """What the user said about headings: their heading -> our word, a descriptor's name, or None to leave it out.

    Parameters
    ----------
    given : mapping, optional
        As for `columns=`.
    register : sequence of Heading
        The register `headings`; what is given wins over it.
    """

    def __init__(self, given: Mapping[str, str | None] | None, register: Sequence[Heading] = ()) -> None:
        self.as_typed = {plain(header): header for header in (given or {})}
        self.given = {plain(header): word for header, word in (given or {}).items()}
        self.register = {plain(row.heading): row for row in register if plain(row.heading) not in self.given}
        self.met: set[str] = set()

    def role(self, header: object) -> tuple[str, str | None]:
        """The role of a header and the name it takes; role "left out" where the user said so."""
        text = plain(header)
        if text in self.given:
            self.met.add(text)
            return _meant(self.given[text])
        if text in self.register:
            row = self.register[text]
            self.met.add(text)
            scored = plain(row.means) in ("", SCORE, DESCRIPTOR)  # any other meaning beats the name that was prefilled
            if scored and (row.descriptor or (row.means == SCORE and not role_of(header))):
                return GIVEN, row.descriptor or str(header)
            return _meant(None if plain(row.means) == LEFT_OUT else row.means)
        return role_of(header), _FACTS.get(text)

    def says(self, header: object) -> bool:
        """Whether anybody said what a heading means."""
        return plain(header) in self.given or plain(header) in self.register

    def keys(self, header: object) -> dict[str, str]:
        """Lot, taster, pot and stage that the register says a heading names."""
        row = self.register.get(plain(header))
        return {} if row is None else row.keys

    def scores(self, header: object) -> str:
        """The descriptor that the register says a heading scores, "" where it is the one of the whole sheet."""
        row = self.register.get(plain(header))
        return "" if row is None else row.descriptor

    @property
    def since(self) -> list[str]:
        """The dates from which headings that were met have been read as they are."""
        return sorted({row.since for text, row in self.register.items() if text in self.met and row.since})

    def and_also(self, header: str, word: str) -> Wishes:
        """The same wishes and one more."""
        given = {self.as_typed[k]: w for k, w in self.given.items()}
        new = Wishes({**given, header: word}, list(self.register.values()))
        new.met = self.met
        return new

    def refuse_unmet(self, headers: list[str]) -> None:
        """Refuse a header that no sheet has: a misspelt instruction must not pass as obeyed."""
        unmet = [self.as_typed[text] for text in self.given if text not in self.met]
        if unmet:
            raise DesignError(
                f"no sheet has a column {unmet[0]!r}", where=f"columns={{{unmet[0]!r}: ...}}",
                do=f"use one of the headers found: {', '.join(headers[:30])}",
            )  # fmt: skip


def _meant(word: str | None) -> tuple[str, str | None]:
    if word is None:
        return LEFT_OUT, None
    role = _OWN.get(plain(word)) or role_of(word)
    return (role, None) if role else (GIVEN, word)
