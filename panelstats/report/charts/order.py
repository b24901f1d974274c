"""Which rows of an order are shown: never a staircase of rows without names."""

from __future__ import annotations

from dataclasses import replace

from panelstats.result import Mark, Row
from panelstats.speech import Phrase
from panelstats.words import stated

SHOWN = 40  # of more rows only the ends of each group and the asked-for are shown
_ENDS = 4
_FAULTY = Phrase("a fault was noticed")


def shown_rows(rows: tuple[Row, ...]) -> tuple[Row, ...]:
    """Faulty rows on top, then group by group; of many only the ends of each group, and those asked for.

    What is left out of a group is counted in a row of its own. Rows that were judged all stay as they are.
    """
    if any(row.mark not in (None, Mark.FAULT, Mark.AGAIN) for row in rows):
        return rows
    pinned = sorted((row for row in rows if row.mark is Mark.FAULT), key=lambda row: -row.value)
    rest = [row for row in rows if row.mark is not Mark.FAULT]
    shown = [replace(row, group=str(_FAULTY)) for row in pinned]
    for group in dict.fromkeys(row.group for row in rest):
        some = [row for row in rest if row.group == group]
        shown += some if len(rows) <= SHOWN else _ends(some)
    return tuple(shown)


def _ends(rows: list[Row]) -> list[Row]:
    keep = [at < _ENDS or at >= len(rows) - _ENDS or row.mark is Mark.AGAIN for at, row in enumerate(rows)]
    shown: list[Row] = []
    hidden = 0
    for row, kept in zip(rows, keep, strict=True):
        if kept and hidden:
            shown.append(Row(Phrase("{hidden} between").format(hidden=stated(hidden, ",")), group=row.group))
            hidden = 0
        hidden += not kept
        shown += [row] if kept else []
    return shown
