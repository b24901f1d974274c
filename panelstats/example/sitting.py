"""One session of the invented room as a sheet."""

from __future__ import annotations

import numpy as np
import pandas as pd

from panelstats.example.palates import Errors, Panel, Teas, tasted
from panelstats.example.remarks import remarks
from panelstats.example.room import DESCRIPTORS, REMARKS
from panelstats.scores.cells import DESCRIPTOR, LOT, POSITION, POT, SESSION, TASTER


def sitting(
    rng: np.random.Generator, session: str, teas: Teas, panel: Panel, *, errors: Errors, brews: np.ndarray,
    chosen: pd.DataFrame = DESCRIPTORS,
) -> pd.DataFrame:  # fmt: skip
    """A wide sheet of one session, a row per serving, in the order lot, taster, pot; every taster walks his own way.

    Parameters
    ----------
    session : str
        Its name, a date.
    teas, panel, errors, brews
        As for `palates.tasted`.
    chosen : DataFrame
        The rows of room.DESCRIPTORS that were scored.
    """
    pots = brews.shape[1]
    index = pd.MultiIndex.from_product([teas.lots, panel.tasters, range(1, pots + 1)], names=[LOT, TASTER, POT])
    sheet = index.to_frame(index=False)
    sheet.insert(0, SESSION, session)
    sheet[POSITION] = _walks(rng, len(teas.lots), len(panel.tasters), pots).ravel()
    scores = tasted(rng, teas, panel, errors=errors, brews=brews)
    names = list(chosen[DESCRIPTOR])
    sheet = pd.concat([sheet, pd.DataFrame(scores.reshape(-1, len(names)), columns=names)], axis=1)
    kind = pd.factorize(pd.MultiIndex.from_arrays(list(teas.typical.T)))[0]  # lots of one class share their typical lot
    group = sheet[TASTER] + np.repeat(kind, len(panel.tasters) * pots).astype(str)
    sheet[REMARKS] = remarks(rng, sheet, group.to_numpy())
    first = [SESSION, TASTER, POSITION, LOT, POT]
    return sheet[first + [column for column in sheet if column not in first]]


def as_tasted(sheet: pd.DataFrame) -> pd.DataFrame:
    """The rows taster by taster, in the order each tasted."""
    return sheet.sort_values([TASTER, POSITION], kind="stable", ignore_index=True)


def by_taster(sheet: pd.DataFrame) -> dict[str, pd.DataFrame]:
    """A sheet per taster, in the order he tasted."""
    parts = as_tasted(sheet).groupby(TASTER)
    return {str(name): part.reset_index(drop=True) for name, part in parts}


def _walks(rng: np.random.Generator, lots: int, tasters: int, pots: int) -> np.ndarray:
    """Place of each serving along each taster's own random walk, (lot, taster, pot), from 1."""
    places = np.tile(np.arange(1, lots * pots + 1), (tasters, 1))
    return rng.permuted(places, axis=1).reshape(tasters, lots, pots).transpose(1, 0, 2)
