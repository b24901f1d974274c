"""Sessions linked by controls: the season of the room, and the dozen sessions in which two new tasters were tried."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from panelstats.example.palates import Errors, Panel, true_lots
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


@dataclass(frozen=True, eq=False)
class Week:
    """What one session tastes: names of the lots and their true values, (lot, descriptor)."""

    session: str
    lots: list[str]
    value: np.ndarray


def mondays(first: date, sessions: int) -> list[str]:
    """The dates of weekly sessions."""
    return [(first + timedelta(weeks=week)).isoformat() for week in range(sessions)]


def plan_weeks(
    rng: np.random.Generator, days: list[str], *, fresh: int, first_lot: int, standing: list[str]
) -> list[Week]:
    """Every session's fresh lots, numbered on from `first_lot`, after the standing lots that come back each time."""
    numbers = [str(first_lot + i) for i in range(fresh * len(days))]
    value, _ = true_lots(rng, DESCRIPTORS, [BROKEN] * (len(standing) + len(numbers)))
    kept, new = value[: len(standing)], value[len(standing) :].reshape(len(days), fresh, -1)
    return [
        Week(day, standing + numbers[week * fresh : (week + 1) * fresh], np.vstack([kept, new[week]]))
        for week, day in enumerate(days)
    ]


def taste_weeks(
    rng: np.random.Generator, weeks: list[Week], panel_of: Callable[[int], Panel]
) -> dict[str, pd.DataFrame]:
    """A sheet per session, named for its date; `panel_of` gives the panel as it was that week."""
    typical = DESCRIPTORS[BROKEN].to_numpy(float)
    return {
        week.session: as_tasted(
            sitting(
                rng,
                week.session,
                week.lots,
                week.value,
                np.broadcast_to(typical, week.value.shape),
                panel_of(number),
                ERRORS,
                DESCRIPTORS,
                brews=np.zeros((len(week.lots), POTS, len(NAMES))),
            )
        )
        for number, week in enumerate(weeks)
    }


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


def lot_register(weeks: list[Week], roles: dict[str, str]) -> pd.DataFrame:
    """The lots register: every lot once, with its role where it has one."""
    lots = list(dict.fromkeys(lot for week in weeks for lot in week.lots))
    role = [roles.get(lot, "") for lot in lots]
    return pd.DataFrame({LOT: lots, "kind": "black", "grade": "broken", CLASS: BROKEN, ROLE: role})


def present(sheets: dict[str, pd.DataFrame], absent: dict[str, list[str]]) -> dict[str, pd.DataFrame]:
    """The sheets without the tasters who were not there; `absent` goes by session."""
    return {
        day: sheet[~sheet[TASTER].isin(absent.get(day, []))].reset_index(drop=True) for day, sheet in sheets.items()
    }


def all_values(weeks: list[Week]) -> tuple[list[str], np.ndarray]:
    """Every lot once, with its true values, (lot, descriptor)."""
    first = {lot: week.value[i] for week in reversed(weeks) for i, lot in enumerate(week.lots)}
    return list(first), np.array(list(first.values()))
