"""What a room declared: what tells, when parts of a season are added, a register's word from a guess of a part."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping

UNPLACED = float("inf")


@dataclass(frozen=True)
class Declared:
    """What registers said of the labels of a part.

    Attributes
    ----------
    places : dict of str to dict of str to float
        Row of a label in the room's own register, by register (lots, tasters, descriptors); none for labels that no
        register names. They come first, in that order.
    lasting : frozenset of str
        Lots that are one lot in every session: by the register, or by name a control or standard.
    said : frozenset of (str, str)
        Label and column where a register spoke and a guess would have stood in otherwise; the label is "" for classes.
    beside : frozenset of str
        Columns of lots that stood beside the marks and in no register: the first that is written holds.
    """

    places: Mapping[str, Mapping[str, float]] = field(default_factory=dict)
    lasting: frozenset[str] = frozenset()
    said: frozenset[tuple[str, str]] = frozenset()
    beside: frozenset[str] = frozenset()

    def __add__(self, other: Declared) -> Declared:
        places = {}
        for name in {**self.places, **other.places}:
            one, two = self.places.get(name, {}), other.places.get(name, {})
            places[name] = {label: min(p.get(label, UNPLACED) for p in (one, two)) for label in {**one, **two}}
        return Declared(places, self.lasting | other.lasting, self.said | other.said, self.beside | other.beside)

    def respelled(self, register: str, new: Mapping[str, str]) -> Declared:
        """The same of labels of one register in other spellings."""
        places = {new.get(label, label): at for label, at in self.places.get(register, {}).items()}
        lasting = frozenset(new.get(lot, lot) for lot in self.lasting) if register == "lots" else self.lasting
        said = frozenset((new.get(label, label), column) for label, column in self.said)
        return replace(self, places={**self.places, register: places}, lasting=lasting, said=said)

    def place(self, register: str, label: str) -> float:
        """Where a label stands in its register, after all others where it stands in none."""
        return self.places.get(register, {}).get(label, UNPLACED)
