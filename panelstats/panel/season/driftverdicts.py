"""The verdict on the panel's trends: whether the tasters drift at all, on what, and how far at most."""

from __future__ import annotations

from typing import TYPE_CHECKING

from panelstats.panel.season import words
from panelstats.panel.season.drift import SPREAD
from panelstats.result import Act, Verdict
from panelstats.scores.cells import DESCRIPTOR
from panelstats.words import decimals, interval, listing, number

if TYPE_CHECKING:
    import pandas as pd

SHOWN = 0.05
# More descriptors than this are counted, not listed.
LISTED = 5


def drift_verdicts(spread: pd.DataFrame) -> list[Verdict]:
    """One verdict of all tasters and descriptors; none where there are too few tasters or sessions."""
    if spread.empty:
        return []
    shown = spread[spread["p_adjusted"] < SHOWN].sort_values(SPREAD, ascending=False, kind="stable")
    if shown.empty:
        high = float(spread["high"].max())
        sentence = words.DRIFT_NOT_SHOWN.format(high=number(high, max(decimals(high / 10), 1)))
        return [Verdict(words.DRIFT_QUESTION, "", words.NOT_SHOWN, sentence, {"high": high}, "", Act.KNOW)]
    told = [_told(row) for _, row in shown.head(LISTED).iterrows()]
    if len(shown) > LISTED:
        told.append(words.DRIFT_OTHERS.format(others=number(len(shown) - LISTED, 0)))
    first = shown.iloc[0]
    numbers = {name: float(first[name]) for name in (SPREAD, "low", "high")}
    if not (shown["p_rest"] < SHOWN).any():
        sentence = words.DRIFT_OF_MOVERS.format(which=listing(told))
        return [Verdict(words.DRIFT_QUESTION, "", words.NOT_SHOWN, sentence, numbers, "", Act.KNOW)]
    sentence = words.DRIFT_SHOWN.format(which=listing(told))
    return [Verdict(words.DRIFT_QUESTION, "", words.DRIFT, sentence, numbers, words.TOGETHER, Act.KNOW)]


def _told(row: pd.Series) -> str:
    places = max(decimals(float(row["high"] - row["low"]) / 4), 1)
    what = row[DESCRIPTOR] or words.ALL_TOGETHER
    return words.DRIFT_ON.format(
        what=what, spread=number(row[SPREAD], places), interval=interval(row["low"], row["high"], places)
    )
