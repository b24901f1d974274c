"""The catalogue brought up to what the package can say: `python -m tests.catalogue`.

New phrases enter without a translation, those nobody says any more leave; what a German reads is kept. Nothing is
guessed: an entry without its German is named here, and fails its test.
"""

from __future__ import annotations

import sys

from babel.messages.catalog import Catalog, Message
from babel.messages.pofile import read_po, write_po

from panelstats.catalogues import CATALOGUES, COUNTED, LANGUAGES, TOLD
from tests.catalogue.said import nouns, phrases, words
from tests.catalogue.told import told

FILE = "panelstats.po"


def wanted() -> dict[tuple[str | tuple[str, str], str | None], str]:
    """Every entry a catalogue must have, and where it is said; by context, as "lot" stands alone too, as a heading."""
    kinds = {None: words() | phrases(), COUNTED: nouns(), TOLD: told()}
    return {(said, context): where for context, kind in kinds.items() for said, where in kind.items()}


def translated(entry: Message) -> bool:
    """Whether an entry says something in each of its forms."""
    forms = entry.string if entry.pluralizable else [entry.string]
    return bool(forms) and all(forms)


def main() -> int:
    """Bring every catalogue up to date; 1 where an entry lacks its translation."""
    open_ones = 0
    for code in LANGUAGES[1:]:
        path = CATALOGUES / code / "LC_MESSAGES" / FILE
        known = {}
        if path.exists():
            with path.open("rb") as file:
                known = {(entry.id, entry.context): entry.string for entry in read_po(file, locale=code) if entry.id}
        catalogue = Catalog(locale=code, project="panelstats")
        for (said, context), where in wanted().items():
            catalogue.add(said, known.get((said, context)), locations=[(where, None)], context=context)
        for entry in catalogue:
            if entry.id and not translated(entry):
                open_ones += 1
                print(f"{code}: {entry.id!r}")
        path.parent.mkdir(parents=True, exist_ok=True)
        with path.open("wb") as file:
            write_po(file, catalogue, width=118, omit_header=True, include_lineno=False)
    return int(bool(open_ones))


if __name__ == "__main__":
    sys.exit(main())
