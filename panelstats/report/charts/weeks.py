"""The weeks of a blend against its master: a row per descriptor, week by week over what is tolerated."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from panelstats.lots.track.words import CANNOT_TELL, CREEPING, LEFT, ON
from panelstats.report.charts.dots import SIZE, WIDTH, Drawing
from panelstats.report.charts.svg import figure, path, short, tag, text_width, wrapped
from panelstats.scores.cells import DESCRIPTOR, SESSION
from panelstats.words import decimals, interval, number

if TYPE_CHECKING:
    from collections.abc import Hashable, Iterable, Mapping
    from typing import Any

    import pandas as pd
    from markupsafe import Markup

    from panelstats.lots.track.fit import StandardTrack

_QUIET, _TALL, _LINE, _FOOT, _GUTTER, _NOW = 32.0, 60.0, 12.0, 20.0, 104.0, 34.0
# Calls in the order in which rows stand: what moved first.
_ORDER = (LEFT, CREEPING, CANNOT_TELL, ON)
_WEEKS_SHOWN = 0.95  # share of the weeks for which a row is tall enough; the others are arrows at its edge
_DAYS_APART = 24.0  # between the words at either end of the weeks


@dataclass(frozen=True)
class _Row:
    """One descriptor: its weeks, its last word, and where it stands."""

    weeks: pd.DataFrame
    last: Mapping[Hashable, Any]
    name: list[str]
    top: float
    foot: float

    @property
    def kind(self) -> str:
        return "urgent" if self.last["call"] in (LEFT, CREEPING) else "plain"


def weeks_drawing(track: StandardTrack, *, key: str) -> Drawing:
    """Draw the weeks of every descriptor.

    Parameters
    ----------
    track : StandardTrack
    key : str
        Unique on the page; names the title and the words.
    """
    rows = _laid_out(track)
    sessions = [str(name) for name in dict.fromkeys(track.table[SESSION])]
    foot = rows[-1].foot + 4
    at = _Places(len(sessions), _reach(track))
    svg = figure(
        *(drawn for row in rows for drawn in _row(row, at, {name: n for n, name in enumerate(sessions)})),
        *_ends(sessions, foot),
        title=f"The blend less {track.standard}, week by week",
        words=weeks_in_words(track),
        key=key,
        width=WIDTH,
        height=foot + _FOOT,
    )
    return Drawing(svg, foot + _FOOT)


def weeks_in_words(track: StandardTrack) -> str:
    """The same rows in words: where each descriptor stands after the last week, by call."""
    first, last = (str(track.table[SESSION].iloc[at]) for at in (0, -1))
    parts = [f"{first} to {last}, smoothed, in points from {track.standard}."]
    for call in dict.fromkeys(track.summary["call"]):
        some = track.summary[track.summary["call"] == call]
        parts.append(f"{call.capitalize()}: {'; '.join(_now(row) for row in some.to_dict('records'))}.")
    return " ".join(parts)


def _now(row: Mapping[Hashable, Any]) -> str:
    places = _digits(row)
    since = f", since {row['since']}" if row["since"] else ""
    limits = interval(row["low"], row["high"], places, sign=True)
    return f"{row[DESCRIPTOR]} {number(row['smoothed'], places, sign=True)} ({limits}){since}"


def _digits(row: Mapping[Hashable, Any]) -> int:
    return decimals((row["high"] - row["low"]) / 4)


@dataclass(frozen=True)
class _Places:
    """Where weeks stand from left to right, and points above and below the middle of a row."""

    weeks: int
    reach: float

    def x(self, week: int) -> float:
        room = WIDTH - _GUTTER - _NOW - 28
        return _GUTTER + 16 + (room * week / (self.weeks - 1) if self.weeks > 1 else room / 2)

    def y(self, row: _Row, points: float) -> float:
        half = (row.foot - row.top) / 2
        return (row.top + row.foot) / 2 - (half - 2) * min(max(points / self.reach, -1.0), 1.0)


def _reach(track: StandardTrack) -> float:
    """How many points a row shows, up and down: every level and tolerance fit; a lone week may lie beyond."""
    usual = float(track.table["difference"].abs().quantile(_WEEKS_SHOWN))
    sizes = [usual, *track.table["smoothed"].abs(), *track.summary["tolerance"]]
    return max((size for size in sizes if math.isfinite(size)), default=0.0) * 1.1 or 1.0


def _laid_out(track: StandardTrack) -> list[_Row]:
    rows, y = [], 2.0
    by_name = {str(name): weeks for name, weeks in track.table.groupby(DESCRIPTOR, sort=False, observed=True)}
    for last in sorted(track.summary.to_dict("records"), key=lambda row: _ORDER.index(str(row["call"]))):
        name = wrapped(str(last[DESCRIPTOR]), _GUTTER, SIZE)
        tall = _QUIET if last["call"] == ON else _TALL
        foot = y + max(tall, (len(name) + 1) * _LINE + 8)
        rows.append(_Row(by_name[str(last[DESCRIPTOR])], last, name, y, foot))
        y = foot + 3
    return rows


def _row(row: _Row, at: _Places, order: Mapping[str, int]) -> Iterable[Markup]:
    """What is tolerated, the master, every week with its interval, the smoothed level, the name and the last word."""
    left, right = at.x(0) - 5, at.x(max(at.weeks - 1, 0)) + 5
    size = float(row.last["tolerance"])
    if math.isfinite(size):
        top = at.y(row, size)
        yield tag("rect", x=left, y=top, width=right - left, height=at.y(row, -size) - top, class_="band")
    yield path([f"M{short(left)} {short(at.y(row, 0.0))}H{short(right)}"], class_="zero")
    places = [at.x(order[str(session)]) for session in row.weeks[SESSION]]
    columns = (row.weeks[name].to_numpy(float) for name in ("low", "high", "difference", "smoothed"))
    low, high, value, level = ([at.y(row, float(v)) for v in column] for column in columns)
    shown = [abs(float(v)) <= at.reach for v in row.weeks["difference"]]
    bars = [f"M{short(x)} {short(a)}V{short(b)}" for x, a, b in zip(places, low, high, strict=True)]
    yield path(bars, class_="interval plain")
    dots = list(zip(places, value, shown, strict=True))
    yield path([f"M{short(x)} {short(y)}h0" for x, y, fits in dots if fits], class_="dot")
    yield path([_beyond(x, y, row) for x, y, fits in dots if not fits], class_="beyond")
    line = [f"{'L' if n else 'M'}{short(x)} {short(y)}" for n, (x, y) in enumerate(zip(places, level, strict=True))]
    yield path(line, class_=f"level {row.kind}")
    yield from _words(row, level[-1])


def _beyond(x: float, y: float, row: _Row) -> str:
    """An open arrow at the edge of the row, for a week that lies beyond it."""
    way = -1 if y < (row.top + row.foot) / 2 else 1
    return f"M{short(x - 2.5)} {short(y - 3 * way)}l2.5 {short(3.5 * way)} 2.5 {short(-3.5 * way)}"


def _words(row: _Row, now: float) -> Iterable[Markup]:
    first = (row.top + row.foot) / 2 - len(row.name) * _LINE / 2 + SIZE * 0.35
    told = {"class_": "urgent"} if row.kind == "urgent" else {}
    for n, part in enumerate(row.name):
        yield tag("text", part, x=_GUTTER, y=first + n * _LINE, text_anchor="end", **told)
    y = first + len(row.name) * _LINE
    yield tag("text", str(row.last["call"]), x=_GUTTER, y=y, text_anchor="end", class_="quiet")
    level = number(float(row.last["smoothed"]), _digits(row.last), sign=True)
    yield tag("text", level, x=WIDTH - 2, y=now + SIZE * 0.35, text_anchor="end", **told)


def _ends(sessions: list[str], foot: float) -> Iterable[Markup]:
    """The first and the last week, named where both names fit."""
    first, last = sessions[0], sessions[-1]
    if text_width(first, SIZE) + text_width(last, SIZE) + _DAYS_APART > WIDTH - _GUTTER:
        first, last = "first week", "last week"
    yield tag("text", first, x=_GUTTER + 8, y=foot + 12, class_="quiet")
    if len(sessions) > 1:
        yield tag("text", last, x=WIDTH - 4, y=foot + 12, text_anchor="end", class_="quiet")
