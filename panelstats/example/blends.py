"""The blends: a standard and two trial blends, by descriptors from several shared pots and by answers."""

from __future__ import annotations

from datetime import date

import numpy as np
import pandas as pd

from panelstats.example.palates import Errors, Teas, sound_panel
from panelstats.example.room import (
    BROKEN,
    DESCRIPTORS,
    SENIORS,
    STANDARD,
    Room,
    descriptor_register,
    session_register,
    taster_register,
)
from panelstats.example.sitting import as_tasted, sitting
from panelstats.example.truth import ALL, planted, truth
from panelstats.scores.cells import CLASS, DESCRIPTOR, LOT, POT, ROLE, SESSION, TASTER

DAY = date(2026, 6, 15)
NAMES = list(DESCRIPTORS[DESCRIPTOR])
ERRORS = Errors(crossing=0.2)  # teas of one style: tasters disagree less about them
BLENDS, POTS = [STANDARD, "B1", "B2"], 6
MATCHES, DIFFERS = BLENDS[1:]
APART = {"strength": -1.75, "colour": -1.75, "body": -1.5}
TOLERANCE = 1.0
CODES = [str(code) for code in range(100, 1000)]

# Served to each taster, the standard A and the trial B: serving orders of ISO 4120 and ISO 10399 (reference first).
ORDERS = {
    "triangle": ["AAB", "ABA", "BAA", "ABB", "BAB", "BBA"],
    "duo-trio": ["A:AB", "A:BA", "B:AB", "B:BA"],
}
TRIALS = {"triangle": 6, "duo-trio": 4}
CAN_TELL = {MATCHES: 0.0, DIFFERS: 0.6}  # share of the servings in which the taster can tell


def blends(*, seed: int = 5) -> Room:
    """A standard and two trial blends: 9 tasters, 6 shared pots of each, a triangle and a duo-trio test of each trial.

    Planted: B1 is the standard itself; B2 is weaker and paler.

    Parameters
    ----------
    seed : int
        The same seed gives the same scores.

    Returns
    -------
    Room
        One sheet with blind codes; registers sessions, lots, descriptors, tasters, codes, answers.

    Examples
    --------
    >>> room = blends()
    >>> room
    <Invented room, blends: 162 servings on 1 sheet, seed 5>
    >>> list(room.registers["answers"])
    ['session', 'test', 'kind', 'taster', 'trial', 'order', 'answer', 'code']
    """
    rng = np.random.default_rng(np.random.SeedSequence(seed))
    typical = np.tile(DESCRIPTORS[BROKEN].to_numpy(float), (len(BLENDS), 1))
    teas = Teas(BLENDS, typical, typical).changed([DIFFERS], APART, NAMES)
    panel = sound_panel(rng, SENIORS, len(NAMES), ERRORS)
    brews = np.zeros((len(BLENDS), POTS, len(NAMES)))
    sheet = sitting(rng, DAY.isoformat(), teas, panel, errors=ERRORS, brews=brews)
    codes = _codes(rng)
    lots = pd.DataFrame({LOT: BLENDS, "kind": "black", "grade": "broken", CLASS: BROKEN})
    registers = {
        "sessions": session_register([DAY.isoformat()], order="randomised", blind="yes"),
        "lots": lots.assign(**{ROLE: ["standard", "trial", "trial"]}),
        "descriptors": descriptor_register(DESCRIPTORS, tolerance=TOLERANCE),
        "tasters": taster_register(SENIORS),
        "codes": codes,
        "answers": _answers(rng, taken=codes["code"]),
    }
    facts = truth("blends", seed, descriptors=NAMES, teas=teas, errors=ERRORS, facts=_planted())
    return Room("blends", seed, {"blends": _coded(as_tasted(sheet), codes)}, registers, facts)


def _codes(rng: np.random.Generator) -> pd.DataFrame:
    """A three-digit code for every pot."""
    pots = pd.MultiIndex.from_product([BLENDS, range(1, POTS + 1)], names=[LOT, POT]).to_frame(index=False)
    pots.insert(0, SESSION, DAY.isoformat())
    pots.insert(1, "code", rng.choice(CODES, len(pots), replace=False))
    return pots


def _coded(sheet: pd.DataFrame, codes: pd.DataFrame) -> pd.DataFrame:
    """The sheet as the tasters saw it: the code in place of lot and pot."""
    coded = sheet.merge(codes, on=[SESSION, LOT, POT], how="left", validate="m:1").drop(columns=[LOT, POT])
    first = [SESSION, TASTER, "position", "code"]
    return coded[first + [column for column in coded if column not in first]]


def _answers(rng: np.random.Generator, taken: pd.Series) -> pd.DataFrame:
    """The answers register: each test with each trial blend, every taster several times; no code occurs twice."""
    table = pd.concat([_test(rng, kind, trial) for trial in CAN_TELL for kind in ORDERS], ignore_index=True)
    free = [code for code in CODES if code not in set(taken)]
    table["code"] = rng.choice(free, len(table), replace=False)
    table.insert(0, SESSION, DAY.isoformat())
    return table


def _test(rng: np.random.Generator, kind: str, trial: str) -> pd.DataFrame:
    """One test: the order served and the place the taster pointed at (from 1, the reference not counted)."""
    tasters, trials = np.repeat(SENIORS, TRIALS[kind]), np.tile(np.arange(1, TRIALS[kind] + 1), len(SENIORS))
    order = rng.permuted(np.tile(ORDERS[kind], (len(SENIORS), 1)), axis=1).ravel()  # every order once a taster
    right = np.array([_right(text) for text in order])
    places = len(order[0].rpartition(":")[2])
    guess = rng.integers(1, places + 1, len(order))
    answer = np.where(rng.random(len(order)) < CAN_TELL[trial], right, guess)
    told = {"test": f"{STANDARD} with {trial}", "kind": kind, TASTER: tasters, "trial": trials}
    return pd.DataFrame({**told, "order": order, "answer": answer})


def _right(order: str) -> int:
    """The right place: the odd one of three, or the one that is the reference."""
    reference, _, served = order.rpartition(":")
    wanted = reference or min(served, key=served.count)
    return served.index(wanted) + 1


def _planted() -> list[dict[str, object]]:
    return [
        planted("blend", MATCHES, "is the standard", ALL, 0.0, share_who_can_tell=CAN_TELL[MATCHES]),
        *(planted("blend", DIFFERS, "differs", name, points, share_who_can_tell=CAN_TELL[DIFFERS])
          for name, points in APART.items()),
    ]  # fmt: skip
