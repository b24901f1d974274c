"""The true table of a room: what a person who was there would say each taster scored."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np
import pandas as pd

from tests.habits.labels import plain

SESSION, LOT, TASTER, POT, STAGE, DESCRIPTOR, SCORE = "session", "lot", "taster", "pot", "stage", "descriptor", "score"
AXES = [SESSION, LOT, TASTER, POT, STAGE, DESCRIPTOR]
# Invented room: tasters are trees, lots numbers.
TREES = ("alder", "beech", "elm", "hornbeam", "larch", "poplar", "spruce", "sycamore", "yew")
LIQUOR = ("brisk", "bright", "body", "colour", "strength", "flavour")
INFUSED = ("coppery", "mixed", "aroma")
DRY = ("black", "even", "twisted", "stalky")
REMARKS = ("dull", "a little light", "good cream", "plain", "well made", "thin", "flat", "useful", "clean")


def true_table(
    rng: np.random.Generator,
    *,
    lots: int | Sequence[str] = 8,
    tasters: int | Sequence[str] = 3,
    pots: int = 1,
    descriptors: Sequence[str] = LIQUOR[:4],
    sessions: Sequence[str] = ("1",),
    low: float = 1,
    high: float = 9.5,
    step: float = 0.5,
) -> pd.DataFrame:
    """Half-point scores of every taster on every pot of every lot; labels are text, `shown` is what the cell holds."""
    first = int(rng.integers(2, 9)) * 100 + int(rng.integers(1, 60))
    names = [str(first + n) for n in range(lots)] if isinstance(lots, int) else list(lots)
    panel = sorted(rng.choice(TREES, tasters, replace=False)) if isinstance(tasters, int) else list(tasters)
    keys = [list(sessions), names, [str(t) for t in panel], [str(n + 1) for n in range(pots)], list(descriptors)]
    table = pd.MultiIndex.from_product(keys, names=[SESSION, LOT, TASTER, POT, DESCRIPTOR]).to_frame(index=False)
    spread = (high - low) / 2
    level = {k: rng.normal(0, 0.5 * spread) for k in _combined(table, SESSION, LOT, DESCRIPTOR)}
    habit = {k: rng.normal(0, 0.15 * spread) for k in _combined(table, TASTER, DESCRIPTOR)}
    raw = [
        (low + high) / 2 + level[s, lot, d] + habit[t, d] + rng.normal(0, 0.3 * spread)
        for s, lot, t, _, d in table.itertuples(index=False)
    ]
    score = np.clip(np.round(np.array(raw) / step) * step, low, high)
    table[STAGE] = [stage_of(d) for d in table[DESCRIPTOR]]
    return table.assign(score=score, shown=list(score))[[*AXES, SCORE, "shown"]]


def _combined(table: pd.DataFrame, *axes: str) -> list[tuple[str, ...]]:
    """Labels that stand together, sorted."""
    return sorted(set(zip(*(table[axis] for axis in axes), strict=True)))


def stage_of(descriptor: str) -> str:
    """The stage whose word the descriptor is; its own first words where it says so."""
    for stage, words in (("dry leaf", DRY), ("infused leaf", INFUSED)):
        if descriptor in words or descriptor.startswith(stage):
            return stage
    return "liquor"


@dataclass(frozen=True, eq=False)
class Truth:
    """What should be read, and what must be said or asked on the way.

    Attributes
    ----------
    table : DataFrame
        A row per score: session, lot, taster, pot, stage, descriptor, score.
    must : {"read", "may ask", "ask"}
        "read": an ordinary person sees one reading only. "may ask": a question is fair. "ask": no one can know.
    say : tuple of str
        Patterns, each to be found in what the reader says of the sheet.
    loose : tuple of str
        Axes whose labels the sheet does not show; they are not compared.
    names : dict
        {(axis, true label): other spellings the reader may show}.
    worth : dict
        {mark as shown: score}; what the room would answer.
    governs : dict
        {descriptor: {column: value}} of the register that must hold for it.
    """

    table: pd.DataFrame
    must: str = "read"
    say: tuple[str, ...] = ()
    loose: tuple[str, ...] = (SESSION, POT)
    names: dict[tuple[str, str], set[str]] = field(default_factory=dict)
    worth: dict[str, float] = field(default_factory=dict)
    governs: dict[str, dict[str, float]] = field(default_factory=dict)

    @cached_property
    def spelt(self) -> dict[str, dict[str, str]]:
        """{axis: {plain spelling: true label}}."""
        labels = {axis: dict.fromkeys(self.table[axis].astype(str)) for axis in AXES}
        return {
            axis: {plain(s): label for label in known for s in (label, *self.names.get((axis, label), ()))}
            for axis, known in labels.items()
        }

    def but(self, **changes: object) -> Truth:
        return replace(self, **changes)
