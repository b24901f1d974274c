"""Every question of every room: sessions, seasons, counts and weighings, plans."""

from __future__ import annotations

import zlib
from contextlib import chdir
from functools import cache, partial
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

import panelstats as pst
from panelstats.report.pages.seasontaster import season_taster_page
from panelstats.report.pages.taster import sheets_of
from panelstats.result import Act, Verdict
from panelstats.sheets.reading.account import describe_account
from tests.habits import ROOMS as HABITS
from tests.kept import rooms
from tests.kept.lines import drawing, handed, lines_of, parts_of, workbook

drawn, season, day, wide = map(cache, (rooms.session, rooms.season, rooms.day, rooms.wide))
if TYPE_CHECKING:
    from collections.abc import Callable

PEOPLE = rooms.PEOPLE
PARTS = 12  # files that readings are kept in
MARGINS = {"triangle": 0.3, "duo-trio": 0.4, "2-afc": 0.3, "3-afc": 0.2, "tetrad": 0.3, "paired": 0.3,
           "two-out-of-five": 0.2}  # fmt: skip
STOCK = pd.DataFrame({"lot": ["402", "403", "404", "405"], "kilograms": [200.0, 300.0, 120.0, 400.0],
                      "cost": [3.1, 2.9, 3.6, 2.4], "currency": "EUR"})  # fmt: skip


def _of_session(seed: int) -> dict[str, object]:
    """Questions about one session, the last of the room where there are several."""

    def standard():
        met = drawn(seed).lots
        return next(iter(met.query("role == 'standard'")["lot"]), str(met["lot"].iloc[0]))

    def stock():
        return STOCK[STOCK["lot"].isin(set(drawn(seed).lots["lot"]) - {standard()})]

    even = seed % 2 == 0
    return {
        "session": lambda: pst.review_session(drawn(seed)),
        "lots": lambda: pst.compare_lots(drawn(seed), pots="own" if even else "shared", lots="random", level=0.9),
        "plain lots": lambda: pst.compare_lots(drawn(seed), adjust="none" if even else "holm", tolerance=0.75),
        "short list": lambda: pst.shortlist_lots(drawn(seed), take=2),
        "agreement": lambda: pst.panel_agreement(drawn(seed), level=0.9),
        "tasters": lambda: pst.review_tasters(drawn(seed)),
        "trainees": lambda: pst.review_trainees(drawn(seed), trainees="elm"),
        "blends": lambda: pst.review_blends(drawn(seed), standard()),
        "recipes": lambda: pst.review_recipes(drawn(seed), standard(), stock=stock(), batch=100.0, tolerance=1.0),
        "garden": lambda: pst.review_garden(drawn(seed), "Hill"),
        "makes": lambda: pst.compare_makes(drawn(seed), ["rolling", "garden"] if even else "garden"),
        "grades": lambda: pst.grade_trend(drawn(seed), ["leaf", "broken", "dust"]),
        "value": lambda: pst.review_value(drawn(seed)),
        "map": lambda: pst.review_map(drawn(seed), standard=standard() if even else None, fill_in=not even),
        "summary": lambda: pst.review_summary(drawn(seed), lots=["401", "402"] if even else None),
        "faults": lambda: pst.faults_noticed(drawn(seed)),
        "room error": lambda: pst.room_error(drawn(seed)),
        "pots": lambda: pst.check_pots(drawn(seed)),
        "account": lambda: _Account(drawn(seed)),
    }


def _of_several(seed: int) -> dict[str, object]:
    """Questions about one of several sessions, what came before it and what lies beside it."""
    scores = several(seed)
    days, lots = scores.sessions["session"].astype(str).tolist(), scores.lots["lot"].astype(str).tolist()
    weighed = rooms.weights(seed).assign(lot=lambda table: table["lot"].str.replace("401", lots[0]))
    pack = {"densities": weighed, "grams": 250, "millilitres": 800}
    return {
        **{f"session {day}": partial(pst.review_session, scores, session=day) for day in days[:3]},
        "session held against another past": lambda: pst.review_session(scores, session=days[-1], past=drawn(seed)),
        "short list": lambda: pst.review_session(scores, session=days[1], shortlist=True, take=2),
        "blends": lambda: pst.review_blends(scores, lots[0], answers=rooms.answers(seed), session=days[-1]),
        "blends of all": lambda: pst.review_blends(scores, lots[0], answers=rooms.answers(seed), within_share=0.3),
        "summary": lambda: pst.review_summary(scores, session=days[0], **pack),
        "summary of some": lambda: pst.review_summary(scores, lots=lots[:2], **pack),
        "recipes": lambda: pst.review_recipes(scores, lots[0], tolerance=2.0, **pack),
        "season": lambda: pst.review_season(scores, baseline=5, until=days[-2], controls=lots[:1]),
        "garden": lambda: pst.review_garden(scores, "Flats", by=["rolling"]),
        "workbook": lambda: handed(workbook(pst.review_session(scores, session=days[1]))),
    }


@cache
def several(seed: int) -> pst.Scores:
    """Seven sessions of one panel."""
    return rooms.session(seed, sessions=7)


def _of_season(seed: int) -> dict[str, object]:
    return {
        "season": lambda: pst.review_season(season(seed), baseline=(6, 8)[seed % 2]),
        "tasters of all": lambda: pst.review_tasters(season(seed)),
        "track": lambda: pst.track_standard(season(seed), **_of_weeks(seed), tolerance=1.0),
        "trainees of all": lambda: pst.review_trainees(season(seed), trainees="elm"),
    }


def _of_day(seed: int) -> dict[str, object]:
    return {
        "day": lambda: pst.review_session(day(seed), take=(3, None)[seed % 2]),
        "values": lambda: pst.review_value(day(seed)),
        "list of best": lambda: pst.shortlist_lots(day(seed), take=5, level=0.9),
        "catalogue": lambda: pst.review_summary(day(seed)),
        "account": lambda: _Account(day(seed)),
    }


class _Account:
    """What was read, and how, in tables and in words."""

    def __init__(self, scores: pst.Scores) -> None:
        self.scores = scores
        self.verdicts = [Verdict("", "", "", describe_account(scores), {}, "", Act.KNOW)]

    def tables(self) -> dict[str, pd.DataFrame]:
        """The records of the reading, and the scores."""
        names = ("account", "problems", "inferred", "lots", "tasters", "descriptors", "sessions", "frame")
        return {name: getattr(self.scores, name) for name in names}


def _of_weeks(seed: int) -> dict[str, object]:
    """The control, or the first lot, beside one blend of each week."""
    named = season(seed).lots["lot"].tolist()
    first = "control" if "control" in named else named[0]
    return {"standard": first, "lots": [name for name in named if name[2:] == "1"]}


def _of_counts(seed: int) -> dict[str, object]:
    rng = np.random.default_rng(seed)
    kind = list(MARGINS)[seed % len(MARGINS)]
    asked = int(rng.integers(6, 60))
    right, share = int(asked * rng.uniform(0.2, 1.0)), MARGINS[kind]
    times = [int(n) for n in rng.integers(1, 9, 6)]
    hits = [int(rng.integers(0, n + 1)) for n in times]
    other = list(MARGINS)[(seed + 1) % 5]
    outcomes = (np.random.default_rng(seed).random(25) < (0.3, 0.5, 0.7, 0.9)[seed % 4]).tolist()
    blank = int(rng.integers(0, 3))
    seen = dict(zip(("hits", "false"), map(int, rng.integers(0, 25, 2)), strict=True), n_a=24, n_not_a=26)
    signal = ("a-not-a", "same-different")[seed % 2]
    strict = {"error": (0.01, 0.05, 0.1)[seed % 3], "match_error": (0.1, 0.05)[seed % 2]}
    return {
        "differ from": lambda: pst.difference_test(signal, **seen),
        "match within": lambda: pst.match_test(signal, **seen, within_d=(0.5, 1.0, 2.0)[seed % 3], **strict),
        "blanks": lambda: pst.match_test(
            kind, correct=right, answers=asked + blank, blanks=blank, within_d=1.0, **strict
        ),
        "signal needed": lambda: pst.answers_needed(signal, within_d=1.0, answers=asked, **strict),
        "rated within": lambda: pst.difference_from_control(_ratings(seed), control="blind", tolerance=1.5, **strict),
        "tests of one kind": lambda: pst.compare_tests([(other, right, asked), (other, asked // 2, asked + 4)]),
        "same tasters, more": lambda: pst.compare_same_tasters(hits, hits[::-1], answers=[8] * 6, error=0.1),
        "differ": lambda: pst.difference_test(kind, correct=right, answers=asked),
        "match": lambda: pst.match_test(kind, correct=right, answers=asked, within_share=share),
        "repeated": lambda: pst.repeated_test(kind, correct=hits, answers=times),
        "repeated within": lambda: pst.repeated_test(kind, correct=hits, answers=times, within_share=share),
        "needed": lambda: pst.answers_needed(kind, within_share=share),
        "needed to differ": lambda: pst.answers_needed(kind, within_d=1.5, true_d=0.2, answers=asked, power=0.8),
        "two tests": lambda: pst.compare_tests(
            [("2-afc" if kind == "paired" else kind, right, asked), (other, asked // 2, asked)]
        ),
        **{f"screening {n}": partial(pst.screen_trainee, other, outcomes[:n]) for n in (1, 3)},
        "screening": lambda: _screened(other, outcomes),
        "answers": lambda: pst.review_answers(rooms.answers(seed)),
        "answers within": lambda: pst.review_answers(rooms.answers(seed), within_d=1.0),
        "packs": lambda: pst.review_packs(rooms.weights(seed), grams=250, millilitres=(700, 800, 900)[seed % 3]),
        "same tasters": lambda: pst.compare_same_tasters(outcomes[:12], outcomes[12:24]),
        "from control": lambda: pst.difference_from_control(_ratings(seed), control="blind"),
    }


def _screened(kind: str, outcomes: list[bool]) -> pst.Screening:
    """As many trials as it took."""
    runs = (pst.screen_trainee(kind, outcomes[:n]) for n in range(1, len(outcomes) + 1))
    return next(run for run in runs if run.call in ("pass", "fail") or len(run.table) == len(outcomes))


def _ratings(seed: int) -> pd.DataFrame:
    rng = np.random.default_rng(seed)
    people, samples = [f"t{n}" for n in range(rng.integers(3, 12))], ("blind", "B1", "B2")
    rows = [(who, what, int(np.clip(rng.normal(1 + n * seed % 3, 1), 0, 9).round()))
            for who in people for n, what in enumerate(samples)]  # fmt: skip
    return pd.DataFrame(rows, columns=["taster", "sample", "rating"])


def _of_plans(seed: int) -> dict[str, object]:
    lots, tray = pd.DataFrame({"lot": [f"{401 + n}" for n in range(5 + seed)], "class": "early"}), seed % 2 == 1
    lots.loc[::2, "class"] = "late"
    people = PEOPLE[: 3 + seed % 3]

    def planned():
        return pst.plan_session(
            lots, people, service="tray" if tray else "bench", limit=14, pots_per_lot=1 + seed % 2, controls=["S"],
            repeats=2, variances={"pot": 0.1, "taster_lot": 0.2, "look": 0.4}, seed=seed, pot_minutes=6.0,
            excluded={"elm": ["402"]} if tray else None, joining=["rowan"], strong=["403"] if not tray else (),
        )  # fmt: skip

    return {
        "plan": planned,
        "plan changed": lambda: pst.change_plan(planned(), late=["499"], absent={"yew": "hazel"}),
        "plan dealt": lambda: pst.plan_session(lots, people, service="tray", limit=8, tasters_per_lot=2, seed=seed),
        "sets": lambda: pst.plan_difference(list(MARGINS)[seed], people, trials=2 + seed % 3, seed=seed),
    }


def _of_map(seed: int) -> dict[str, object]:
    return {
        "map": lambda: pst.review_map(wide(seed), standard="401" if seed % 2 else None, lots=["402"]),
        "map of all": lambda: pst.review_map(
            wide(seed), within="all", scale=("spread", "error")[seed % 2], joined=seed % 2 == 0
        ),
        "map drawn": lambda: _figures(pst.review_map(wide(seed))),
        "axes": lambda: pst.map_lots(wide(seed), axes=3, facts=["price", "garden"], resamples=99, level=0.9),
        "lots": lambda: pst.review_session(wide(seed)),
    }


def _of_papers(seed: int) -> dict[str, object]:
    """Workbooks, pages for one person each, and figures of what the other rooms answered in words."""
    if seed >= len(SESSIONS):
        seed -= len(SESSIONS)
        made = {"season": lambda: pst.review_season(season(seed)), "day": lambda: pst.review_session(day(seed))}
    else:
        made = {
            "session": lambda: pst.review_session(drawn(seed)),
            "tasters": lambda: pst.review_tasters(drawn(seed)),
            "trainees": lambda: pst.review_trainees(drawn(seed), trainees="elm"),
            "map": lambda: pst.review_map(drawn(seed)),
        }
    named = list(made)
    return {
        **{f"workbook of {name}": lambda name=name: handed(workbook(made[name]())) for name in named},
        **{f"handed of {name}": lambda name=name: handed(_pages(made[name]())) for name in named[:3]},
        **{f"figures of {name}": lambda name=name: _figures(made[name]()) for name in named},
    }


def _pages(review: pst.Review) -> dict[str, bytes]:
    """The pages of everybody a review is about."""
    if review.find(pst.SeasonAudit) is None:
        return sheets_of(review)
    return {name: season_taster_page(review, name) for name in review.scores.tasters["taster"].astype(str)}


def _figures(review: pst.Review) -> list[str]:
    return [line for title, result in review.results for line in (f"# {title}", *lines_of(partial(drawing, result)))]


def _of_parts(seed: int) -> dict[str, object]:
    """Seasons read file by file; and rows all walked in one order, which nobody recorded, marks falling along it."""
    return {
        "cells": lambda: _parts_read(seed),
        "season of cells": lambda: _parts_read(seed, pst.review_season),
        "lots of cells": lambda: _parts_read(seed, pst.compare_lots),
        "falling list": lambda: pst.review_session(rooms.falling(seed)),
        "account of it": lambda: _Account(rooms.falling(seed)),
    }


def _parts_read(seed: int, ask: Callable[[pst.Cells], object] | None = None) -> list[str]:
    """The cells of a folder of weekly files, some of which spell a name or write a date their own way."""
    with TemporaryDirectory() as folder, chdir(folder):
        Path("season").mkdir()
        for at, (_, mine) in enumerate(rooms.weekly(seed).groupby("session", sort=False)):
            mine.to_csv(f"season/week {at:02d}.csv", index=False)
        cells = pst.read_cells(Path("season"))
        if ask is not None:
            return lines_of(lambda: ask(cells))
        names = ("frame", "account", "problems", "lots", "tasters", "descriptors", "sessions")
        return lines_of(lambda: _Tables({name: getattr(cells, name) for name in names}, str(cells.spelled)))


class _Tables:
    """Tables that are no result, and a text with them."""

    def __init__(self, tables: dict[str, pd.DataFrame], said: str) -> None:
        self._tables = tables
        self.verdicts = [Verdict("", "", "", said, {}, "", Act.KNOW)]

    def tables(self) -> dict[str, pd.DataFrame]:
        """As a result gives them."""
        return self._tables


def _of_habits(part: int) -> dict[str, object]:
    return {name: partial(_reading, name) for name in list(HABITS)[part::PARTS]}


def _reading(name: str) -> list[str]:
    """How a room in a known habit is read: what is asked of it, or all that its reading records."""
    with TemporaryDirectory() as folder, chdir(folder):  # what is told of a file is told by its place
        source = HABITS[name].made().write(Path("sheets"))
        lines = lines_of(lambda: _Account(pst.read_scores(source)))
        if zlib.crc32(name.encode()) % 3 == 0:
            lines += ["# room.xlsx", *lines_of(lambda: handed(parts_of(pst.write_room(source, Path("room.xlsx")))))]
        return lines


SESSIONS, SEASONS, COUNTS, PLANS, DAYS = range(24), range(8), range(30), range(6), range(10)
MAPS = range(6)
PAPERS = (0, 1, 2, 3, 5, 8, 13, *(len(SESSIONS) + n for n in (0, 1, 2, 5)))
ROOMS = {
    **{f"session {n:02d}": partial(_of_session, n) for n in SESSIONS},
    **{f"season {n:02d}": partial(_of_season, n) for n in SEASONS},
    **{f"counts {n:02d}": partial(_of_counts, n) for n in COUNTS},
    **{f"day {n:02d}": partial(_of_day, n) for n in DAYS},
    **{f"papers {n:02d}": partial(_of_papers, n) for n in PAPERS},
    **{f"several {n:02d}": partial(_of_several, n) for n in range(6)},
    **{f"maps {n:02d}": partial(_of_map, n) for n in MAPS},
    **{f"parts {n:02d}": partial(_of_parts, n) for n in range(4)},
    **{f"habits {n:02d}": partial(_of_habits, n) for n in range(PARTS)},
    **{f"plans {n:02d}": partial(_of_plans, n) for n in PLANS},
}
