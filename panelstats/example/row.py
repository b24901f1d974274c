"""The row: a sale day, 300 lots tasted once by two tasters along one row of shared pots."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import pandas as pd

from panelstats.example.palates import Errors, sound_panel, true_teas
from panelstats.example.room import (
    BROKEN,
    DISTRICTS,
    REMARKS,
    SENIORS,
    Room,
    describe,
    descriptor_register,
    session_register,
    taster_register,
)
from panelstats.example.sitting import sitting
from panelstats.example.truth import planted, truth
from panelstats.scores.cells import CLASS, DESCRIPTOR, LOT, POSITION, POT, ROLE, SESSION, TASTER

DAY = date(2026, 3, 17)
CHOSEN = describe(["black", "even", "coppery", "colour", "bright", "strength", "brisk", "flavour"])
NAMES = list(CHOSEN[DESCRIPTOR])
ERRORS = Errors(pot=0.3, crossing=0.4, look=0.5)
PANEL = SENIORS[:2]
LOTS = [str(1101 + i) for i in range(300)]
CONTROL, EVERY = "9001", 25
REPEATS, APART = 12, 40  # lots served again, at least so many places later
GARDENS = [f"{district} {number}" for district in DISTRICTS.values() for number in range(1, 5)]
TAINTED, NOTICED, SAID = "1217", PANEL[0], "smoky"

# One garden fermented for a shorter time from a day on; its lots made since then are brisker and paler.
CHANGED, CHANGED_LOTS, SINCE = "Mid Brallow 2", 60, date(2026, 2, 16)
USUAL_MINUTES, SHORTER = 75, 55
WENT_WITH = {"brisk": 1.5, "colour": -1.25}

# A vessel filled to 500 ml and weighed, loose: 0.30 g/ml is what a relief-goods catalogue gives for packed broken
# tea (500 g in 1.66 l); of the light lot 250 g need more than the pack of 830 ml.
WEIGHED, VESSEL, USUAL_DENSITY, LIGHT_LOT, LIGHT = 12, 500, 0.325, "1106", 0.27
PACK = {"grams": 250, "millilitres": 830}


def row(*, seed: int = 2) -> Room:
    """A row of 300 lots: 2 tasters, one shared pot a lot, 12 hidden repeats, a control every 25 lots.

    Planted: a smoky lot that one of the two noticed, a garden whose lots changed with its fermenting, a lot too light
    for its pack. Every pot carries a number of its own; the register `codes` says what stood under it.

    Parameters
    ----------
    seed : int
        The same seed gives the same scores.

    Returns
    -------
    Room
        A sheet per taster; registers sessions, lots, descriptors, tasters, codes, densities.

    Examples
    --------
    >>> room = row()
    >>> room
    <Invented room, row: 648 servings on 2 sheets, seed 2>
    >>> [fact["who"] for fact in room.truth["planted"]]
    ['1217', 'Mid Brallow 2', 'Mid Brallow 2', '1106']
    """
    rng = np.random.default_rng(np.random.SeedSequence(seed))
    lots = _lots(rng)
    teas = true_teas(rng, [*LOTS, CONTROL], [BROKEN] * (len(LOTS) + 1), CHOSEN)
    teas = teas.changed((lots["fermenting"] == SHORTER).to_numpy(), WENT_WITH, NAMES)
    panel = sound_panel(rng, PANEL, len(NAMES), ERRORS)
    codes = _codes(rng)
    brews = np.zeros((len(teas.lots), int(codes[POT].max()), len(NAMES)))
    every_pot = sitting(rng, DAY.isoformat(), teas, panel, errors=ERRORS, brews=brews, chosen=CHOSEN)
    lots.loc[lots[LOT].isin(codes.loc[codes[POT] > 1, LOT]), ROLE] = "repeat"
    lots.loc[lots[LOT] == CONTROL, ROLE] = "control"
    registers = {
        "sessions": session_register([DAY.isoformat()], order="as listed", blind="yes"),
        "lots": lots,
        "descriptors": descriptor_register(CHOSEN),
        "tasters": taster_register(PANEL),
        "codes": codes,
        "densities": _densities(rng),
    }
    facts = truth("row", seed, descriptors=NAMES, teas=teas, errors=ERRORS, facts=_planted())
    return Room("row", seed, _along(every_pot, codes), registers, facts)


def _codes(rng: np.random.Generator) -> pd.DataFrame:
    """What stands along the row: the lots in order, the control after every 25th, some lots again further on."""
    place = np.arange(len(LOTS), dtype=float)
    control = np.arange(EVERY, len(LOTS) + 1, EVERY) - 0.5
    again = np.sort(rng.choice(len(LOTS) - 2 * APART, REPEATS, replace=False))
    later = again + APART + (len(LOTS) - APART - again) * rng.random(REPEATS)
    pots = pd.DataFrame(
        {
            LOT: LOTS + [CONTROL] * len(control) + [LOTS[i] for i in again],
            POT: np.concatenate([np.ones(len(LOTS)), 1 + np.arange(len(control)), np.full(REPEATS, 2)]).astype(int),
        }
    )
    pots = pots.iloc[np.argsort(np.concatenate([place, control, later]))].reset_index(drop=True)
    pots.insert(0, SESSION, DAY.isoformat())
    pots.insert(1, "code", [str(number) for number in range(1, len(pots) + 1)])
    return pots


def _along(every_pot: pd.DataFrame, codes: pd.DataFrame) -> dict[str, pd.DataFrame]:
    """The sheets as written along the row: the number on the pot, not the lot; the taint where it was smelt."""
    sheet = codes.merge(every_pot, on=[SESSION, LOT, POT], how="left", validate="1:m")
    sheet.loc[(sheet[LOT] == TAINTED) & (sheet[TASTER] == NOTICED), REMARKS] = SAID
    sheet = sheet.drop(columns=[LOT, POT, POSITION])
    return {name: sheet[sheet[TASTER] == name].reset_index(drop=True) for name in PANEL}


def _lots(rng: np.random.Generator) -> pd.DataFrame:
    """The lots register with the making: minutes of rolling and fermenting, degrees Celsius of firing."""
    others = [garden for garden in GARDENS if garden != CHANGED]
    garden = rng.permutation([CHANGED] * CHANGED_LOTS + list(rng.choice(others, len(LOTS) - CHANGED_LOTS)))
    days = rng.integers(10, 50, len(LOTS))
    made = np.array([DAY - timedelta(days=int(ago)) for ago in days])
    shorter = (garden == CHANGED) & (made >= SINCE)
    elevation = {district: name for name, district in DISTRICTS.items()}
    lots = pd.DataFrame(
        {
            LOT: LOTS,
            "kind": "black",
            "grade": "broken",
            "elevation": [elevation[name.rsplit(" ", 1)[0]] for name in garden],
            "garden": garden,
            "made": [day.isoformat() for day in made],
            "rolling": rng.choice([30, 40], len(LOTS)),
            "fermenting": np.where(shorter, SHORTER, USUAL_MINUTES),
            "firing": rng.choice([90, 95, 100], len(LOTS)),
        }
    )
    control = pd.DataFrame([{LOT: CONTROL, "kind": "black", "grade": "broken"}])
    lots = pd.concat([lots, control], ignore_index=True)
    return lots.assign(**{CLASS: BROKEN, ROLE: ""})


def _densities(rng: np.random.Generator) -> pd.DataFrame:
    """Bulk densities of the first lots, loose, three fillings each: mass in grams, volume in millilitres."""
    table = pd.MultiIndex.from_product([LOTS[:WEIGHED], [1, 2, 3]], names=[LOT, "replicate"]).to_frame(index=False)
    usual = np.repeat(rng.normal(USUAL_DENSITY, 0.006, WEIGHED), 3)
    density = np.where(table[LOT] == LIGHT_LOT, LIGHT, usual) + rng.normal(0, 0.003, len(table))
    return table.assign(grade="broken", state="loose", mass=np.round(density * VESSEL, 1), volume=VESSEL, taps=0)


def _planted() -> list[dict[str, object]]:
    since = SINCE.isoformat()
    return [
        planted("lot", TAINTED, "taint", SAID, None, noticed_by=[NOTICED]),
        *(planted("make", CHANGED, "went with", name, points, since=since, column="fermenting", setting=SHORTER)
          for name, points in WENT_WITH.items()),
        planted("lot", LIGHT_LOT, "overflows the pack", "density", LIGHT, pack=PACK),
    ]  # fmt: skip
