"""The verdicts on repeats, half against half: whose spread is another, whose was not shown to be, what is open."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from panelstats.panel.season import words
from panelstats.panel.season.halves import RATIO
from panelstats.panel.season.words import CANNOT_TELL
from panelstats.result import Act, Verdict
from panelstats.scores.cells import DESCRIPTOR, TASTER
from panelstats.words import decimals, interval, listing, number

if TYPE_CHECKING:
    import pandas as pd

SHOWN = 0.05


def half_verdicts(halves: pd.DataFrame) -> list[Verdict]:
    """One verdict for each taster whose repeats changed, one for all others, one for those of whom none can tell."""
    table = halves[halves[DESCRIPTOR] == halves[DESCRIPTOR].min()]  # all descriptors together, or the only one
    shown = table["p_adjusted"] < SHOWN
    out = [_shown(row) for _, row in table[shown].sort_values("p", kind="stable").iterrows()]
    quiet, open_ = table[~shown & table[RATIO].notna()], table[table[RATIO].isna()]
    if len(quiet):
        factor = float(np.median(quiet["high"] / quiet[RATIO]))
        sentence = words.HALVES_ALIKE.format(who=listing(quiet[TASTER]), factor=number(factor, 1))
        out.append(_of_some(quiet, words.NOT_SHOWN, sentence))
    if len(open_):
        sentence = words.HALVES_OPEN.format(who=listing(open_[TASTER]))
        out.append(_of_some(open_, CANNOT_TELL, sentence, words.REPEAT_ALWAYS))
    return out


def _shown(row: pd.Series) -> Verdict:
    size, low, high = (float(row[name]) for name in (RATIO, "low", "high"))
    places = max(decimals((high - low) / 4), 1)
    sentence = words.HALVES_DIFFER.format(
        taster=row[TASTER], ratio=number(size, places), interval=interval(low, high, places), since=row["since"]
    )
    wider = size > 1
    step = words.REST.format(taster=row[TASTER]) if wider else ""
    numbers = {"estimate": size, "low": low, "high": high, "p": float(row["p_adjusted"])}
    call = words.WIDER if wider else words.CLOSER
    return Verdict(words.HALVES_QUESTION, str(row[TASTER]), call, sentence, numbers, step, Act.KNOW)


def _of_some(rows: pd.DataFrame, call: str, sentence: str, step: str = "") -> Verdict:
    subject = str(rows[TASTER].iloc[0]) if len(rows) == 1 else ""
    return Verdict(words.HALVES_QUESTION, subject, call, sentence, {}, step, Act.KNOW)
