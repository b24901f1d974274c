"""Rows of dots and intervals on a matplotlib axes: what every drawing of a notebook is made of."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from matplotlib.figure import Figure

from panelstats.panel.tasters.naming import APART
from panelstats.report.charts.marks import CANNOT_TELL, Mark

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from matplotlib.axes import Axes
    from numpy.typing import ArrayLike

INK, QUIET, BAND, ACCENT = "#1e1c19", "#5f5a51", "#efeae0", "#a8330a"  # the page's own: dark enough on white to read
_WIDTH, _ROW, _ROWS_NAMED = 6.4, 0.24, 60  # inches; above so many rows names would touch


def rows(
    names: Sequence[str],
    value: ArrayLike,
    low: ArrayLike,
    high: ArrayLike,
    word: Iterable[str] | None = None,
    *,
    mark: Iterable[Mark] | None = None,
    floor: ArrayLike = np.nan,
    ceiling: ArrayLike = np.nan,
) -> pd.DataFrame:
    """Name, estimate, interval, word, and the limits of what is tolerated: a row each, the first on top.

    The mark follows from the word where none is given.
    """
    numbers = {"value": value, "low": low, "high": high, "floor": floor, "ceiling": ceiling}
    columns = {name: np.broadcast_to(np.asarray(part, float), len(names)) for name, part in numbers.items()}
    table = pd.DataFrame({"name": [str(name) for name in names], **columns})
    table["word"] = "" if word is None else list(word)
    return table.assign(mark=pd.Series(_marks(table) if mark is None else list(mark), dtype=object))


def _marks(table: pd.DataFrame) -> list[Mark]:
    above = table["value"] > table["ceiling"]
    outside = [Mark.HIGHER if higher else Mark.LOWER for higher in above]
    called = {CANNOT_TELL: Mark.OPEN}
    return [
        way if word == APART else called.get(word, Mark.WITHIN)
        for word, way in zip(table["word"], outside, strict=True)
    ]


def dotted(table: pd.DataFrame, ax: Axes | None, label: str, *, worded: bool = True) -> Axes:
    """Draw `rows`: dots, intervals, triangles for what is shown outside, words at the rows' ends."""
    ax = axes(ax, len(table))
    outside = table["mark"].isin([Mark.HIGHER, Mark.LOWER])
    dot = table["mark"] == Mark.WITHIN
    _strips(ax, table)
    for some, colour in ((outside, ACCENT), (~outside, INK)):
        ax.hlines(table.index[some], table["low"][some], table["high"][some], color=colour, lw=1)
    ax.plot(table["value"][dot], table.index[dot], "o", color=INK, ms=4)
    for mark, shape in ((Mark.HIGHER, ">"), (Mark.LOWER, "<")):
        some = table["mark"] == mark
        ax.plot(table["value"][some], table.index[some], shape, color=ACCENT, ms=6)
    ax.set_xlabel(label)
    name_rows(ax, list(table["name"]))
    if worded:
        end_rows(ax, list(table["word"]))
    return ax


def axes(ax: Axes | None, n: int) -> Axes:
    """The axes given, or those of a new figure tall enough for `n` rows."""
    if ax is None:
        height = 1.0 + _ROW * min(max(n, 2), _ROWS_NAMED)
        ax = Figure(figsize=(_WIDTH, height), layout="constrained").subplots()
    ax.spines[["top", "right", "left"]].set_visible(False)
    ax.tick_params(axis="y", length=0)
    return ax


def name_rows(ax: Axes, names: Sequence[str]) -> None:
    """Name the rows, the first on top; where there are too many for names only some are named."""
    step = max(1, -(-len(names) // _ROWS_NAMED))
    ax.set_yticks(range(0, len(names), step), [name.replace("$", r"\$") for name in names[::step]])  # no formulas
    ax.set_ylim(len(names) - 0.4, -0.6)


def end_rows(ax: Axes, words: Sequence[str]) -> None:
    """Put a word at the end of every row."""
    for at, word in enumerate(words):
        ax.annotate(word, (1.02, at), xycoords=("axes fraction", "data"), va="center", fontsize=8, color=QUIET)


def _strips(ax: Axes, table: pd.DataFrame) -> None:
    """The pale strip of what is tolerated, open where there is no limit."""
    known = np.isfinite(table["floor"]) | np.isfinite(table["ceiling"])
    if not known.any():
        return
    numbers = table[["value", "low", "high", "floor", "ceiling"]].to_numpy()
    numbers = numbers[np.isfinite(numbers)]
    room = 0.1 * (np.ptp(numbers) or 1.0)
    ends = numbers.min() - room, numbers.max() + room
    left, right = table["floor"].clip(lower=ends[0])[known], table["ceiling"].clip(upper=ends[1])[known]
    ax.barh(table.index[known], right - left, left=left, height=0.9, color=BAND, zorder=0)
    ax.set_xlim(*ends)
