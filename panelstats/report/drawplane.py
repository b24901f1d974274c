"""A map in matplotlib: one unit both ways, shapes before colours, names that do not lie on one another."""

from __future__ import annotations

from dataclasses import asdict
from textwrap import fill
from typing import TYPE_CHECKING

import pandas as pd
import seaborn as sns
from matplotlib.figure import Figure
from matplotlib.patches import Ellipse

from panelstats.lots.maps.plane import CONTROL, STANDARD
from panelstats.report.charts.nudging import Name, stands
from panelstats.report.charts.svg import text_width
from panelstats.speech import Phrase

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from panelstats.lots.maps.plane import Plane

# Marker and colour of each group, the colours of Okabe & Ito; 0 is a lot of no group.
GROUPS = {"0": ("o", "#1e1c19"), "1": ("o", "#0072b2"), "2": ("^", "#d55e00"), "3": ("D", "#009e73"),
          "4": ("s", "#56b4e9"), "5": ("v", "#cc79a7"), "6": ("p", "#e69f00")}  # fmt: skip
_INK, _QUIET = "#1e1c19", "#5f5a51"
_SIDE, _SIZE, _RADIUS = 6.4, 8.0, 3.0  # inches; points of a letter and of a spot
_LINE = 96  # letters of a line of the footer


def draw_plane(plane: Plane, ax: Axes | None = None) -> Axes:
    """Draw a map into axes, by default those of a new square figure."""
    own = ax is None
    if ax is None:
        ax = Figure(figsize=(_SIDE, _SIDE + 0.7), layout="constrained").subplots()
    table = pd.DataFrame([asdict(spot) for spot in plane.spots])
    for oval in plane.ovals:
        ax.add_patch(Ellipse((oval.x, oval.y), 2 * oval.long, 2 * oval.short, angle=oval.degrees, facecolor="#00000012",
                             edgecolor=_QUIET, lw=0.6, ls="--" if oval.guessed else "-", zorder=1))  # fmt: skip
    if plane.dense:
        ax.hexbin(table["x"], table["y"], gridsize=32, cmap="Greys", mincnt=1, linewidths=0, zorder=0)
    for way in plane.ways:
        ax.plot(*zip(*way.places, strict=True), color=_QUIET, lw=0.7, marker=".", ms=2, zorder=2)
    _spots(table[table["named"]] if plane.dense else table, ax)
    ax.set_aspect("equal", adjustable="datalim")
    ax.margins(0.08)
    ax.autoscale_view()
    across, up = plane.across, plane.up
    told = Phrase("axis 1 ({share})\nleft: {low}; right: {high}")
    ax.set_xlabel(told.format(share=across.share, low=across.low, high=across.high), fontsize=9)
    told = Phrase("axis 2 ({share})\ndown: {low}; up: {high}")
    ax.set_ylabel(told.format(share=up.share, low=up.low, high=up.high), fontsize=9)
    title = Phrase("Map of the lots{part}").format(part=f", {plane.name}" if plane.name else "")
    ax.set_title(title.replace("$", r"\$"), loc="left")
    sns.despine(ax=ax)
    _names(table[table["named"]], table[~table["named"]] if not plane.dense else table[:0], ax)
    if own:
        ax.figure.supxlabel(fill(plane.footer, _LINE), fontsize=8, x=0.02, ha="left", color=_QUIET)
    return ax


def _spots(table: pd.DataFrame, ax: Axes) -> None:
    """Lots by group, the standard a cross, controls a ring with a dot; hollow and dashed where in part filled in."""
    plain = table[~table["role"].isin([CONTROL, STANDARD])].assign(group=lambda rows: rows["group"].astype(str))
    hollow = plain["guessed"] | plain["apart"]
    for group, guessed in plain[hollow].groupby("group"):
        shape, colour = GROUPS[str(group)]
        ax.scatter(guessed["x"], guessed["y"], s=42, marker=shape, facecolors="white", edgecolors=colour,
                   linewidths=1.1, linestyles="--", zorder=3)  # fmt: skip
    plain = plain[~hollow]
    if len(plain):
        sns.scatterplot(plain, x="x", y="y", style="group", hue="group", markers={k: m for k, (m, _) in GROUPS.items()},
                        palette={k: c for k, (_, c) in GROUPS.items()}, s=30, linewidth=0, legend=False, zorder=3,
                        ax=ax)  # fmt: skip
    controls, standards = (table[table["role"] == role] for role in (CONTROL, STANDARD))
    ax.scatter(controls["x"], controls["y"], s=70, facecolors="none", edgecolors=_INK, zorder=3)
    ax.scatter(controls["x"], controls["y"], s=10, color=_INK, zorder=3)
    ax.scatter(standards["x"], standards["y"], s=80, marker="+", color=_INK, linewidths=2, zorder=3)


def _names(named: pd.DataFrame, others: pd.DataFrame, ax: Axes) -> None:
    """Names beside their lots, placed in points of the figure as it is now."""
    figure = ax.get_figure(root=True)
    if figure is None or not len(named):
        return
    if figure.get_layout_engine() is not None:
        figure.draw_without_rendering()
    unit = 72 / figure.dpi
    places = ax.transData.transform(named[["x", "y"]].to_numpy(float)) * unit
    rest = ax.transData.transform(others[["x", "y"]].to_numpy(float).reshape(-1, 2)) * unit
    box = ax.get_window_extent()
    bounds = (box.x0 * unit, -box.y1 * unit, box.x1 * unit, -box.y0 * unit)
    wanted = [
        Name(x, -y, text_width(label, _SIZE), bool(asked) or role in (CONTROL, STANDARD))
        for (x, y), label, asked, role in zip(places, named["label"], named["asked"], named["role"], strict=True)
    ]
    found = stands(wanted, [(x, -y) for x, y in rest], radius=_RADIUS, tall=_SIZE + 1, bounds=bounds)
    for label, at, want, x, y in zip(named["label"], found, wanted, named["x"], named["y"], strict=True):
        if at is not None:
            ax.annotate(str(label).replace("$", r"\$"), (x, y), xytext=(at.x - want.x, want.y - at.y),
                        textcoords="offset points", fontsize=_SIZE, va="center", color=_INK)  # fmt: skip
