"""The bench: one session of a laboratory panel, nine tasters, two classes of lots, two shared pots."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import pandas as pd

from panelstats.example.palates import Errors, sound_panel, true_teas
from panelstats.example.remarks import SAID
from panelstats.example.room import (
    BROKEN,
    DESCRIPTORS,
    DISTRICTS,
    FANNINGS,
    REMARKS,
    SENIORS,
    TAINT,
    Room,
    descriptor_register,
    session_register,
    taster_register,
)
from panelstats.example.sitting import by_taster, sitting
from panelstats.example.truth import ALL, planted, truth
from panelstats.scores.cells import CLASS, DESCRIPTOR, LOT, POSITION, TASTER

DAY = date(2026, 3, 2)
LOTS = [str(401 + i) for i in range(24)]
CLASSES = [BROKEN] * 12 + [FANNINGS] * 12
POTS = 2
ERRORS = Errors()
NAMES = list(DESCRIPTORS[DESCRIPTOR])

BIASED, BIAS = "larch", 1.25
NARROW, SHARE = "spruce", 0.35
CALLED_AWAY, MISSED = "sycamore", 3  # servings at the end of the walk
EMPTY = 0.005  # share of cells left empty
WEAK_LOT, WEAK_POT = "405", 2
WEAK = {"colour": -2.5, "strength": -2.5, "body": -2.0}
TAINTED, NOTICED = "418", ["alder", "elm", "poplar", "yew"]


def bench(*, seed: int = 1) -> Room:
    """The bench of the invented room: 24 lots in two classes, 9 tasters, 2 shared pots, 16 descriptors.

    Planted: one taster who scores everything high, one who uses little of the scale, a pot brewed too weak, a lot with
    a smoky taint that some notice, and three descriptors on which the lots of a class are exactly alike.

    Parameters
    ----------
    seed : int
        The same seed gives the same scores.

    Returns
    -------
    Room
        A sheet per taster; registers sessions, lots, descriptors, tasters.

    Examples
    --------
    >>> room = bench()
    >>> room
    <Invented room, bench: 429 servings on 9 sheets, seed 1>
    >>> [fault["who"] for fault in room.truth["planted"] if fault["about"] == "taster"]
    ['larch', 'spruce']
    """
    rng = np.random.default_rng(np.random.SeedSequence(seed))
    teas = true_teas(rng, LOTS, CLASSES, DESCRIPTORS)
    panel = sound_panel(rng, SENIORS, len(NAMES), ERRORS).raised(BIASED, BIAS).but(NARROW, "scale", SHARE)
    brews = np.zeros((len(LOTS), POTS, len(NAMES)))
    brews[LOTS.index(WEAK_LOT), WEAK_POT - 1, [NAMES.index(name) for name in WEAK]] = list(WEAK.values())
    sheet = sitting(rng, DAY.isoformat(), teas, panel, errors=ERRORS, brews=brews)
    registers = {
        "sessions": session_register([DAY.isoformat()], order="randomised", blind="partly"),
        "lots": _lots(rng),
        "descriptors": descriptor_register(DESCRIPTORS, asked=True),
        "tasters": taster_register(SENIORS),
    }
    facts = truth("bench", seed, descriptors=NAMES, teas=teas, errors=ERRORS, facts=_planted())
    return Room("bench", seed, by_taster(_as_it_went(rng, sheet)), registers, facts)


def _as_it_went(rng: np.random.Generator, sheet: pd.DataFrame) -> pd.DataFrame:
    """The sheet with the taint marked and said, some cells empty, and without the servings of who was called away."""
    notices = ((sheet[LOT] == TAINTED) & sheet[TASTER].isin(NOTICED)).to_numpy()
    scores = sheet[NAMES].mask(rng.random((len(sheet), len(NAMES))) < EMPTY)
    said = np.where(notices, rng.choice(SAID, len(sheet)), sheet[REMARKS])
    sheet = sheet.assign(**scores).drop(columns=REMARKS)
    sheet[TAINT], sheet[REMARKS] = np.where(notices, 1.0, np.nan), said
    missed = (sheet[TASTER] == CALLED_AWAY) & (sheet[POSITION] > len(LOTS) * POTS - MISSED)
    return sheet[~missed]


def _lots(rng: np.random.Generator) -> pd.DataFrame:
    """The lots register: class, garden, and the day each lot was made."""
    elevation = rng.choice(list(DISTRICTS), len(LOTS))
    made = [(DAY - timedelta(days=int(days))).isoformat() for days in rng.integers(20, 40, len(LOTS))]
    return pd.DataFrame(
        {
            LOT: LOTS,
            "kind": "black",
            "grade": [name.removeprefix("black ") for name in CLASSES],
            "elevation": elevation,
            CLASS: CLASSES,
            "garden": [f"{DISTRICTS[where]} {rng.integers(1, 4)}" for where in elevation],
            "made": made,
        }
    )


def _planted() -> list[dict[str, object]]:
    alike = list(DESCRIPTORS.loc[DESCRIPTORS["spread"] == 0, DESCRIPTOR])
    return [
        planted("taster", BIASED, "level", ALL, BIAS),
        planted("taster", NARROW, "scale_use", ALL, SHARE),
        *(planted("pot", WEAK_LOT, "brewed wrong", name, points, pot=WEAK_POT) for name, points in WEAK.items()),
        planted("lot", TAINTED, "taint", TAINT, None, noticed_by=NOTICED),
        *(planted("descriptor", name, "lots of a class alike", name, 0.0) for name in alike),
    ]
