"""The questions as the room's page offers them, and the pages that answered them."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING, Any

from panelstats.desk.asks import ASKS
from panelstats.desk.entries import TEXT, Entry, Facts, choices_of
from panelstats.speech import heard

if TYPE_CHECKING:
    from pathlib import Path

    from panelstats.desk.folder import Folder


def offered(facts: Facts) -> list[dict[str, Any]]:
    """A row for each question: what is asked back at once, what is rarely said, or what the data lack to answer it."""
    rows = []
    for which, ask in ASKS.items():
        shown = [(entry.needed, each) for entry in ask.entries if (each := _shown(entry, facts))]
        at_once = [each for needed, each in shown if needed] or [each for _, each in shown[:1]]
        rows.append({
            "which": which, "words": ask.words, "tells": ask.tells, "lacks": ask.lacks(facts), "entries": at_once,
            "rarely": [each for _, each in shown if each not in at_once],
        })  # fmt: skip
    return sorted(rows, key=lambda row: bool(row["lacks"]))  # what can be answered stands first


def _shown(entry: Entry, facts: Facts) -> dict[str, Any] | None:
    """What is asked back; nothing where there is but one choice and it need not be named."""
    choices = choices_of(entry, facts)
    if choices is not None and len(choices) < 2 and not entry.needed:
        return None
    default = ", ".join(facts[entry.listed]) if entry.listed else entry.default
    return {"name": entry.name, "words": entry.words, "choices": choices or [], "default": default,
            "number": entry.kind != TEXT, "needed": entry.needed, "usual": entry.usual}  # fmt: skip


def answered(folder: Folder) -> list[dict[str, Any]]:
    """The pages there are, the latest first: what each answers, when it was made, whether a sheet is newer."""
    newest = folder.newest()
    return [
        {"key": key, "name": titled(folder, page), "older": page.stat().st_mtime_ns < newest,
         "made": dt.datetime.fromtimestamp(page.stat().st_mtime).strftime("%Y-%m-%d %H:%M")}  # noqa: DTZ006 - the clock of the room
        for key, page in folder.made().items() if page.parent == folder.pages
    ]  # fmt: skip


def titled(folder: Folder, page: Path) -> str:
    """What a page answers, in the words of its question, and what was chosen; else its own name."""
    name = page.stem.removeprefix(f"{folder.path.name}-")
    for ask in ASKS.values():
        if page.parent == folder.pages and (name == ask.ending or name.startswith(f"{ask.ending}-")):
            chosen = name.removeprefix(ask.ending).strip("-")
            return f"{heard(ask.words)} {chosen}".strip()
    return page.stem
