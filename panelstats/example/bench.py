"""The bench: one session of a laboratory panel, nine tasters, two classes of lots, two shared pots."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import pandas as pd

from panelstats.example.palates import Errors, sound_panel, tasted, true_lots, walks
from panelstats.example.remarks import SAID, remarks
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
    servings,
    session_register,
    taster_register,
)
from panelstats.example.truth import ALL, planted, truth
from panelstats.scores.cells import CLASS, DESCRIPTOR, LOT, POSITION, POT, SESSION, TASTER

DAY = date(2026, 3, 2)
LOTS = [str(401 + i) for i in range(24)]
CLASSES = [BROKEN] * 12 + [FANNINGS] * 12
POTS = 2
ERRORS = Errors()

BIASED, BIAS = "larch", 1.25
NARROW, SHARE = "spruce", 0.35
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
    names = list(DESCRIPTORS[DESCRIPTOR])
    value, typical = true_lots(rng, DESCRIPTORS, CLASSES)
    panel = sound_panel(rng, SENIORS, len(names), ERRORS).raised(BIASED, BIAS).but(NARROW, "scale", SHARE)
    brews = np.zeros((len(LOTS), POTS, len(names)))
    brews[LOTS.index(WEAK_LOT), WEAK_POT - 1, [names.index(name) for name in WEAK]] = list(WEAK.values())
    scores = tasted(rng, value, typical, panel, ERRORS, brews=brews)
    scores[rng.random(scores.shape) < 0.005] = np.nan  # here and there a cell left empty
    sheet = servings(DAY.isoformat(), LOTS, SENIORS, POTS)
    sheet.insert(1, POSITION, walks(rng, len(LOTS), len(SENIORS), POTS).ravel())
    sheet = pd.concat([sheet, pd.DataFrame(scores.reshape(-1, len(names)), columns=names)], axis=1)
    return Room(
        "bench",
        seed,
        _by_taster(_with_words(rng, sheet)),
        {
            "sessions": session_register([DAY.isoformat()], order="randomised", blind="partly"),
            "lots": _lots(rng),
            "descriptors": descriptor_register(DESCRIPTORS),
            "tasters": taster_register(SENIORS),
        },
        truth("bench", seed, names, LOTS, value, ERRORS, _planted()),
    )


def _with_words(rng: np.random.Generator, sheet: pd.DataFrame) -> pd.DataFrame:
    """The sheet with the taint's column and remarks, less three servings of a taster who was called away."""
    group = sheet[TASTER] + sheet[LOT].map(dict(zip(LOTS, CLASSES, strict=True)))
    notices = ((sheet[LOT] == TAINTED) & sheet[TASTER].isin(NOTICED)).to_numpy()
    sheet = sheet.assign(**{TAINT: np.where(notices, 1.0, np.nan), REMARKS: remarks(rng, sheet, group.to_numpy())})
    sheet.loc[notices, REMARKS] = rng.choice(SAID, notices.sum())
    last = sheet[POSITION] > len(LOTS) * POTS - 3
    return sheet[~((sheet[TASTER] == "sycamore") & last)]


def _by_taster(sheet: pd.DataFrame) -> dict[str, pd.DataFrame]:
    """A sheet per taster in the order he tasted."""
    parts = sheet.sort_values([TASTER, POSITION]).groupby(TASTER, sort=False)
    first = [SESSION, TASTER, POSITION, LOT, POT]
    return {str(name): part[first + [c for c in part if c not in first]].reset_index(drop=True) for name, part in parts}


def _lots(rng: np.random.Generator) -> pd.DataFrame:
    """The lots register: class, district, and the day each lot was made."""
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
