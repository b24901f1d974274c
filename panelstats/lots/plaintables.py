"""Marks and registers as plain tables, names as text; and the size that matters, as asked for or as registered."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pandas as pd

from panelstats.scores.cells import DESCRIPTOR, LOT, MEAN, REST, SESSION, TASTER

if TYPE_CHECKING:
    from collections.abc import Mapping

    from panelstats.scores.cells import Cells

# Lots of these roles are shown, and never judged as the other lots are.
ASIDE = ("control", "standard")


def by_name(register: pd.DataFrame, key: str) -> pd.DataFrame:
    """A register by the names of its lots, or of its descriptors; of a name met twice the first row."""
    return register.astype({key: str}).drop_duplicates(key).set_index(key)


def senior_marks(cells: Cells) -> pd.DataFrame:
    """session, lot, taster, descriptor, score: what each taster gave a lot, pots averaged, trainees left out."""
    frame = cells.select(role="senior").over_brews().frame
    return frame[[SESSION, LOT, TASTER, DESCRIPTOR]].astype(str).assign(score=frame[MEAN] + frame[REST])


def tolerances(register: pd.DataFrame, asked: float | Mapping[str, float] | None) -> pd.Series:
    """Smallest difference that matters by descriptor, in points: what was asked for, else the register's; NaN unknown.

    Examples
    --------
    >>> register = pd.DataFrame({"descriptor": ["brisk", "body"], "tolerance": [0.5, 1.0]})
    >>> tolerances(register, {"brisk": 0.25}).to_dict()
    {'brisk': 0.25, 'body': 1.0}
    """
    known = by_name(register, DESCRIPTOR)["tolerance"].astype(float)
    if asked is None:
        return known
    if isinstance(asked, int | float):
        return pd.Series(float(asked), known.index)
    return pd.Series({name: float(asked.get(str(name), size)) for name, size in known.items()}, dtype=float)
