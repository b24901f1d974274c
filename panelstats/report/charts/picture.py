"""The room's picture: a panel per descriptor, the one in which the lots differ most first."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from panelstats.lots.compare.fit import LotComparison
from panelstats.lots.faults.fit import FaultsNoticed
from panelstats.lots.plaintables import by_name
from panelstats.report.charts import shapes
from panelstats.report.charts.order import SHOWN, shown_rows
from panelstats.report.charts.panels import panel_drawing
from panelstats.report.charts.scale import scale_of
from panelstats.report.charts.shapes import CANNOT_TELL, mark
from panelstats.report.charts.svg import Drawing
from panelstats.report.charts.twin import in_words
from panelstats.result import Chart, Mark
from panelstats.scores.cells import DESCRIPTOR, LOT, STAGE
from panelstats.speech import Phrase, said
from panelstats.words import count, percent

if TYPE_CHECKING:
    from collections.abc import Collection

    from panelstats.report.charts.scale import Scale
    from panelstats.result import Verdict
    from panelstats.review import Review

_BAND = Phrase("within it, a difference from the mean of the class is too small to matter")


@dataclass(frozen=True)
class Panel:
    """One descriptor of the picture.

    Attributes
    ----------
    descriptor, stage : str
        What was scored, and where ("" where not said).
    answers : tuple of (Mark, str)
        Whether the lots differ: each call, in words, with its mark.
    share : str
        Share of the variance that lies between lots, in words; "" where not known.
    words : str
        What the drawing shows.
    drawing : Drawing or None
        None where there is nothing to compare.
    """

    descriptor: str
    stage: str
    answers: tuple[tuple[Mark, str], ...]
    share: str
    words: str
    drawing: Drawing | None


def picture(review: Review, charts: dict[str, Chart]) -> list[Panel]:
    """All panels, in the order of the charts that `lot_charts` gave."""
    lots = review.find(LotComparison)
    if lots is None:
        return []
    shares, register = _shares(lots.components), _register(review)
    scales = _scales(charts, register)
    panels = []
    for at, (name, chart) in enumerate(charts.items()):
        verdicts = [verdict for verdict in lots.verdicts if verdict.subject == name]
        answers = _answers(verdicts, len({row.group for row in chart.rows}))
        stage = register.loc[name].get(STAGE) if name in register.index else ""
        share = percent(shares[name]) if np.isfinite(shares.get(name, np.nan)) else ""
        words, drawing = _words(chart), None
        if len(chart.rows) > 1:
            shown = replace(chart, rows=shown_rows(chart.rows))
            drawing = panel_drawing(shown, scales[name], words=words, key=f"p{at}")
        panels.append(Panel(name, stage if isinstance(stage, str) else "", answers, share, words, drawing))
    return panels


def _scales(charts: dict[str, Chart], register: pd.DataFrame) -> dict[str, Scale]:
    """Descriptors scored between the same ends share a scale, so that panels compare; others have their own."""
    ends = register[["low", "high"]].astype(float) if {"low", "high"} <= set(register) else pd.DataFrame()
    known = {str(name): tuple(row) for name, row in zip(ends.index, ends.to_numpy(), strict=True)}
    alike: dict[object, list[str]] = {}
    for name in charts:
        scored = known.get(name, (np.nan,))
        alike.setdefault(scored if np.isfinite(scored).all() else name, []).append(name)
    found: dict[str, Scale] = {}
    for names in alike.values():
        scale = scale_of(replace(charts[name], rows=shown_rows(charts[name].rows)) for name in names)
        found |= dict.fromkeys(names, scale)
    return found


def lot_charts(review: Review) -> dict[str, Chart]:
    """The chart of every descriptor, that with the largest share between lots first, its lots marked."""
    lots = review.find(LotComparison)
    if lots is None or review.scores is None:
        return {}
    shares, register = _shares(lots.components), _register(review)
    names = sorted(dict.fromkeys(lots.means[DESCRIPTOR].astype(str)), key=lambda name: -shares.get(name, -1.0))
    faults, again = faulty(review), _again(review)
    drawn, found = lots.charts(), {}
    for name in names:
        size = register.loc[name].get("tolerance", np.nan) if name in register.index else np.nan
        band = float(size) if isinstance(size, int | float) else np.nan
        chart = drawn[name] if name in drawn else Chart(Phrase("Lots on {name}").format(name=name), "", ())
        rows = tuple(
            replace(row, floor=-band, ceiling=band, mark=lot_mark(row.label, faults, again)) for row in chart.rows
        )
        found[name] = replace(chart, axis=Phrase("lot less the mean of its class (points)"), rows=rows, band=_BAND)
    return found


def lot_mark(lot: str, faults: Collection[str], again: Collection[str]) -> Mark | None:
    """The shape of a lot that is shown and not judged: a fault first, then that it is to be tasted again."""
    return Mark.FAULT if lot in faults else Mark.AGAIN if lot in again else None


def key(charts: list[Chart]) -> list[tuple[str, str]]:
    """The shapes of the picture and what they mean; only those that occur."""
    lines = shapes.key(charts) if charts else []
    lines.append(("", Phrase("The share of the variance that lies between lots is printed beside each name.")))
    if any(len(chart.rows) > SHOWN for chart in charts):
        lines.append(("", Phrase("Of so many lots only the ends of each class, and those asked for, are shown.")))
    return lines


def _words(chart: Chart) -> str:
    if not chart.rows:
        return Phrase("No lot has a mean on it.")
    if len(chart.rows) == 1:
        alone = Phrase("Only lot {label} was scored on it: there is nothing to compare it with.")
        return alone.format(label=chart.rows[0].label)
    return in_words(chart, "lot")


def _answers(verdicts: list[Verdict], classes: int) -> tuple[tuple[Mark, str], ...]:
    """Each call on a descriptor, and in how many classes; what no verdict of its own settles cannot be told."""
    shapes = {verdict.call: mark(verdict) for verdict in verdicts}
    counted = Counter(verdict.call for verdict in verdicts)
    open_ones = classes - sum(counted.values())
    if open_ones > 0:
        shapes.setdefault(CANNOT_TELL, Mark.OPEN)
        counted[CANNOT_TELL] += open_ones
    every, some = count(classes, "class", "classes"), Phrase("{call} in {n} of {classs}")
    return tuple(
        (shapes[call], said(call) if n == classes else some.format(call=said(call), n=n, classs=every))
        for call, n in counted.items()
    )


def _shares(components: pd.DataFrame) -> dict[str, float]:
    """Share of the variance between lots; of several classes the largest."""
    between = components[components["source"] == "lot"]
    largest = between.groupby(between[DESCRIPTOR].astype(str))["share"].max()
    return {str(name): float(share) for name, share in largest.items()}


def _register(review: Review) -> pd.DataFrame:
    return pd.DataFrame() if review.scores is None else by_name(review.scores.descriptors, DESCRIPTOR)


def faulty(review: Review) -> set[str]:
    """Lots in which a fault was noticed."""
    found = review.find(FaultsNoticed)
    return set() if found is None else set(found.table[LOT].astype(str))


def _again(review: Review) -> set[str]:
    """Lots that some verdict, or a list of what to look at again, asks to taste once more."""
    lots = set() if review.scores is None else set(review.scores.lots[LOT].astype(str))
    asked = {verdict.subject for verdict in review.verdicts if verdict.next_step and verdict.subject in lots}
    tables = [getattr(result, "look_again", None) for _, result in review.results]
    return asked.union(*(set(table[LOT].astype(str)) for table in tables if table is not None))
