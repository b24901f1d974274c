"""The questions as the room's page offers them: each with what it asks back, or greyed with what it lacks."""

from __future__ import annotations

from typing import Any

from panelstats.desk.asks import ASKS, EACH, Entry, Facts


def offered(facts: Facts) -> list[dict[str, Any]]:
    """A row for each question."""
    return [
        {"which": which, "words": ask.words, "tells": ask.tells, "lacks": ask.lacks(facts),
         "entries": [shown for entry in ask.entries if (shown := _shown(entry, facts))]}
        for which, ask in ASKS.items()
    ]  # fmt: skip


def _shown(entry: Entry, facts: Facts) -> dict[str, Any] | None:
    """What is asked back; nothing where there is but one choice and it need not be named."""
    choices = list(facts[entry.choices]) if isinstance(entry.choices, str) and entry.choices else list(entry.choices)
    if entry.choices and len(choices) < 2 and not entry.needed:
        return None
    choices += [EACH] if entry.each and len(choices) > 1 else []
    default = ", ".join(facts[entry.listed]) if entry.listed else entry.default
    return {"name": entry.name, "words": entry.words, "choices": choices, "default": default,
            "number": entry.number, "needed": entry.needed}  # fmt: skip
