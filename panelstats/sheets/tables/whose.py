"""Whether names over tables or of sheets are those of tasters or of gardens: asked where no lot stands under two."""

from __future__ import annotations

from itertools import combinations
from typing import TYPE_CHECKING

from panelstats.scores.cells import TASTER
from panelstats.sheets.content.roles import LEFT_OUT

if TYPE_CHECKING:
    from collections.abc import Collection, Sequence

    from panelstats.sheets.files.grid import Sheet
    from panelstats.sheets.room.inquiry import Inquiry

GARDEN = "garden"
_WAYS = {f"{TASTER}s": TASTER, "gardens": GARDEN, LEFT_OUT: ""}


def fact_of(fact: str, label: str) -> str:
    """What a note says of a garden or grade that is told of a sheet."""
    return f"garden of {label}" if fact == GARDEN else f"grade of {label}"


def share_no_lot(lots: Sequence[Collection[str]]) -> bool:
    """Whether no two of several tables hold the same lot, and each holds one."""
    return all(lots) and not any({*a} & {*b} for a, b in combinations(lots, 2))


def asked_whose(names: Sequence[str], sheet: Sheet, inquiry: Inquiry) -> tuple[str, bool]:
    """What names tell of the marks under them, a taster or a garden or nothing, and whether the room said so."""
    shown = ", ".join(names)
    answer = inquiry.ask(
        f"What do these names over lots of their own tell: {shown}?", (sheet, None, None, shown, ""), seen=shown,
        guess=f"{TASTER}s", allowed=tuple(_WAYS), reason="names of tasters or gardens, and no lot under two of them",
    )  # fmt: skip
    return _WAYS[answer or f"{TASTER}s"], bool(answer)
