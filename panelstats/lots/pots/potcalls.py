"""What is said of every pot that stands apart, and of those that do not."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np
from scipy.special import ndtri

from panelstats.lots.pots import words
from panelstats.result import Act, Verdict
from panelstats.scores.cells import BREW, DESCRIPTOR, LOT, MEAN, SESSION, SHARED, STAGE, TASTER
from panelstats.words import count, listing, number

if TYPE_CHECKING:
    from collections.abc import Hashable, Mapping, Sequence

    import pandas as pd

    from panelstats.models.oddreplicates import OddReplicates
    from panelstats.scores.cells import Cells

# Lots with two pots or more that a test needs (ours).
LEAST_LOTS = 8
# Power at which the smallest shift worth naming is said (common practice in planning).
POWER = 0.8
POT, CALL, DIFFERENCE = "pot", "call", "difference"
DISAGREE, APART, ONE_PALATE, ALIKE = "the pots disagree", "this pot stands apart", "one taster's cups", "not apart"
NAMED = (DISAGREE, APART)
_SHOWN = 3  # descriptors told of one pot


def pot_verdicts(
    every: pd.DataFrame, far: pd.DataFrame, tested: Sequence[tuple[str, OddReplicates]], cells: Cells
) -> list[Verdict]:
    """A verdict for each lot whose pots stand apart; where none does, what could not have been seen.

    Parameters
    ----------
    every, far : DataFrame
        The tables of the result.
    tested : sequence of (str, OddReplicates)
        The stages that could be tested.
    cells : Cells
    """
    if not tested:
        reason, step = _why_untested(cells)
        sentence = words.UNTESTED.format(reason=reason)
        return [Verdict(words.QUESTION, "", "cannot tell", sentence, {}, step, Act.KNOW)]
    said = [_named(row, far) for row in every[every[CALL].isin((*NAMED, ONE_PALATE))].to_dict("records")]
    if any(verdict.act == Act.NOW for verdict in said):
        return said
    # Two replicates lie sqrt(2) apart for each of their standard deviations; the limit is that of one of them.
    least = float(max(np.median(found.scale) * math.sqrt(2) * (found.limit + ndtri(POWER)) for _, found in tested))
    stages = listing(dict.fromkeys(stage or "marks" for stage, _ in tested))
    sentence = words.NOTHING.format(stages=stages, least=number(least, 1))
    return [*said, Verdict(words.QUESTION, "", "none shown", sentence, {"least": least}, "", Act.KNOW)]


def _named(row: Mapping[Hashable, Any], far: pd.DataFrame) -> Verdict:
    mine = far[(far[[SESSION, STAGE, LOT]] == [row[SESSION], row[STAGE], row[LOT]]).all(axis=1)]
    worst = mine.reindex(mine["z"].abs().sort_values(ascending=False, kind="stable").index).head(_SHOWN)
    worst = worst[worst["z"].abs() >= worst["z"].abs().iloc[0] / 2]
    differences = listing(
        words.DIFFERENCE.format(size=number(size, 1, sign=True), descriptor=name)
        for size, name in zip(worst[DIFFERENCE], worst[DESCRIPTOR], strict=True)
    )
    tasters = words.SAME_WAY.format(same=int(worst["same_way"].iloc[0]), tasters=row["tasters"])
    numbers = {f"{name}": float(size) for size, name in zip(worst[DIFFERENCE], worst[DESCRIPTOR], strict=True)}
    fields = {"lot": row[LOT], "pot": row[POT], "differences": differences, "tasters": tasters}
    if row[CALL] == ONE_PALATE:
        sentence = words.ONE_PALATE.format(**fields)
        return Verdict(words.QUESTION, row[LOT], row[CALL], sentence, numbers, words.ASK_HIM, Act.TASTE_AGAIN)
    if row["pots"] == 2:
        sentence = words.TWO.format(**fields, other=row["sisters"])
        return Verdict(words.QUESTION, row[LOT], row[CALL], sentence, numbers, words.BREW_THIRD, Act.NOW)
    sentence = words.MORE.format(**fields, sisters=row["pots"] - 1)
    return Verdict(words.QUESTION, row[LOT], row[CALL], sentence, numbers, words.BREW_AGAIN, Act.NOW)


def _why_untested(cells: Cells) -> tuple[str, str]:
    if not (cells.pots["pots"] == SHARED).any():
        return words.OWN_POTS, words.SERVE_TWO
    brews = cells.frame[[SESSION, LOT, BREW]].drop_duplicates().groupby([SESSION, LOT], observed=True).size()
    many = int((brews > 1).sum())
    if not many:
        return words.ONE_POT, words.SERVE_TWO
    if many >= LEAST_LOTS and _all_alike(cells):
        return words.EQUAL, words.USE_SCALE
    return words.FEW_LOTS.format(lots=count(many, "lot")), words.SERVE_TWO


def _all_alike(cells: Cells) -> bool:
    """Whether no taster told one pot of a lot from another, on anything."""
    marks = cells.frame.groupby([SESSION, LOT, TASTER, DESCRIPTOR], observed=True)[MEAN]
    return bool((marks.max() == marks.min()).all())
