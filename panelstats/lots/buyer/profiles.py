"""Every lot of a session against the mean of its class, whichever way it was judged."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from panelstats.errors import DesignError
from panelstats.lots.plaintables import by_name
from panelstats.lots.worth import OVERALL
from panelstats.scores.cells import CLASS, DESCRIPTOR, LOT, ROLE, SESSION, STAGE

if TYPE_CHECKING:
    from panelstats.result import Result
    from panelstats.scores.table import Scores

COLUMNS = [LOT, CLASS, ROLE, STAGE, DESCRIPTOR, "mean", "difference", "low", "high", "df"]
_OF_MEANS = {"deviation": "difference", "deviation_low": "low", "deviation_high": "high"}


def profile_rows(scores: Scores, found: Result, session: str) -> pd.DataFrame:
    """A row for each lot and descriptor of a session: mean, difference from the class with interval and df.

    Raises
    ------
    DesignError
        The result compares no lots.
    """
    tables = found.tables()
    if "means" in tables and "deviation" in tables["means"]:
        table = tables["means"].rename(columns={"low": "mean_low", "high": "mean_high"}).rename(columns=_OF_MEANS)
        table = table.assign(df=table.get("df", np.inf))
    elif "table" in tables and "merit" in tables["table"]:
        table = tables["table"].rename(columns={"merit": "difference", "score": "mean"}).assign(df=np.inf)
        table = table[table[DESCRIPTOR] != OVERALL]
    else:
        raise DesignError("nothing to describe lots by", where=type(found).__name__,
                          do="give the result of compare_lots or shortlist_lots")  # fmt: skip
    if SESSION in table:
        table = table[table[SESSION].astype(str) == session]
    register, words = by_name(scores.lots, LOT), by_name(scores.descriptors, DESCRIPTOR)
    lot, name = table[LOT].astype(str), table[DESCRIPTOR].astype(str)
    told = table.assign(**{
        LOT: lot.to_numpy(), DESCRIPTOR: name.to_numpy(),
        CLASS: register[CLASS].fillna("").astype(str).reindex(lot).to_numpy(),
        ROLE: register[ROLE].fillna("").astype(str).reindex(lot).to_numpy(),
        STAGE: words[STAGE].fillna("").astype(str).reindex(name).to_numpy(),
    })  # fmt: skip
    return told[COLUMNS].reset_index(drop=True)
