"""The chart of a trainee: level, use of the scale, repeats and reach, a row for each descriptor."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from panelstats.panel.tasters.finding import SD_RATIO, SLOPE
from panelstats.panel.training.licence import NOT_YET, READY
from panelstats.result import Chart, chart_rows, joined, mark_by_call, mark_by_limits, of_descriptor
from panelstats.scores.cells import DESCRIPTOR
from panelstats.speech import Phrase
from panelstats.words import stated

if TYPE_CHECKING:
    import pandas as pd
    from numpy.typing import ArrayLike

    from panelstats.panel.training.fit import TraineeAssessment

TRAINEE = "trainee"


def learning_chart(assessment: TraineeAssessment, descriptor: str | None, trainee: str | None) -> Chart:
    """Every trainee and descriptor, or those of one; a column for each thing a licence asks for."""
    table = of_descriptor(assessment.table, descriptor)
    if trainee is not None:
        table = table[table[TRAINEE].astype(str) == trainee]
    level, slope, spread = (
        [table[name] for name in names]
        for names in (("difference", "low", "high"), ("slope", "slope_low", "slope_high"),
                      ("spread", "spread_low", "spread_high"))
    )  # fmt: skip
    size = table["tolerance"]
    columns = (
        _column(table, level, "level", Phrase("points above or below the seniors"), 0.0, (-size, size)),
        _column(table, slope, "use of the scale", Phrase("slope; 1 is the seniors' use"), 1.0, SLOPE),
        _column(table, spread, "repeats", Phrase("spread; the seniors' is 1"), 1.0, (-math.inf, SD_RATIO)),
        _reach(table, assessment.limits),
    )
    calls = [mark_by_call(call, 0.0, within={READY}, outside={NOT_YET}) for call in table["call"]]
    rows = chart_rows(table[DESCRIPTOR], marks=calls, notes=table["call"], groups=joined(table, [TRAINEE]))
    words = Phrase("an estimate with its {level} % interval over what is tolerated").format(
        level=stated(100 * assessment.level)
    )
    title = Phrase("Trainees against the seniors") if trainee is None else trainee
    return Chart(title, "", rows, words, columns=columns)


def progress_chart(assessment: TraineeAssessment, trainee: str) -> Chart | None:
    """How near a trainee came to the seniors, session by session; None for fewer than two sessions."""
    table = assessment.curve[(assessment.curve[TRAINEE].astype(str) == trainee) & (assessment.curve["ratio"] > 0)]
    if len(table) < 2:
        return None
    rows = chart_rows(table["session"], value=table["ratio"], low=table["low"], high=table["high"])
    axis = Phrase("distance from the seniors, as a multiple of their own")
    words = Phrase("1 is as near as they are to one another")
    return Chart(Phrase("Session by session"), axis, rows, words, zero=1.0, along="session")


def _column(
    table: pd.DataFrame, estimate: list[pd.Series], title: str, axis: str, zero: float,
    tolerated: tuple[ArrayLike, ArrayLike],
) -> Chart:  # fmt: skip
    """One aspect; its mark says where the interval lies, the call of the row allows for more."""
    value, low, high = estimate
    floor, ceiling = (np.broadcast_to(end, len(table)) for end in tolerated)
    marks = [mark_by_limits(*row) for row in zip(low, high, floor, ceiling, strict=True)]
    rows = chart_rows(table[DESCRIPTOR], marks=marks, value=value, low=low, high=high, floor=floor, ceiling=ceiling)
    return Chart(title, axis, rows, zero=zero)


def _reach(table: pd.DataFrame, limits: pd.DataFrame) -> Chart:
    """Between which limits 19 of 20 marks lie from the seniors'; shown over the seniors' own reach, not judged."""
    keys = [TRAINEE, DESCRIPTOR]
    found = table[keys].astype(str).merge(limits.astype(dict.fromkeys(keys, str)), on=keys, how="left")
    reach = found["seniors_reach"].fillna(np.inf)
    rows = chart_rows(found[DESCRIPTOR], value=found["difference"], low=found["limit_low"], high=found["limit_high"],
                      floor=-reach, ceiling=reach)  # fmt: skip
    axis = Phrase("own less the seniors' (points); the strip is the seniors' own reach")
    return Chart(Phrase("19 of 20 marks"), axis, rows, zero=0.0)
