"""Rows that follow one another in time, from left to right: small multiples on one upright scale."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from panelstats.panel.training.traineecharts import progress_chart
from panelstats.report.charts.figures import Axis, band, is_urgent, kind_of, row_figures, upright_ground
from panelstats.report.charts.scale import scale_of
from panelstats.report.charts.svg import LINE, SIZE, WIDTH, figure, line, tag, text_width, wrapped
from panelstats.report.charts.twin import in_words
from panelstats.speech import Phrase, said
from panelstats.words import decimals, number

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from markupsafe import Markup

    from panelstats.panel.training.fit import TraineeAssessment
    from panelstats.report.charts.scale import Scale
    from panelstats.report.charts.svg import Drawing
    from panelstats.result import Chart, Row

_LOW, _TALL, _ALONE, _GUTTER, _NOW = 40.0, 60.0, 96.0, 92.0, 34.0  # heights of a multiple, and room beside it
_APART = 24.0  # between the words at either end


@dataclass(frozen=True)
class _Multiple:
    """One chart, where it stands, and its last word (None where it has none)."""

    chart: Chart
    last: Row | None
    axis: Axis
    name: list[str]
    note: list[str]
    left: float
    right: float

    def x(self, at: int) -> float:
        n = len(self.chart.rows)
        room = self.right - self.left - 12
        return self.left + 6 + (room * at / (n - 1) if n > 1 else room / 2)


def weeks_drawing(charts: Sequence[Chart], now: Chart | None = None, *, key: str) -> Drawing:
    """Draw charts whose rows follow one another, each on its own ground, all on one scale.

    Parameters
    ----------
    charts : sequence of Chart
    now : Chart, optional
        A row for each of them, in their order: its last word, and where it stands at the end.
    key : str
        Unique on the page; names the title and the words.
    """
    scale = scale_of(charts, most=5)
    about = now or charts[0]
    told = wrapped(about.axis, WIDTH, SIZE)
    placed = _placed(charts, now, scale, 4 + LINE * len(told))
    foot = placed[-1].axis.start + 5
    ends = _ends(charts[0], placed[-1], foot)
    height = foot + 4 + LINE * (1 + max(text.count("<text") for text in map(str, ends)))
    return figure(
        *(tag("text", part, x=0, y=SIZE + LINE * at, class_="quiet") for at, part in enumerate(told)),
        *(drawn for each in placed for drawn in _drawn(each)),
        *ends,
        title=about.title, words=in_words(about), key=key, height=height,
    )  # fmt: skip


def progress_drawing(assessment: TraineeAssessment, trainee: str, *, key: str) -> Drawing | None:
    """How near a trainee came to the seniors, session by session; None for fewer than two sessions."""
    chart = progress_chart(assessment, trainee)
    return weeks_drawing([chart], key=key) if chart else None


def _placed(charts: Sequence[Chart], now: Chart | None, scale: Scale, y: float) -> list[_Multiple]:
    """One below the other; taller where there is something to act on."""
    room = max(text_width(words, SIZE) for _, words in scale.ticks) + 6
    placed = []
    for at, chart in enumerate(charts):
        last = now.rows[at] if now else None
        name = wrapped(last.label, _GUTTER, SIZE) if last else []
        note = wrapped(said(last.note), _GUTTER, SIZE) if last else []
        tall = (_TALL if is_urgent(last) else _LOW) if last else _ALONE
        foot = y + max(tall, len([*name, *note]) * LINE + 6)
        left = (_GUTTER + 8 if last else 0) + room
        axis = Axis(scale, foot - 4, y + 4, upright=True)
        placed.append(_Multiple(chart, last, axis, name, note, left, WIDTH - (_NOW if last else 2)))
        y = foot + 3
    return placed


def _drawn(each: _Multiple) -> Iterable[Markup]:
    """What is tolerated, the reference, every row with its interval, the level through them, and the words."""
    axis, rows = each.axis, each.chart.rows
    if rows:
        yield from band(axis, rows[0].floor, rows[0].ceiling, each.left, each.right)
    yield from upright_ground(axis, each.left, each.right, each.chart.zero)
    for at, row in enumerate(rows):
        yield from row_figures(row, axis, each.x(at))
    level = [(each.x(at), axis(row.level)) for at, row in enumerate(rows) if math.isfinite(row.level)]
    if level:
        kind = kind_of(each.last) if each.last else "plain"
        yield line(level, class_=f"level {kind}")
    if each.last:
        yield from _last_word(each, each.last)


def _last_word(each: _Multiple, last: Row) -> Iterable[Markup]:
    """The name and the call before the multiple, its last value behind."""
    middle = (each.axis.start + each.axis.stop) / 2
    told = {"class_": "urgent"} if is_urgent(last) else {}
    lines = [(part, told) for part in each.name] + [(part, {"class_": "quiet"}) for part in each.note]
    first = middle - (len(lines) - 1) * LINE / 2 + SIZE * 0.35
    for n, (part, kind) in enumerate(lines):
        yield tag("text", part, x=_GUTTER, y=first + n * LINE, text_anchor="end", **kind)
    if math.isfinite(last.value):
        value = number(last.value, decimals((last.high - last.low) / 4), sign=each.chart.zero == 0)
        yield tag("text", value, x=WIDTH - 2, y=each.axis(last.value) + SIZE * 0.35, text_anchor="end", **told)


def _ends(chart: Chart, lowest: _Multiple, foot: float) -> list[Markup]:
    """The first and the last row, named where both names fit on a line or each in its half."""
    first, last = chart.rows[0].label, chart.rows[-1].label
    room = lowest.right - lowest.left
    half = (room - _APART) / 2
    lines = [wrapped(name, half, SIZE) for name in (first, last)]
    if max(map(len, lines)) > 3:
        lines = [[end.format(along=chart.along)] for end in (Phrase("first {along}"), Phrase("last {along}"))]
    places = [(lowest.left, "start", lines[0])] + ([(lowest.right, "end", lines[1])] if len(chart.rows) > 1 else [])
    return [
        tag("g", *(tag("text", part, x=x, y=foot + LINE * (at + 1)) for at, part in enumerate(some)),
            class_="ticks", text_anchor=anchor)
        for x, anchor, some in places
    ]  # fmt: skip
