"""The invented room: its name, people, districts and descriptors, and what one of its data sets holds."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import pandas as pd

from panelstats.scores.cells import DESCRIPTOR, ROLE, SESSION, STAGE, TASTER

if TYPE_CHECKING:
    from collections.abc import Sequence

PORT = "Ostrel Quay"
DISTRICTS = {"high": "Upper Brallow", "middle": "Mid Brallow", "low": "Brallow Flats"}
SENIORS = ["alder", "beech", "elm", "hornbeam", "larch", "poplar", "spruce", "sycamore", "yew"]
TRAINEES = ["whitebeam", "spindle"]
STANDARD = "S"
BROKEN, FANNINGS = "black broken", "black fannings"

LOW, HIGH, STEP, TOLERANCE = 0.0, 10.0, 0.5, 0.5

# Words from the open vocabulary of the trade (ISO 6078). What each tells of the making is common practice; the
# typical scores of the two classes and the spread of lots within a class (a standard deviation) are invented.
# A spread of 0: lots of one class are exactly alike. `pulls` joins descriptors that rise and fall together.
DESCRIPTORS = pd.DataFrame(
    [
        ("black", "dry leaf", "more", "rolling", 6.5, 4.5, 0.9, "leaf", 1),
        ("even", "dry leaf", "more", "sorting", 6.0, 7.0, 0.8, "leaf", 1),
        ("twisted", "dry leaf", "more", "rolling", 6.0, 3.0, 0.0, "leaf", 1),
        ("stalky", "dry leaf", "less", "plucking", 3.5, 2.5, 0.9, "leaf", -1),
        ("tippy", "dry leaf", "more", "plucking", 4.0, 1.5, 0.0, "leaf", 1),
        ("coppery", "infused leaf", "more", "fermenting", 6.0, 5.0, 1.0, "bright", 1),
        ("mixed", "infused leaf", "less", "rolling", 3.5, 4.5, 0.6, "bright", -1),
        ("aroma", "infused leaf", "more", "firing", 6.0, 4.5, 0.5, "bright", 1),
        ("colour", "liquor", "either", "fermenting", 4.5, 7.5, 1.2, "strong", 1),
        ("bright", "liquor", "more", "fermenting", 6.5, 5.0, 1.1, "bright", 1),
        ("strength", "liquor", "either", "rolling", 4.5, 7.0, 1.3, "strong", 1),
        ("body", "liquor", "either", "rolling", 5.0, 6.0, 0.9, "strong", 1),
        ("brisk", "liquor", "more", "firing", 6.0, 5.0, 1.2, "bright", 1),
        ("point", "liquor", "more", "", 5.5, 4.0, 0.0, "bright", 1),
        ("flavour", "liquor", "more", "", 6.0, 4.0, 0.7, "bright", 1),
        ("harsh", "liquor", "less", "fermenting", 3.0, 4.0, 0.4, "strong", 1),
    ],
    columns=[DESCRIPTOR, STAGE, "wanted", "tells", BROKEN, FANNINGS, "spread", "pulls", "sign"],
)
TAINT, REMARKS = "smoky", "remarks"


@dataclass(frozen=True, eq=False, repr=False)
class Room:
    """One data set of the invented room.

    Attributes
    ----------
    name : str
        bench, row, season, blends or new-tasters.
    seed : int
        What it was made from: the same seed gives the same data set.
    sheets : dict of str to DataFrame
        Score sheets by name, wide: a row per serving, a column per descriptor, NaN where nothing was written.
    registers : dict of str to DataFrame
        What the room knows besides the scores: sessions, lots, descriptors, tasters, and codes or answers.
    truth : dict
        What was planted, who is sound, the true value of every lot and the sizes of all errors; fit for JSON.
    """

    name: str
    seed: int
    sheets: dict[str, pd.DataFrame]
    registers: dict[str, pd.DataFrame]
    truth: dict[str, object]

    @property
    def frame(self) -> pd.DataFrame:
        """All score sheets as one wide table, a row per serving."""
        return pd.concat(self.sheets.values(), ignore_index=True)

    def __repr__(self) -> str:
        servings, sheets = sum(map(len, self.sheets.values())), len(self.sheets)
        on = f"{servings:,} servings on {sheets} sheet{'s' if sheets > 1 else ''}"
        return f"<Invented room, {self.name}: {on}, seed {self.seed}>"


def describe(names: list[str]) -> pd.DataFrame:
    """The rows of DESCRIPTORS for some names, in the order given."""
    return DESCRIPTORS.set_index(DESCRIPTOR).loc[names].reset_index()


def descriptor_register(chosen: pd.DataFrame, *, asked: bool = False, tolerance: float = TOLERANCE) -> pd.DataFrame:
    """The descriptors register of some rows of DESCRIPTORS; with the taint where its column was to be marked."""
    scale = {"low": LOW, "high": HIGH, "step": STEP, "tolerance": tolerance}
    scores = chosen[[DESCRIPTOR, STAGE, "wanted", "tells"]].assign(kind="score", **scale)
    fault = pd.DataFrame([{DESCRIPTOR: TAINT, STAGE: "liquor", "kind": "fault", "low": 0.0, "high": 1.0, "step": 1.0}])
    register = pd.concat([scores, fault], ignore_index=True) if asked else scores
    return register[[DESCRIPTOR, STAGE, "kind", "low", "high", "step", "tolerance", "wanted", "tells"]]


def session_register(sessions: list[str], *, order: str, blind: str) -> pd.DataFrame:
    """The sessions register: every session brewed alike, all tasters at the same pots.

    2.8 g of leaf to 140 ml, six minutes, without milk: ISO 3103 (2 g to 100 ml; small pot).
    """
    brewing = {"vessel": "small pot", "grams": 2.8, "millilitres": 140, "minutes": 6, "milk": "no"}
    served = {"pots": "shared", "order": order, "blind": blind}
    return pd.DataFrame({SESSION: sessions, "date": sessions, **served, **brewing})


def taster_register(seniors: list[str], trainees: Sequence[str] = ()) -> pd.DataFrame:
    """The tasters register."""
    roles = ["senior"] * len(seniors) + ["trainee"] * len(trainees)
    return pd.DataFrame({TASTER: [*seniors, *trainees], ROLE: roles})
