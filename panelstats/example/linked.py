"""Sessions linked by controls: the season of the room, and the dozen sessions in which two new tasters were tried."""

from __future__ import annotations

from datetime import date, timedelta
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from panelstats.example.palates import Errors, Panel, Teas, true_teas
from panelstats.example.room import BROKEN, DESCRIPTORS
from panelstats.example.sitting import as_tasted, sitting
from panelstats.example.truth import ALL, planted
from panelstats.scores.cells import CLASS, DESCRIPTOR, LOT, ROLE, TASTER

if TYPE_CHECKING:
    from collections.abc import Callable

NAMES = list(DESCRIPTORS[DESCRIPTOR])
ERRORS = Errors(visit=0.1)
POTS = 2
# What a beginner adds: points of level, up on some descriptors and down on others, and factors on his errors.
BEGINS, CROSSES, SCATTERS = 1.0, 1.5, 1.2


def mondays(first: date, sessions: int) -> list[str]:
    """The dates of weekly sessions."""
    return [(first + timedelta(weeks=week)).isoformat() for week in range(sessions)]


def weekly_teas(
    rng: np.random.Generator, sessions: int, *, fresh: int, first_lot: int, standing: list[str]
) -> list[Teas]:
    """Every session's fresh lots, numbered on from `first_lot`, after the standing lots that come back each time."""
    numbers = [str(first_lot + i) for i in range(fresh * sessions)]
    teas = true_teas(rng, standing + numbers, [BROKEN] * (len(standing) + len(numbers)), DESCRIPTORS)
    back, new = np.arange(len(standing)), np.arange(len(standing), len(teas.lots)).reshape(sessions, fresh)
    return [_some(teas, np.concatenate([back, week])) for week in new]


def _some(teas: Teas, rows: np.ndarray) -> Teas:
    return Teas([teas.lots[row] for row in rows], teas.value[rows], teas.typical[rows])


def taste_weeks(
    rng: np.random.Generator, days: list[str], weeks: list[Teas], panel_of: Callable[[int], Panel]
) -> dict[str, pd.DataFrame]:
    """A sheet per session, named for its date; `panel_of` gives the panel as it was that week, counted from 0."""
    sheets = {}
    for week, (day, teas) in enumerate(zip(days, weeks, strict=True)):
        brews = np.zeros((len(teas.lots), POTS, len(NAMES)))
        sheets[day] = as_tasted(sitting(rng, day, teas, panel_of(week), errors=ERRORS, brews=brews))
    return sheets


def beginner(panel: Panel, taster: str, excess: float) -> Panel:
    """The panel in which one taster still has a share `excess` of a beginner's faults."""
    signs = np.where(np.arange(len(NAMES)) % 2, -1.0, 1.0)
    panel = panel.raised(taster, excess * BEGINS * signs)
    panel = panel.but(taster, "crossing", 1 + excess * CROSSES)
    return panel.but(taster, "look", 1 + excess * SCATTERS)


def trainee_facts(learns: str, stays: str, *, joined: str, ready: str, halves: float) -> list[dict[str, object]]:
    """The planted facts of two trainees: what both begin with, which of them loses it, and by when."""
    begins = {"level": BEGINS, "crossing_factor": 1 + CROSSES, "look_factor": 1 + SCATTERS}
    return [
        planted("trainee", learns, "ready", ALL, 0.0, since=ready, joined=joined, begins=begins, halves=halves),
        planted("trainee", stays, "not yet", ALL, BEGINS, since=joined, joined=joined, begins=begins),
    ]


def all_teas(weeks: list[Teas]) -> Teas:
    """Every lot of all weeks once."""
    lots = [lot for week in weeks for lot in week.lots]
    value, typical = (np.vstack([getattr(week, what) for week in weeks]) for what in ("value", "typical"))
    return _some(Teas(lots, value, typical), np.flatnonzero(~pd.Index(lots).duplicated()))


def lot_register(teas: Teas, roles: dict[str, str]) -> pd.DataFrame:
    """The lots register: every lot with its role where it has one."""
    role = [roles.get(lot, "") for lot in teas.lots]
    return pd.DataFrame({LOT: teas.lots, "kind": "black", "grade": "broken", CLASS: BROKEN, ROLE: role})


def present(sheets: dict[str, pd.DataFrame], absent: dict[str, list[str]]) -> dict[str, pd.DataFrame]:
    """The sheets without the tasters who were not there; `absent` goes by session."""
    gone = {day: sheet[TASTER].isin(absent.get(day, [])) for day, sheet in sheets.items()}
    return {day: sheet[~gone[day]].reset_index(drop=True) for day, sheet in sheets.items()}
