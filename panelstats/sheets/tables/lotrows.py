"""Rows of facts where lots run across: garden, grade or invoice written over or under the lots, a cell for each."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from panelstats.scores.cells import LOT, SCORE
from panelstats.sheets.content.roles import FACT, GIVEN, KEY_ROLES, MONEY, NUMBERING, role_of, two_roles
from panelstats.sheets.content.text import has_digit
from panelstats.sheets.tables.headers import SEARCHED, spread_right

if TYPE_CHECKING:
    from panelstats.sheets.content.wishes import Wishes
    from panelstats.sheets.files.grid import Sheet

_TOLD = (FACT, MONEY, NUMBERING)
_UNSAID = {"", GIVEN, SCORE}  # what a register may call a column headed by a lot


class LotRow(NamedTuple):
    """One row of facts: its index in the sheet, the fact's role and name, and what it says in every column."""

    row: int
    role: str
    name: str
    said: list[str]


def rows_of_facts(sheet: Sheet, wishes: Wishes) -> tuple[LotRow, ...]:
    """The rows next to a row of lots whose first cell names a fact."""
    if sheet.headers is not None:
        return ()
    rows = sheet.lines(0, SEARCHED)
    lots = next((r for r, row in enumerate(rows) if _names_lots(row, wishes)), None)
    if lots is None:
        return ()
    found = []
    for way in (range(lots - 1, -1, -1), range(lots + 1, len(rows))):
        for r in way:
            fact = _fact(rows, r, lots, wishes)
            if fact is None:
                break
            found.append(fact)
    return tuple(sorted(found))


def _names_lots(row: list[str], wishes: Wishes) -> bool:
    """Whether a row holds lots: after keys, the lot among them, or after any corner at all where all hold a digit."""
    filled = [cell for cell in row if cell]
    roles = [wishes.role(cell)[0] or next(iter(two_roles(cell)), "") for cell in filled]
    side = next((n for n, role in enumerate(roles) if role not in KEY_ROLES), len(roles))
    lots = set(filled[side:])
    named = any(LOT in (role_of(cell), *two_roles(cell)) for cell in filled[:side])
    cornered = side or not row[0]
    numbered = all(map(has_digit, lots))
    return bool(cornered) and len(lots) > 1 and {*roles[side:]} <= _UNSAID and (named or numbered)


def _fact(rows: list[list[str]], at: int, lots: int, wishes: Wishes) -> LotRow | None:
    """The fact that a row tells of the lots, None where it tells none."""
    filled = [cell for cell in rows[at] if cell]
    if len(filled) < 2 or any(wishes.role(cell)[0] for cell in filled[1:]):
        return None
    role, name = wishes.role(filled[0])
    if role not in _TOLD:
        return None
    over = [c for c, cell in enumerate(rows[lots]) if cell and c and wishes.role(cell)[0] not in KEY_ROLES]
    said = [cell if c in over else "" for c, cell in enumerate(rows[at])]
    return LotRow(at, role, name or filled[0], _over_its_lots(said, over) if role == FACT else said)


def _over_its_lots(said: list[str], over: list[int]) -> list[str]:
    """A label written once over the lots it holds for, given to each of them."""
    full = [c for c in over if said[c]]
    if not full or full[0] != over[0] or len(full) * 2 > len(over):
        return said
    return spread_right(said, [c not in over for c in range(len(said))])
