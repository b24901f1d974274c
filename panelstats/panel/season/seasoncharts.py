"""Pictures of a season: the change of each taster, and the sessions of one chart."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy.special import stdtrit

from panelstats.panel.season.tables import (
    AWAY,
    CALL,
    CEILING,
    CHANGE,
    CHART,
    FLOOR,
    HIGH,
    LEVEL_CHART,
    LOW,
    MOVES,
    NOISE,
    SE,
    SINCE,
    SMOOTHED,
    VALUE,
)
from panelstats.panel.season.words import STEADY
from panelstats.result import Chart, chart_rows, mark_by_call, of_descriptor
from panelstats.scores.cells import DESCRIPTOR, SESSION, TASTER
from panelstats.speech import Phrase, said

if TYPE_CHECKING:
    from collections.abc import Iterable

    import pandas as pd

    from panelstats.result import Row

AXES = {
    LEVEL_CHART: Phrase("points above or below the own baseline, against the others"),
    "controls": Phrase("points above or below the own baseline, on hidden controls"),
    NOISE: Phrase("spread, as a multiple of the own baseline's"),
    "agreement": Phrase("agreement with the others' order, less the own baseline's"),
}


def season_chart(
    table: pd.DataFrame, series: pd.DataFrame, descriptor: str | None, taster: str | None, kind: str
) -> Chart:
    """The largest change of each taster; of one descriptor; or, with a taster too, its sessions."""
    table = of_descriptor(table[table[CHART] == kind], descriptor)
    table = table[table[TASTER] != ""]
    if taster is not None and descriptor is not None:
        return _sessions(table[table[TASTER] == taster], series, kind)
    if descriptor is None:
        order = table[CALL].isin(MOVES).astype(float) * 1e6 + table[CHANGE].abs().fillna(-1)
        table = table.loc[order.sort_values(ascending=False, kind="stable").index].drop_duplicates(TASTER)
    label = table[TASTER] if descriptor is not None else [
        ": ".join(filter(None, pair)) for pair in zip(table[TASTER], table[DESCRIPTOR], strict=True)
    ]  # fmt: skip
    rows = now_rows(table, label)
    title = Phrase("The largest change of each taster") if descriptor is None else descriptor
    words = Phrase("the change since the baseline at the last session, or of a move, with its 95 % interval")
    return Chart(title, AXES[kind], rows, words, 1.0 if kind == NOISE else 0.0)


def now_rows(table: pd.DataFrame, label: Iterable[object]) -> tuple[Row, ...]:
    """A row for each chart: its change, the call and since when; unmarked and so grey of who is no longer seen."""
    zero = np.where(table[CHART] == NOISE, 1.0, 0.0)
    marks = [
        None if away else mark_by_call(call, way, within={STEADY}, outside=set(MOVES))
        for call, way, away in zip(table[CALL], table[CHANGE] - zero, table[AWAY], strict=True)
    ]
    notes = [
        Phrase("{call}, since {when}").format(call=said(str(call)), when=when) if when else call
        for call, when in zip(table[CALL], table[SINCE], strict=True)
    ]
    notes = [
        Phrase("{call}; not seen since {last}").format(call=said(str(note)), last=away) if away else note
        for note, away in zip(notes, table[AWAY], strict=True)
    ]
    return chart_rows(label, marks=marks, notes=notes, value=table[CHANGE], low=table[LOW], high=table[HIGH],
                      floor=table[FLOOR], ceiling=table[CEILING])  # fmt: skip


def _sessions(row: pd.DataFrame, series: pd.DataFrame, kind: str) -> Chart:
    name, word = str(row[TASTER].iloc[0]), str(row[DESCRIPTOR].iloc[0])
    sessions = list(dict.fromkeys(series[SESSION]))
    mine = series[(series[CHART] == kind) & (series[TASTER] == name) & (series[DESCRIPTOR] == word)]
    mine = mine.set_index(SESSION).reindex(sessions).reset_index()  # who was absent leaves a gap
    stands = mine[SMOOTHED].ffill()  # and the last level stands
    reach = float(stdtrit(np.inf, 0.975)) * mine[SE]
    floor, ceiling = (float(row[name].iloc[0]) for name in (FLOOR, CEILING))
    zero = 1.0 if kind == NOISE else 0.0
    rows = chart_rows(mine[SESSION], value=mine[VALUE], low=mine[VALUE] - reach, high=mine[VALUE] + reach,
                      level=stands, floor=floor, ceiling=ceiling)  # fmt: skip
    words = Phrase("each session with its 95 % interval; the line is the smoothed level")
    return Chart(
        f"{name}: {word or said(kind)}", f"{name}, {word or said(kind)}: {AXES[kind]}", rows, words, zero, along=SESSION
    )
