"""What a point is worth: merit over several descriptors, only where the room said what it wants."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from panelstats.scores.cells import DESCRIPTOR, LOOK, LOT, POSITION, POT, POTS, SCORE, SESSION, SHARED, STAGE, TASTER

if TYPE_CHECKING:
    from collections.abc import Mapping

    from panelstats.scores.table import Scores

OVERALL = "overall"  # merit over all weighted descriptors
ALL_STAGES = "all stages"
_WANTED = {"more": 1.0, "less": -1.0}
_SERVING = [SESSION, LOT, TASTER, POT, LOOK]


def declared_weights(descriptors: pd.DataFrame) -> pd.Series:
    """Points of merit for a point of each descriptor: the room's weight, else one a tolerance by what is wanted.

    Parameters
    ----------
    descriptors : DataFrame
        The register: descriptor, tolerance, wanted, weight.

    Returns
    -------
    Series
        By descriptor; only those that count, none where nothing is declared.
    """
    table = descriptors.drop_duplicates(DESCRIPTOR)
    nothing = pd.Series(np.nan, index=table.index)
    given = pd.to_numeric(table.get("weight", nothing), errors="coerce")
    if given.notna().any():
        found = given
    else:
        sign = table["wanted"].map(_WANTED) if "wanted" in table else nothing
        tolerance = pd.to_numeric(table.get("tolerance", nothing), errors="coerce")
        found = sign.astype(float) / tolerance.where(tolerance > 0)
    found = pd.Series(found.to_numpy(float), index=table[DESCRIPTOR].astype(str))
    return found[found.notna() & (found != 0)]


def with_overall(scores: Scores, weights: Mapping[str, float]) -> Scores:
    """The scores with one descriptor more, the weighted sum of each serving; a serving that lacks a word has none.

    Parameters
    ----------
    scores : Scores
    weights : mapping of descriptor to points of merit for a point
    """
    frame = scores.frame
    name = frame[DESCRIPTOR].astype(str)
    rows = frame[name.isin(list(weights))]
    serving = rows.groupby(_SERVING, observed=True, sort=False, dropna=False)
    number, point = serving.ngroup().to_numpy(), rows[DESCRIPTOR].astype(str).map(dict(weights)).to_numpy(float)
    first = np.flatnonzero(~pd.Series(number).duplicated().to_numpy())
    total = np.bincount(number, point * rows[SCORE].to_numpy(float))
    whole = np.bincount(number) == len(weights)
    summed = rows.iloc[first][[*_SERVING, POSITION]].assign(descriptor=OVERALL, score=total)[whole]
    labels = [*map(str, frame[DESCRIPTOR].cat.categories), OVERALL]
    both = pd.concat([frame.assign(descriptor=name), summed], ignore_index=True)
    both[DESCRIPTOR] = pd.Categorical(both[DESCRIPTOR], labels)
    both = both.astype({key: frame[key].dtype for key in (SESSION, LOT, TASTER)})
    register = scores.descriptors
    row = pd.DataFrame([{DESCRIPTOR: OVERALL, STAGE: ALL_STAGES}]).reindex(columns=register.columns)
    stages = register[register[DESCRIPTOR].astype(str).isin(list(weights))][STAGE]
    mine = scores.pots[scores.pots[STAGE].isin(stages)]
    shared = mine.sort_values(POTS, key=lambda word: word != SHARED, kind="stable").drop_duplicates(SESSION)
    return replace(
        scores,
        frame=both,
        descriptors=pd.concat([register, row.astype(register.dtypes.to_dict(), errors="ignore")], ignore_index=True),
        pots=pd.concat([scores.pots, shared.assign(**{STAGE: ALL_STAGES})], ignore_index=True),
        _memo={},
    )
