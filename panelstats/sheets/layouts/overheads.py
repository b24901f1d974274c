"""Several rows of headings over the marks: what each names."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from typing import TYPE_CHECKING

from panelstats.errors import SheetError
from panelstats.scores.cells import DESCRIPTOR, LOT, SESSION, STAGE, TASTER
from panelstats.scores.spelling import plain
from panelstats.sheets.content.roles import DERIVED, FACT, GIVEN, LEFT_OUT, STAGES, role_of
from panelstats.sheets.layouts.laying import placed, told_roles
from panelstats.sheets.tables.headers import spread_right
from panelstats.sheets.tables.headings import Level, Meaning, meaning_of, stripped
from panelstats.sheets.tables.lotrows import LotRow
from panelstats.sheets.tables.table import doubt

if TYPE_CHECKING:
    from collections.abc import Sequence

    from panelstats.sheets.tables.headers import Header
    from panelstats.sheets.tables.table import Context, Table

# What headings over groups of lots may tell.
_GROUPS = ("garden", "grade", "kind", f"{TASTER}s", f"{DESCRIPTOR}s", f"{SESSION}s", LEFT_OUT)
_WHY = {
    "rows": "two rows of headings, and nothing tells which is the taster and which the descriptor",
    "parts": "headings of two parts, and nothing tells what the second names",
}


def several_across(table: Table, marks: list[int], levels: list[Level], context: Context) -> Table:
    """Several rows of headings: what each names; asked where nothing tells."""
    told = told_roles(table, context)
    if DESCRIPTOR not in told and {TASTER, LOT} <= told and all(plain(x) in STAGES for x in levels[0].distinct):
        told = told - {STAGE}
    meaning = meaning_of(levels, told, context.room.listed)
    if meaning is not None and (over := _over_own_lots(levels, meaning.roles)) is not None:
        return _grouped(table, marks, levels, over, context)
    if meaning is not None and meaning.rivals:
        meaning = asked_levels(table, levels, meaning, context)
    if meaning is None:
        heads = " over ".join(", ".join(lv.distinct[:6]) for lv in levels)
        raise SheetError(
            "rows of headings that nobody could tell apart", where=f"{table.sheet.label}, headings {heads}",
            do="write taster, lot or descriptor at the side of each row of headings",
        )  # fmt: skip
    return placed(table, marks, levels, meaning.roles, context.named)


def _over_own_lots(levels: Sequence[Level], roles: Sequence[str]) -> int | None:
    """The row of headings that groups the lots: every lot has a column of its own, under one of few labels."""
    if len(levels) != 2 or LOT not in roles or len(set(levels[roles.index(LOT)].labels)) < len(levels[0].labels):
        return None
    at = 1 - roles.index(LOT)
    nested = 1 < len(levels[at].distinct) < len(levels[at].labels)
    return at if nested and roles[at] in (TASTER, DESCRIPTOR) and not levels[at].corner else None


def _grouped(table: Table, marks: list[int], levels: list[Level], over: int, context: Context) -> Table:
    """The table whose lots stand in groups under headings: what these tell is asked."""
    heads = ", ".join(levels[over].distinct[:6])
    answer = context.inquiry.ask(
        f"What do the headings over the lots tell: {heads}?", (table.sheet, None, marks[0], heads, ""),
        seen=f"{heads} over {', '.join(levels[1 - over].distinct[:6])}", guess="garden", allowed=_GROUPS,
        reason="headings over groups of lots, and nothing tells what they name",
    )  # fmt: skip
    lots = levels[1 - over]
    if answer in (f"{TASTER}s", f"{DESCRIPTOR}s", f"{SESSION}s"):
        roles = (answer.removesuffix("s"), LOT)
        return placed(table, marks, [levels[over], lots], roles, context.named)
    laid = placed(table, marks, [lots], (LOT,), context.named)
    if not answer:
        return replace(laid, flaws=[*laid.flaws, doubt()])
    if answer == LEFT_OUT:
        return laid.noting((f"headings {heads} of {table.sheet.label}", "left out", "as answered"))
    labels = dict(zip(marks, levels[over].labels, strict=True))
    said = [labels.get(c, "") for c in range(len(table.headers))]
    return replace(laid, told=(*laid.told, LotRow(-1, FACT, answer, said)))


def asked_levels(
    table: Table, levels: Sequence[Level], meaning: Meaning, context: Context, what: str = "rows"
) -> Meaning:
    """What rows of headings, or parts of each, name, as the room says; the likeliest while it has not."""
    ways = (meaning.roles, *meaning.rivals)
    spelled = {" over ".join(f"{role}s" for role in way): way for way in ways}
    over = " over ".join(", ".join(lv.distinct[:6]) for lv in levels)
    answer = context.inquiry.ask(
        f"What do the {what} of headings name: {over}?", (table.sheet, None, None, over, ""),
        seen=over, guess=next(iter(spelled)), allowed=tuple(spelled),
        reason=_WHY[what],
    )  # fmt: skip
    if not answer:
        table.flaws.append(doubt())
    return Meaning(spelled[answer or next(iter(spelled))])


def levels_over(table: Table, header: Header, marks: list[int]) -> list[Level]:
    """The rows of headings over the columns of marks, spread to the right, each with the word at its side."""
    keys = [r not in ("", GIVEN, DERIVED) for r in table.roles]
    levels = []
    for row in header.rows:
        spread = spread_right(row, keys) if row is not header.rows[-1] and _written_once(row, marks) else row
        labels = [spread[c] for c in marks]
        side = [row[c] for c, key in enumerate(keys) if key and row[c] and row[c] != table.headers[c]]
        if any(labels):
            level = stripped(labels)
            levels.append(replace(level, corner=next((x for x in reversed(side) if role_of(x)), "")))
    if len(levels) > 1:
        levels = [lv for lv in levels[:-1] if len(lv.distinct) > 1 or plain(lv.distinct[0]) in STAGES] + levels[-1:]
    return levels


def _written_once(row: list[str], marks: list[int]) -> bool:
    """Whether a row of headings leaves cells empty between its labels, none of which stands twice side by side."""
    filled = [n for n, c in enumerate(marks) if row[c]]
    beside = any(row[a] and row[a] == row[b] for a, b in pairwise(marks))
    return len(filled) < 2 or (filled[-1] - filled[0] + 1 > len(filled) and not beside)
