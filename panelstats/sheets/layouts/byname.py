"""Headings nobody understood: each asked about by name, with some of what stands below it, all in one go."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from panelstats.scores.cells import DESCRIPTOR, LOOK, LOT, POT, SCORE, SESSION, TASTER
from panelstats.scores.dates import date_in
from panelstats.scores.spelling import plain
from panelstats.sheets.content.roles import CODE, FACT, LEFT_OUT, NUMBERING, REMARK, is_descriptor_word
from panelstats.sheets.content.text import are_numbers, has_digit, is_empty
from panelstats.sheets.content.wordscales import guessed_worth

if TYPE_CHECKING:
    from panelstats.sheets.content.wishes import Wishes
    from panelstats.sheets.files.grid import Factor
    from panelstats.sheets.tables.table import Context, Table

MEANINGS = (SCORE, LOT, TASTER, POT, SESSION, REMARK, FACT, LEFT_OUT)
NO_LOT = "no column says which lot was tasted"
_INVOICE = re.compile(r"(?:garden |estate )?inv(?:oice)?s?\.?(?: ?(?:no|nr|number)\.?)?")
_UNKNOWN = "a heading nobody understood"
_SAMPLES = 3
_MOST_POTS = 6  # a column of 1 to this at most may number pots (ours)
_FREE_WORDS = 12  # distinct texts beyond which a column holds remarks (ours)


@dataclass(frozen=True)
class _Look:
    """What a column looks like: its distinct contents, and whether they are dates, numbers, fractions, or words."""

    cells: Factor
    texts: list[str]
    numbers: np.ndarray

    @classmethod
    def at(cls, table: Table, column: int) -> _Look:
        cells = table.cells(column)
        return cls(cells, cells.said, are_numbers(cells.said))

    @property
    def numeric(self) -> bool:
        return bool(self.numbers.sum() * 2 > len(self.texts))

    @property
    def dated(self) -> bool:
        return bool(self.texts) and not self.numeric and all(date_in(x) for x in self.texts)

    @property
    def counts(self) -> bool:
        """Whether a column counts 1, 2, ... up to a few."""
        return set(self.texts) == {str(n + 1) for n in range(len(self.texts))} and 1 < len(self.texts) <= _MOST_POTS

    @property
    def names(self) -> int:
        """How much a column looks like one of lots: 2 codes or numbers, 1 words, 0 figures as scores are."""
        if self.numeric:
            whole = all(x.isdigit() for x in self.texts)
            return 2 if whole and (max(map(len, self.texts)) > 1) and set(self.texts) - {"10"} else 0
        return 2 if any(map(has_digit, self.texts)) else 1


def samples(table: Table, column: int) -> str:
    """The first three different contents below a heading."""
    found = table.cells(column).said
    return ", ".join(found[:_SAMPLES]) + (" ..." if len(found) > _SAMPLES else "")


def guesses(table: Table, context: Context, *, lotless: bool) -> dict[int, str]:
    """Columns to be asked about and what each may be, the taster's and the pot's only where nobody told them.

    Where nothing tells the lot (`lotless`) its column is looked for too.
    """
    heads = [c for c, h in enumerate(table.headers) if h and not is_descriptor_word(h)]
    looks = {c: _Look.at(table, c) for c in heads if table.roles[c] in ("", SCORE)}
    if lotless and not any(look.names for look in looks.values() if not look.dated):
        looks |= {c: _Look.at(table, c) for c in heads if table.roles[c] in (FACT, NUMBERING)}
    looks = {c: look for c, look in looks.items() if look.texts}
    found: dict[int, str] = {}
    if lotless:
        found |= dict.fromkeys(_lots(table, looks), LOT)
    told = {role for role in (TASTER, POT, SESSION) if table.tells(role)} | set(context.named)
    keys = [c for c, word in found.items() if word == LOT] or table.where(LOT) or table.where(CODE)
    for role, picked in ((TASTER, _taster), (POT, _pot), (SESSION, _session)):
        rest = {c: look for c, look in looks.items() if c not in found and table.roles[c] == ""}
        at = None if role in told else picked(table, rest, keys + [c for c in found if c not in keys])
        if at is not None:
            found[at] = role
    unknown = {c: look for c, look in looks.items() if table.roles[c] in ("", SCORE) and c not in found}
    return found | {c: _rest(look, table, keys) for c, look in unknown.items()}


def lots_by_invoice(table: Table, wishes: Wishes) -> list[int]:
    """The column of invoices, and that of gardens where only both tell rows apart: an invoice of a garden is a lot."""
    beside = [c for role in (TASTER, POT, LOOK, SESSION, DESCRIPTOR) for c in table.where(role)]
    heads = {c: plain(table.headers[c]) for c in table.where(FACT) if not wishes.says(table.headers[c])}
    invoices = [c for c, head in heads.items() if _INVOICE.fullmatch(head) and len(table.cells(c).said) > 1]
    gardens = [c for c, head in heads.items() if {head, table.names[c]} & {"garden", "estate"}]
    if len(invoices) != 1:
        return []
    ways = [invoices, *([c, *invoices] for c in gardens)]
    return min(ways, key=lambda way: _most_alike(table, [*way, *beside]))


def hides_keys(table: Table, context: Context) -> bool:
    """Whether a column of names that nobody understood may be the tasters, or one that counts the pots."""
    if table.is_down or SCORE in table.roles or not (table.where(LOT) or table.where(CODE)):
        return False
    unknown = [c for c, h in enumerate(table.headers) if h and table.roles[c] == "" and not is_descriptor_word(h)]
    if not unknown or DESCRIPTOR in table.extra:
        return False
    return any(word in (TASTER, POT) for word in guesses(table, context, lotless=False).values())


def ask_by_name(table: Table, found: dict[int, str], context: Context, *, lotless: bool) -> dict[int, str]:
    """The answers to what each heading with a guess names, "" where nobody gave one."""
    heads = ", ".join(h for h in table.headers[:30] if h)
    answers = {}
    for c, guess in found.items():
        why = f"{NO_LOT}; headings found: {heads}" if lotless and guess == LOT else _UNKNOWN
        seen = samples(table, c)
        answers[c] = context.inquiry.ask(
            f"What does the heading {table.headers[c]!r} name?", (table.sheet, None, c, seen, table.headers[c]),
            seen=seen, guess=guess, allowed=MEANINGS, reason=why,
        )  # fmt: skip
    return answers


def _lots(table: Table, looks: dict[int, _Look]) -> list[int]:
    """The column most like one of lots; two columns of facts where only both tell the rows of a taster apart."""
    counted = {c for c, look in looks.items() if look.counts and table.roles[c] == ""}  # facts may: invoices 1, 2, 3
    likely = [c for c, look in looks.items() if not look.dated and c not in counted and len(look.texts) > 1]
    likely = likely or list(looks)
    if not likely:
        return []
    best = max(likely, key=lambda c: (table.roles[c] == "", looks[c].names, -c))
    if table.roles[best] == "":
        return [best]
    beside = [c for role in (TASTER, POT) for c in table.where(role)]
    ways = [[c] for c in likely] + [[a, b] for n, a in enumerate(likely) for b in likely[n + 1 :]]
    return min(ways, key=lambda way: (_most_alike(table, [*way, *beside]), len(way), way))


def _most_alike(table: Table, columns: list[int]) -> int:
    """How many rows at most say the same in some columns."""
    return int(np.bincount(_codes(table, columns)).max(initial=0)) if columns else 0


def _taster(table: Table, looks: dict[int, _Look], keys: list[int]) -> int | None:
    """The column of short words that stand with many lots each, and as often with each lot."""
    lots = len(np.unique(_codes(table, keys))) if keys else 0
    if not lots or _most_alike(table, keys) < 2:
        return None
    found = []
    for c, look in looks.items():
        words, alike = len(look.texts), _most_alike(table, [*keys, c])
        if look.numeric or look.dated or not 1 < words <= len(table.rows) / 2:
            continue
        filled = (~look.cells.mask(is_empty)).sum()
        even = alike * words <= 2 * len(table.rows) / lots + words
        scale = alike > 1 and guessed_worth(look.texts)
        short = np.mean([len(x.split()) for x in look.texts]) <= 3
        if filled * 10 >= 9 * len(table.rows) and even and short and not scale:
            found.append((alike, c))
    return min(found)[1] if found else None


def _codes(table: Table, columns: list[int]) -> np.ndarray:
    """A code per row: rows that say the same in some columns share one."""
    key = np.zeros(len(table.rows), np.int64)
    for c in columns:
        cells = table.cells(c)
        key = np.unique(key * (len(cells.values) + 1) + cells.codes, return_inverse=True)[1]
    return key


def _pot(table: Table, looks: dict[int, _Look], keys: list[int]) -> int | None:
    """The column that counts a few, where only it tells rows apart."""
    beside = keys + [c for role in (TASTER, SESSION) for c in table.where(role) if c not in keys]
    alike = _most_alike(table, beside)
    counts = [c for c, look in looks.items() if look.counts and len(look.texts) == alike]
    return next((c for c in counts if _most_alike(table, [*beside, c]) == 1), None)


def _session(_table: Table, looks: dict[int, _Look], _keys: list[int]) -> int | None:
    return next((c for c, look in looks.items() if look.dated), None)


def _rest(look: _Look, table: Table, keys: list[int]) -> str:
    """What a column that is no key may hold: scores where numbers stand, facts, or remarks."""
    if look.numeric or guessed_worth(look.texts):
        return SCORE
    lots = _codes(table, keys) if keys else np.zeros(len(table.rows), np.int64)
    constant = len({*zip(lots.tolist(), look.cells.codes.tolist(), strict=True)}) == len(np.unique(lots))
    return FACT if constant or (len(look.texts) <= _FREE_WORDS and not keys) else REMARK
