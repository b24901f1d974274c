"""What runs across a table: one thing a heading, or two, or several rows of headings, each row another."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import TYPE_CHECKING

from panelstats.scores.cells import DESCRIPTOR, LOT, POT, SCORE, SESSION, TASTER
from panelstats.scores.dates import is_day
from panelstats.scores.spelling import plain
from panelstats.sheets.content.roles import (
    DERIVED,
    FACT,
    LEFT_OUT,
    REMARK,
    STAGES,
    WORDS,
    is_descriptor_word,
    role_of,
    two_roles,
    without_remark,
)
from panelstats.sheets.content.text import has_digit
from panelstats.sheets.content.totals import is_total, may_be_total
from panelstats.sheets.layouts.laying import placed, told_roles
from panelstats.sheets.layouts.overheads import asked_levels, levels_over, several_across
from panelstats.sheets.tables.figures import worked_out
from panelstats.sheets.tables.headings import (
    counted_out,
    evidence,
    factored,
    meaning_of,
    strangers,
    stripped,
    telling,
)
from panelstats.sheets.tables.table import doubt
from panelstats.sheets.tables.totalrows import numbers_of

if TYPE_CHECKING:
    from panelstats.sheets.tables.headers import Header
    from panelstats.sheets.tables.headings import Level
    from panelstats.sheets.tables.table import Context, Table


# How people are written: with a title, or their initials before the name.
_PERSON = re.compile(r"(?i:(?:mr|mrs|ms|miss|dr|prof|herr|frau|mme|shri|smt)\b)|(?:[A-Z]\. ?)+[A-Z]")
_SEVERAL = re.compile(r"\s*[,;/&+]\s*|\s+and\s+", re.IGNORECASE)


def laid_across(table: Table, header: Header, marks: list[int], context: Context) -> Table:
    """The table, its side known, with what its columns of marks are headed by put over them."""
    levels = levels_over(table, header, marks)
    table = _without_panel(table, levels)
    if len(levels) > 1 and marks:
        return _with_remarks(several_across(table, marks, levels, context), header)
    return _with_remarks(_single_across(table, marks, context), header)


def _with_remarks(table: Table, header: Header) -> Table:
    """The table whose columns of remarks stand under the taster or lot named over them, or by their heading."""
    columns = [*table.where(REMARK), *table.where(WORDS)]
    across = {role: list(labels) for role, labels in table.across.items()}
    for c in columns if across else ():
        upper = [row[c] or (next(filter(None, row[c::-1]), "") if len(columns) > 1 else "") for row in header.rows[:-1]]
        said = {*map(plain, (*upper, without_remark(table.headers[c])))}
        for labels in across.values():
            labels[c] = next((x for x in labels if x and plain(x) in said), "")
    return replace(table, across=across)


def _without_panel(table: Table, levels: list[Level]) -> Table:
    """The table without a whole panel named above it as if it were one taster, where as many columns are numbered."""
    above = table.extra.get(TASTER)
    names = [name for name in _SEVERAL.split(str(above.values[0])) if name.strip()] if above is not None else []
    numbered = [[str(n + 1) for n in range(len(names))] == level.distinct for level in levels]
    if len(names) < 2 or not any(numbered):
        return table
    note = (f"tasters of {table.sheet.label}", ", ".join(names), "named above the headings, which number them")
    notes = [n for n in table.notes if n[0] != f"{TASTER} of {table.sheet.label}"]
    extra = {key: factor for key, factor in table.extra.items() if key != TASTER}
    return replace(table, extra=extra, notes=[*notes, note])


def _single_across(table: Table, marks: list[int], context: Context) -> Table:
    """One row of headings, each naming one thing, or two in one text."""
    kept = [c for c in marks if not is_total(table.headers[c])]
    for some in (kept, _without_figures(table, kept, context)):
        if found := _as_product(table, some, context):
            return _figures_said(found, [c for c in kept if c not in some])
    odd = strangers([table.headers[c] for c in kept], kept)
    if odd and (found := _as_product(table, [c for c in kept if c not in odd], context)):
        return _strangers_asked(found, odd, context)
    labels = [table.headers[c] for c in kept]
    role = _one_across(table, kept, context)
    level = stripped(labels)
    if role == LOT and LOT in table.roles:  # the corner named the headings, not the column below it
        table = table.taking(dict.fromkeys(table.where(LOT), TASTER))
    if role == SCORE:
        notes = [(f"column {table.headers[c]!r}", "the score", "no other column can be") for c in kept]
        return table.taking(dict.fromkeys(kept, SCORE), *notes)
    return table if role == DESCRIPTOR else placed(table, kept, [level], (role,), context.named)


def _as_product(table: Table, kept: list[int], context: Context) -> Table | None:
    """The table with headings that each name two things, None where they are no product."""
    if len(kept) < 2:
        return None
    told = told_roles(table, context)
    for pair in factored([table.headers[c] for c in kept]):
        meaning = meaning_of(pair, told, context.room.listed)
        if meaning is not None and meaning.rivals and counted_out(pair, meaning):
            asked = asked_levels(table, pair, meaning, context, "parts")
            return placed(table, kept, list(pair), asked.roles, context.named)
        if meaning is not None and telling(pair, meaning):
            return placed(table, kept, list(pair), meaning.roles, context.named)
    return None


def _strangers_asked(table: Table, odd: list[int], context: Context) -> Table:
    """The table of headings as a product, with the few columns beside it as the room says."""
    for c in odd:
        head, seen = table.headers[c], ", ".join(table.cells(c).said[:3])
        answer = context.inquiry.ask(
            f"What stands under the heading {head!r}?", (table.sheet, None, c, "", head), seen=f"{seen} ...",
            guess=FACT, allowed=(FACT, REMARK, LEFT_OUT),
            reason="a heading of one thing beside headings of two, such as a descriptor and a taster",
        )  # fmt: skip
        table = table.taking({c: answer or FACT})
        table.flaws.extend([] if answer else [doubt(column=c)])
    return table


def _without_figures(table: Table, marks: list[int], context: Context) -> list[int]:
    """The columns but for those whose heading may name a figure and whose numbers are one, worked out from the rest."""
    maybe = [c for c in marks if may_be_total(table.headers[c])]
    rest = [c for c in marks if c not in maybe]
    if not maybe or len(rest) < 2:
        return marks
    numbers = numbers_of(table, [*rest, *maybe], context.room)
    others = numbers[:, : len(rest)].T
    figures = {c for at, c in enumerate(maybe) if worked_out(numbers[:, len(rest) + at], others)}
    return [c for c in marks if c not in figures]


def _figures_said(table: Table, figures: list[int]) -> Table:
    """The table with columns of worked-out figures left out, and that said."""
    why = "worked out from the others: arithmetic agrees with its heading"
    notes = [(f"column {table.headers[c]!r} of {table.sheet.label}", "left out", why) for c in figures]
    return table.taking(dict.fromkeys(figures, DERIVED), *notes)


def _one_across(table: Table, marks: list[int], context: Context) -> str:
    """What a single row of headings names: descriptors unless these stand in a column."""
    labels = [table.headers[c] for c in marks]
    told = told_roles(table, context)
    corner = two_roles(table.headers[0])
    if table.roles[0] in corner:
        return next(role for role in corner if role != table.roles[0])
    if SESSION not in told and len(marks) > 1 and all(map(is_day, labels)):
        return SESSION
    # Words are descriptors, whatever the tabs beside this one are named for: it sums them up.
    of_its_own = LOT in told and not table.tells(DESCRIPTOR) and all(map(is_descriptor_word, labels))
    if table.is_down or (DESCRIPTOR in told and not of_its_own):
        if LOT not in told or _lots_beside_names(table, labels):
            return LOT
        return SCORE if TASTER in told or len(marks) == 1 else TASTER
    if LOT not in told and TASTER in told and len(marks) > 1 and not any(map(is_descriptor_word, labels)):
        return _lots_or_words(table, marks, context)
    return _tasters_or_words(table, marks, context) if marks and not table.tells(TASTER) else DESCRIPTOR


def _lots_beside_names(table: Table, labels: list[str]) -> bool:
    """Whether the corner `Lot` names the headings, all numbers of lots, and names without a digit stand below it."""
    sure = evidence(stripped(labels), LOT) > evidence(stripped(labels), TASTER) + 1
    return len(labels) > 1 and sure and table.roles[0] == LOT and not any(map(has_digit, table.cells(0).said))


def _tasters_or_words(table: Table, marks: list[int], context: Context) -> str:
    """Headings where nothing tells the taster: those listed, or of a sheet named for its word, are tasters."""
    labels = [table.headers[c] for c in marks]
    known = {*map(plain, labels)} <= context.room.listed.get(TASTER, set())
    # A stage over the headings may be that of words of the room's own.
    titled = table.title and not {*plain(table.title).split()} & {*STAGES}
    named = titled or is_descriptor_word(table.sheet.name) or all(map(_PERSON.match, labels))
    worded = any(map(is_descriptor_word, labels))
    if known or (named and not worded):
        return TASTER
    if TASTER not in context.named and len(labels) > 1 and not worded:
        return _asked_which(table, marks, context)
    return DESCRIPTOR


def _asked_which(table: Table, marks: list[int], context: Context) -> str:
    """Headings that may be tasters or descriptors of the room's own: asked, unless their looks tell."""
    level = stripped([table.headers[c] for c in marks])
    if level.prefix and role_of(level.prefix) == TASTER:
        return TASTER
    numbered = all(map(has_digit, level.labels))
    if level.prefix or (not numbered and any(map(has_digit, level.labels))) or SCORE in table.roles:
        return DESCRIPTOR
    if not numbered:
        return _asked_of(table, marks, (TASTER, DESCRIPTOR), context)
    side = [label for c in table.where(LOT) for label in table.cells(c).said]
    over = LOT if side and not any(map(has_digit, side)) else POT
    return _asked_of(table, marks, (over, TASTER, DESCRIPTOR) if over == LOT else (TASTER, POT, DESCRIPTOR), context)


def _lots_or_words(table: Table, marks: list[int], context: Context) -> str:
    """Headings beside a column of tasters, where nothing else can be the lot: asked, unless they are numbered."""
    if all(has_digit(table.headers[c]) for c in marks):
        return LOT
    return _asked_of(table, marks, (LOT, DESCRIPTOR), context)


def _asked_of(table: Table, marks: list[int], roles: tuple[str, ...], context: Context) -> str:
    """What a row of headings names, as the room says; the first of the roles while it has not."""
    heads = ", ".join(stripped([table.headers[c] for c in marks]).labels[:12])
    ways = {f"{role}s": role for role in roles}
    either = " or ".join(ways)
    answer = context.inquiry.ask(
        f"Are these headings {either}: {heads}?", (table.sheet, None, marks[0], "", table.headers[marks[0]]),
        seen=heads, guess=next(iter(ways)), allowed=tuple(ways), reason=f"headings that may be {either}",
    )  # fmt: skip
    if not answer:
        table.flaws.append(doubt())
    return ways[answer or next(iter(ways))]
