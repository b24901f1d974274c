"""New tasters: a dozen linked sessions in which two trainees taste beside seven seniors."""

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
    taste_weeks,
    trainee_facts,
    weekly_teas,
)
from panelstats.example.palates import Panel, sound_panel
from panelstats.example.room import (
    DESCRIPTORS,
    SENIORS,
    TRAINEES,
    Room,
    descriptor_register,
    session_register,
    taster_register,
)
from panelstats.example.truth import ALL, planted, truth

SESSIONS, FRESH = 12, 6
CONTROLS = ["901", "902"]
PANEL = SENIORS[:7]
LEARNS, STAYS = TRAINEES
HALVES = 1.0  # sessions in which what is left of a beginner's faults is halved
SWAPS, SWAPPED = "poplar", ("strength", "flavour")
NOISY, SCATTER = "spruce", 2.5


def new_tasters(*, seed: int = 3) -> Room:
    """A dozen linked sessions of 8 lots: 7 seniors, 2 trainees, 2 shared pots, 16 descriptors.

    Planted: a trainee who gets there and one who does not; among the seniors one who writes two descriptors in each
    other's column and one who does not repeat himself.

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
    >>> new_tasters()
    <Invented room, new-tasters: 1,728 servings on 12 sheets, seed 3>
    """
    rng = np.random.default_rng(np.random.SeedSequence(seed))
    days = mondays(date(2026, 9, 7), SESSIONS)
    weeks = weekly_teas(rng, SESSIONS, fresh=FRESH, first_lot=701, standing=CONTROLS)
    panel = sound_panel(rng, PANEL + TRAINEES, len(NAMES), ERRORS).but(NOISY, "look", SCATTER)
    panel = panel.swapped(SWAPS, *(NAMES.index(name) for name in SWAPPED))

    def panel_of(week: int) -> Panel:
        return beginner(beginner(panel, LEARNS, 0.5 ** (week / HALVES)), STAYS, 1.0)

    registers = {
        "sessions": session_register(days, order="randomised", blind="partly"),
        "lots": lot_register(all_teas(weeks), dict.fromkeys(CONTROLS, "control")),
        "descriptors": descriptor_register(DESCRIPTORS),
        "tasters": taster_register(PANEL, TRAINEES),
    }
    facts = truth("new-tasters", seed, descriptors=NAMES, teas=all_teas(weeks), errors=ERRORS, facts=_planted(days))
    return Room("new-tasters", seed, taste_weeks(rng, days, weeks, panel_of), registers, facts)


def _planted(days: list[str]) -> list[dict[str, object]]:
    a, b = SWAPPED
    return [
        *trainee_facts(LEARNS, STAYS, joined=days[0], ready=days[4], halves=HALVES),
        planted("taster", SWAPS, "swapped", a, None, reads=b),
        planted("taster", SWAPS, "swapped", b, None, reads=a),
        planted("taster", NOISY, "repeatability", ALL, SCATTER),
    ]
