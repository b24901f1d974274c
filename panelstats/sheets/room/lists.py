"""Lists that lie among score sheets and hold no scores: answers of difference tests, weighings of leaf, the stock."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from panelstats.scores.spelling import plain, tidy
from panelstats.sheets.content.roles import REMARK, role_of, without_unit
from panelstats.sheets.content.wishes import Wishes

if TYPE_CHECKING:
    from panelstats.sheets.files.grid import Sheet

NEEDED = {"answers": ("taster", "answer"), "densities": ("mass", "volume"), "stock": ("lot",), "lots": ("lot",)}
ORDER = {
    "answers": ["session", "test", "kind", "taster", "trial", "order", "answer", "code", "plan"],
    "densities": ["lot", "grade", "state", "replicate", "mass", "volume", "taps"],
    "stock": ["lot", "kilograms", "cost", "least", "most"],
    "lots": ["lot", "kind", "grade", "elevation", "class", "garden", "role"],
}
# Other headings of a list of stock (common practice).
_STOCK = {"kg": "kilograms", "kgs": "kilograms", "stock": "kilograms", "net kg": "kilograms", "price": "cost",
          "cost per kg": "cost", "price per kg": "cost", "min": "least", "max": "most"}  # fmt: skip
A_LIST = "a list"  # what notes say of such a sheet; why: which one
NO_SCORES = ("answers", "densities", "stock")
_BOUNDS = {"least", "most"}


def list_kind(sheet: Sheet) -> str:
    """Which list a sheet is, by its headings alone; "" where it may hold anything else.

    Every heading must be a word of the list, or a remark or date beside it: one more, and scores are looked for. A list
    of lots and kilograms is the stock where it bounds their shares or its name says so, else facts of lots.
    """
    heads = [head for head in (sheet.headers or map(tidy, sheet.row(0))) if head] if len(sheet) else []
    for name in NO_SCORES:
        words = {word_of(head, name, Wishes(None)) for head in heads if role_of(head) not in (REMARK, "session")}
        if {*NEEDED[name]} <= words <= {*ORDER[name]} and (name != "stock" or _is_stock(sheet, words)):
            return name
    return ""


def _is_stock(sheet: Sheet, words: set[str]) -> bool:
    named = "stock" in plain(sheet.name or Path(sheet.file).stem).split()
    return "kilograms" in words and (named or bool(words & _BOUNDS))


def word_of(header: object, name: str, wishes: Wishes) -> str:
    """A heading in the words of a list."""
    text = plain(header)
    if text in wishes.given:
        wishes.met.add(text)
        return wishes.given[text] or ""
    if without_unit(header) in ORDER[name]:
        return without_unit(header)
    role, _ = wishes.role(header)
    return role if role in ORDER[name] else _STOCK.get(text, text) if name == "stock" else text
