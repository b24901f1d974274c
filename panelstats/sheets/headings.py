"""Headings as a product: what each row of headings, or each part of one, names.

A column of marks is headed by one label or several, one above another or joined in one text ("Brisk AB", "Lot 412
[Brisk]"). Each position is a level; every level names one kind of thing, all levels different ones.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from itertools import permutations
from typing import TYPE_CHECKING

from panelstats.scores.cells import DESCRIPTOR, LOOK, LOT, POT, SESSION, STAGE, TASTER
from panelstats.sheets.dates import date_in, is_sitting
from panelstats.sheets.roles import STAGES, is_descriptor_word, role_of
from panelstats.sheets.text import plain
from panelstats.sheets.totals import may_be_total

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping, Sequence

NAMED = (LOT, TASTER, DESCRIPTOR, POT, STAGE, SESSION, LOOK)
_NEEDED = (LOT, TASTER, DESCRIPTOR)
_TOKEN = re.compile(r"[^\s\-_/:|,;()\[\]\u2010-\u2015?&.]+")
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
    labels = level.distinct
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
    return 5 if all(plain(x) in STAGES for x in labels) else 0


def _descriptor(labels: list[str]) -> float:
    if all(plain(x) in STAGES for x in labels) or (any(ch.isdigit() for x in labels for ch in x) and _numbered(labels)):
        return 0
    share = sum(map(is_descriptor_word, labels)) / len(labels)
    return 4 if share >= 0.5 else 2.5 if share > 0 else 1


def _numbered(labels: list[str]) -> bool:
    return sum(any(ch.isdigit() for ch in x) for x in labels) * 2 > len(labels)


def _small(labels: list[str]) -> bool:
    """Whether labels count from 1: 1, 2, 3."""
    return sorted(labels) == [str(n + 1) for n in range(len(labels))] and len(labels) <= 6


def _lot(labels: list[str]) -> float:
    if any(is_descriptor_word(x) for x in labels) or all(date_in(x) or is_sitting(x) for x in labels):
        return 0
    if _small(labels):
        return 1
    return 4 if _numbered(labels) else 0.6 if len(labels) > 1 else 0


def _taster(labels: list[str]) -> float:
    if any(is_descriptor_word(x) for x in labels) or all(plain(x) in STAGES for x in labels):
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
    return 5 if all(date_in(x) or is_sitting(x) for x in labels) else 0


def _no_look(labels: list[str]) -> float:
    return 2 if all(re.fullmatch(r"look ?\d|(?:1st|2nd|3rd|first|second|third)", plain(x)) for x in labels) else 0


def stripped(labels: Sequence[str]) -> Level:
    """A level whose labels all begin with a word for their role: the word is taken off (`Lot 412`, `Pot 1`)."""
    filled = [x for x in labels if x]
    heads = {plain(m[1]) for x in filled if (m := re.match(r"([^\W\d_]+)[\s.:#-]*(?=\d|\S+$)", x)) and x != m[0]}
    matched = [re.match(r"([^\W\d_]+)[\s.:#-]+(?=\S)|([^\W\d_]{3,})(?=\d)", x) for x in filled]
    if len(heads) == 1 and filled and all(matched) and role_of(word := next(iter(heads))) in (LOT, POT, TASTER, LOOK):
        keep = role_of(word) == TASTER and all(
            x[m.end() :].isdigit() for x, m in zip(filled, matched, strict=True) if m
        )
        cut = [x if keep or not x else x[re.match(r"[^\W\d_]+[\s.:#-]*", x).end() :] for x in labels]  # type: ignore[union-attr]
        return Level(tuple(cut), prefix=word)
    return Level(tuple(labels))


def factored(labels: Sequence[str]) -> list[tuple[Level, Level]]:
    """Ways to read joined headings as a product of two levels, the most telling first.

    Examples
    --------
    >>> [tuple(map(lambda l: l.distinct, pair)) for pair in factored(["Brisk AB", "Body AB", "Brisk CD", "Body CD"])]
    [(['Brisk', 'Body'], ['AB', 'CD'])]
    """
    tokens = [_TOKEN.findall(x) for x in labels]
    common = (
        {plain(t) for t in tokens[0]}.intersection(*({plain(t) for t in ts} for ts in tokens[1:])) if tokens else set()
    )
    word = (
        next((w for w in map(plain, tokens[0]) if w in common and role_of(w) in (LOT, POT, TASTER)), "")
        if tokens
        else ""
    )
    found = []
    for split in _splits(tokens, common):
        left, right = zip(*split, strict=True)
        if not all(left) or not all(right) or len(set(split)) < len(split):
            continue
        sizes = len(set(map(plain, left))), len(set(map(plain, right)))
        coverage = len(split) / (sizes[0] * sizes[1])
        if coverage >= _FULL and max(sizes) > 1 and (min(sizes) > 1 or word):
            found.append((-coverage, sum(sizes), left, right))
    found.sort(key=lambda f: f[:2])
    pairs = []
    for *_, left, right in found:
        pair = _with_prefix(left, right, word, tokens)
        if pair not in pairs:
            pairs.append(pair)
    return pairs


def _splits(tokens: list[list[str]], common: set[str]) -> list[list[tuple[str, str]]]:
    """Each heading in two parts: after its first words, or before its last, words common to all left out."""
    rest = [[t for t in ts if plain(t) not in common] for ts in tokens]
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


def _with_prefix(left: Sequence[str], right: Sequence[str], word: str, tokens: list[list[str]]) -> tuple[Level, Level]:
    """The two levels; a word such as `lot` or `pot` tells which part follows it."""
    if not word:
        return stripped(left), stripped(right)
    first = list(map(plain, tokens[0]))
    after = first[first.index(word) + 1] if first.index(word) + 1 < len(first) else ""
    if plain(left[0]).split(" ")[0] == after:
        return Level(tuple(left), prefix=word), Level(tuple(right))
    if plain(right[0]).split(" ")[0] == after:
        return Level(tuple(left)), Level(tuple(right), prefix=word)
    return Level(tuple(left)), Level(tuple(right))
