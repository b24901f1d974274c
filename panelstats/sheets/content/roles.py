"""Headers -> roles: which column says the lot, the taster, the pot, and which hold facts, words or scores."""

from __future__ import annotations

import re
from functools import lru_cache
from typing import TYPE_CHECKING

from panelstats.scores.cells import DESCRIPTOR, LOOK, LOT, POSITION, POT, SCORE, SESSION, STAGE, TASTER
from panelstats.scores.spelling import plain, tidy
from panelstats.sheets.content.languages import FOREIGN, FOREIGN_STAGES

if TYPE_CHECKING:
    from collections.abc import Sequence

CODE, REMARK, FACT, MONEY, WORDS, FAULT, NUMBERING = "code", "remark", "fact", "money", "words", "fault", "numbering"
PLAN = "plan"  # the id of a serving plan
WORD = "word"  # a word to mark in a column of its own, where `words` is a column of words written freely
LEFT_OUT, GIVEN, NAMELESS, UNNAMED, DERIVED = "left out", "given", "nameless", "unnamed", "derived"
KEY_ROLES = (SESSION, LOT, TASTER, POT, LOOK, POSITION, CODE, PLAN, DESCRIPTOR, STAGE, SCORE)

# Words of the trade (common practice) and of the open standards (ISO 5492, 6658, 8586, 13299: assessor, panellist,
# sample, product, attribute, replicate, intensity).
SYNONYMS: dict[str, tuple[str, ...]] = {
    SESSION: ("session", "sitting", "date", "day", "week", "sale", "sale no", "sale number", "tasting date",
              "session no", "session number", "date of tasting", "tasted on", "date tasted", "tasted"),
    LOT: ("lot", "lot no", "lot nr", "lot number", "lots", "sample", "sample no", "sample number", "sample id",
          "product", "tea", "tea no", "lot id", "item", "item no"),
    TASTER: ("taster", "tasters", "assessor", "panellist", "panelist", "judge", "tasted by", "taster name",
             "name of taster", "assessor no", "assessor id", "taster id", "by", "your name", "name", "who",
             "tasting by", "initials", "reviewer", "evaluator", "panel member"),
    POT: ("pot", "pot no", "pot number", "brew", "cup", "cup no", "bowl", "replicate", "replication", "rep", "tray"),
    LOOK: ("look", "look no", "tasting", "tasting no"),
    POSITION: ("position", "pos", "place", "order", "serving order", "order of serving", "presentation order",
               "order served", "serving position"),
    CODE: ("code", "blind code", "codes", "sample code", "three digit code", "3 digit code", "cup code"),
    PLAN: ("plan", "plan id", "serving plan"),
    DESCRIPTOR: ("descriptor", "attribute", "characteristic", "term", "descriptors", "attributes", "property"),
    STAGE: ("stage",),
    SCORE: ("score", "scores", "rating", "value", "points", "intensity", "mark", "marks", "result", "reading"),
    REMARK: ("remark", "remarks", "comment", "comments", "note", "notes", "observation", "observations", "rmk", "rmks"),
    MONEY: ("money", "price", "valuation", "value in money", "estimate", "bid", "price per kg", "offer price",
            "reserve price"),
    FACT: ("kg", "kgs", "net kg", "net kgs", "gross kg", "gross kgs", "weight", "net weight", "gross weight", "net wt",
           "gross wt", "bags", "chests", "packages", "pkgs", "sacks",
           "invoice", "invoice no", "inv", "inv no", "garden", "estate", "grade", "kind", "kind of tea", "type",
           "elevation", "class", "made", "date made", "make", "moment", "role", "warehouse", "producer", "origin",
           "district", "region", "year", "season", "crop", "vessel", "milk", "opened", "randomised", "fact",
           "facts", "timestamp", "time", "start time", "completion time", "email", "email address"),
    WORDS: ("words", "terms", "tasting words"),
    FAULT: ("fault", "faults", "taint", "taints"),
    NUMBERING: ("numbering", "#", "no", "nr", "s no", "sl no", "sr no", "serial", "serial no", "row", "line", "n"),
}  # fmt: skip
_ROLE = {
    plain(word): FACT if role in ("grade", "garden") else role for role, words in FOREIGN.items() for word in words
}
_ROLE |= {plain(word): role for role, words in SYNONYMS.items() for word in words}
_ROLE["#"] = NUMBERING
_CAMEL = re.compile(r"(?<=[a-z])(?=[A-Z])")
_QUALIFIERS = frozenset(["code", "id", "name", "no", "nr", "number", "n°", "label", "date", "of", "the"])
_GRADE = re.compile(
    r"(?:S?F?T?G?F?B?OPA?F?|BOP(?:SM|SP)|F?B?P|BPS|B?P?F|FF|[PRC]?D|SRD|B?M?F|Pekoe|Fannings|Fngs|Dust|PEKOE|DUST)"
    r"[ .-]?\d?"
)
_INITIALS = 2  # letters of a grade that may be a taster's initials as well (ours)
_CURRENCY = re.compile(r"[$€£¥₹]|\b(?:usd|eur|gbp|inr|lkr|kes|cents?|rs|rupees?|shillings?|prices?|valuation)\b")
_UNIT = re.compile(r"\s*[(\[](?:g|grams?|ml|cc|millilitres?)[)\]]$")
# Units of what was measured (ISO 80000 and common practice); in capitals they may be somebody's initials.
_MEASURES = r"%|k?g|mg|grams?|ml|cc|mm|cm|min|minutes|s|sec|days?|ppm|mg/g|g/ml|° ?C"
_MEASURED = re.compile(rf"(?P<name>.+?) ?(?:[(\[] ?(?P<unit>{_MEASURES}) ?[)\]]| ° ?C)")
_BETWEEN = re.compile(r"[/\\|>→↓←↑]+")
STAGES = {
    "dry leaf": "dry leaf", "dry": "dry leaf", "leaf": "dry leaf", "infused leaf": "infused leaf",
    "infused": "infused leaf", "infusion": "infused leaf", "liquor": "liquor", "cup": "liquor",
}  # fmt: skip
STAGES |= {plain(word): stage for stage, words in FOREIGN_STAGES.items() for word in words}
_REMARKED = re.compile(
    r"(?P<before>.+?)['’s]*[ (:/-]+(?:remarks?|comments?|rmks?|bemerkung(?:en)?|kommentar)\)?"
    r"|(?:remarks?|comments?|rmks?|bemerkung(?:en)?|kommentar)[ (:/-]+(?:on|of|by|from|von|zu)? *(?P<after>.+)"
)
_STAGE_FIRST = re.compile(r"(dry leaf|infused leaf|dry|infused|infusion|liquor)[ :./>-]+(?=\S)")


@lru_cache(maxsize=50_000)
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
    if text.endswith("?"):
        return _asked_for(text)
    shorter = re.sub(r"\s*\([^)]*\)$", "", text)
    words = [word for word in re.split(r"[\s-]+", shorter) if word.strip(".") not in _QUALIFIERS]
    found = _ROLE.get(shorter) or _ROLE.get(" ".join(words), "") if words else ""
    return found or (REMARK if without_remark(text) else FACT if _is_measured(tidy(header)) else "")


def _is_measured(text: str) -> bool:
    """Whether a heading tells the unit of what was measured; in per cent descriptors are marked, too."""
    found = _MEASURED.fullmatch(text)
    return found is not None and (found["unit"] != "%" or not is_descriptor_word(found["name"]))


def without_remark(header: object) -> str:
    """Whose remarks a heading says that it heads, or of what; "" where it says no such thing.

    Examples
    --------
    >>> without_remark("AK comments"), without_remark("Remarks on liquor"), without_remark("Floral note")
    ('ak', 'liquor', '')
    """
    found = _REMARKED.fullmatch(plain(header))
    return (found["before"] or found["after"] or "").strip(" ()-") if found else ""


def _asked_for(question: str) -> str:
    """The key that a question of a form asks for: `Which lot are you tasting?`, not `How strong is lot K101?`."""
    words = re.findall(r"\w+", question)
    found = {_ROLE[w] for w in words if _ROLE.get(w) in (LOT, TASTER, POT, SESSION, CODE, REMARK)}
    # How it is, or one that is named: no key, but marks of it.
    of_one = bool(re.match("how |wie (?!hei|laut)", question) or re.search(r"\d", re.sub(r"\([^)]*\)", "", question)))
    about_marks = of_one or any(w.startswith(_STEMS) for w in words)
    return found.pop() if len(found) == 1 and not about_marks else ""


def is_grade(label: object) -> bool:
    """Whether a label is a grade of orthodox or cut tea as the trade writes them (common practice).

    Examples
    --------
    >>> is_grade("BOPF"), is_grade("PF 1"), is_grade("Dust"), is_grade("Elm")
    (True, True, True, False)
    """
    return bool(_GRADE.fullmatch(str(label)))


def are_grades(labels: Sequence[str]) -> bool:
    """Whether most labels name grades, and one of them is too long for somebody's initials.

    Examples
    --------
    >>> are_grades(["BOP", "PD", "Secondary"]), are_grades(["BP", "PD"])
    (True, False)
    """
    found = [label for label in labels if is_grade(label)]
    return len(found) * 2 >= len(labels) and any(len(label) > _INITIALS for label in found)


def without_unit(header: object) -> str:
    """A heading as plain text, without the unit that weighings are in anyhow.

    Examples
    --------
    >>> without_unit("Mass (g)"), without_unit("Volume [ml]"), without_unit("Stock (kg)")
    ('mass', 'volume', 'stock (kg)')
    """
    return _UNIT.sub("", plain(header))


@lru_cache(maxsize=50_000)
def two_roles(corner: object) -> tuple[str, ...]:
    """The two keys that the corner of a table names, one for its side, one for what runs across; () where it does not.

    Examples
    --------
    >>> two_roles("Lot / Taster"), two_roles("Lot")
    (('lot', 'taster'), ())
    """
    named = [role_of(part.strip()) for part in _BETWEEN.split(str(corner)) if part.strip()]
    return tuple(named) if len(named) == len(set(named)) == 2 and {*named} <= {LOT, TASTER, DESCRIPTOR} else ()


def stage_of(header: object) -> str:
    """The stage a descriptor's own name begins with, "" where it names none.

    Examples
    --------
    >>> stage_of("liquor: colour"), stage_of("dry_evenness"), stage_of("colour")
    ('liquor', 'dry leaf', '')
    """
    found = _STAGE_FIRST.match(plain(header))
    return STAGES[found[1]] if found else ""


def bare_name(header: object) -> str:
    """A descriptor's name without the stage it begins with.

    Examples
    --------
    >>> bare_name("Liquor: colour"), bare_name("Brisk")
    ('colour', 'Brisk')
    """
    found = _STAGE_FIRST.match(plain(header))
    return plain(header)[found.end() :] if found else str(header)


# Stems of descriptors in the open vocabularies (ISO 6078, ISO 18449, ISO 5492); they only help to tell apart two rows
# of headings, they never decide what is scored.
_STEMS = (
    "colour", "color", "bright", "brisk", "strength", "body", "pungen", "astring", "flavour", "flavor", "aroma",
    "thick", "point", "character", "malt", "appearance", "infusion", "infused", "liquor", "even", "twist", "style",
    "tip", "neat", "quality", "sweet", "bitter", "mellow", "harsh", "smok", "must", "mould", "taint", "leaf",
    "texture", "odour", "taste", "black", "clean", "green", "dull", "mouthfeel", "acid", "floral", "aftertaste",
    "cream", "raw", "burnt", "copper", "mixed", "stalk", "grain", "curl", "wiry", "bold",
    # German, French, Spanish, Portuguese; then Chinese, Hindi, Japanese (general dictionaries)
    "farbe", "hell", "starke", "korper", "geschmack", "blatt", "couleur", "corps", "brillan", "arome", "gout", "saveur",
    "feuille", "cuerpo", "sabor", "hoja", "fuerza", "corpo",  "brilho", "folha", "forca",
    "香", "滋味", "汤", "外形", "叶底", "色", "रंग", "सुगंध", "स्वाद", "味", "水色",
)  # fmt: skip


@lru_cache(maxsize=50_000)
def is_descriptor_word(label: object) -> bool:
    """Whether a label begins, after its stage, with a word of the open vocabularies.

    Examples
    --------
    >>> is_descriptor_word("Liquor: brightness"), is_descriptor_word("Larch")
    (True, False)
    """
    return any(word.startswith(_STEMS) for word in plain(label).replace(":", " ").split())
