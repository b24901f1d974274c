"""The page of blends held against a standard: descriptor by descriptor, beside it the weeks against the master."""

from __future__ import annotations

import math
from dataclasses import dataclass
from importlib.metadata import version
from typing import TYPE_CHECKING, NamedTuple

from panelstats.lots.standard.words import DIFFER, MATCH
from panelstats.output import PAGE_MARK, check_writable, page_bytes, templates, write_whole
from panelstats.report.charts.against import Line, points, rows_drawing
from panelstats.report.charts.marks import Mark
from panelstats.report.charts.weeks import weeks_drawing, weeks_in_words
from panelstats.report.pages.differ import pictures, test_rows, titled
from panelstats.report.pages.facts import facts, lede, provenance
from panelstats.report.pages.ledger import ledger
from panelstats.report.pages.names import Names, turns
from panelstats.report.pages.steps import stepless, steps, unsettled
from panelstats.report.tables import plain, shown
from panelstats.result import Act, in_order
from panelstats.scores.cells import DESCRIPTOR, LOT, SESSION, STAGE
from panelstats.words import count, decimals, interval, listing, number

if TYPE_CHECKING:
    from collections.abc import Hashable, Mapping, Sequence
    from pathlib import Path
    from typing import Any

    import pandas as pd

    from panelstats.lots.faults.fit import FaultsNoticed
    from panelstats.lots.standard.fit import StandardMatch
    from panelstats.lots.track.fit import StandardTrack
    from panelstats.report.charts.dots import Drawing
    from panelstats.result import Result, Verdict
    from panelstats.scores.table import Scores

_NAMED = 4  # blends named in the heading; more are counted
_ROOM = 1.08  # the scale reaches a little beyond the widest row

_NUMBERS = {"value": "difference", "low": "low", "high": "high", "inner_low": "within_low", "inner_high": "within_high"}


@dataclass(frozen=True)
class Sitting:
    """The session a page is about, and the scores it is part of."""

    session: str
    scores: Scores


class Panel(NamedTuple):
    """One blend of the picture: its name, call and mark, how far it lies off over all, the rows in words, drawn."""

    name: str
    call: str
    mark: Mark
    far: str
    words: str
    drawing: Drawing


def write_blend_page(
    match: StandardMatch,
    path: str | Path,
    *,
    scores: Scores | None = None,
    tracking: StandardTrack | None = None,
    tests: Sequence[Result] = (),
    faults: FaultsNoticed | None = None,
    overwrite: bool = False,
) -> Path:
    """Write the page of blends held against a standard: one file, no script, nothing fetched.

    Parameters
    ----------
    match : StandardMatch
        From `match_standard`.
    path : str or Path
        Ending in .html. Our own earlier page is replaced, another file only with `overwrite`.
    scores : Scores, optional
        What was tasted: how, by whom, the account and the digest are then printed.
    tracking : StandardTrack, optional
        The weeks against the master, from `track_standard`.
    tests : sequence of Result, optional
        Difference and match tests of the same blends, and plans of `answers_needed`: where one says that the answers
        cannot settle it, the page says so first.
    faults : FaultsNoticed, optional
        Faults of what was tasted; they stand before every other verdict.
    overwrite : bool
        Replace a file that is not ours.

    Returns
    -------
    Path
        The page. The same results give the same bytes.

    Raises
    ------
    PanelError
        The file may not or cannot be written.
    """
    read = () if scores is None else scores.files
    check_writable(path, overwrite=overwrite, read=read)
    page = blend_page(match, scores=scores, tracking=tracking, tests=tests, faults=faults)
    return write_whole(path, page_bytes(page), overwrite=overwrite, read=read)


def blend_page(
    match: StandardMatch,
    *,
    scores: Scores | None = None,
    tracking: StandardTrack | None = None,
    tests: Sequence[Result] = (),
    faults: FaultsNoticed | None = None,
) -> str:
    """The page of blends held against a standard as text."""
    sitting = _sitting(match, scores)
    found: list[tuple[str, Result]] = [("Blends", match)]
    found += [("Weeks", tracking)] if tracking else []
    found += [("Faults", faults)] if faults else []
    every = [result for _, result in found] + list(tests)
    verdicts = in_order([verdict for result in every for verdict in result.verdicts])
    first = [verdict for verdict in (faults.verdicts if faults else ()) if verdict.act == Act.NOW] + unsettled(tests)
    names = Names(_names(match, scores, verdicts))
    environment = templates()
    environment.filters |= {"isolate": names.isolate, "told": names.told, "turns": turns}
    return environment.get_template("blend.html.j2").render(
        page_mark=PAGE_MARK,
        title=f"{_lots(match)} against {match.standard}",
        lede=lede(sitting) if sitting else "What the scores show of each, and what they cannot tell.",
        first=first,
        facts=facts(sitting) if sitting else (),
        incomplete=bool(scores is not None and scores.account["set_aside"].sum()),
        panels=blend_panels(match, scores),
        weeks=(weeks_drawing(tracking, key="w"), weeks_in_words(tracking)) if tracking else None,
        key=key(match),
        pictures=pictures(test_rows(tests)),
        ledger=ledger(stepless(verdict for verdict in verdicts if verdict not in first)),
        steps=steps(verdicts),
        results=[(title, result, shown(result.tables(), title)) for title, result in found] + titled(tests),
        inferred=[] if scores is None else [list(map(plain, row)) for row in scores.inferred.itertuples(index=False)],
        records=[] if scores is None else shown({n: getattr(scores, n) for n in ("account", "problems")}, "read"),
        provenance=provenance(sitting) if sitting else f"panelstats {version('panelstats')}",
    )


def _sitting(match: StandardMatch, scores: Scores | None) -> Sitting | None:
    """The session judged: the last one where the match spans several."""
    if scores is None:
        return None
    names = match.table[SESSION] if SESSION in match.table else scores.sessions[SESSION]
    return Sitting(str(names.iloc[-1]), scores)


def _names(match: StandardMatch, scores: Scores | None, verdicts: Sequence[Verdict]) -> set[str]:
    names = {match.standard, *match.table[LOT].astype(str), *match.table[DESCRIPTOR].astype(str)}
    names |= {verdict.subject for verdict in verdicts if verdict.subject}
    return names if scores is None else names | {str(name) for name in scores.tasters["taster"]}


def _lots(match: StandardMatch) -> str:
    lots = list(dict.fromkeys(match.table[LOT].astype(str)))
    return listing(lots) if len(lots) <= _NAMED else count(len(lots), "lot")


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
        lines.append(("strip", "what is tolerated: a match has the thick part wholly within"))
    shapes = (("dot", MATCH, "shown to match"), ("way", DIFFER, "shown to differ, the way it points"))
    lines += [(shape, words) for shape, call, words in shapes if call in calls]
    if calls - {MATCH, DIFFER}:
        lines.append(("open", "cannot tell: not the same as no difference"))
    return lines
