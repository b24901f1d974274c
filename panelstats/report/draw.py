"""Drawings for a notebook: the chart of any result on one matplotlib axes, a word beside every shape."""

from __future__ import annotations

from dataclasses import asdict, replace
from textwrap import fill
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
import seaborn as sns
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch

from panelstats.errors import DesignError
from panelstats.lots.maps.fit import LotMap
from panelstats.report.charts.order import shown_rows
from panelstats.report.charts.scale import Scale, scale_of
from panelstats.report.charts.shapes import URGENT, key
from panelstats.report.drawplane import draw_plane
from panelstats.result import Chart, Mark, Result

if TYPE_CHECKING:
    from matplotlib.artist import Artist

INK, QUIET, BAND, ACCENT = "#1e1c19", "#5f5a51", "#efeae0", "#a8330a"  # the page's own: dark enough on white to read
_WIDTH, _ROW, _COLUMN_TICKS = 7.2, 0.26, 3  # inches; ticks of a narrow column
_SHAPES = {"within": "o", "plain": ".", "again": "o", "fault": "D", "higher": ">", "lower": "<", "apart": "s"}
_UPRIGHT = _SHAPES | {"higher": "^", "lower": "v"}


def draw(result: Result, descriptor: str | None = None, ax: Axes | None = None) -> Axes:
    """Draw any result: an estimate with its interval a row, a word wherever something was judged.

    A filled dot was shown within what is tolerated, a triangle points the way of what was shown outside it, a line
    without a dot cannot be told. Of a map with two axes the plane is drawn, of several maps the first.

    Parameters
    ----------
    result : Result
        From any analysis.
    descriptor : str, optional
        Which one, where the result has several; by default what `result.chart()` chooses.
    ax : matplotlib Axes, optional
        Where to; by default a new figure of fitting height (`ax.figure` shows or saves it).

    Returns
    -------
    Axes

    Raises
    ------
    DesignError
        The result holds nothing that can be drawn, or not this descriptor.

    Examples
    --------
    >>> import panelstats as pst
    >>> ax = pst.draw(pst.difference_test("triangle", correct=20, answers=36))
    >>> ax.get_xlabel()
    'share of tasters who can tell (%)'
    """
    _checked(result, descriptor, ax)
    if isinstance(result, LotMap) and result.planes and descriptor is None:
        return draw_plane(result.planes[0], ax)
    chart = result.chart(descriptor)
    if not chart.rows:
        raise DesignError("nothing to draw", where=str(chart.title), do="read the verdicts")
    if not (chart.columns or chart.along):
        chart = replace(chart, rows=shown_rows(chart.rows))
    own = ax is None
    if ax is None:
        ax = Figure(figsize=(_WIDTH, _height(chart)), layout="constrained").subplots()
    ax.set_title(_plain(chart.title), loc="left")
    if chart.columns:
        _columns(chart, ax)
    elif chart.along:
        _along(chart, ax)
    else:
        _rows(chart, ax, scale_of([chart]))
        _named(chart, ax)
    _legend(chart, ax, outside=own)
    return ax


def _checked(result: object, descriptor: object, ax: object) -> None:
    if not isinstance(result, Result):
        raise DesignError("not a result", where=f"result: {type(result).__name__}",
                          do="give what one analysis returned, such as compare_lots")  # fmt: skip
    if descriptor is not None and not isinstance(descriptor, str):
        raise DesignError("not the name of a descriptor", where=f"descriptor: {type(descriptor).__name__}",
                          do="give its name; axes are given as ax=")  # fmt: skip
    if ax is not None and not isinstance(ax, Axes):
        raise DesignError("no axes to draw into", where=f"ax: {type(ax).__name__}", do="give matplotlib Axes")


def _height(chart: Chart) -> float:
    """Inches: rows, and around them title, axis and legend; columns have more to say below and above."""
    around = 1.2 + 0.2 * len(key([chart])) + (1.4 if chart.columns else 0.0)
    return around + (2.4 if chart.along else _ROW * max(len(chart.rows), 3))


def _frame(chart: Chart, scale: Scale) -> pd.DataFrame:
    """The rows as a table: limits drawn no further than the scale, a shape for every estimate that has one."""
    table = pd.DataFrame([asdict(row) for row in chart.rows]).assign(at=range(len(chart.rows)))
    limits = ["low", "high", "inner_low", "inner_high", "floor", "ceiling"]
    table[limits] = table[limits].clip(scale.low, scale.high)
    table["urgent"] = [row.mark in URGENT for row in chart.rows]
    table["shape"] = [row.mark.value if row.mark else "plain" for row in chart.rows]
    return table


def _rows(chart: Chart, ax: Axes, scale: Scale) -> None:
    """Intervals over what is tolerated, one below the other."""
    table = _frame(chart, scale)
    banded = table[table["floor"].notna() & table["ceiling"].notna()]
    ax.barh(banded["at"], banded["ceiling"] - banded["floor"], left=banded["floor"], height=0.9, color=BAND, zorder=0)
    for urgent, some in table.groupby("urgent"):
        colour = ACCENT if urgent else INK
        ax.hlines(some["at"], some["low"], some["high"], color=colour, lw=1)
        ax.hlines(some["at"], some["inner_low"], some["inner_high"], color=colour, lw=3)
    _marks(table, ax, "value", "at", _SHAPES)
    if np.isfinite(chart.zero):
        ax.axvline(chart.zero, color=QUIET, lw=0.8, ls=":", zorder=0.5)
    ax.set(xlabel=_plain(chart.axis), ylabel="", xlim=(scale.low, scale.high), ylim=(len(table) - 0.4, -0.6))
    ax.set_xticks([value for value, _ in scale.ticks], [words for _, words in scale.ticks])
    sns.despine(ax=ax, left=True)
    ax.tick_params(axis="y", length=0)


def _along(chart: Chart, ax: Axes) -> None:
    """Rows that follow one another, from left to right, with the level that runs through them."""
    scale = scale_of([chart])
    table = _frame(chart, scale)
    if table["floor"].notna().any():
        ax.fill_between(table["at"], table["floor"], table["ceiling"], color=BAND, zorder=0, step="mid")
    ax.vlines(table["at"], table["low"], table["high"], color=QUIET, lw=0.8)
    sns.lineplot(table, x="at", y="level", color=INK, ax=ax, errorbar=None)
    _marks(table, ax, "at", "value", _UPRIGHT)
    if np.isfinite(chart.zero):
        ax.axhline(chart.zero, color=QUIET, lw=0.8, ls=":", zorder=0.5)
    ax.set(xlabel=_plain(chart.along), ylabel=_plain(chart.axis), ylim=(scale.low, scale.high))
    ax.set_yticks([value for value, _ in scale.ticks], [words for _, words in scale.ticks])
    step = max(1, -(-len(table) // 8))
    ax.set_xticks(table["at"][::step], [_plain(label) for label in table["label"][::step]])
    sns.despine(ax=ax)


def _marks(table: pd.DataFrame, ax: Axes, x: str, y: str, shapes: dict[str, str]) -> None:
    """The shape of every estimate that can be told."""
    told = table[table["shape"].isin(list(shapes)) & np.isfinite(table["value"])]
    if len(told):
        sns.scatterplot(told, x=x, y=y, style="shape", markers=shapes, hue="urgent", palette={True: ACCENT, False: INK},
                        s=56, linewidth=0.6, legend=False, zorder=3, ax=ax)  # fmt: skip
        ringed = told[told["shape"] == Mark.AGAIN.value]
        ax.scatter(ringed[x], ringed[y], s=110, facecolors="none", edgecolors=ACCENT, zorder=3)


def _columns(chart: Chart, ax: Axes) -> None:
    """A narrow axes for each column, between the names of the rows and the word at the end of each."""
    ax.set(xticks=[], ylim=(len(chart.rows) - 0.4, -0.6))
    sns.despine(ax=ax, left=True, bottom=True)
    for at, column in enumerate(chart.columns):
        inner = ax.inset_axes((at / len(chart.columns), 0, 0.86 / len(chart.columns), 1))
        _rows(column, inner, scale_of([column], most=_COLUMN_TICKS))
        inner.set_title(_plain(column.title), fontsize=8, loc="left")
        axis = fill(_plain(column.axis), 20, break_long_words=False, break_on_hyphens=False)
        inner.set_xlabel(axis, fontsize=7)
        inner.set_yticks([])
        inner.tick_params(axis="x", labelsize=7)
    _named(chart, ax)
    ax.set_title(ax.get_title(loc="left"), loc="left", pad=22)


def _named(chart: Chart, ax: Axes) -> None:
    """Name the rows, the first on top, and put the word of each at its end."""
    labels = [_plain(", ".join(filter(None, (row.group, row.label)))) for row in chart.rows]
    ax.set_yticks(range(len(labels)), labels)
    ax.tick_params(axis="y", length=0)
    for at, row in enumerate(chart.rows):
        ax.annotate(_plain(row.note), (1.02, at), xycoords=("axes fraction", "data"), va="center",
                    fontsize=8, color=QUIET)  # fmt: skip


def _legend(chart: Chart, ax: Axes, *, outside: bool) -> None:
    """The shapes that occur and what they mean."""
    lines = key([chart])
    handles, words = [_handle(shape, upright=bool(chart.along)) for shape, _ in lines], [_plain(w) for _, w in lines]
    told = {"fontsize": 8, "frameon": False, "handles": handles, "labels": words}
    if outside:
        ax.figure.legend(loc="outside lower left", **told)
    else:
        ax.legend(loc="best", **told)


def _handle(shape: str, *, upright: bool) -> Artist:
    if shape == "band":
        return Patch(color=BAND)
    colour = ACCENT if shape in {mark.value for mark in URGENT} else INK
    marker = (_UPRIGHT if upright else _SHAPES).get(shape, "")
    return Line2D([], [], color=colour, marker=marker, ms=6, lw={"both": 3, "level": 1.6}.get(shape, 1))


def _plain(text: str) -> str:
    """A name as it is: a dollar starts no formula."""
    return text.replace("$", r"\$")
