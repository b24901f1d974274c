"""Words and faults counted by make: lots are the units, each said of by at least one taster or by none."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from panelstats.lots.makes.tables import COLUMN, MOST_SETTINGS, SETTING
from panelstats.models.multiplicity import adjusted
from panelstats.scores.cells import LOT, SESSION, TASTER

if TYPE_CHECKING:
    from collections.abc import Sequence

    from panelstats.lots.makes.tables import Asked
    from panelstats.scores.table import Scores

WORDS = [COLUMN, SETTING, "word", "said", "lots", "rest_said", "rest_lots", "p", "p_adjusted"]
# Asked of one taster a word is counted, never compared (ours).
LEAST_ASKED = 2


def word_counts(scores: Scores, asked: Asked, columns: Sequence[str], rule: str) -> pd.DataFrame:
    """Lots of each setting of which a word was said, against those of all other settings.

    Parameters
    ----------
    scores : Scores
        Words and faults that tasters were asked to mark; what was only written in a remark has no number asked.
    asked : Asked
    columns : sequence of str
        Those of settings.
    rule : str
        Adjusts over all words, settings and columns.

    Notes
    -----
    Two-sided exact p that two shares are equal (Fisher 1935).
    """
    marked, out = _marked(scores), []
    units = asked.tasted.units[[SESSION, LOT]]
    for column in columns:
        by_lot = units.assign(**{SETTING: asked.values(column)})
        rows = marked.merge(by_lot[by_lot[SETTING] != ""], on=[SESSION, LOT])
        if 1 < rows[SETTING].nunique() <= MOST_SETTINGS:
            out.append(_against_rest(rows).assign(**{COLUMN: column}))
    if not out:
        return pd.DataFrame(columns=WORDS)
    from scipy.stats import fisher_exact  # noqa: PLC0415 - slow to import, and seldom needed

    table = pd.concat(out, ignore_index=True)
    counts = table[["said", "lots", "rest_said", "rest_lots"]].astype(int).itertuples(index=False)
    table["p"] = [float(fisher_exact(np.array([[a, n - a], [b, m - b]])).pvalue) for a, n, b, m in counts]
    table["p_adjusted"] = adjusted(table["p"].to_numpy(float), rule)
    return table[WORDS]


def _marked(scores: Scores) -> pd.DataFrame:
    """Whether at least one taster said each word of each lot, of those that two or more were asked of."""
    words = scores.words.astype({SESSION: str, LOT: str})
    words = words[pd.to_numeric(words["asked"]).fillna(0) >= LEAST_ASKED]
    faults = scores.faults[scores.faults["said"] == ""].astype({SESSION: str, LOT: str, TASTER: str})
    counted = faults.groupby([SESSION, LOT, "fault"]).agg(said=("noticed", "sum"), asked=(TASTER, "nunique"))
    counted = counted[counted["asked"] >= LEAST_ASKED].reset_index().rename(columns={"fault": "word"})
    both = pd.concat([words, counted])[[SESSION, LOT, "word", "said"]]
    return both.groupby([SESSION, LOT, "word"])["said"].max().gt(0).reset_index()


def _against_rest(rows: pd.DataFrame) -> pd.DataFrame:
    """Of each word and setting: lots said of, all lots; the same for the other settings. Two settings: the first."""
    counts = rows.groupby([SETTING, "word"])["said"].agg(said="sum", lots="size").reset_index()
    whole = counts.groupby("word")[["said", "lots"]].transform("sum")
    counts["rest_said"], counts["rest_lots"] = whole["said"] - counts["said"], whole["lots"] - counts["lots"]
    told = counts[(whole["said"] > 0) & (counts["rest_lots"] > 0)]
    return told[told[SETTING] == told[SETTING].iloc[0]] if counts[SETTING].nunique() == 2 and len(told) else told
