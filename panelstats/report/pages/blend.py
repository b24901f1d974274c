"""What the page of blends shows of its own: descriptor by descriptor against the standard, beside it the weeks."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

from panelstats.lots.standard.fit import StandardMatch
from panelstats.lots.standard.words import DIFFER, MATCH
from panelstats.lots.track.fit import StandardTrack
from panelstats.report.charts.against import Line, points, rows_drawing
from panelstats.report.charts.marks import Mark
from panelstats.report.charts.weeks import weeks_drawing, weeks_in_words
from panelstats.report.pages.differ import in_words, pictures, test_rows
from panelstats.scores.cells import DESCRIPTOR, LOT, SESSION, STAGE
from panelstats.words import count, decimals, interval, number

if TYPE_CHECKING:
    from collections.abc import Hashable, Mapping
    from typing import Any

    import pandas as pd

    from panelstats.report.charts.dots import Drawing
    from panelstats.review import Review
    from panelstats.scores.table import Scores

_ROOM = 1.08  # the scale reaches a little beyond the widest row

_NUMBERS = {"value": "difference", "low": "low", "high": "high", "inner_low": "within_low", "inner_high": "within_high"}


class Panel(NamedTuple):
    """One blend of the picture: its name, call and mark, how far it lies off over all, the rows in words, drawn."""

    name: str
    call: str
    mark: Mark
    far: str
    words: str
    drawing: Drawing


def blocks(review: Review) -> dict[str, object]:
    """The values of the page's own blocks."""
    match, tracking = review.find(StandardMatch), review.find(StandardTrack)
    if match is None:
        return {}
    panels, rows = blend_panels(match, review.scores), test_rows(result for _, result in review.results)
    weeks = None if tracking is None else weeks_drawing(tracking, key="w")
    told = [] if tracking is None else [("The weeks", weeks_in_words(tracking))]
    return {
        "panels": panels,
        "weeks": weeks,
        "key": key(match),
        "pictures": pictures(rows),
        "in_words": [*((panel.name, panel.words) for panel in panels), *told, *in_words(rows)],
    }


def blend_panels(match: StandardMatch, scores: Scores | None = None) -> list[Panel]:
    """A panel for each blend (and session, where there are several), all on one scale."""
    keys = [SESSION, LOT] if SESSION in match.table else [LOT]
    scale = points(_reach(match.table))
    panels = []
    for at, row in enumerate(match.summary.to_dict("records")):
        lines = _lines(match.table[(match.table[keys] == [row[name] for name in keys]).all(axis=1)], scores)
        name = ", ".join(str(row[part]) for part in reversed(keys))
        words = _in_words(lines, match)
        drawing = rows_drawing(lines, scale, title=f"{name} less {match.standard}", words=words, key=f"b{at}")
        panels.append(Panel(name, str(row["call"]), _whole(str(row["call"])), _far(row), words, drawing))
    return panels


def _reach(table: pd.DataFrame) -> float:
    """How far the scale runs: all differences and tolerances fit; an interval beyond twice that runs over its end."""
    core = _largest(table, "difference", "tolerance")
    return _ROOM * max(core, min(_largest(table, "low", "high"), 2 * core)) or 1.0


def _largest(table: pd.DataFrame, *names: str) -> float:
    values = [abs(float(value)) for name in names for value in table[name]]
    return max((value for value in values if math.isfinite(value)), default=0.0)


def _lines(table: pd.DataFrame, scores: Scores | None) -> list[Line]:
    stages: dict[str, str] = {}
    if scores is not None and STAGE in scores.descriptors:
        register = scores.descriptors
        stages = {str(d): s for d, s in zip(register[DESCRIPTOR], register[STAGE], strict=True) if isinstance(s, str)}
    lines = []
    for row in table.to_dict("records"):
        name, size, call = str(row[DESCRIPTOR]), float(row["tolerance"]), str(row["call"])
        numbers = {ours: float(row[theirs]) for ours, theirs in _NUMBERS.items()}
        lines.append(
            Line(name, stages.get(name, ""), **numbers, floor=-size, ceiling=size, call=call,
                 mark=_mark(call, numbers["value"]))
        )  # fmt: skip
    return lines


def _mark(call: str, difference: float) -> Mark:
    if call == MATCH:
        return Mark.WITHIN
    if call != DIFFER:
        return Mark.OPEN
    return Mark.LOWER if difference < 0 else Mark.HIGHER


def _whole(call: str) -> Mark:
    return {MATCH: Mark.WITHIN, DIFFER: Mark.APART}.get(call, Mark.OPEN)


def _far(row: Mapping[Hashable, Any]) -> str:
    if math.isnan(row["distance"]):
        return ""
    return f"over all {number(row['distance'], 2)} points a descriptor ({interval(row['low'], row['high'], 2)})"


def _in_words(lines: list[Line], match: StandardMatch) -> str:
    """The rows in words, by call, what differs first; each with the interval that its call goes by."""
    parts = [f"{count(len(lines), 'descriptor')}, in points from {match.standard}."]
    for call in sorted({line.call for line in lines}, key=lambda call: (call != DIFFER, call == MATCH)):
        some = [_one(line) for line in lines if line.call == call]
        parts.append(f"{call.capitalize()}: {'; '.join(some)}.")
    return " ".join(parts)


def _one(line: Line) -> str:
    if math.isnan(line.value):
        return f"{line.name}, no estimate"
    low, high = (line.low, line.high) if line.call == DIFFER else (line.inner_low, line.inner_high)
    if math.isnan(high - low):
        return f"{line.name} {number(line.value, 1, sign=True)}, no interval"
    places = decimals((high - low) / 4)
    tolerated = f", tolerance {line.ceiling:.3g}" if math.isfinite(line.ceiling) else ""
    return f"{line.name} {number(line.value, places, sign=True)} ({interval(low, high, places, sign=True)}){tolerated}"


def key(match: StandardMatch) -> list[tuple[str, str]]:
    """The shapes of the picture and what they mean; only those that occur."""
    wide, narrow = (f"{100 * level:g} %" for level in (match.level, 2 * match.level - 1))
    calls = set(match.table["call"])
    lines = [("both", f"blend less standard, in points: {wide} interval, its thick part {narrow}")]
    if match.table["tolerance"].notna().any():
        lines.append(("band", "what is tolerated: a match has the thick part wholly within"))
    shapes = (("within", MATCH, "shown to match"), ("way", DIFFER, "shown to differ, the way it points"))
    lines += [(shape, words) for shape, call, words in shapes if call in calls]
    if calls - {MATCH, DIFFER}:
        lines.append(("open", "cannot tell: not the same as no difference"))
    return lines
