"""A session is a day whatever the clock shows; blocks side by side are read each on its own."""

from __future__ import annotations

import datetime as dt

import pytest

import panelstats as pst
from tests.habits.answering import again
from tests.sheets.forms import LOTS, NAMES, WORDS, answered, book, cells, marks, met, questions

DAYS = tuple(dt.datetime.combine(dt.date(2026, 6, day), dt.time()) for day in (1, 8))


def rows(when, lots=LOTS):
    return [
        (when(n, t), lot, name, *marks(3, lot + name)) for n, lot in enumerate(lots) for t, name in enumerate(NAMES)
    ]


def sheet(*parts):
    return [("Date", "Lot", "Taster", *WORDS), *(row for part in parts for row in part)]


@pytest.mark.parametrize(
    "clock",
    [
        lambda day, n, t: day + dt.timedelta(hours=9, minutes=31 + 4 * n + t),
        lambda day, n, t: f"{day:%Y-%m-%d} {9 + n}:{10 + t}",
        lambda day, n, t: f"{day:%d.%m.%Y}, {9 + n}:{10 + t} am",
        lambda day, n, t: day,
    ],
)
def test_times_of_day_split_no_session(tmp_path, clock):
    parts = [rows(lambda n, t, day=day: clock(day, n, t)) for day in DAYS]
    source = book(tmp_path / "form.xlsx", Scores=sheet(*parts))
    scores = pst.read_scores(source)
    assert len(met(scores)["session"]) == 2
    assert not any(":" in label for key in ("session", "lot") for label in met(scores)[key])
    assert len(scores.frame) == 2 * 4 * 4 * 3
    assert not again(source, tmp_path)


def test_the_same_lots_in_the_morning_and_the_afternoon_are_asked_about(tmp_path):
    parts = [rows(lambda n, t, hour=hour: DAYS[0] + dt.timedelta(hours=hour, minutes=5 * n + t)) for hour in (9, 14)]
    source = book(tmp_path / "form.xlsx", Scores=sheet(*parts))
    with pytest.raises(pst.SheetError, match="two times of one day"):
        pst.read_scores(source)
    scores = answered(source, {"times of one day": "sittings of their own"})
    assert met(scores)["session"] == ["2026-06-01 afternoon", "2026-06-01 morning"]
    with pytest.raises(pst.SheetError, match="scored twice"):
        answered(source, {"times of one day": "one session"})


def test_other_lots_in_the_afternoon_are_of_the_same_day(tmp_path):
    morning = rows(lambda n, t: DAYS[0] + dt.timedelta(hours=9, minutes=n), LOTS[:2])
    late = rows(lambda n, t: DAYS[0] + dt.timedelta(hours=15, minutes=n), LOTS[2:])
    scores = pst.read_scores(book(tmp_path / "form.xlsx", Scores=sheet(morning, late)))
    assert met(scores)["session"] == ["2026-06-01"]


def block(lot, head, names=NAMES):
    return [(head, lot), ("", *names), *((word, *marks(len(names), lot + word)) for word in WORDS)]


def aside(blocks, gap=2):
    width = max(len(line) for part in blocks for line in part)
    lines = zip(*blocks, strict=True)
    return [[x for part in line for x in (*part, *[None] * (width - len(part) + gap))] for line in lines]


@pytest.mark.parametrize("gap", [1, 2])
@pytest.mark.parametrize("head", ["Lot no.", "Lot", "Sample:"])
@pytest.mark.parametrize("wide", [2, 4])
def test_small_blocks_side_by_side_are_read_each_on_its_own(tmp_path, head, gap, wide):
    lines = []
    for n in range(0, len(LOTS), wide):
        lines += [*aside([block(lot, head) for lot in LOTS[n : n + wide]], gap), ()]
    source = book(tmp_path / "page.xlsx", Tasting=lines)
    truth = {
        (lot, name, word): float(mark)
        for lot in LOTS
        for word in WORDS
        for name, mark in zip(NAMES, marks(4, lot + word), strict=True)
    }
    scores = answered(source, {}) if len(questions(source)) else pst.read_scores(source)
    assert cells(scores) == truth
