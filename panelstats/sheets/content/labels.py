"""Labels of lots, tasters and descriptors: when two spellings are one name, and when somebody should be asked."""

from __future__ import annotations

import re
import unicodedata
from typing import TYPE_CHECKING

from panelstats.scores.spelling import same

if TYPE_CHECKING:
    from collections.abc import Iterable

# Letters of other scripts that no eye tells from Latin ones (Unicode Technical Standard 39, confusables).
_TWINS = str.maketrans("авекмнорстухіјѕԁɡοαρντυικ", "abekmhopctyxijsdgoapvtuik")
_LIKE_DIGITS = str.maketrans("oilsz", "01152")
_SIGNS = re.compile(r"[\W_]+")
SHORTEST = 3  # letters below which one letter more or less makes another name; initials are always their own


def _bare(key: str) -> str:
    """Letters and digits alone, accents off."""
    if key.isascii():
        return _SIGNS.sub("", key)
    text = unicodedata.normalize("NFKD", key)
    return "".join(c for c in text if c.isalnum() and not unicodedata.combining(c))


def _skeleton(key: str) -> str:
    """What an eye sees: look-alike letters as one, letters that pass for digits as digits where digits stand."""
    text = _bare(key).translate(_TWINS)
    return text.translate(_LIKE_DIGITS) if any(c.isdigit() for c in text) else text


def _numbered(key: str) -> str:
    """Digits without the zeros before them."""
    return re.sub(r"\d+", lambda m: m[0].lstrip("0") or "0", key)


def near_misses(labels: Iterable[str]) -> list[tuple[str, str]]:
    """Pairs of labels that may be one name spelt twice; names that differ only in digits are never such a pair.

    Parameters
    ----------
    labels : iterable of str
        Distinct labels, none of which is `same` as another.

    Examples
    --------
    >>> near_misses(["alder", "Aldr", "411", "41l", "412", "T1", "T2", "elm-a", "elm a"])
    [('411', '41l'), ('alder', 'Aldr'), ('elm-a', 'elm a')]
    """
    keys = {label: same(label) for label in labels}
    found: set[tuple[str, str]] = set()
    for fold in (_bare, _skeleton, _numbered):
        groups: dict[str, list[str]] = {}
        for label, key in keys.items():
            groups.setdefault(fold(key), []).append(label)
        for text, group in groups.items():
            if text:
                found |= {(a, b) for i, a in enumerate(group) for b in group[i + 1 :]}
    found |= {p for p in _one_letter_apart(keys) if p not in found and p[::-1] not in found}
    return sorted(found)


def _one_letter_apart(keys: dict[str, str]) -> set[tuple[str, str]]:
    """Pairs that one letter added, lost, changed or swapped with the next turns into one another."""
    near: dict[str, list[str]] = {}
    for label, key in keys.items():
        if len(_bare(key)) < SHORTEST - 1 or key.isdigit() or (label.isupper() and len(label) <= SHORTEST):
            continue
        for text in {key, *(key[:i] + key[i + 1 :] for i in range(len(key)))}:
            near.setdefault(text, []).append(label)
    pairs = {
        (a, b) for group in near.values() if 1 < len(group) < 50 for i, a in enumerate(group) for b in group[i + 1 :]
    }
    return {(a, b) for a, b in pairs if _one_slip(keys[a], keys[b])}


def _one_slip(a: str, b: str) -> bool:
    """Whether one slip of letters, none of digits, lies between two keys."""
    start = next((i for i, (x, y) in enumerate(zip(a, b, strict=False)) if x != y), min(len(a), len(b)))
    end = 0
    while end < min(len(a), len(b)) - start and a[-1 - end] == b[-1 - end]:
        end += 1
    left, right = a[start : len(a) - end], b[start : len(b) - end]
    if not (left + right).isalpha() or max(len(a), len(b)) < SHORTEST + (len(left) == len(right) == 1):
        return False
    return (len(left) <= 1 and len(right) <= 1) or (len(left) == 2 and left == right[::-1])
