"""Headings as a product: what each row of headings, or each part of one, names.

A column of marks is headed by one label or several, one above another or joined in one text ("Brisk AB", "Lot 412
[Brisk]"). Each position is a level; every level names one kind of thing, all levels different ones.
"""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import dataclass
from itertools import permutations
from typing import TYPE_CHECKING

from panelstats.scores.cells import DESCRIPTOR, LOOK, LOT, POT, SESSION, STAGE, TASTER
from panelstats.scores.dates import is_day
from panelstats.scores.spelling import plain
from panelstats.sheets.content.languages import DAY_PARTS, QUALIFIERS
from panelstats.sheets.content.limits import without_limits
from panelstats.sheets.content.roles import STAGES, is_descriptor_word, role_of
from panelstats.sheets.content.text import has_digit
from panelstats.sheets.content.totals import may_be_total

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping, Sequence

NAMED = (LOT, TASTER, DESCRIPTOR, POT, STAGE, SESSION, LOOK)
_NEEDED = (LOT, TASTER, DESCRIPTOR)
_TOKEN = re.compile(r"[^\s\-_/:|,;()\[\]\u2010-\u2015?&.]+")
_NUMBER_SIGN = re.compile(r"^([^\W\d_]+) (?:no|nr|num|number|n[°º])\b[\s.:#-]*(?=\d)", re.IGNORECASE)
_COUNTED = re.compile(r"([^\W\d_]{3,})(\d{1,2})")  # a word and a number in one: `Brisk1`
_FULL = 0.75  # share of all combinations that must be there for joined headings to be a product (ours)
_CLEAR = 1.0  # lead in evidence that settles what levels name (ours)


@dataclass(frozen=True)
class Level:
    """One position of the headings: the label of each column ("" where none), and what stands at its side."""

    labels: tuple[str, ...]
    corner: str = ""
    prefix: str = ""  # a word for its role that stood in every label and was taken off, such as `lot` of `Lot 412`

    @property
    def distinct(self) -> list[str]:
        """The labels, each once, those of worked-out figures left aside."""
        names = [x for x in dict.fromkeys(self.labels) if x]
        return [x for x in names if not may_be_total(x)] or names


@dataclass(frozen=True)
class Meaning:
    """What each level names, best first; `rivals` holds readings nearly as likely, () where it is clear."""

    roles: tuple[str, ...]
    rivals: tuple[tuple[str, ...], ...] = ()


def meaning_of(levels: Sequence[Level], told: Collection[str], listed: Mapping[str, Collection[str]]) -> Meaning | None:
    """What two or more levels name; None where no reading fits.

    Parameters
    ----------
    levels : sequence of Level
        From the top down, or from left to right.
    told : collection of str
        Roles that columns, or lines above, tell already.
    listed : mapping
        Role -> labels (as `plain` text) that the room's registers list.
    """
    free = [r for r in NAMED if r not in told]
    need = [r for r in _NEEDED if r not in told]
    scored = []
    for roles in permutations(free, len(levels)):
        parts = [evidence(level, role, listed.get(role, ())) for level, role in zip(levels, roles, strict=True)]
        if min(parts) > 0:
            scored.append((sum(parts) + 3 * sum(r in roles for r in need), roles))
    if not scored:
        return None
    scored.sort(key=lambda s: -s[0])
    rivals = tuple(roles for merit, roles in scored[1:] if merit > scored[0][0] - _CLEAR)
    return Meaning(scored[0][1], rivals)


def evidence(level: Level, role: str, listed: Collection[str] = ()) -> float:
    """How well the labels of a level fit a role: 0 not at all, 1 possible, 2 to 3 likely, 5 and more said."""
    labels = [without_limits(label) for label in level.distinct]
    if not labels:
        return 0
    if level.corner and role_of(level.corner) in NAMED:
        return 8 if role_of(level.corner) == role else 0
    if level.prefix:
        return 6 if role_of(level.prefix) == role else 0
    if listed and {plain(x) for x in labels} <= set(listed):
        return 6
    return {
        STAGE: _stage, DESCRIPTOR: _descriptor, LOT: _lot, TASTER: _taster, POT: _pot, SESSION: _session, LOOK: _no_look
    }[role](labels)  # fmt: skip


def _stage(labels: list[str]) -> float:
    known = all(plain(x) in STAGES for x in labels)
    return 5 if known else 3 if all(plain(x) in QUALIFIERS for x in labels) else 0


def _descriptor(labels: list[str]) -> float:
    if all(plain(x) in STAGES for x in labels) or _numbered(labels):
        return 0
    share = sum(map(is_descriptor_word, labels)) / len(labels)
    return 4 if share >= 0.5 else 2.5 if share > 0 else 1


def _numbered(labels: list[str]) -> bool:
    return sum(map(has_digit, labels)) * 2 > len(labels)


def _small(labels: list[str]) -> bool:
    """Whether labels count from 1 or from A: 1, 2, 3."""
    ways = ("123456", "ABCDEF")
    return len(labels) <= 6 and any(sorted(labels) == list(way[: len(labels)]) for way in ways)


def _lot(labels: list[str]) -> float:
    if any(is_descriptor_word(x) for x in labels) or all(map(is_day, labels)):
        return 0
    if _small(labels):
        return 1
    return 4 if _numbered(labels) else 0.6 if len(labels) > 1 else 0


def _taster(labels: list[str]) -> float:
    parts = all(plain(x) in DAY_PARTS for x in labels)  # one of several may be initials
    if parts or any(is_descriptor_word(x) or plain(x) in QUALIFIERS for x in labels):
        return 0
    if all(plain(x) in STAGES for x in labels) or all(map(is_day, labels)):
        return 0
    if _small(labels) or all(x.isdigit() for x in labels):
        return 0.6
    if any(re.fullmatch(r"(?:t|p|j|a)[ .]?\d{1,2}", plain(x)) for x in labels):
        return 3
    if _numbered(labels):
        return 0.5
    return 3 if all(re.fullmatch(r"[A-Z]{1,3}\.?|[A-Z]\.? ?[A-Z]\.?", x) for x in labels) else 2.5


def _pot(labels: list[str]) -> float:
    if _small(labels):
        return 3
    return 1.5 if all(re.fullmatch(r"[ivx]{1,3}|[a-d]|(?:p|pot|cup|c)[ .]?\d", plain(x)) for x in labels) else 0


def _session(labels: list[str]) -> float:
    return 5 if all(map(is_day, labels)) else 0


def _no_look(labels: list[str]) -> float:
    if all(re.fullmatch(r"look ?\d", plain(x)) for x in labels):
        return 2
    return 1.5 if all(re.fullmatch(r"1st|2nd|3rd|first|second|third", plain(x)) for x in labels) else 0


def stripped(labels: Sequence[str]) -> Level:
    """A level whose labels all begin with a word for their role: the word is taken off (`Lot 412`, `Pot 1`)."""
    plainer = [_NUMBER_SIGN.sub(r"\1 ", x) for x in labels]
    filled = [x for x in plainer if x]
    heads = {plain(m[1]) for x in filled if (m := re.match(r"([^\W\d_]+)[\s.:#-]*(?=\d|\S+$)", x)) and x != m[0]}
    matched = [re.match(r"([^\W\d_]+)[\s.:#-]+(?=\S)|([^\W\d_]{3,})(?=\d)", x) for x in filled]
    if len(heads) == 1 and filled and all(matched) and role_of(word := next(iter(heads))) in (LOT, POT, TASTER, LOOK):
        rest = [x[m.end() :] for x, m in zip(filled, matched, strict=True) if m]
        keep = role_of(word) == TASTER and all(x.isdigit() for x in rest)
        cut = [x if keep or not x else x[re.match(r"[^\W\d_]+[\s.:#-]*", x).end() :] for x in plainer]  # type: ignore[union-attr]
        return Level(tuple(cut), prefix=word)
    return Level(tuple(labels))


def factored(labels: Sequence[str]) -> list[tuple[Level, Level]]:
    """Ways to read joined headings as a product of two levels, the most telling first.

    Examples
    --------
    >>> [tuple(map(lambda l: l.distinct, pair)) for pair in factored(["Brisk AB", "Body AB", "Brisk CD", "Body CD"])]
    [(['Brisk', 'Body'], ['AB', 'CD'])]
    """
    counted = [_COUNTED.fullmatch(x) for x in labels]
    parts = [list(m.groups()) for m in counted if m] if all(counted) else [_TOKEN.findall(x) for x in labels]
    if not parts:
        return []
    common = set.intersection(*({*map(plain, words)} for words in parts))
    word = next((w for w in map(plain, parts[0]) if w in common and role_of(w) in (LOT, POT, TASTER)), "")
    found = []
    for split in _splits(parts, common):
        left, right = zip(*split, strict=True)
        if not all(left) or not all(right) or len(set(split)) < len(split):
            continue
        sizes = len(set(map(plain, left))), len(set(map(plain, right)))
        coverage = len(split) / (sizes[0] * sizes[1])
        if coverage >= _FULL and max(sizes) > 1 and (min(sizes) > 1 or word):
            found.append((-coverage, sum(sizes), left, right))
    found.sort(key=lambda f: f[:2])
    return [*dict.fromkeys(_with_prefix(left, right, word, parts) for *_, left, right in found)]


def _splits(parts: list[list[str]], common: set[str]) -> list[list[tuple[str, str]]]:
    """Each heading in two parts: after its first words, or before its last, words common to all left out."""
    rest = [[t for t in ts if plain(t) not in common] for ts in parts]
    if min(map(len, rest), default=0) < 2:
        return []
    out = []
    for k in range(1, max(map(len, rest))):
        for first in (True, False):
            cuts = [k if first else len(ts) - k for ts in rest]
            split = [
                (" ".join(ts[:c]), " ".join(ts[c:])) if 0 < c < len(ts) else ("", "")
                for ts, c in zip(rest, cuts, strict=True)
            ]
            if split not in out:
                out.append(split)
    return out


def _with_prefix(left: Sequence[str], right: Sequence[str], word: str, parts: list[list[str]]) -> tuple[Level, Level]:
    """The two levels; a word such as `lot` or `pot` tells which part follows it."""
    if not word:
        return stripped(left), stripped(right)
    first = list(map(plain, parts[0]))
    after = first[first.index(word) + 1] if first.index(word) + 1 < len(first) else ""
    if plain(left[0]).split(" ")[0] == after:
        return Level(tuple(left), prefix=word), Level(tuple(right))
    if plain(right[0]).split(" ")[0] == after:
        return Level(tuple(left)), Level(tuple(right), prefix=word)
    return Level(tuple(left)), Level(tuple(right))


def telling(pair: tuple[Level, Level], meaning: Meaning) -> bool:
    """Whether two parts of one heading are surely two things: one a known word or sign, and nothing already told."""
    if meaning.rivals or set(meaning.roles) == {STAGE, DESCRIPTOR}:
        return False
    parts = [evidence(level, role) for level, role in zip(pair, meaning.roles, strict=True)]
    return max(parts) >= 3 and min(parts) >= 2


def counted_out(pair: tuple[Level, Level], meaning: Meaning) -> bool:
    """Whether headings are known descriptors, each with a number or letter that may be a pot's or a taster's."""
    ways = (meaning.roles, *meaning.rivals)
    for at, level in enumerate(pair):
        if all(way[at] == DESCRIPTOR for way in ways) and evidence(level, DESCRIPTOR) >= 4:
            return {way[1 - at] for way in ways} <= {TASTER, POT, LOOK}
    return False


def strangers(labels: list[str], columns: list[int]) -> list[int]:
    """The few columns whose heading cannot be of a product: a word of it stands in no other, or it has but one."""
    words = [[plain(w) for w in _TOKEN.findall(x)] for x in labels]
    times = Counter(w for one in words for w in set(one))
    odd = [c for c, one in zip(columns, words, strict=True) if len(one) < 2 or min(times[w] for w in one) < 2]
    return odd if len(odd) * 4 <= len(columns) else []
