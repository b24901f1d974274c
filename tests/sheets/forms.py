"""Workbooks for tests, a list of rows a tab, and what is read of them."""

from __future__ import annotations

from random import Random
from typing import TYPE_CHECKING

from openpyxl import Workbook

import panelstats as pst

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence
    from pathlib import Path

    import pandas as pd


WORDS, NAMES, LOTS = (
    ("Colour", "Brightness", "Strength"),
    ("Elm", "Yew", "Larch", "Oak"),
    ("K101", "K102", "K103", "K104"),
)


def book(path: Path, **tabs: Iterable[Sequence[object]]) -> Path:
    """A workbook of tabs."""
    made = Workbook()
    made.remove(made.active)
    for name, rows in tabs.items():
        tab = made.create_sheet(name)
        for row in rows:
            tab.append([*row])
    made.save(path)
    return path


def marks(many: int, seed: object = 0) -> list[int]:
    """Whole marks from 3 to 8, the same every time."""
    draw = Random(f"{many} {seed}")
    return [draw.randint(3, 8) for _ in range(many)]


def met(scores: pst.Scores) -> dict[str, list[str]]:
    """The labels of each register."""
    tables = {
        "lot": scores.lots,
        "taster": scores.tasters,
        "descriptor": scores.descriptors,
        "session": scores.sessions,
    }
    return {key: sorted(map(str, table[key])) for key, table in tables.items()}


def cells(scores: pst.Scores) -> dict[tuple[str, ...], float]:
    """Every score by lot, taster and descriptor."""
    frame = scores.frame
    keys = frame[["lot", "taster", "descriptor"]].astype(str).itertuples(index=False, name=None)
    return dict(zip(keys, frame["score"].tolist(), strict=True))


def answered(source: object, answers: dict[str, str]) -> pst.Scores:
    """Read with every question answered: by the word whose key stands in it, else yes."""
    asked = questions(source)
    asked["answer"] = [next((a for key, a in answers.items() if key in what), "yes") for what in asked["what"]]
    return pst.read_scores(source, room={"questions": asked})


def questions(source: object) -> pd.DataFrame:
    """What only the room can answer."""
    return pst.examine_sheets(source).questions
