"""Headers -> roles: which column says the lot, the taster, the pot, and which hold facts, words or scores."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from panelstats.errors import DesignError
from panelstats.scores.cells import DESCRIPTOR, LOOK, LOT, POSITION, POT, SCORE, SESSION, STAGE, TASTER
from panelstats.sheets.text import plain

if TYPE_CHECKING:
    from collections.abc import Mapping

CODE, REMARK, FACT, MONEY, WORDS, FAULT, NUMBERING = "code", "remark", "fact", "money", "words", "fault", "numbering"
WORD = "word"  # a word to mark in a column of its own, where `words` is a column of words written freely
LEFT_OUT, GIVEN, NAMELESS = "left out", "given", "nameless"
KEY_ROLES = (SESSION, LOT, TASTER, POT, LOOK, POSITION, CODE, DESCRIPTOR, STAGE, SCORE)

# Words of the trade (common practice) and of the open standards (ISO 5492, 6658, 8586, 13299: assessor, panellist,
# sample, product, attribute, replicate, intensity).
SYNONYMS: dict[str, tuple[str, ...]] = {
    SESSION: ("session", "sitting", "date", "day", "week", "sale", "sale no", "sale number", "tasting date",
              "session no", "session number", "date of tasting", "tasted on", "date tasted", "seance"),
    LOT: ("lot", "lot no", "lot nr", "lot number", "lots", "sample", "sample no", "sample number", "sample id",
          "product", "tea", "tea no", "lot id", "item", "lote", "muestra", "echantillon", "probe"),
    TASTER: ("taster", "tasters", "assessor", "panellist", "panelist", "judge", "tasted by", "taster name",
             "name of taster", "assessor no", "assessor id", "taster id", "degustateur", "catador"),
    POT: ("pot", "pot no", "pot number", "brew", "cup", "cup no", "bowl", "replicate", "replication", "rep", "tray"),
    LOOK: ("look", "look no", "tasting", "tasting no"),
    POSITION: ("position", "pos", "place", "order", "serving order", "order of serving", "presentation order",
               "order served", "serving position"),
    CODE: ("code", "blind code", "codes", "sample code", "three digit code", "3 digit code", "cup code"),
    DESCRIPTOR: ("descriptor", "attribute", "characteristic", "term", "descriptors", "attributes", "property"),
    STAGE: ("stage",),
    SCORE: ("score", "scores", "rating", "value", "points", "intensity", "mark", "marks", "result", "reading"),
    REMARK: ("remark", "remarks", "comment", "comments", "note", "notes", "observation", "observations", "remarques"),
    MONEY: ("money", "price", "valuation", "value in money", "estimate", "bid", "price per kg", "offer price",
            "reserve price"),
    FACT: ("kg", "kgs", "net kg", "gross kg", "weight", "net weight", "bags", "chests", "packages", "pkgs", "sacks",
           "invoice", "invoice no", "inv", "inv no", "garden", "estate", "grade", "kind", "kind of tea", "type",
           "elevation", "class", "made", "date made", "make", "moment", "role", "warehouse", "producer", "origin",
           "district", "region", "year", "season", "crop", "vessel", "milk", "opened", "randomised", "fact", "facts"),
    WORDS: ("words", "terms", "tasting words"),
    FAULT: ("fault", "faults", "taint", "taints"),
    NUMBERING: ("numbering", "#", "no", "nr", "s no", "sl no", "sr no", "serial", "serial no", "row", "line", "n"),
}  # fmt: skip
_ROLE = {plain(word): role for role, words in SYNONYMS.items() for word in words}
_ROLE["#"] = NUMBERING
_CAMEL = re.compile(r"(?<=[a-z])(?=[A-Z])")
_QUALIFIERS = frozenset(["code", "id", "name", "no", "nr", "number", "label", "date", "of", "the"])
_CURRENCY = re.compile(r"[$€£¥₹]|\b(?:usd|eur|gbp|inr|lkr|kes|cents?|rs|rupees?|shillings?)\b")
STAGES = {
    "dry leaf": "dry leaf", "dry": "dry leaf", "leaf": "dry leaf", "infused leaf": "infused leaf",
    "infused": "infused leaf", "infusion": "infused leaf", "liquor": "liquor", "cup": "liquor",
}  # fmt: skip
_STAGE_FIRST = re.compile(r"(dry leaf|infused leaf|dry|infused|infusion|liquor)[ :./>-]+(?=\S)")


def role_of(header: object) -> str:
    """The role a header names, "" where it names none.

    Examples
    --------
    >>> role_of("Lot No."), role_of("Assessor"), role_of("Dégustateur"), role_of("Brisk")
    ('lot', 'taster', 'taster', '')
    """
    text = plain(_CAMEL.sub(" ", str(header)))
    if text in _ROLE:
        return _ROLE[text]
    if _CURRENCY.search(text):
        return MONEY
    shorter = re.sub(r"\s*\([^)]*\)$", "", text)
    words = [word for word in shorter.split() if word.strip(".") not in _QUALIFIERS]
    return _ROLE.get(shorter) or _ROLE.get(" ".join(words), "") if words else ""


def stage_of(header: object) -> str:
    """The stage a descriptor's own name begins with, "" where it names none.

    Examples
    --------
    >>> stage_of("liquor: colour"), stage_of("dry_evenness"), stage_of("colour")
    ('liquor', 'dry leaf', '')
    """
    found = _STAGE_FIRST.match(plain(header))
    return STAGES[found[1]] if found else ""


# Stems of descriptors in the open vocabularies (ISO 6078, ISO 18449, ISO 5492); they only help to tell apart two rows
# of headings, they never decide what is scored.
_STEMS = (
    "colour", "color", "bright", "brisk", "strength", "body", "pungen", "astring", "flavour", "flavor", "aroma",
    "thick", "point", "character", "malt", "appearance", "infusion", "infused", "liquor", "even", "twist", "style",
    "tip", "neat", "quality", "sweet", "bitter", "mellow", "harsh", "smok", "must", "mould", "taint", "leaf",
    "texture", "odour", "taste", "black", "clean", "green", "dull", "mouthfeel", "acid", "floral", "aftertaste",
    "cream", "raw", "burnt",
)  # fmt: skip


def is_descriptor_word(label: object) -> bool:
    """Whether a label begins, after its stage, with a word of the open vocabularies.

    Examples
    --------
    >>> is_descriptor_word("Liquor: brightness"), is_descriptor_word("Larch")
    (True, False)
    """
    return any(word.startswith(_STEMS) for word in plain(label).replace(":", " ").split())


class Wishes:
    """What the user said about headers: their header -> our word, a descriptor's name, or None to leave it out."""

    def __init__(self, given: Mapping[str, str | None] | None) -> None:
        self.given = {plain(header): word for header, word in (given or {}).items()}
        self.as_typed = {plain(header): header for header in (given or {})}
        self.met: set[str] = set()

    def role(self, header: object) -> tuple[str, str | None]:
        """The role of a header and the name it takes; role "left out" where the user said None."""
        text = plain(header)
        if text not in self.given:
            return role_of(header), None
        self.met.add(text)
        word = self.given[text]
        if word is None:
            return LEFT_OUT, None
        role = role_of(word)
        return (role, None) if role else (GIVEN, word)

    def refuse_unmet(self, headers: list[str]) -> None:
        """Refuse a header that no sheet has: a misspelt instruction must not pass as obeyed."""
        unmet = [self.as_typed[text] for text in self.given if text not in self.met]
        if unmet:
            raise DesignError(
                f"no sheet has a column {unmet[0]!r}", where=f"columns={{{unmet[0]!r}: ...}}",
                do=f"use one of the headers found: {', '.join(headers[:30])}",
            )  # fmt: skip
