"""The season: weekly sessions linked by controls, trainees, tasters who move, a blend that creeps from its standard."""

from __future__ import annotations

from datetime import date

import numpy as np

from panelstats.example.linked import (
    ERRORS,
    NAMES,
    all_teas,
    beginner,
    lot_register,
    mondays,
    present,
    taste_weeks,
    trainee_facts,
    weekly_teas,
)
from panelstats.example.palates import Panel, Teas, sound_panel
from panelstats.example.room import (
    DESCRIPTORS,
    SENIORS,
    STANDARD,
    TRAINEES,
    Room,
    descriptor_register,
    session_register,
    taster_register,
)
from panelstats.example.truth import ALL, planted, truth

SESSIONS, FRESH = 34, 8
CONTROLS = ["901", "902"]
PANEL = [name for name in SENIORS if name != "sycamore"]
LEARNS, STAYS = TRAINEES
JOIN, HALVES = 4, 3.0  # the session, counted from 0, in which the trainees join; sessions that halve their faults
ABSENT = 0.05  # chance that a senior misses a session

# Sessions are counted from 0; who drifts has left before the swap begins: never more than two at fault.
DRIFTS, DRIFT_ON, DRIFT, DRIFT_SINCE, LEAVES = "hornbeam", "brisk", 0.09, 10, 24
JUMPS, JUMP_ON, JUMP, JUMP_SINCE = "poplar", "strength", -1.25, 16
SWAPS, SWAPPED, SWAP_SINCE = "elm", ("body", "brisk"), 25
LOSES, LOSS, LOSES_SINCE = JUMPS, 2.0, 22  # repeats half as closely as before; the one who has jumped, tired
CREEPS, BLEND_ERROR = {"strength": -0.035, "colour": -0.03}, 0.1


def season(*, seed: int = 4) -> Room:
    """A season of 34 weekly sessions: 8 seniors, 2 trainees; 8 lots, 2 controls, the standard and the week's blend.

    Planted: a taster who drifts on one descriptor until he leaves, one who jumps and later repeats half as closely, one
    who from a day on writes two descriptors in each other's column; a trainee who gets there and one who does not; the
    weekly blend creeps away from the sealed standard.

    Parameters
    ----------
    seed : int
        The same seed gives the same scores.

    Returns
    -------
    Room
        A sheet per session; registers sessions, lots, descriptors, tasters.

    Examples
    --------
    >>> room = season()
    >>> faults = [fault for fault in room.truth["planted"] if fault["about"] == "taster"]
    >>> [(fault["who"], fault["since"]) for fault in faults[:4]]
    [('hornbeam', '2026-03-16'), ('poplar', '2026-04-27'), ('poplar', '2026-06-08'), ('elm', '2026-06-29')]
    """
    rng = np.random.default_rng(np.random.SeedSequence(seed))
    days = mondays(date(2026, 1, 5), SESSIONS)
    weeks = weekly_teas(rng, SESSIONS, fresh=FRESH, first_lot=1001, standing=[*CONTROLS, STANDARD])
    weeks = [_with_blend(rng, teas, week) for week, teas in enumerate(weeks)]
    panel = sound_panel(rng, PANEL + TRAINEES, len(NAMES), ERRORS)
    sheets = taste_weeks(rng, days, weeks, lambda week: _panel_of(panel, week))
    blends = {f"B{number + 1}": "trial" for number in range(SESSIONS)}
    tasters = taster_register(PANEL, TRAINEES)
    tasters["joined"] = [days[JOIN] if name in TRAINEES else "" for name in tasters["taster"]]
    tasters["left"] = [days[LEAVES - 1] if name == DRIFTS else "" for name in tasters["taster"]]
    registers = {
        "sessions": session_register(days, order="randomised", blind="partly"),
        "lots": lot_register(all_teas(weeks), {**dict.fromkeys(CONTROLS, "control"), STANDARD: "standard", **blends}),
        "descriptors": descriptor_register(DESCRIPTORS),
        "tasters": tasters,
    }
    facts = truth("season", seed, descriptors=NAMES, teas=all_teas(weeks), errors=ERRORS, facts=_planted(days))
    return Room("season", seed, present(sheets, _absent(rng, days)), registers, facts)


def _with_blend(rng: np.random.Generator, teas: Teas, week: int) -> Teas:
    """The week's teas with its blend: the standard, a small error, and the creep."""
    creep = np.array([CREEPS.get(name, 0.0) * (week + 1) for name in NAMES])
    standard = teas.lots.index(STANDARD)
    blend = teas.value[standard] + creep + rng.normal(0, BLEND_ERROR, len(NAMES))
    typical = np.vstack([teas.typical, teas.typical[standard]])
    return Teas([*teas.lots, f"B{week + 1}"], np.vstack([teas.value, blend]), typical)


def _panel_of(panel: Panel, week: int) -> Panel:
    panel = panel.raised(DRIFTS, DRIFT * max(0, week - DRIFT_SINCE + 1), [NAMES.index(DRIFT_ON)])
    if week >= JUMP_SINCE:
        panel = panel.raised(JUMPS, JUMP, [NAMES.index(JUMP_ON)])
    if week >= LOSES_SINCE:
        panel = panel.but(LOSES, "look", LOSS)
    if week >= SWAP_SINCE:
        panel = panel.swapped(SWAPS, *(NAMES.index(name) for name in SWAPPED))
    panel = beginner(panel, LEARNS, 0.5 ** (max(0, week - JOIN) / HALVES))
    return beginner(panel, STAYS, 1.0)


def _absent(rng: np.random.Generator, days: list[str]) -> dict[str, list[str]]:
    """Who was not there: trainees before they joined, who had left, and now and then a senior."""
    away = rng.random((len(days), len(PANEL))) < ABSENT
    return {
        day: [name for name, gone in zip(PANEL, away[week], strict=True) if gone]
        + (TRAINEES if week < JOIN else [])
        + ([DRIFTS] if week >= LEAVES else [])
        for week, day in enumerate(days)
    }


def _planted(days: list[str]) -> list[dict[str, object]]:
    a, b = SWAPPED
    drifted = DRIFT * (LEAVES - DRIFT_SINCE)
    return [
        planted("taster", DRIFTS, "drifting", DRIFT_ON, drifted, since=days[DRIFT_SINCE], until=days[LEAVES - 1],
                per_session=DRIFT),
        planted("taster", JUMPS, "jumped", JUMP_ON, JUMP, since=days[JUMP_SINCE]),
        planted("taster", LOSES, "repeatability", ALL, LOSS, since=days[LOSES_SINCE]),
        planted("taster", SWAPS, "swapped", a, None, since=days[SWAP_SINCE], reads=b),
        planted("taster", SWAPS, "swapped", b, None, since=days[SWAP_SINCE], reads=a),
        *trainee_facts(LEARNS, STAYS, joined=days[JOIN], ready=days[JOIN + 12], halves=HALVES),
        *(planted("blend", "B1 to B34", "creeps from the standard", name, round(points * SESSIONS, 2),
                  per_session=points) for name, points in CREEPS.items()),
    ]  # fmt: skip
