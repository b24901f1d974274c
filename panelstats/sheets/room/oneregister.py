"""One register from several lists: of one rank all hold, of two ranks the higher; none may contradict another."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import pandas as pd

from panelstats.errors import SheetError
from panelstats.scores.spelling import plain

if TYPE_CHECKING:
    from collections.abc import Sequence

# What may have one row of each register.
_ONE_ROW = {
    "lots": ("lot", "session"), "tasters": ("taster",), "descriptors": ("descriptor", "stage", "class"),
    "sessions": ("session", "stage"),
}  # fmt: skip


class Listed(NamedTuple):
    """One list of a register: how binding it is, how a message names it, and its rows, each labelled by its place."""

    rank: int
    label: str
    table: pd.DataFrame


def one_register(name: str, lists: Sequence[Listed]) -> pd.DataFrame:
    """The register that several lists make together; one left empty takes nothing back.

    Raises
    ------
    SheetError
        Two rows say two things of one lot, taster or descriptor.
    """
    filled = [each for each in lists if len(each.table)]
    binding = [each for each in filled if each.rank == max(one.rank for one in filled)]
    if not binding:
        return lists[0].table
    places = [(each.label, int(at) + 2) for each in binding for at in each.table.index]
    table = binding[0].table if len(binding) == 1 else _together([each.table for each in binding])
    _refuse_contradictions(name, table, places)
    if len(binding) > 1:
        table = table[~table.astype(str).duplicated()]
    return table.reset_index(drop=True)


def _together(tables: list[pd.DataFrame]) -> pd.DataFrame:
    """Rows of all lists; what one list has no column for is empty there."""
    table = pd.concat(tables, ignore_index=True)
    for column in table:
        if not any(column in each and pd.api.types.is_float_dtype(each[column]) for each in tables):
            cells, nothing = table[column].astype(object), False if column == "unsaid" else ""
            table[column] = cells.where(cells.notna(), nothing)
    return table


def _refuse_contradictions(name: str, table: pd.DataFrame, places: list[tuple[str, int]]) -> None:
    """Refuse what says two things of one lot, taster or descriptor: neither is passed over."""
    keys = [column for column in _ONE_ROW.get(name, ()) if column in table]
    if not keys:
        return
    first: dict[tuple[str, ...], tuple[tuple[str, int], dict[str, object]]] = {}
    for place, row in zip(places, table.to_dict("records"), strict=True):
        said = {str(column): value for column, value in row.items() if value == value and value != ""}  # noqa: PLR0124
        before, known = first.setdefault(tuple(plain(str(row[key])) for key in keys), (place, said))
        for column in said.keys() & known.keys() - {*keys}:
            if said[column] != known[column]:
                raise SheetError(
                    f"the register {name} says two things of {keys[0]} {row[keys[0]]}",
                    where=f"{_both(before, place)}, column {column}, values {known[column]!r} and {said[column]!r}",
                    do="keep the one that is right",
                )


def _both(one: tuple[str, int], other: tuple[str, int]) -> str:
    if one[0] == other[0]:
        return f"{one[0]}, rows {one[1]} and {other[1]}"
    return f"{one[0]}, row {one[1]}, and {other[0]}, row {other[1]}"
