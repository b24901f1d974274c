"""Names of files made from names in sheets and of sheets: any file system takes them, and never one for two."""

from __future__ import annotations

import hashlib
import re
import unicodedata
from collections import Counter
from pathlib import Path
from typing import TYPE_CHECKING

from panelstats.ourfiles import is_ours

if TYPE_CHECKING:
    from collections.abc import Iterable

# Names that belong to devices on Windows, whatever ending follows them (Microsoft, Naming Files, Paths and Namespaces).
_DEVICE = re.compile(r"(?:con|prn|aux|nul|conin\$|conout\$|(?:com|lpt)[0-9\u00b9\u00b2\u00b3])\s*(?:\..*)?")
_SIGNED = re.compile(r".*-[0-9a-f]{8,64}")
_LONGEST = 100  # bytes of a readable name; file systems take 255 for name, digest and ending together


def file_names(names: Iterable[str]) -> dict[str, str]:
    """A name for a file (without its ending) for each name of a person or thing: never one for two.

    A name that any file system takes stays as it is. Others keep their letters and get a digest of the whole name, and
    so do those that a file system may take for each other, as `Elm` and `elm`.

    Examples
    --------
    >>> file_names(["Anna Maria", "elm/a", "***"])
    {'Anna Maria': 'Anna Maria', 'elm/a': 'elm-a-cd6eadce', '***': 'name-596f4162'}
    """
    plain = {name: _readable(name) for name in names}
    times = Counter(map(_folded, plain))
    kept = {name for name, word in plain.items() if word == name and times[_folded(name)] == 1 and _is_safe(name)}
    for length in (8, 64):
        found = {n: n if n in kept else f"{word.replace('.', '-')}-{_digest(n)[:length]}" for n, word in plain.items()}
        if len(set(map(_folded, found.values()))) == len(found):
            break
    return found


def _is_safe(name: str) -> bool:
    return not (_DEVICE.fullmatch(name.casefold()) or _SIGNED.fullmatch(name.casefold()))


def _readable(name: str) -> str:
    """What of a name a file may carry: letters, marks, digits and the signs that no system minds."""
    normal = unicodedata.normalize("NFC", name)
    word = "".join(c if unicodedata.category(c)[0] in "LMN" or c in " -_.,'()&+" else "-" for c in normal)
    return word.encode()[:_LONGEST].decode(errors="ignore").strip(" .-") or "name"


def _folded(name: str) -> str:
    """A name as a file system sees it that does not tell case or ways of writing an accent apart."""
    return unicodedata.normalize("NFC", unicodedata.normalize("NFD", name).casefold())


def _digest(name: str) -> str:
    return hashlib.sha256(name.encode("utf-8", "surrogatepass")).hexdigest()


def source_name(source: Path) -> str:
    """What the results of a source are named after: not what those of its folder, or of another sheet in it, are.

    A folder gives its name, a file the name without its ending; with it where `week.csv` lies beside `week.xlsx`.
    """
    whole = source.resolve().name
    if source.is_dir():
        return _short(whole)
    folder = source.resolve().parent
    near = [each for each in _inside(folder) if each.name != whole and _folded(each.stem) in _folded(whole)]
    taken = {_folded(folder.name), *(_folded(each.stem) for each in near if each.is_file() and not is_ours(each))}
    names = (source.stem, source.name, f"{source.name}-{_digest(source.name)[:8]}")
    return _short(next((name for name in names if _folded(name) not in taken), names[-1]))


def _inside(folder: Path) -> list[Path]:
    try:
        return list(folder.iterdir())
    except OSError:  # it may be entered, not looked into
        return []


def _short(name: str) -> str:
    return name if len(name.encode("utf-8", "surrogateescape")) <= _LONGEST else file_names([name])[name]
