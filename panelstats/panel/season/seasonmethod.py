"""How a season was audited, its limits and the rate of false alarms that is honest for it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from panelstats.panel.season import words
from panelstats.panel.season.charted import PLANNED, SHORT_BASELINE
from panelstats.panel.season.moved import LEVEL
from panelstats.panel.season.tables import CHART, LEVEL_CHART
from panelstats.speech import Phrase, digits, said
from panelstats.words import count, number, span, stated

if TYPE_CHECKING:
    from panelstats.panel.season.judging import Asked
    from panelstats.panel.season.tables import Judged

LIMIT, FALSE_ALARM, ALIKE = "limit", "false_alarm", "alike"


def limits_table(judged: dict[str, Judged], asked: Asked) -> pd.DataFrame:
    """The limit of each kind of chart, its share of the false alarms, and the variance between sessions."""
    rows = [
        (
            name,
            each.charts.limit,
            asked.alpha(name),
            each.charts.alike,
            *np.sqrt((each.charts.between.min(), each.charts.between.max())),
        )
        for name, each in judged.items()
    ]
    return pd.DataFrame(rows, columns=[CHART, LIMIT, FALSE_ALARM, ALIKE, "between_low", "between_high"])


def method_of(asked: Asked, judged: dict[str, Judged], limits: pd.DataFrame) -> str:
    """The method in a paragraph, with the honest rate."""
    told = [
        f"{said(str(row[CHART]))} {number(row[LIMIT], 2)} ({stated(100 * row[FALSE_ALARM], '.2g')} %)"
        for _, row in limits.iterrows()
    ]
    level = limits[limits[CHART] == LEVEL_CHART]
    between = span([*level["between_low"], *level["between_high"]], 2) if len(level) else "0"
    lag = _lag(judged[LEVEL_CHART]) if LEVEL_CHART in judged else np.nan
    here = (
        f" {words.HERE.format(lag=number(lag, 2, sign=True), alike=number(level[ALIKE].max(), 2))}"
        if np.isfinite(lag)
        else ""
    )
    return words.METHOD.format(
        between=Phrase("standard deviation {between} points").format(between=between)
        if len(level) and level["between_high"].max() > 0
        else words.NOTHING_BETWEEN,
        baseline=asked.baseline,
        short=SHORT_BASELINE,
        noise=Phrase("of repeated servings of one lot")
        if asked.source == "repeats"
        else Phrase("about the others' scores"),
        limits="; ".join(told),
        planned=max(PLANNED, len(asked.pool.sessions)),
        risk=f"{stated(100 * asked.false_alarm)} %",
        honest=words.HONEST.format(**{name: digits(rate) for name, rate in words.HONEST_RATES.items()}) + here,
        most=count(asked.most, "taster"),
        level=f"{stated(100 * LEVEL)} %",
    )


def _lag(judged: Judged) -> float:
    """Correlation of a level's successive differences: -0.5 where sessions are independent of one another."""
    step = np.diff(np.where(judged.charts.alarmed, np.nan, judged.charts.series.value), axis=0)
    before, after = step[:-1], step[1:]
    both = np.isfinite(before) & np.isfinite(after)
    if both.sum() < 20:
        return np.nan
    squares = (before[both] ** 2).sum() * (after[both] ** 2).sum()
    return float((before[both] * after[both]).sum() / np.sqrt(squares)) if squares > 0 else np.nan
