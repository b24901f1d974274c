"""What each kind of difference test asks, how often guessing is right, and in which orders it is served."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from panelstats.errors import DesignError


@dataclass(frozen=True)
class Kind:
    """One kind of difference test, as the standards name it.

    Attributes
    ----------
    name : str
        The kind's name, such as "triangle".
    right : str
        What counts as a right answer.
    chance : Fraction or None
        Share of right answers that guessing gives; None where the taster's own criterion decides (a-not-a,
        same-different).
    positions : int
        Servings the answer names positions among (a reference served first is not counted).
    picks : int
        How many positions an answer names.
    orders : tuple of str
        The balanced set of serving orders; a reference stands before a colon.
    two_sided : bool
        Either direction is an answer: d' has a sign, and the test is two-sided.
    most_d : float
        Largest d' the curve tells from a perfect score.
    """

    name: str
    right: str
    chance: Fraction | None
    positions: int
    picks: int
    orders: tuple[str, ...]
    two_sided: bool = False
    most_d: float = 40.0

    @property
    def guess(self) -> float:
        """Chance as a float; a forced choice has one, the other kinds raise `DesignError`."""
        return float(forced_kind(self.name).chance or 0)


_PAIR = ("AB", "BA")
_TWO_OF_FIVE = (
    "AAABB AABAB AABBA ABAAB ABABA ABBAA BAAAB BAABA BABAA BBAAA "
    "AABBB ABABB ABBAB ABBBA BAABB BABAB BABBA BBAAB BBABA BBBAA"
)

# ISO 4120, ISO 10399, ISO 5495, ISO 8588, ASTM E2139, E3009 (from memory): what is served and asked.
KINDS: dict[str, Kind] = {
    kind.name: kind
    for kind in (
        Kind("triangle", "the odd one of three is named", Fraction(1, 3), 3, 1,
             ("AAB", "ABA", "BAA", "ABB", "BAB", "BBA")),
        Kind("duo-trio", "the serving that matches the reference is named", Fraction(1, 2), 2, 1,
             ("A:AB", "A:BA", "B:AB", "B:BA")),
        Kind("paired", "A is named (either answer counts)", Fraction(1, 2), 2, 1, _PAIR, two_sided=True),
        Kind("2-afc", "A, the one expected to be stronger, is named", Fraction(1, 2), 2, 1, _PAIR),
        Kind("3-afc", "the single one, expected to be stronger, is named", Fraction(1, 3), 3, 1,
             ("ABB", "BAB", "BBA")),
        Kind("tetrad", "the four are sorted into the right two pairs", Fraction(1, 3), 4, 2,
             ("AABB", "ABAB", "ABBA", "BAAB", "BABA", "BBAA")),
        Kind("two-out-of-five", "the two that stand against three are named", Fraction(1, 10), 5, 2,
             tuple(_TWO_OF_FIVE.split()), most_d=12.0),
        Kind("a-not-a", "A is called A, and what is not A is called not A", None, 1, 1, ("A", "N")),
        Kind("same-different", "a mixed pair is called different", None, 2, 1, ("AA", "BB", "AB", "BA")),
    )
}  # fmt: skip
FORCED = tuple(name for name, kind in KINDS.items() if kind.chance is not None)
SIGNAL = tuple(name for name, kind in KINDS.items() if kind.chance is None)


def kind_of(name: str) -> Kind:
    """The kind of that name.

    Parameters
    ----------
    name : str
        A key of `KINDS`.

    Raises
    ------
    DesignError
        No kind has that name.

    Examples
    --------
    >>> kind_of("duo-trio").chance
    Fraction(1, 2)
    """
    if name not in KINDS:
        raise DesignError(
            "no such kind of difference test", where=f"kind={name!r}", do=f"use one of {', '.join(KINDS)}"
        )
    return KINDS[name]


def forced_kind(name: str) -> Kind:
    """The forced-choice kind of that name, which has a chance of its own.

    Raises
    ------
    DesignError
        The kind is unknown, or rests on the taster's own criterion.

    Examples
    --------
    >>> forced_kind("tetrad").guess
    0.3333333333333333
    """
    kind = kind_of(name)
    if kind.chance is None:
        raise DesignError(
            f"{name} is no forced choice: guessing has no fixed share of right answers",
            where=f"kind={name!r}",
            do=f"use one of {', '.join(FORCED)}; {name} is judged from hits and false answers",
        )
    return kind
